package wire

import (
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/travel"
	"example.org/unseen/history"
)

// Travel is the document of `unseen travel`.
type Travel struct {
	Head
	// measured from the last detection above
	FromLast bool `json:"from_last"`
	// of the intervals
	Level     Number    `json:"level"`
	Shares    []Number  `json:"shares"`    // of every summary's quantiles
	Stretches []Stretch `json:"stretches"` // reaches in downstream order, then the whole path
	// time between first and last detection at a site
	Stays []Stay `json:"stays"`
	// first, 10, 50, 90 %, last: as seen, and corrected for detection
	Arrivals []Arrival `json:"arrivals"`
	// docs/travel.md explains each
	Warnings []Warning `json:"warnings"`
}

// Stretch is the water from one site to another farther down.
type Stretch struct {
	From     string  `json:"from"`
	To       string  `json:"to"`
	Cohort   *string `json:"cohort"` // null: all fish
	Km       Number  `json:"km"`
	Days     Summary `json:"days"`
	KmPerDay Summary `json:"km_per_day"`
	NotTimed int     `json:"not_timed"`
	Law      *Law    `json:"law"` // null where there is none: why_no_law says why
	WhyNoLaw string  `json:"why_no_law" schema:"words"`
}

// Summary describes a sample.
type Summary struct {
	N            int      `json:"n"`
	Min          Number   `json:"min"`
	Max          Number   `json:"max"`
	Mean         Number   `json:"mean"`
	SD           Number   `json:"sd"`
	Quantiles    []Number `json:"quantiles"`
	Median       Number   `json:"median"`
	HarmonicMean Number   `json:"harmonic_mean"`
}

// Law is the first-passage law fitted to a stretch.
type Law struct {
	Drift         Estimate `json:"drift_km_per_day"`
	Spread        Estimate `json:"spread_km_per_root_day"`
	Correlation   Number   `json:"correlation"`
	LogLikelihood Number   `json:"log_likelihood"`
	Verdict       string   `json:"verdict"`
	Truncated     bool     `json:"truncated"`
	Hidden        Number   `json:"hidden_share"`
	Mean          Estimate `json:"mean_days"`
	Median        Estimate `json:"median_days"`
	Check         LawCheck `json:"check"`
}

// LawCheck compares the law with the fish seen, at the document's shares.
type LawCheck struct {
	Expected  []Number `json:"expected"`
	Seen      []Number `json:"seen"`
	Days      []Number `json:"days"`
	ChiSquare Number   `json:"chi_square"`
	Classes   int      `json:"classes"`
	PLow      Number   `json:"p_low"`
	PHigh     Number   `json:"p_high"`
}

// Stay is the time at a site, in days.
type Stay struct {
	Site     string  `json:"site"`
	Cohort   *string `json:"cohort"` // null: all fish
	Days     Summary `json:"days"`
	ReadOnce int     `json:"read_once"`
}

// Arrival is when fish came to a site: first, 10, 50, 90 %, last.
type Arrival struct {
	Site      string     `json:"site"`
	Cohort    *string    `json:"cohort"` // null: all fish
	Fish      int        `json:"fish"`
	First     *string    `json:"first"`
	Seen      [3]*string `json:"seen"` // the times by which 10, 50 and 90 % had come
	Last      *string    `json:"last"`
	Corrected [3]*string `json:"corrected"` // the times by which 10, 50 and 90 % had come
	Why       string     `json:"why" schema:"words"`
}

// NewTravel makes the document.
func NewTravel(head Head, d *analysis.Data, r *travel.Result) Travel {
	sites := d.Histories.River.Sites
	cohort := func(c int) *string {
		if c == travel.All {
			return nil
		}
		return &d.Histories.Cohorts[c]
	}
	return Travel{head, r.Options.FromLast, Number(r.Options.Level), numbers(r.Options.Shares),
		each(r.Stretches, func(s travel.Stretch) Stretch {
			return Stretch{sites[s.From].Name, sites[s.To].Name, cohort(s.Cohort), Number(s.Km), summary(s.Days), summary(s.KmPerDay), s.NotTimed, law(s.Law), s.WhyNoLaw}
		}),
		each(r.Stays, func(s travel.Stay) Stay { return Stay{sites[s.Site].Name, cohort(s.Cohort), summary(s.Days), s.Once} }),
		each(r.Arrivals, func(a travel.Arrival) Arrival {
			x := Arrival{Site: sites[a.Site].Name, Cohort: cohort(a.Cohort), Fish: a.Fish, First: optional(a.First), Last: optional(a.Last), Why: a.Why}
			for k := range a.Seen {
				x.Seen[k], x.Corrected[k] = optional(a.Seen[k]), optional(a.Corrected[k])
			}
			return x
		}),
		WarningsOf(r.Warnings)}
}

func law(l *travel.Law) *Law {
	if l == nil {
		return nil
	}
	c := l.Check
	return &Law{estimate(l.Drift, 1), estimate(l.Spread, 1), Number(l.Correlation), Number(l.LogLikelihood), string(l.Verdict),
		l.Truncated, Number(l.Hidden), estimate(l.Mean, 1), estimate(l.Median, 1),
		LawCheck{numbers(c.Expected), numbers(c.Seen), numbers(c.Days), Number(c.ChiSquare), c.Classes, Number(c.PLow), Number(c.PHigh)}}
}

func summary(s history.Summary) Summary {
	return Summary{s.N, Number(s.Min), Number(s.Max), Number(s.Mean), Number(s.SD), numbers(s.Quantiles), Number(s.Median), Number(s.HarmonicMean)}
}
