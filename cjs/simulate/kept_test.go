package simulate_test

import (
	"bytes"
	"context"
	"encoding/json"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/simulate"
)

// What a stopped run made, written and read, is gone on from, and comes to what
// one run comes to: to the last bit, for nothing is computed in another order.
func TestReplicatesAreGoneOnFrom(t *testing.T) {
	s := passedStudies()[0]
	once, err := s.Run(t.Context(), 1, 12, nil)
	require.NoError(t, err)

	s.Have = &simulate.Result{}
	ctx, cancel := context.WithCancel(t.Context())
	first, err := s.Run(ctx, 1, 12, cancel)
	require.ErrorIs(t, err, context.Canceled)
	require.Less(t, first.Replicates, 12)
	var file bytes.Buffer
	require.NoError(t, first.WriteReplicates(&file))
	s.Have, err = simulate.ReadReplicates(bytes.NewReader(file.Bytes()))
	require.NoError(t, err)
	assert.Equal(t, asJSON(t, first), asJSON(t, s.Have))
	var made atomic.Int64
	together, err := s.Run(t.Context(), 1, 12, func() { made.Add(1) })
	require.NoError(t, err)
	assert.Equal(t, asJSON(t, once), asJSON(t, together))
	assert.EqualValues(t, 12-first.Replicates, made.Load(), "made again")

	s.Seed++
	_, err = s.Run(t.Context(), 1, 12, nil)
	assert.ErrorContains(t, err, "are of seed")
	for _, text := range []string{"", "nothing", strings.Repeat("\xff", 100), file.String()[:file.Len()/2]} {
		_, err := simulate.ReadReplicates(strings.NewReader(text))
		assert.Error(t, err)
	}
}

func asJSON(t *testing.T, r *simulate.Result) string {
	t.Helper()
	b, err := json.Marshal(r)
	require.NoError(t, err)
	return string(b)
}
