// Package study reads the study file: the one file that says where a study's
// tables are, what its sites are, and which models to fit.
package study

import (
	"time"

	"example.org/unseen/history"
)

// Pos is a place in the study file, for messages.
type Pos = history.Pos

// Study is a study file's content, checked in itself; its tables are not read.
// File names are resolved against the study file's folder.
type Study struct {
	Path   string
	SHA256 string

	Title    string
	TimeZone string // IANA name; "" is UTC
	AsOf     time.Time
	LastDay  time.Time
	// DateOrder is "day first", "month first" or "" (settled by the data).
	DateOrder string
	// TagForm is "" (ISO 11784) or "text".
	TagForm string
	// Missing says what becomes of fish with a missing covariate: "" (refuse), "drop" or "mean".
	Missing string

	Fish       *FishTable
	Sightings  *SightingFiles
	Histories  *Table
	NextSeen   *Table
	Conditions *Table
	Recaptures *Table

	Sites      []Site
	TestPasses []TestPasses
	Holds      []Hold
	Models     []Model
	Retention  *Retention
	Rules      Rules
}

// Table is a table file with the mapping from our column names to the file's.
type Table struct {
	Pos     Pos
	File    string
	Columns map[string]string // our name → the file's name, where they differ
	Kinds   map[string]string // column → "number" or "category"
	Cohort  string            // the column that is the cohort, or ""
}

// FishTable is the tagging table.
type FishTable struct {
	Table
	// MinimumLengthMM and Aliases etc. are choices of the data rules.
	Aliases map[string]string // second tag → first tag
}

// SightingFiles are the array files.
type SightingFiles struct {
	Pos     Pos
	Files   []string // globs, folders or files as written, resolved against the study's folder
	Columns map[string]string
	// BitReversed names files (as written) or readers whose codes are bit-reversed.
	BitReversed bool
}

// Site is a site as the study file gives it.
type Site struct {
	Pos        Pos
	Name       string
	Km         float64 // NaN when not given
	Days       float64 // NaN when not given; the attribute "days"
	Rows       []Row
	Antennas   []string // antennas of an undivided site; empty: any record naming the site
	Attributes map[string]float64
	TimeZone   string
	Working    []Window
	Clock      []ClockFix
}

// Row is one row of a divided site with the antennas that make it.
type Row struct {
	Name     string
	Antennas []string
}

// Window is a half-open time window.
type Window struct{ From, To time.Time }

// ClockFix is a correction in seconds added to a site's times in a window.
type ClockFix struct {
	Window
	Seconds float64
}

// TestPasses is a count of known passes of a test tag over a site or row.
type TestPasses struct {
	Pos          Pos
	Site, Row    string
	Passes, Read int
	Where        map[string]string
}

// Hold is a value taken as known.
type Hold struct {
	Pos       Pos
	Reach     string // "A to B", for survival
	Site, Row string // for detection
	Survival  float64
	Detection float64 // NaN when not held
	Where     map[string]string
}

// Model is one [[model]] of the study.
type Model struct {
	Pos       Pos
	Name      string
	Survival  string // terms; "" is the default
	Detection string
	Link      string // survival link: "", "logit", "linear", "per km", "per day"
	// DetectionLink is "", "logit" or "linear".
	DetectionLink string
}

// Retention is fish held for a while to see whether tags stay in.
type Retention struct {
	Pos        Pos
	Held, Kept int
}

// Rules are the choices among the data rules. Zero values are the defaults.
type Rules struct {
	Pos             Pos
	TestTags        []string
	GhostTags       []string
	FastestKmPerDay float64
	MinimumLengthMM float64
	ParkedDays      float64 // 0: the default
	Off             []string
}

// River is the study's sites as the other packages see them.
func (s *Study) River() history.River {
	r := history.River{Sites: make([]history.Site, len(s.Sites))}
	for i, x := range s.Sites {
		rows := make([]string, 0, len(x.Rows))
		for _, w := range x.Rows {
			rows = append(rows, w.Name)
		}
		r.Sites[i] = history.Site{Name: x.Name, Km: x.Km, Days: x.Days, Rows: rows, Attributes: x.Attributes}
	}
	return r
}
