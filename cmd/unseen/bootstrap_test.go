package main

import (
	"bytes"
	"context"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cmd/unseen/internal/line"
)

// TestInterruptedKeepsReplicates: interrupted, a run ends with 130 and what is
// done stands in the file; the same call goes on from there.
func TestInterruptedKeepsReplicates(t *testing.T) {
	if testing.Short() && !raced {
		t.Skip("long")
	}
	study, err := filepath.Abs(dipper)
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "a.jsonl")
	args := []string{"unseen", "fit", study, "--survival", "reach", "--detection", "site", "--interval", "bootstrap", "--save", file, "--replicates"}
	var out, errs bytes.Buffer
	var s *replicate.Set
	// Time enough for a replicate, however busy the machine.
	for after := 100 * time.Millisecond; s == nil && after < 20*time.Second; after *= 2 {
		ctx, stop := context.WithCancel(t.Context())
		time.AfterFunc(after, stop)
		errs.Reset()
		assert.Equal(t, exitInterrupted, run(ctx, append(args, "1000000"), nil, &out, &errs), errs.String())
		assert.Contains(t, errs.String(), "interrupted")
		s, err = readReplicates(file)
	}
	require.NoError(t, err)
	assert.Empty(t, out.String())
	assert.NotEmpty(t, s.Replicates)
	// Two cores may leave one out that is before another.
	all := 20
	for _, r := range s.Replicates {
		if r.Index > 20 {
			all++
		}
	}

	errs.Reset()
	assert.Equal(t, exitUsable, run(context.Background(), append(args, "20"), nil, &out, &errs), errs.String())
	s, err = readReplicates(file)
	require.NoError(t, err)
	assert.Len(t, s.Replicates, all)
}

func TestFromTo(t *testing.T) {
	for words, want := range map[string][2]int{"500": {1, 500}, "1-500": {1, 500}, " 501 - 1000": {501, 1000}, "7-7": {7, 7}} {
		from, to, err := fromTo(words)
		require.NoError(t, err, words)
		assert.Equal(t, want, [2]int{from, to}, words)
	}
	for _, words := range []string{"", "0", "5-3", "-5", "a-b", "1-", "1-2-3", "1.5"} {
		_, _, err := fromTo(words)
		assert.ErrorIs(t, err, line.ErrCall, words)
	}
}
