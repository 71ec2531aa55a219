package analysis

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Dublin is an hour ahead of UTC in April.
func TestMoment(t *testing.T) {
	dublin, err := time.LoadLocation("Europe/Dublin")
	require.NoError(t, err)
	for _, c := range []struct{ said, want string }{
		{"2025-04-20", "2025-04-20T23:00:00Z"},
		{"2025-03-30", "2025-03-30T23:00:00Z"}, // the day of 23 hours ends at midnight too
		{"2025-10-26", "2025-10-27T00:00:00Z"}, // and that of 25
		{"2025-04-20T12:00", "2025-04-20T11:00:00Z"},
		{"2025-04-20 12:00:30", "2025-04-20T11:00:30Z"},
		{"2025-04-20T12:00:00Z", "2025-04-20T12:00:00Z"},
		{"2025-04-20T12:00:00+02:00", "2025-04-20T10:00:00Z"},
	} {
		got, err := Moment(c.said, dublin)
		require.NoError(t, err, c.said)
		assert.Equal(t, c.want, got.UTC().Format(time.RFC3339), c.said)
	}
	for _, bad := range []string{"", "20.4.2025", "2025-04-31", "2025-04-20T25:00", "noon"} {
		_, err := Moment(bad, dublin)
		assert.ErrorContains(t, err, "Europe/Dublin", bad)
	}
}
