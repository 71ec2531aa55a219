package main

import (
	"bytes"
	"cmp"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"time"
)

const seed = 20250403

// The truth. Survival of a fish in a reach is
// logit⁻¹(reach + cohort + lengthSlope × (fork length − meanLength)).
var (
	sites  = []string{"Mill Lade", "Alder Ford", "Scar Weir", "Tidehead"}
	km     = []float64{58.0, 36.6, 14.2, 0}
	reach  = []float64{0.95, 0.55, 1.40}
	cohort = []float64{-0.50, -0.15, 0.25, 0.35, 0.05}

	detection = map[string]float64{
		"Alder Ford/upper": 0.46, "Alder Ford/lower": 0.52, "Scar Weir": 0.70, "Tidehead": 0.66,
	}
)

const (
	perCohort    = 360
	meanLength   = 170.0 // mm
	sdLength     = 19.0
	lengthSlope  = 0.012 // per mm
	retention    = 0.984 // share of tags that stay in
	speed        = 9.0   // km a day
	spread       = 11.0  // km a √day
	turnBack     = 0.03  // of the fish missed at Alder Ford and read at Scar Weir, the share that swims back up and is read then
	collectEvery = 40    // of the fish read at Scar Weir, one in 40 is taken out for the laboratory
)

// zone is local time of the whole season: Irish standard time, UTC+1.
var zone = time.FixedZone("IST", 3600)

type fish struct {
	tag      uint64 // the 12-digit identification; the first three digits are 999
	cohort   int
	released time.Time
	length   float64
	weight   float64
	removed  bool
}

// record is one line of an array file.
type record struct {
	at   time.Time
	line string
}

type truth struct {
	Note      string               `json:"note"`
	Seed      uint64               `json:"seed"`
	Survival  map[string][]float64 `json:"survival"` // by cohort: mean over its fish, per reach
	Detection map[string]float64   `json:"detection"`
	Retention float64              `json:"retention"`
	// Passed is the number of fish that reached each site, by cohort.
	Passed      map[string][]int `json:"passed"`
	Speed       float64          `json:"speed_km_per_day"`
	Spread      float64          `json:"spread_km_per_root_day"`
	LengthSlope float64          `json:"logit_survival_per_mm"`
	Dirt        map[string]int   `json:"records_to_set_aside"`
	Duplicates  int              `json:"exact_duplicates"`
}

// generator carries the random numbers and what they made.
type generator struct {
	*rand.Rand
	fish         []fish
	upper, lower []record // the files of the Alder Ford reader and of the lower river
	truth        truth
}

// generate makes every file of the demo but the study file.
func generate(seed uint64) (map[string][]byte, error) {
	g := &generator{Rand: rand.New(rand.NewPCG(seed, 1)), truth: truth{
		Note:     "What is true of the invented demo study; made by cmd/unseen/internal/demo/generate.",
		Seed:     seed,
		Survival: map[string][]float64{}, Detection: detection, Retention: retention, Passed: map[string][]int{},
		Speed: speed, Spread: spread, LengthSlope: lengthSlope, Dirt: map[string]int{},
	}}
	g.tag()
	g.migrate()
	g.soil()
	return g.files()
}

func cohortName(c int) string { return fmt.Sprintf("week %d", c+1) }

// tag makes the tagged fish: five weekly releases after dusk, in lots of 40.
func (g *generator) tag() {
	id := uint64(41_000_000_000)
	first := time.Date(2025, 4, 3, 21, 0, 0, 0, zone)
	for c := range cohort {
		for i := range perCohort {
			id += 1 + g.Uint64N(40)
			length := math.Round(meanLength + sdLength*g.NormFloat64())
			condition := 0.98 * math.Exp(0.06*g.NormFloat64())
			g.fish = append(g.fish, fish{
				tag: id, cohort: c,
				released: first.AddDate(0, 0, 7*c).Add(time.Duration(i/40*5) * time.Minute),
				length:   length,
				weight:   condition * math.Pow(length/10, 3) / 100,
			})
		}
	}
}

// migrate sends every fish down the river and past the antennas.
func (g *generator) migrate() {
	seen := 0 // at Scar Weir
	for i := range g.fish {
		f := &g.fish[i]
		name := cohortName(f.cohort)
		if g.truth.Survival[name] == nil {
			g.truth.Survival[name] = make([]float64, len(reach))
			g.truth.Passed[name] = make([]int, len(sites))
		}
		tagIn := g.Float64() < retention
		at := f.released
		living, missed := true, false
		g.truth.Passed[name][0]++
		for r := range reach {
			s := 1 / (1 + math.Exp(-reach[r]-cohort[f.cohort]-lengthSlope*(f.length-meanLength)))
			g.truth.Survival[name][r] += s / perCohort
			living = living && g.Float64() < s
			if !living || f.removed {
				continue
			}
			g.truth.Passed[name][r+1]++
			at = at.Add(g.travel(km[r] - km[r+1]))
			read := tagIn && g.pass(f, r+1, at)
			if read && sites[r+1] == "Scar Weir" {
				seen++
				f.removed = seen%collectEvery == 0
				if missed && !f.removed && g.Float64() < turnBack {
					g.write(f.tag, "Alder Ford", "north", at.Add(g.travel(km[r]-km[r+1])))
					g.truth.Dirt["turned back"]++
				}
			}
			missed = !read
		}
	}
	for _, p := range g.truth.Survival {
		for r := range p {
			p[r] = math.Round(p[r]*1e4) / 1e4
		}
	}
}

// travel is a first-passage time over a distance in km: inverse Gaussian with
// mean distance/speed and shape distance²/spread², by the method of Michael,
// Schucany & Haas (1976), The American Statistician 30:88–90.
func (g *generator) travel(distance float64) time.Duration {
	mean, shape := distance/speed, distance*distance/(spread*spread)
	y := g.NormFloat64()
	y *= y
	x := mean + mean*mean*y/(2*shape) - mean/(2*shape)*math.Sqrt(4*mean*shape*y+mean*mean*y*y)
	if g.Float64() > mean/(mean+x) {
		x = mean * mean / x
	}
	return time.Duration(x * float64(24*time.Hour))
}

// pass lets a fish swim over the antennas of a site and tells whether it was
// read there.
func (g *generator) pass(f *fish, site int, at time.Time) bool {
	if sites[site] != "Alder Ford" {
		antenna := map[string]string{"Scar Weir": "fishway", "Tidehead": "bank"}[sites[site]]
		return g.read(f, sites[site], sites[site], antenna, at)
	}
	upper := []string{"north", "middle"}[g.IntN(2)]
	a := g.read(f, "Alder Ford/upper", "Alder Ford", upper, at)
	b := g.read(f, "Alder Ford/lower", "Alder Ford", "south", at.Add(time.Duration(60+g.IntN(400))*time.Second))
	return a || b
}

// read writes the reads of one passage over one row, if there are any.
func (g *generator) read(f *fish, row, site, antenna string, at time.Time) bool {
	if g.Float64() >= detection[row] {
		return false
	}
	for n := 1 + int(g.ExpFloat64()*1.8); n > 0; n-- {
		g.write(f.tag, site, antenna, at)
		at = at.Add(time.Duration(1+g.ExpFloat64()*20) * time.Second)
	}
	return true
}

// write adds a record: decimal codes at Alder Ford, hexadecimal ones below, as
// two makes of reader write them.
func (g *generator) write(tag uint64, site, antenna string, at time.Time) {
	if site == "Alder Ford" {
		g.upper = append(g.upper, line(fmt.Sprintf("999%012d", tag), site, antenna, at))
	} else {
		g.lower = append(g.lower, line(fmt.Sprintf("%03X.%010X", 999, tag), site, antenna, at))
	}
}

func line(tag, site, antenna string, at time.Time) record {
	return record{at, strings.Join([]string{tag, site, antenna, at.Format(time.DateTime)}, ",")}
}

// soil adds the records that every real file holds and no analysis wants.
func (g *generator) soil() {
	dirt := g.truth.Dirt
	season := time.Date(2025, 4, 3, 0, 0, 0, 0, zone)
	moment := func() time.Time { return season.Add(time.Duration(g.Int64N(int64(55 * 24 * time.Hour)))) }

	for i := range len(g.lower) / 60 { // a memory card read out twice
		g.lower = append(g.lower, g.lower[i*60])
		g.truth.Duplicates++
	}
	for range 23 { // fish of somebody else's study
		tag, at := 97_000_000_000+g.Uint64N(1e9), moment()
		for range 1 + g.IntN(4) {
			g.write(tag, "Scar Weir", "fishway", at)
			at = at.Add(11 * time.Second)
			dirt["unknown tag"]++
		}
	}
	for i := range 17 { // tags tried on the reader before they went into a fish
		f := g.fish[i*97]
		g.write(f.tag, "Alder Ford", "south", f.released.Add(-time.Duration(30+g.IntN(40))*time.Hour))
		dirt["before release"]++
	}
	for i := range 9 { // a reader tried on the bench
		g.lower = append(g.lower, line(fmt.Sprintf("%03X.%010X", 999, g.fish[i*180].tag), "Workshop", "bench", moment()))
		dirt["unknown site"]++
	}
	for day := range 60 { // the self-test of the Tidehead reader
		at := season.AddDate(0, 0, day).Add(12 * time.Hour)
		g.write(1, "Tidehead", "bank", at)
		dirt["test tag"]++
	}
	for i := range 6 { // codes cut short on the wire
		r := line(fmt.Sprintf("999%07d", g.fish[i*211].tag%1e7), "Alder Ford", "north", moment())
		g.upper = append(g.upper, r)
		dirt["bad tag"]++
	}
	for i := range 4 { // a clock that lost its date
		r := line(fmt.Sprintf("999%012d", g.fish[i*333].tag), "Alder Ford", "middle", moment())
		r.line = strings.Replace(r.line, "2025-", "2025-00-", 1)
		g.upper = append(g.upper, r)
		dirt["bad time"]++
	}
	for range 3 { // lines broken off
		g.upper = append(g.upper, record{moment(), "9990410"})
		dirt["unreadable record"]++
	}
}

func (g *generator) files() (map[string][]byte, error) {
	var table bytes.Buffer
	table.WriteString("tag,released,cohort,species,fork_length_mm,weight_g,removed\n")
	for _, f := range g.fish {
		removed := ""
		if f.removed {
			removed = "Scar Weir"
		}
		fmt.Fprintf(&table, "999%012d,%s,%s,sea trout,%.0f,%.1f,%s\n",
			f.tag, f.released.Format("2006-01-02 15:04"), cohortName(f.cohort), f.length, f.weight, removed)
	}
	known, err := json.MarshalIndent(g.truth, "", "  ")
	if err != nil {
		return nil, err
	}
	upper, err := pack(g.upper)
	if err != nil {
		return nil, err
	}
	lower, err := pack(g.lower)
	if err != nil {
		return nil, err
	}
	return map[string][]byte{
		"fish.csv":                  table.Bytes(),
		"truth.json":                append(known, '\n'),
		"arrays/alder-ford.csv.gz":  upper,
		"arrays/lower-river.csv.gz": lower,
	}, nil
}

// pack writes records in the order of their times.
func pack(records []record) ([]byte, error) {
	slices.SortStableFunc(records, func(a, b record) int {
		return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.line, b.line))
	})
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	fmt.Fprintln(z, "tag,site,antenna,time")
	for _, r := range records {
		fmt.Fprintln(z, r.line)
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
