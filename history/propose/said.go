package propose

import (
	"example.org/unseen/history/clock"
	"example.org/unseen/history/study"
)

// Kind is what a table is to a study.
type Kind string

const (
	Guessed    Kind = ""           // nobody said
	Fish       Kind = "fish"       // the tagging table
	Sightings  Kind = "sightings"  // records of readers
	Recaptures Kind = "recaptures" // later measurements of tagged fish
	Unused     Kind = "unused"     // no table of the study
)

// Roles are what columns of a table of each kind are for, the needed ones first.
// clock is the time of day, where that stands apart from the date.
var Roles = map[Kind][]string{
	Fish:       {"tag", "released", "clock", "site", "cohort", "removed", "second_tag"},
	Sightings:  {"tag", "time", "clock", "site", "antenna"},
	Recaptures: {"tag", "date", "length_mm", "weight_g", "site"},
}

// Said is what a user says of a table, so that it is not guessed. The zero value
// says nothing.
type Said struct {
	Kind Kind // what the table is; Guessed where nobody said
	// Columns are those that play [Roles], by their names in the table; "" is
	// none of them. A role that is not there is guessed.
	Columns map[string]string
	// Site is where all records of a table of sightings were made.
	Site string
	// TimeZone is of its times without an offset, "" where the table says nothing;
	// Order of day and month.
	TimeZone string
	Order    clock.Order
	// Reading is how the file is written: its zero fields are told from it.
	Reading study.Reading
}

// Taken is a table with what it was taken for.
type Taken struct {
	// Name is the table in messages, its sheet too; File the file, from the
	// folder of the study.
	Name, File string
	Path       string
	Kind       Kind
	// Columns are those that play [Roles], Site where all records were made.
	Columns map[string]string
	Site    string
	// TimeZone and Order are as [Said] has them.
	TimeZone string
	Order    clock.Order
	Header   []string
	Reading  study.Reading
	Records  int // looked at
	// Why says why it is not used, or cannot be read.
	Why string
}

// over puts what was said of how a file is written over what was found.
func (s *Said) over(r *study.Reading) (changed bool) {
	x := &s.Reading
	if x.HeaderLine != nil {
		r.HeaderLine, changed = x.HeaderLine, true
	}
	if x.Delimiter != "" {
		r.Delimiter, r.Widths, changed = x.Delimiter, nil, true
	}
	if x.Decimal != 0 {
		r.Decimal = x.Decimal
	}
	return changed
}
