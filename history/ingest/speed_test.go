package ingest

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/unseen/history/table"
)

// size is a benchmark's size: an environment variable, or small.
func size(b testing.TB, name string, small int) int {
	s := os.Getenv(name)
	if s == "" {
		return small
	}
	n, err := strconv.Atoi(s)
	require.NoError(b, err)
	return n
}

// benchmarkSeason writes the season the benchmarks read: UNSEEN_FISH fish and
// UNSEEN_RECORDS records, in UNSEEN_SEASON where that is set and kept there.
func benchmarkSeason(b testing.TB) string {
	fish, records := size(b, "UNSEEN_FISH", 5_000), size(b, "UNSEEN_RECORDS", 100_000)
	dir := os.Getenv("UNSEEN_SEASON")
	if dir == "" {
		dir = b.TempDir()
	} else if _, err := os.Stat(filepath.Join(dir, "arrays.csv")); err == nil {
		return dir
	}
	require.NoError(b, writeSeason(dir, fish, records, 1))
	return dir
}

// BenchmarkSightings takes a season from its files to the histories, all rules
// on.
func BenchmarkSightings(b *testing.B) {
	dir := benchmarkSeason(b)
	st := loadSeason(b, dir)
	info, err := os.Stat(filepath.Join(dir, "arrays.csv"))
	require.NoError(b, err)
	var records int64
	for b.Loop() {
		res, err := Run(context.Background(), st, Options{})
		require.NoError(b, err)
		records += res.Accounting.Read
	}
	b.ReportMetric(float64(records)/b.Elapsed().Seconds(), "records/s")
	b.ReportMetric(float64(info.Size())*float64(b.N)/b.Elapsed().Seconds(), "bytes/s")
}

// BenchmarkSplit only takes the same file apart into fields, on all cores: the
// yardstick for BenchmarkSightings.
func BenchmarkSplit(b *testing.B) {
	dir := benchmarkSeason(b)
	var records int64
	for b.Loop() {
		records += splitAlone(b, filepath.Join(dir, "arrays.csv"))
	}
	b.ReportMetric(float64(records)/b.Elapsed().Seconds(), "records/s")
}

func splitAlone(b testing.TB, path string) int64 {
	s, err := table.OpenBlocks(context.Background(), table.File{Path: path, Name: path}, false)
	require.NoError(b, err)
	defer s.Close()
	n := runtime.GOMAXPROCS(0)
	work, free := make(chan []byte, n), make(chan []byte, 2*n+2)
	var wg sync.WaitGroup
	var records, fields atomic.Int64
	for range n {
		wg.Go(func() {
			var ends [4]int
			for data := range work {
				lines, found := 0, 0
				rest := data
				for len(rest) > 0 {
					line := rest
					if i := bytes.IndexByte(rest, '\n'); i >= 0 {
						line, rest = rest[:i], rest[i+1:]
					} else {
						rest = nil
					}
					// Where the fields end, as any reader must find it.
					at := 0
					for k := range ends {
						i := bytes.IndexByte(line[at:], ',')
						if i < 0 {
							ends[k] = len(line)
							found += k + 1
							break
						}
						ends[k] = at + i
						at += i + 1
					}
					lines++
				}
				records.Add(int64(lines))
				fields.Add(int64(found))
				select {
				case free <- data:
				default:
				}
			}
		})
	}
	for {
		var buf []byte
		select {
		case buf = <-free:
		default:
		}
		x, err := s.Next(context.Background(), buf)
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(b, err)
		work <- x.Data
	}
	close(work)
	wg.Wait()
	require.Equal(b, 4*records.Load(), fields.Load())
	return records.Load() - 1
}
