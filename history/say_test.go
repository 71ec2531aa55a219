package history_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/history"
)

func TestSay(t *testing.T) {
	assert.Equal(t, `1,800 of 12,345,678 fish (7 %), −1,000; "a" 0.5 999`,
		history.Say("%d of %v fish (%d %%), %d; %q %.1f %d", 1800, int64(12345678), int32(7), -1000, "a", 0.5, 999))
	assert.Equal(t, "     x 3e8", history.Say("%6s %x", "x", 1000), "other verbs are as those of Sprintf")
}

func TestThousands(t *testing.T) {
	for in, want := range map[string]string{"": "", "0": "0", "-0.5": "−0.5", "999": "999", "1000": "1,000", "-1234567.25": "−1,234,567.25"} {
		assert.Equal(t, want, history.Thousands(in), in)
	}
}
