package main

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// The river of the season: a trap and six sites, with two antennas each.
var (
	sites = []string{"Mill Lade", "Kiln Bridge", "Alder Ford", "Lower Weir", "Scar Weir", "Salt Pans", "Tidehead"}
	km    = []float64{58, 47.5, 36.6, 25, 14.2, 6.3, 0}
)

// read is one record on its way.
type read struct {
	at      uint32 // seconds since the first release
	fish    int32  // negative: a stranger
	antenna uint8
}

// writeSeason writes a season in the form that both engines read: times with
// their offset, records in the order of time, one in a hundred of an unknown
// tag, one before the release. Fish come to the sites in order, so that no rule
// but these two has anything to set aside. The same seed gives the same bytes.
func writeSeason(dir string, fish, records int, seed uint64) error {
	r := rand.New(rand.NewPCG(seed, 11784))
	start := time.Date(2025, 4, 3, 21, 0, 0, 0, time.FixedZone("", 3600))
	release := func(i int) uint32 { return uint32(i % 40 * 86400) }
	reads := make([]read, 0, records)
	each := 2 * records / fish // reads at a site, at most: a fish is read at half of six sites or so
	for i := 0; len(reads) < records; i = (i + 1) % fish {
		speed := 5 + 20*r.Float64()
		for s := 1; s < len(sites); s++ {
			if r.Float64() > 0.7 {
				continue
			}
			t := float64(release(i)) + (km[0]-km[s])/speed*86400
			for range 1 + r.IntN(max(1, each/4)) {
				x := read{uint32(t), int32(i), uint8(2*s + r.IntN(2))}
				switch r.IntN(100) {
				case 0:
					x.fish = -1 - int32(r.IntN(max(1, fish/100)))
				case 1:
					if release(i) > 0 { // the first day has no time before it
						x.at = release(i) / 2
					}
				}
				reads = append(reads, x)
				t += 2 + 20*r.Float64()
			}
		}
	}
	reads = reads[:records]
	slices.SortStableFunc(reads, func(a, b read) int { return int(a.at) - int(b.at) })
	const base = 985141421300000
	err := write(dir, "fish.csv", "tag,released_at,cohort,fork_length_mm,weight_g", fish, func(line []byte, i int) []byte {
		at := start.Add(time.Duration(release(i)) * time.Second)
		mm := 100 + r.IntN(80)
		line = at.AppendFormat(fmt.Appendf(line, "%d,", base+i), time.RFC3339)
		return fmt.Appendf(line, ",week %d,%d,%.1f", i%40/7+1, mm, 1e-5*float64(mm*mm*mm))
	})
	if err != nil {
		return err
	}
	err = write(dir, "sightings.csv", "tag,site,antenna,time", len(reads), func(line []byte, i int) []byte {
		x := reads[i]
		code := int64(base) + int64(x.fish)
		if x.fish < 0 {
			code = 900000000000000 - int64(x.fish)
		}
		line = fmt.Appendf(line, "%d,%s,%c,", code, sites[x.antenna/2], "NS"[x.antenna%2])
		return start.Add(time.Duration(x.at)*time.Second).AppendFormat(line, time.RFC3339)
	})
	if err != nil {
		return err
	}
	err = write(dir, "sites.csv", "site,ord,river_km", len(sites)-1, func(line []byte, i int) []byte {
		return fmt.Appendf(line, "%s,%d,%g", sites[i+1], i+1, km[i+1])
	})
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, "study.toml"), []byte(studyFile()), 0o644)
}

// write writes a table of n records.
func write(dir, name, header string, n int, record func(line []byte, i int) []byte) error {
	f, err := os.Create(filepath.Join(dir, name))
	if err != nil {
		return err
	}
	defer f.Close()
	w := bufio.NewWriterSize(f, 1<<20)
	fmt.Fprintln(w, header)
	var line []byte
	for i := range n {
		line = append(record(line[:0], i), '\n')
		if _, err := w.Write(line); err != nil {
			return err
		}
	}
	return w.Flush()
}

func studyFile() string {
	var b strings.Builder
	b.WriteString(`title     = "A made-up season on Hollin Water"
time_zone = "Europe/Dublin"

[fish]
file    = "fish.csv"
columns = { released = "released_at" }
cohort  = "cohort"

[sightings]
files = ["sightings.csv"]
`)
	for i := range sites {
		fmt.Fprintf(&b, "\n[[site]]\nname = %q\nkm   = %g\n", sites[i], km[i])
	}
	return b.String()
}
