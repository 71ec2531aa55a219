package ingest

import (
	"bufio"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.org/unseen/history/study"
)

// seasonStudy has every rule on.
const seasonStudy = `
title     = "A made-up season on Hollin Water"
time_zone = "Europe/Dublin"
as_of     = 2025-07-20T12:00:00Z
last_day  = 2025-07-10

[fish]
file   = "fish.csv"
cohort = "cohort"

[sightings]
files = ["arrays.csv"]

[rules]
fastest_km_per_day = 100
minimum_length_mm  = 60
test_tags          = ["999000000000001"]
ghost_tags         = ["985141421300007"]

[[site]]
name = "Mill Lade"
km   = 58.0
antennas = ["trap"]
[[site]]
name = "Alder Ford"
km   = 36.6
rows = { upper = ["north", "middle"], lower = ["south"] }
clock = [{ from = 2025-04-10T00:00:00Z, to = 2025-04-12T00:00:00Z, seconds = -40 }]
[[site]]
name = "Scar Weir"
km   = 14.2
antennas = ["fishway", "spillway"]
working = [[2025-03-01T00:00:00Z, 2025-04-20T00:00:00Z], [2025-04-21T00:00:00Z, 2025-08-01T00:00:00Z]]
[[site]]
name = "Tidehead"
km   = 0.0
antennas = ["bank"]
`

// writeSeason writes a study of a made-up season with about as many records as
// asked for, in the order of time, two in a hundred of them dirty. The same
// seed gives the same bytes.
func writeSeason(dir string, fish, records int, seed uint64) error {
	r := rand.New(rand.NewPCG(seed, 11784))
	if err := os.WriteFile(filepath.Join(dir, "study.toml"), []byte(seasonStudy), 0o644); err != nil {
		return err
	}
	f, err := os.Create(filepath.Join(dir, "fish.csv"))
	if err != nil {
		return err
	}
	defer f.Close()
	w := bufio.NewWriterSize(f, 1<<16)
	start := time.Date(2025, 4, 3, 20, 0, 0, 0, time.UTC)
	const base = 985141421300000
	fmt.Fprintln(w, "tag,released,cohort,fork_length_mm")
	released := make([]int64, fish)
	for i := range fish {
		day := i % 40
		t := start.AddDate(0, 0, day)
		released[i] = t.Unix()
		fmt.Fprintf(w, "%d,%s,week %d,%d\n", base+i, t.Format("2006-01-02 15:04"), day/7+1, 100+r.IntN(80))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	type read struct {
		at      uint32 // seconds since the start
		fish    int32  // negative: a stranger
		antenna uint8
	}
	antennas := []string{"Mill Lade,trap", "Alder Ford,north", "Alder Ford,middle", "Alder Ford,south", "Scar Weir,fishway", "Scar Weir,spillway", "Tidehead,bank", "Workshop,bench"}
	leg := []float64{0, 21.4, 21.4, 21.4, 43.8, 43.8, 58}
	reads := make([]read, 0, records)
	per := float64(records) / float64(fish)
	for i := 0; len(reads) < records; i = (i + 1) % fish {
		speed := 5 + 20*r.Float64()
		for a := 0; a < len(leg); a++ {
			if r.Float64() > 0.7 {
				continue
			}
			t := float64(released[i]-start.Unix()) + leg[a]/speed*86400 + 600*r.Float64()
			n := 1 + int(per/4.9*2*r.Float64())
			for range n {
				x := read{uint32(max(0, t)), int32(i), uint8(a)}
				switch d := r.IntN(1000); {
				case d < 8:
					x.fish = -1 - int32(r.IntN(max(1, fish/100)))
				case d < 12:
					x.antenna = 7
				case d < 16:
					x.at += 30 * 86400
				}
				reads = append(reads, x)
				t += 2 + 20*r.Float64()
			}
		}
	}
	reads = reads[:records]
	slices.SortStableFunc(reads, func(a, b read) int { return int(math.Copysign(1, float64(a.at)-float64(b.at))) * btoi(a.at != b.at) })
	g, err := os.Create(filepath.Join(dir, "arrays.csv"))
	if err != nil {
		return err
	}
	defer g.Close()
	w = bufio.NewWriterSize(g, 1<<20)
	fmt.Fprintln(w, "tag,site,antenna,time")
	// The readers write local time: one hour ahead of UTC from 30 March on.
	local := start.Add(time.Hour)
	var line []byte
	for _, x := range reads {
		code := int64(base) + int64(x.fish)
		if x.fish < 0 {
			code = 900000000000000 - int64(x.fish)
		}
		line = fmt.Appendf(line[:0], "%d,%s,", code, antennas[x.antenna])
		line = local.Add(time.Duration(x.at)*time.Second).AppendFormat(line, "2006-01-02 15:04:05")
		line = append(line, '\n')
		if _, err := w.Write(line); err != nil {
			return err
		}
	}
	return w.Flush()
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

func loadSeason(t testing.TB, dir string) *study.Study {
	st, err := study.Load(filepath.Join(dir, "study.toml"))
	require.NoError(t, err)
	return st
}
