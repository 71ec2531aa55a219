package ingest_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/unseen/history/ingest"
)

func run(t *testing.T, path string, opt ingest.Options) *ingest.Result {
	t.Helper()
	res, err := ingest.Run(context.Background(), load(t, path), opt)
	require.NoError(t, err)
	require.Equal(t, res.Accounting.Read, res.Accounting.Sum(), "the boxes add up to the records read")
	return res
}

// The dipper's ready histories come through the same door.
func TestReadyHistoriesComeThroughRun(t *testing.T) {
	res := run(t, dipper+"dipper.toml", ingest.Options{})
	require.Equal(t, 294, res.Histories.Fish())
	require.Zero(t, res.Accounting.Read)
	require.Len(t, res.Inputs, 1)
}
