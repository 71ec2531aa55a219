package wire

import (
	"example.org/unseen/cmd/unseen/internal/session"
	"example.org/unseen/history"
	"example.org/unseen/history/growth"
)

// Growth is the document of `unseen growth`.
type Growth struct {
	Head
	// Length is the column of lengths, "" without any.
	Length        string              `json:"length"`
	Tagging       []Tagged            `json:"tagging"`
	Lines         []LengthWeight      `json:"length_weight"`
	NoLine        int                 `json:"without_line"`
	NoSpecies     int                 `json:"without_species"`
	Odd           []Odd               `json:"odd"`
	TagBurden     *TagBurden          `json:"tag_burden"` // null where a weight is not known
	Recaptures    *history.Accounting `json:"recaptures"` // null without a table
	WithoutTime   int                 `json:"without_release_time"`
	Growth        []GrowthInterval    `json:"growth"`
	GrowthSummary []GrowthGroup       `json:"growth_summary"`
}

// Tagged summarises the tagged fish of one species, age and cohort.
type Tagged struct {
	Of        map[string]string `json:"of"`
	Fish      int               `json:"fish"`
	LengthMM  Summary           `json:"length_mm"`
	WeightG   Summary           `json:"weight_g"`
	Condition Summary           `json:"condition"`
}

// LengthWeight is ln W = intercept + slope ln L.
type LengthWeight struct {
	Species     string `json:"species"`
	Fish        int    `json:"fish"`
	Off         int    `json:"off"`
	Intercept   Number `json:"intercept"`
	InterceptSE Number `json:"intercept_se"`
	Slope       Number `json:"slope"`
	SlopeSE     Number `json:"slope_se"`
	SlopeLow    Number `json:"slope_low"`
	SlopeHigh   Number `json:"slope_high"`
	ResidualSD  Number `json:"residual_sd"`
	RSquared    Number `json:"r_squared"`
}

// Odd is a fish whose measurements at tagging look wrong.
type Odd struct {
	Fish      *string  `json:"fish"` // null where the study has no tags
	Record    int      `json:"record"`
	LengthMM  Number   `json:"length_mm"`
	WeightG   Number   `json:"weight_g"`
	Condition Number   `json:"condition"`
	Residual  Number   `json:"residual"`
	Flags     []string `json:"flags"`
	Guess     string   `json:"guess"`
}

// TagBurden is the weight of the tags in percent of the fish's.
type TagBurden struct {
	Percent Summary      `json:"percent"`
	Rules   []BurdenRule `json:"rules"`
}

// BurdenRule is a share the trade talks about, and the fish above it.
type BurdenRule struct {
	Percent Number `json:"percent"`
	Above   int    `json:"above"`
	What    string `json:"what"`
	Source  string `json:"source"`
}

// Capture is one measurement.
type Capture struct {
	Time     *string `json:"time"`
	Place    string  `json:"place"`
	Line     int     `json:"line"` // 0: the tagging
	LengthMM Number  `json:"length_mm"`
	WeightG  Number  `json:"weight_g"`
}

// GrowthInterval is one fish between one capture and the next.
type GrowthInterval struct {
	Fish            string   `json:"fish"`
	Cohort          string   `json:"cohort"`
	Interval        int      `json:"interval"`
	From            Capture  `json:"from"`
	To              Capture  `json:"to"`
	Days            Number   `json:"days"`
	MMPerDay        Number   `json:"mm_per_day"`
	GPerDay         Number   `json:"g_per_day"`
	LengthPercent   Number   `json:"length_percent_per_day"`
	WeightPercent   Number   `json:"weight_percent_per_day"`
	ConditionBefore Number   `json:"condition_before"`
	ConditionAfter  Number   `json:"condition_after"`
	Flags           []string `json:"flags"`
}

// GrowthGroup summarises the growth of a cohort over one of the intervals.
type GrowthGroup struct {
	Cohort          *string `json:"cohort"`   // null: all fish
	Interval        *int    `json:"interval"` // null: all
	Intervals       int     `json:"intervals"`
	Flagged         int     `json:"flagged"`
	Days            Summary `json:"days"`
	MMPerDay        Summary `json:"mm_per_day"`
	GPerDay         Summary `json:"g_per_day"`
	LengthPercent   Summary `json:"length_percent_per_day"`
	WeightPercent   Summary `json:"weight_percent_per_day"`
	ConditionBefore Summary `json:"condition_before"`
	ConditionAfter  Summary `json:"condition_after"`
}

// NewGrowth makes the document. caught may be nil.
func NewGrowth(head Head, d *session.Data, r *growth.Result, caught *growth.Recaptures) Growth {
	doc := Growth{Head: head, Length: r.Length, NoLine: r.NoLine, NoSpecies: r.NoSpecies, Tagging: []Tagged{}, Lines: []LengthWeight{}, Odd: []Odd{},
		WithoutTime: r.NoTime, Growth: []GrowthInterval{}, GrowthSummary: []GrowthGroup{}}
	h := d.Histories
	for _, x := range r.Tagging {
		of := map[string]string{}
		for _, c := range x.Of {
			of[c.Name] = c.Value
		}
		doc.Tagging = append(doc.Tagging, Tagged{of, x.Fish, summary(x.Length), summary(x.Weight), summary(x.Condition)})
	}
	for _, l := range r.Lines {
		doc.Lines = append(doc.Lines, LengthWeight{l.Species, l.Fish, l.Off, Number(l.Intercept), Number(l.InterceptSE), Number(l.Slope), Number(l.SlopeSE),
			Number(l.SlopeLow), Number(l.SlopeHigh), Number(l.ResidualSD), Number(l.Explained)})
	}
	for _, o := range r.Odd {
		x := Odd{Record: int(o.Fish) + 1, LengthMM: Number(o.LengthMM), WeightG: Number(o.WeightG), Condition: Number(o.Condition),
			Residual: Number(o.Residual), Flags: list(o.Flags.Names()), Guess: o.Guess}
		if h.Tag != nil {
			x.Fish = &h.Tag[o.Fish]
		}
		doc.Odd = append(doc.Odd, x)
	}
	if b := r.TagBurden; b != nil {
		doc.TagBurden = &TagBurden{Percent: summary(b.Percent)}
		for k, rule := range growth.BurdenRules {
			doc.TagBurden.Rules = append(doc.TagBurden.Rules, BurdenRule{Number(rule.Percent), b.Above[k], rule.What, rule.Source})
		}
	}
	if caught != nil {
		a := caught.Accounting
		a.SetAside = list(a.SetAside)
		doc.Recaptures = &a
	}
	capture := func(c growth.Capture) Capture {
		return Capture{optional(c.Time), c.Place, c.Line, Number(c.LengthMM), Number(c.WeightG)}
	}
	for i := range r.Growth {
		g := &r.Growth[i]
		doc.Growth = append(doc.Growth, GrowthInterval{h.Tag[g.Fish], h.Cohorts[h.Cohort[g.Fish]], g.Interval, capture(g.From), capture(g.To),
			Number(g.Days), Number(g.MMPerDay), Number(g.GPerDay), Number(g.LengthPercent), Number(g.WeightPercent),
			Number(g.ConditionFrom), Number(g.ConditionTo), list(g.Flags.Names())})
	}
	for _, g := range r.Groups {
		x := GrowthGroup{nil, nil, g.Fish, g.Flagged, summary(g.Days), summary(g.MMPerDay), summary(g.GPerDay), summary(g.LengthPercent),
			summary(g.WeightPercent), summary(g.ConditionFrom), summary(g.ConditionTo)}
		if g.Cohort != growth.All {
			x.Cohort = &h.Cohorts[g.Cohort]
		}
		if g.Interval != growth.All {
			x.Interval = &g.Interval
		}
		doc.GrowthSummary = append(doc.GrowthSummary, x)
	}
	return doc
}
