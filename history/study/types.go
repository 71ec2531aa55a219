// Package study reads the study file: the one file that says where a study's
// tables are, what its sites are, and which models to fit.
//
// Begin with [Load], or [Parse] for a text; ExampleParse shows it,
// ExampleParse_mistake what is said of a slip. Distances are in km.
package study

import (
	"errors"
	"slices"
	"time"

	"example.org/unseen/history"
)

// Noun is what is followed, or where and when it is looked for, in one and in
// several.
type Noun struct {
	One     string // as after "a"
	Several string // as after "two"
}

// Study is a study file's content, checked in itself; its tables are not read.
// File names are resolved against the study file's folder.
type Study struct {
	Path   string // of the study file
	SHA256 string // of the study file, in hex

	Title string // as in the file; may be empty
	// Animal is what is followed, Occasion where or when it may be seen, for
	// people; zero values are [Fish] and [Sites].
	Animal, Occasion Noun
	TimeZone         string // IANA name; "" is UTC
	// Location is TimeZone, loaded; never nil after [Parse].
	Location *time.Location
	// AsOf is the first moment that no longer counts, the end of the day where a
	// date was given; zero when the season is over.
	AsOf    time.Time
	AsOfPos Pos
	// LastDay is the start of the last day that counts, in TimeZone; zero
	// when every day does.
	LastDay    time.Time
	LastDayPos Pos
	// DateOrder is "day first", "month first" or "" (settled by the data).
	DateOrder    string
	DateOrderPos Pos
	// TagForm is "" (ISO 11784) or "text".
	TagForm string
	// Missing says what becomes of fish with a missing covariate: "" (refuse), "drop" or "mean".
	Missing string
	// Units are those of columns of fish, of attributes of sites and of
	// conditions, by name, as figures show them; UnitsPos by name.
	Units    map[string]string
	UnitsPos map[string]Pos

	// One of three ways in is given: Fish with Sightings, Histories, or NextSeen.
	Fish       *FishTable
	Sightings  []*SightingFiles // groups of files, each with its own reading
	Histories  *Table
	NextSeen   *Table
	Conditions *Table
	Recaptures *Table

	Sites      []Site       // in downstream order
	TestPasses []TestPasses // as in the file
	Holds      []Hold       // as in the file; later ones override
	Models     []Model      // as in the file
	Retention  *Retention   // nil without any
	Rules      Rules        // settings of the data rules
}

// Check refuses a study that nobody read.
func (s *Study) Check() error {
	if s == nil {
		return errors.New("there is no study; Load and Parse read one")
	}
	return nil
}

// TableFiles are the tables that the study names one by one, also those that not
// every reading opens; files of sightings are not among them.
func (s *Study) TableFiles() []string {
	var out []string
	if s.Fish != nil {
		out = append(out, s.Fish.File)
	}
	for _, t := range []*Table{s.Histories, s.NextSeen, s.Conditions, s.Recaptures} {
		if t != nil {
			out = append(out, t.File)
		}
	}
	return out
}

// LastDayEnd is the first moment after the last day; zero when every day counts.
func (s *Study) LastDayEnd() time.Time {
	if s == nil || s.LastDay.IsZero() {
		return time.Time{}
	}
	y, m, d := s.LastDay.Date()
	return history.DayStart(y, m, d+1, s.LastDay.Location())
}

// Table is a table file with the mapping from our column names to the file's.
type Table struct {
	Pos   Pos    // where it stands in the study file
	Title string // as messages call it: "[fish]"
	// File is resolved against the study's folder; Written is the name as
	// the study gives it, the same wherever the folder stands.
	File, Written string
	FilePos       Pos
	Columns       map[string]string // our name → the file's name, where they differ
	ColumnPos     map[string]Pos    // by our name
	Kinds         map[string]string // column → "number" or "category"
	KindPos       map[string]Pos    // by column
	Cohort        string            // the column that is the cohort, or ""
	CohortPos     Pos
	// Joined is, of columns that are two in the file, a date and a time of day,
	// the second; Columns has the first.
	Joined map[string]string
	Reading
}

// Column is the file's name of the column we call ours.
func (t *Table) Column(ours string) string {
	if c, ok := t.Columns[ours]; ok {
		return c
	}
	return ours
}

// FishTable is the tagging table.
type FishTable struct {
	Table
	// Aliases are second tags of fish tagged twice: second tag → first tag.
	Aliases    map[string]string
	AliasesPos Pos
	// SecondTag is the column of second tags of fish tagged twice, or "".
	SecondTag    string
	SecondTagPos Pos
	// ReleasedAt is the time of day of releases with a date alone, since
	// midnight; nil where the study gives none.
	ReleasedAt *time.Duration
	// TimeZone is that of the table's times without an offset, "" the study's;
	// Location is it, loaded, never nil after [Parse]. DateOrder is as the
	// study's, "" where that holds.
	TimeZone  string
	Location  *time.Location
	DateOrder string
}

// SightingFiles are array files that are read alike.
type SightingFiles struct {
	Pos   Pos    // where it stands in the study file
	Title string // as messages call it: "[sightings]" or "[[sightings]]"
	Reading
	// Site is where all records of the files were made, and Row or Antenna
	// where at it; "" where the records say so.
	Site, Row, Antenna          string
	SitePos, RowPos, AntennaPos Pos
	// TimeZone is that of times without an offset, before those of the sites
	// and of the study; "" is theirs, and Location nil.
	TimeZone string
	Location *time.Location
	// DateOrder is as the study's; "" where that holds.
	DateOrder string
	Clock     []ClockFix // besides those of the sites
	// Files are globs, folders or files, resolved against the study's
	// folder; Written is the same list as the study gives it.
	Files, Written []string
	FilesPos       Pos
	// Columns are our name → the files' names, where they differ: tag, site,
	// antenna, time, and date, where it stands apart from the time of day. Of
	// several names, for files that do not agree, a file has one.
	Columns   map[string][]string
	ColumnPos map[string]Pos
	// BitReversed: the codes of all files are bit-reversed. BitReversedFiles
	// names those that are (resolved as Files), where not all are.
	BitReversed      bool
	BitReversedFiles []string
}

// Site is a site as the study file gives it.
type Site struct {
	Pos        Pos      // where it stands in the study file
	Name       string   // as in the data
	Aliases    []string // other spellings of the name, as tables have them
	AliasesPos Pos
	Km         float64 // NaN when not given
	KmPos      Pos
	Days       float64  // NaN when not given; the attribute "days"
	Rows       []Row    // two or more, upstream first; none at an undivided site
	Antennas   []string // antennas of an undivided site; empty: any record naming the site
	Attributes map[string]float64
	TimeZone   string         // IANA name; "" is the study's
	Location   *time.Location // TimeZone, loaded; never nil after [Parse]
	Working    []Window
	Clock      []ClockFix
}

// HasWindows tells whether the site or one of its rows has working windows.
func (s *Site) HasWindows() bool {
	return len(s.Working) > 0 || slices.ContainsFunc(s.Rows, func(r Row) bool { return len(r.Working) > 0 })
}

// AlwaysWorking takes the working windows of the site and its rows out.
func (s *Site) AlwaysWorking() {
	s.Working, s.Rows = nil, slices.Clone(s.Rows)
	for i := range s.Rows {
		s.Rows[i].Working = nil
	}
}

func (s *Site) rowNames() []string {
	var out []string
	for _, r := range s.Rows {
		out = append(out, r.Name)
	}
	return out
}

// Row is one row of a divided site with the antennas that make it.
type Row struct {
	Name     string   // as in the study file
	Antennas []string // their names in the data
	Working  []Window // beside the site's
}

// Window is a half-open time window; a zero time is an open end. A date
// without a time of day is its first moment.
type Window struct {
	Pos      Pos       // where it stands in the study file
	From, To time.Time // the end is not included
}

// ClockFix is a correction in seconds added to a site's times in a window.
type ClockFix struct {
	Window
	Seconds float64 // added to the times as recorded
}

// TestPasses is a count of known passes of a test tag over a site or row.
type TestPasses struct {
	Pos          Pos    // where it stands in the study file
	Site, Row    string // Row is "" at an undivided site
	Passes, Read int
	Where        map[string]string
	WherePos     Pos
}

// Hold is a value taken as known: the survival of a reach or the detection of
// a row, one of the two; the other is NaN.
type Hold struct {
	Pos       Pos    // where it stands in the study file
	Reach     string // "A to B", for survival
	Site, Row string // for detection; Row is "" at an undivided site, and for all rows of one where nothing was read
	Survival  float64
	Detection float64 // NaN when not held
	Where     map[string]string
	WherePos  Pos
}

// Model is one [[model]] of the study.
type Model struct {
	Pos  Pos    // where it stands in the study file
	Name string // for people, and for --model
	// Terms and Links are those given, by the key of the part (see [Parts]);
	// what is not given has none and is the default.
	Terms, Links map[string]string
	// At are the places of the values by their keys, for messages.
	At map[string]Pos
}

// Retention is fish held for a while to see whether tags stay in.
type Retention struct {
	Pos        Pos // where it stands in the study file
	Held, Kept int // fish held, and of these those that kept their tag
}

// Rules are the choices among the data rules. Zero values are the defaults.
type Rules struct {
	Pos             Pos      // where it stands in the study file
	TestTags        []string // as written
	TestTagsPos     Pos      // where they stand in the study file
	GhostTags       []string // as written
	GhostTagsPos    Pos      // where they stand in the study file
	FastestKmPerDay float64  // 0: no limit
	MinimumLengthMM float64  // 0: that of the tag
	ParkedDays      float64  // 0: the default
	Off             []string
	OffPos          Pos
}

// River is the study's sites as the other packages see them.
func (s *Study) River() history.River {
	if s == nil {
		return history.River{}
	}
	r := history.River{Sites: make([]history.Site, len(s.Sites))}
	for i, x := range s.Sites {
		rows := make([]string, 0, len(x.Rows))
		for _, w := range x.Rows {
			rows = append(rows, w.Name)
		}
		r.Sites[i] = history.Site{Name: x.Name, Aliases: x.Aliases, Km: x.Km, Days: x.Days, Rows: rows, Attributes: x.Attributes}
	}
	return r
}
