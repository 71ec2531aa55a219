package ingest_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

// The dipper's ready histories come through the same door.
func TestReadyHistoriesComeThroughRun(t *testing.T) {
	st, err := study.Load("../../testdata/published/lebreton1992/dipper.toml")
	require.NoError(t, err)
	res, err := ingest.Run(context.Background(), st, ingest.Options{})
	require.NoError(t, err)
	require.Equal(t, 294, res.Histories.Fish())
	require.Zero(t, res.Accounting.Read)
	require.Len(t, res.Inputs, 1)
}
