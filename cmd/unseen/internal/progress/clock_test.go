package progress

import (
	"bytes"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// The clock is shown after a silence, gives way to what is written, and is gone
// with the answer.
func TestClock(t *testing.T) {
	var got bytes.Buffer
	c := &Clock{w: &got}
	c.start(time.Hour, time.Hour) // shown by hand
	began := c.last
	at := func(s int) { c.show(began.Add(time.Duration(s)*time.Second), began, 2*time.Second) }
	at(1)
	assert.Empty(t, got.String())
	at(2)
	at(3)
	assert.Equal(t, clear+"working: 2 s"+clear+"working: 3 s", got.String())
	got.Reset()
	c.Write([]byte("said\n"))
	assert.Equal(t, clear+"said\n", got.String())
	got.Reset()
	c.Write([]byte("more\n"))
	assert.Equal(t, "more\n", got.String())
	got.Reset()
	c.last = began
	at(9)
	c.Stop()
	c.Stop()
	at(20)
	assert.Equal(t, clear+"working: 9 s"+clear, got.String())

	got.Reset()
	c = &Clock{w: &got}
	c.start(20*time.Millisecond, 5*time.Millisecond)
	time.Sleep(200 * time.Millisecond)
	c.Stop()
	assert.Contains(t, got.String(), clear+"working: 0 s")
	assert.Nil(t, Watch(&got))
	none, err := os.Open(os.DevNull)
	assert.NoError(t, err)
	defer none.Close()
	assert.Nil(t, Watch(none))
	(*Clock)(nil).Stop()
}
