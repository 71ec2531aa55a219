package progress

import (
	"bytes"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestNothingInAPipe(t *testing.T) {
	r, w, err := os.Pipe()
	require.NoError(t, err)
	b := New(w, "reading", "records")
	b.Update(1, 2, 3)
	b.Done()
	require.NoError(t, w.Close())
	var got bytes.Buffer
	_, err = got.ReadFrom(r)
	require.NoError(t, err)
	assert.Empty(t, got.String())
	assert.Nil(t, New(&got, "reading", "records"))
}

func TestBarSaysWhatIsDone(t *testing.T) {
	var got bytes.Buffer
	b := newBar(&got, "reading", "records")
	b.Update(50, 100, 1_234_000)
	assert.Contains(t, got.String(), "reading: 1.2 M records")
	assert.Contains(t, got.String(), "50%")
	b.Update(100, 100, 2_000_000)
	b.Done()
}

func TestShort(t *testing.T) {
	for x, want := range map[float64]string{7: "7", 9_999: "9999", 12_345: "12 k", 1_250_000: "1.2 M", 9_960_000: "10 M"} {
		assert.Equal(t, want, short(x))
	}
}
