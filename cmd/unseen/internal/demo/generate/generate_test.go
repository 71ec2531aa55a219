package main

import (
	"bytes"
	"compress/gzip"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// content is the file unpacked: the same records may be packed differently by
// another version of Go.
func content(t *testing.T, name string, data []byte) string {
	t.Helper()
	if !strings.HasSuffix(name, ".gz") {
		return string(data)
	}
	z, err := gzip.NewReader(bytes.NewReader(data))
	require.NoError(t, err)
	b, err := io.ReadAll(z)
	require.NoError(t, err)
	return string(b)
}

func TestCommittedFilesAreCurrent(t *testing.T) {
	files, err := generate(seed)
	require.NoError(t, err)
	total := 0
	for name, want := range files {
		got, err := os.ReadFile(filepath.Join("../files", name))
		require.NoError(t, err, "run: go generate ./cmd/unseen/internal/demo")
		assert.True(t, content(t, name, want) == content(t, name, got), "%s is not what the generator makes; run: go generate ./cmd/unseen/internal/demo", name)
		total += len(got)
	}
	assert.Less(t, total, 300_000, "the demo is part of the program and must stay small")
}

// The mean and variance of the inverse Gaussian law are d/v and d σ²/v³
// (Tweedie 1957); 40,000 draws put the mean within 5 standard errors and, the
// kurtosis being high, the variance within 6 %.
func TestTravelFollowsTheLaw(t *testing.T) {
	g := &generator{Rand: rand.New(rand.NewPCG(7, 7))}
	const n, d = 40_000, 21.4
	sum, squares := 0.0, 0.0
	for range n {
		x := g.travel(d).Hours() / 24
		sum += x
		squares += x * x
	}
	mean := sum / n
	variance := squares/n - mean*mean
	wantVariance := d * spread * spread / (speed * speed * speed)
	assert.InDelta(t, d/speed, mean, 5*1.9/200) // √wantVariance = 1.9
	assert.InEpsilon(t, wantVariance, variance, 0.06)
}
