package desk

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestAnswerOfOneArray: what can be said of one array below the release stands in
// the answer, products too; fish are counted, not lines of a table.
func TestAnswerOfOneArray(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{
		"h.csv": "cohort,Mill Lade,Tidehead,count\nearly,1,1,96\nearly,1,0,104\nlate,1,1,64\nlate,1,0,136\n",
		studyName: "title = \"One array below the trap\"\n[histories]\nfile = \"h.csv\"\ncohort = \"cohort\"\n" +
			"[[site]]\nname = \"Mill Lade\"\nkm = 20\n[[site]]\nname = \"Tidehead\"\nkm = 0\n",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	page := get(t, open(t, dir), "/answer")
	assert.Contains(t, page, "done: 400 fish, 2 sites")
	assert.Contains(t, page, "If detection at the array were this, then this share passed:")
	assert.Contains(t, page, "a second row of antennas there, a site farther down, or test passes")
	assert.Contains(t, page, "Products only (survival × detection; not separable)")
}

// What somebody else still waits for goes on; what nobody waits for is given up,
// and worked out anew when it is asked for again.
func TestWhatNobodyWaitsForIsGivenUp(t *testing.T) {
	k := &kept{items: map[any]*item{}}
	begun, given := make(chan struct{}, 9), make(chan struct{}, 9)
	work := func(ctx context.Context) (int, error) {
		begun <- struct{}{}
		<-ctx.Done()
		given <- struct{}{}
		return 0, ctx.Err()
	}
	wait := func() (stop context.CancelFunc, end chan error) {
		ctx, stop := context.WithCancel(t.Context())
		end = make(chan error, 1)
		go func() { _, err := once(ctx, t.Context(), k, "day", work); end <- err }()
		return stop, end
	}
	stop, end := wait()
	<-begun
	other, otherEnd := wait()
	require.Eventually(t, func() bool { k.mu.Lock(); defer k.mu.Unlock(); return k.items["day"].waiting == 2 }, time.Minute, time.Millisecond)
	stop()
	require.ErrorIs(t, <-end, context.Canceled)
	assert.Len(t, k.items, 1, "given up under the hands of another")
	other()
	require.ErrorIs(t, <-otherEnd, context.Canceled)
	<-given
	assert.Empty(t, k.items)
	v, err := once(t.Context(), t.Context(), k, "day", func(context.Context) (int, error) { return 5, nil })
	assert.Equal(t, 5, v)
	assert.NoError(t, err)
}

// A point that needs nothing done has no advice, and none is shown.
func TestPointWithoutAdvice(t *testing.T) {
	dir := hollin(t)
	file := filepath.Join(dir, studyName)
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(file, append([]byte("as_of = 2025-04-20\n"), text...), 0o644))
	page := get(t, open(t, dir), "/check")
	assert.Contains(t, page, `id="finding-released_later"`)
	assert.NotContains(t, page, "\ufffd")
}
