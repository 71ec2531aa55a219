//go:build speed

package ingest

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSeasonBudget takes 500,000 fish and 10,000,000 records to the histories,
// all rules on, each time in a process of its own, and beside each run only
// takes the file apart into fields. Run it on a quiet machine:
//
//	go test -tags speed -run TestSeasonBudget -v ./history/ingest
func TestSeasonBudget(t *testing.T) {
	const child = "UNSEEN_BUDGET_CHILD"
	if dir := os.Getenv(child); dir != "" {
		st := loadSeason(t, dir)
		start, busy := time.Now(), processorMS(t)
		res, err := Run(context.Background(), st, Options{})
		took, used := time.Since(start), processorMS(t)-busy
		require.NoError(t, err)
		require.EqualValues(t, res.Accounting.Read, res.Accounting.Sum())
		peak := peakKB(t)
		start, busy = time.Now(), processorMS(t)
		splitAlone(t, filepath.Join(dir, "arrays.csv"))
		fmt.Printf("budget %d %d %d %d %d\n", took.Milliseconds(), time.Since(start).Milliseconds(), used, processorMS(t)-busy, peak)
		return
	}
	fish, sizes, runs := "500000", []string{"10000000", "2500000"}, 7
	if testing.Short() {
		fish, sizes, runs = "1000", []string{"20000"}, 1
	}
	t.Setenv("UNSEEN_FISH", fish)
	for _, records := range sizes {
		t.Setenv("UNSEEN_RECORDS", records)
		dir := benchmarkSeason(t)
		var took, ratio, used, busyRatio, peak []float64
		for range runs {
			cmd := exec.Command(os.Args[0], "-test.run=TestSeasonBudget$", "-test.v")
			cmd.Env = append(os.Environ(), child+"="+dir)
			out, err := cmd.CombinedOutput()
			require.NoError(t, err, "%s", out)
			var ms, split, cpu, cpuSplit, kb float64
			_, rest, ok := strings.Cut(string(out), "budget ")
			require.True(t, ok)
			_, err = fmt.Sscan(rest, &ms, &split, &cpu, &cpuSplit, &kb)
			require.NoError(t, err)
			took, ratio, peak = append(took, ms), append(ratio, ms/split), append(peak, kb/1024)
			used, busyRatio = append(used, cpu), append(busyRatio, cpu/cpuSplit)
		}
		for _, x := range [][]float64{took, ratio, used, busyRatio, peak} {
			slices.Sort(x)
		}
		mid := runs / 2
		t.Logf("%s records: median %.0f ms (%.0f to %.0f), %.1f times the splitting alone; %.0f ms of processor time, %.1f times; peak %.0f MB",
			records, took[mid], took[0], took[runs-1], ratio[mid], used[mid], busyRatio[mid], peak[mid])
		assert.Less(t, peak[mid], 150.0)
		if os.Getenv("UNSEEN_SEASON") != "" {
			break
		}
	}
}

// processorMS is the processor time the process has used, in milliseconds: a
// busy machine stretches it less than the wall clock.
func processorMS(t *testing.T) int64 {
	var u syscall.Rusage
	require.NoError(t, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return (u.Utime.Nano() + u.Stime.Nano()) / 1e6
}

func peakKB(t *testing.T) int {
	f, err := os.Open("/proc/self/status")
	require.NoError(t, err)
	defer f.Close()
	s := bufio.NewScanner(f)
	for s.Scan() {
		var kb int
		if n, _ := fmt.Sscanf(s.Text(), "VmHWM: %d kB", &kb); n == 1 {
			return kb
		}
	}
	t.Fatal("no peak memory in /proc/self/status")
	return 0
}
