package ingest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history"
)

const travelStudy = `
time_zone = "Europe/Dublin"
[fish]
file = "fish.csv"
cohort = "cohort"
[sightings]
files = ["arrays"]
[[site]]
name = "Mill Lade"
[[site]]
name = "Alder Ford"
rows = { upper = ["north"], lower = ["south"] }
[[site]]
name = "Scar Weir"
%s
[[site]]
name = "Tidehead"
`

// travelWorld lets fish go for forty days from start on, a day between sites;
// silent says of a site and antenna at a time whether it records nothing, and
// clock what it writes.
func travelWorld(start time.Time, silent func(antenna string, at time.Time) bool, clock func(antenna string, at time.Time) time.Time) *world {
	r := rand.New(rand.NewPCG(11, 4))
	w := &world{}
	for i := range 800 {
		released := start.Add(time.Duration(i%160) * 6 * time.Hour)
		w.fish = append(w.fish, fmt.Sprintf("%s,%s,%d,120,,,,", tagOf(i), released.UTC().Format("2006-01-02T15:04Z"), i%160/80+1))
		for k, s := range [][2]string{{"Alder Ford", "north"}, {"Alder Ford", "south"}, {"Scar Weir", "fishway"}, {"Tidehead", "bank"}} {
			at := released.Add(time.Duration(float64([]int{24, 24, 48, 72}[k])*float64(time.Hour)*(0.98+0.04*r.Float64())) + time.Duration(k)*time.Minute)
			if r.Float64() < 0.75 && (silent == nil || !silent(s[1], at)) {
				if clock != nil {
					at = clock(s[1], at)
				}
				w.reads = append(w.reads, reading{tag: tagOf(i), site: s[0], antenna: s[1], at: at.Truncate(time.Second)})
			}
		}
	}
	return w
}

func (w *world) travel(t *testing.T, extra string) *Result {
	st := w.writeStudy(t, fmt.Sprintf(travelStudy, extra), way{ending: ".csv"})
	return ingestWorld(t, st, Options{})
}

func found(res *Result, id string) (out []history.Finding) {
	for _, f := range res.Findings {
		if f.ID == id {
			out = append(out, f)
		}
	}
	return out
}

var spring = time.Date(2025, 4, 10, 0, 0, 0, 0, time.UTC)

func TestOutages(t *testing.T) {
	assert.Empty(t, found(travelWorld(spring, nil, nil).travel(t, ""), "outage"), "a river without outages")
	from, to := spring.AddDate(0, 0, 15), spring.AddDate(0, 0, 18)
	for _, antenna := range []string{"fishway", "bank", "south"} {
		res := travelWorld(spring, func(a string, at time.Time) bool {
			return a == antenna && !at.Before(from) && at.Before(to)
		}, nil).travel(t, "")
		out := found(res, "outage")
		require.Len(t, out, 1, antenna)
		want := map[string]string{"fishway": "Scar Weir", "bank": "Tidehead", "south": "Alder Ford/lower"}[antenna]
		assert.Equal(t, want, out[0].About)
		// Dublin summer time is an hour ahead; silences start and end on the hour.
		assert.Contains(t, out[0].Message, "from 2025-04-25 0", antenna)
		assert.Contains(t, out[0].Message, "to 2025-04-28 0", antenna)
		// The line that it gives, put into the study file, says all.
		_, line, cut := strings.Cut(out[0].Advice, "say at the site ")
		require.True(t, cut, out[0].Advice)
		if antenna == "fishway" {
			again := travelWorld(spring, func(a string, at time.Time) bool { return a == antenna && !at.Before(from) && at.Before(to) }, nil).travel(t, line)
			assert.Empty(t, found(again, "outside_working"), line)
			assert.Empty(t, found(again, "outage"), line)
			assert.Regexp(t, `^working = \[\[2025-04-10, 2025-04-25T\S+\], \[2025-04-28T\S+, 2026-04-10\]\]$`, line)
		} else if antenna == "south" {
			assert.Regexp(t, `^working = \{ "lower" = \[\[2025-04-10, .*\]\] \}$`, line)
		}
		// 5 fish every 6 hours for 72 hours, 3 in 4 detected: 45, of which those
		// counted that a neighbour saw.
		assert.InDelta(t, 40, float64(out[0].Count), 15, antenna)
	}
	// A whole site of two rows is one outage, and a stop at the end is one too.
	res := travelWorld(spring, func(a string, at time.Time) bool {
		return (a == "north" || a == "south") && at.After(spring.AddDate(0, 0, 30))
	}, nil).travel(t, "")
	out := found(res, "outage")
	require.Len(t, out, 1)
	assert.Equal(t, "Alder Ford", out[0].About)
	// Nor is the end of all data: other sites record nothing then either.
	end := spring.AddDate(0, 0, 25)
	res = travelWorld(spring, func(_ string, at time.Time) bool { return at.After(end) }, nil).travel(t, "")
	assert.Empty(t, found(res, "outage"))
	// What the study knows of is none.
	windows := fmt.Sprintf("working = [[%s, %s], [%s, %s]]", spring.Format(time.RFC3339), from.Format(time.RFC3339), to.Format(time.RFC3339), spring.AddDate(0, 0, 60).Format(time.RFC3339))
	res = travelWorld(spring, func(a string, at time.Time) bool { return a == "fishway" && !at.Before(from) && at.Before(to) }, nil).travel(t, windows)
	assert.Empty(t, found(res, "outage"))
	// The first cohort is released over 20 days and passes Scar Weir two days
	// later: 3 of its 20 days of passage fall into the outage. The other
	// passes after it.
	share := res.WorkingShare
	assert.True(t, math.IsNaN(share[0][0]))
	assert.Equal(t, 1.0, share[0][1])
	assert.InDelta(t, 0.85, share[0][2], 0.02, "17 of 20 days, fish sighted below at random")
	assert.Equal(t, 1.0, share[1][2])
	// A site that never worked has share 0.
	res = travelWorld(spring, func(a string, _ time.Time) bool { return a == "fishway" }, nil).travel(t, "working = [[2024-01-01T00:00:00Z, 2024-02-01T00:00:00Z]]")
	assert.Equal(t, 0.0, res.WorkingShare[0][2])
}

// Fish let go in pulses come in pulses. At a site that sights two in three, the
// quiet hours between those that happen to be detected are no outages: what it
// should have detected is judged by what it sights, not by what others do.
func TestPulsesAreNoOutages(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for seed := range uint64(20) {
		r := rand.New(rand.NewPCG(seed, 12))
		w := &world{}
		for i := range 450 {
			released := spring.AddDate(0, 0, 7*(i/150))
			w.fish = append(w.fish, fmt.Sprintf("%s,%s,%d,120,,,,", tagOf(i), released.Format("2006-01-02T15:04Z"), i/150+1))
			at := released
			for k, s := range [][2]string{{"Alder Ford", "north"}, {"Scar Weir", "fishway"}, {"Tidehead", "bank"}} {
				// Days on the way: log-normal, a spread of a third about the median.
				at = at.Add(time.Duration(math.Exp(0.3*r.NormFloat64()) * []float64{2.4, 2.5, 1.6}[k] * 24 * float64(time.Hour)))
				if r.Float64() < 0.65 {
					w.reads = append(w.reads, reading{tag: tagOf(i), site: s[0], antenna: s[1], at: at.Truncate(time.Second)})
				}
				if r.Float64() > 0.8 {
					break
				}
			}
		}
		assert.Empty(t, found(w.travel(t, ""), "outage"), "seed %d", seed)
	}
}

func TestClockJump(t *testing.T) {
	// Dublin goes forward on 30 March 2025, 01:00 UTC.
	start := time.Date(2025, 3, 15, 0, 0, 0, 0, time.UTC)
	change := time.Date(2025, 3, 30, 1, 0, 0, 0, time.UTC)
	assert.Empty(t, found(travelWorld(start, nil, nil).travel(t, ""), "clock_jump"), "all clocks follow")
	res := travelWorld(start, nil, func(a string, at time.Time) time.Time {
		if a == "fishway" && !at.Before(change) {
			return at.Add(-time.Hour) // it stays on winter time, read as summer time
		}
		return at
	}).travel(t, "")
	out := found(res, "clock_jump")
	require.Len(t, out, 2, "into the site and out of it")
	all := out[0].Message + out[1].Message
	assert.Contains(t, all, "to Scar Weir jump by -")
	assert.Contains(t, all, "from Scar Weir to Tidehead jump by +")
	for _, f := range out {
		var minutes float64
		_, err := fmt.Sscanf(f.Message[strings.Index(f.Message, "jump by ")+8:], "%f", &minutes)
		require.NoError(t, err)
		assert.InDelta(t, 60, math.Abs(minutes), 15)
	}
}

func TestDoubtfulTimesAreReported(t *testing.T) {
	st := studyOf(t, "time_zone = \"Europe/Dublin\"\n", "tag,released\n985141421300001,2025-03-01T20:00Z\n985141421300002,2025-10-26 01:30\n",
		head+"985141421300001,Tidehead,bank,2025-03-30 01:30:00\n985141421300001,Scar Weir,x,2025-10-26 01:30:00\n985141421300001,Scar Weir,x,2025-10-26 03:30:00\n")
	res := ingestWorld(t, st, Options{})
	for id, example := range map[string]string{"time_never_existed": "array.csv:2", "time_existed_twice": "array.csv:3", "doubtful_release_time": "fish.csv:3"} {
		f := found(res, id)
		require.Len(t, f, 1, id)
		assert.EqualValues(t, 1, f[0].Count)
		assert.Equal(t, example, f[0].Example)
	}
}

func TestParkedTagIsReported(t *testing.T) {
	var b strings.Builder
	b.WriteString(head)
	at := time.Date(2025, 5, 1, 0, 0, 0, 0, time.UTC)
	for i := range 30 {
		fmt.Fprintf(&b, "985141421300001,Tidehead,bank,%s\n", at.Add(time.Duration(i)*3*time.Hour).Format("2006-01-02 15:04:05"))
	}
	res := ingestWorld(t, tinyStudy(t, b.String()), Options{})
	require.Len(t, found(res, "parked_tag"), 1)
	assert.Equal(t, []string{"parked"}, res.Flags[0].Names())
	assert.EqualValues(t, 1, res.Accounting.Kept)
	assert.EqualValues(t, 29, res.Accounting.Repeats)
}
