package wire

import (
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/history"
	"example.org/unseen/history/growth"
)

// Growth is the document of `unseen growth`.
type Growth struct {
	Head
	Length string `json:"length"` // the column of lengths; "" without any
	// lengths and weights at tagging, by species, age and cohort
	Tagging []Tagged       `json:"tagging"`
	Lines   []LengthWeight `json:"length_weight"` // ln(weight in g) = intercept + slope × ln(length in mm)
	// fish measured and weighed that are compared with no line
	NoLine int `json:"without_line"`
	// those of them without a species
	NoSpecies int   `json:"without_species"`
	Odd       []Odd `json:"odd"` // fish whose measurements at tagging look wrong
	// weight of the tags in percent of the fish's; null where a weight is not known
	TagBurden *TagBurden `json:"tag_burden"`
	// where every record of the recapture table ended; null without a table
	Recaptures *history.Accounting `json:"recaptures"`
	// columns of the recapture table called almost as one that would be read
	Findings []history.Finding `json:"findings"`
	// fish caught again without a release time: growth is counted from the first recapture
	// on
	WithoutTime int `json:"without_release_time"`
	// every interval between captures
	Growth []GrowthInterval `json:"growth"`
	// by group and interval
	GrowthSummary []GrowthGroup `json:"growth_summary"`
}

// Tagged summarises the tagged fish of one species, age and cohort.
type Tagged struct {
	// species, age and cohort, as far as the table has them; empty: all fish
	Of        Of      `json:"of"`
	Fish      int     `json:"fish"`
	LengthMM  Summary `json:"length_mm"`
	WeightG   Summary `json:"weight_g"`
	Condition Summary `json:"condition"`
}

// LengthWeight is ln W = intercept + slope ln L.
type LengthWeight struct {
	Species     string `json:"species"`
	Fish        int    `json:"fish"`
	Off         int    `json:"off"` // fish far from the line, not used in it
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
	Fish      *string  `json:"fish"` // its tag
	Record    int      `json:"record" schema:"min=1"`
	LengthMM  Number   `json:"length_mm"`
	WeightG   Number   `json:"weight_g"`
	Condition Number   `json:"condition"`
	Residual  Number   `json:"residual"`             // Student's t of the distance from the line
	Flags     []string `json:"flags" schema:"words"` // what was noticed, in words; nothing is left out for it
	Guess     string   `json:"guess" schema:"words"` // a slip that would explain it
}

// TagBurden is the weight of the tags in percent of the fish's.
type TagBurden struct {
	Percent Summary      `json:"percent"`
	Rules   []BurdenRule `json:"rules"`
}

// BurdenRule is a share the trade talks about, and the fish above it.
type BurdenRule struct {
	Percent Number `json:"percent"`
	Above   int    `json:"above"` // fish above it
	What    string `json:"what"`
	Source  string `json:"source"`
}

// Capture is one measurement.
type Capture struct {
	Time     *string `json:"time"` // ISO 8601
	Place    string  `json:"place"`
	Line     int     `json:"line"` // of the recapture table; 0: the tagging
	LengthMM Number  `json:"length_mm"`
	WeightG  Number  `json:"weight_g"`
}

// GrowthInterval is one fish between one capture and the next.
type GrowthInterval struct {
	Fish            string   `json:"fish"`
	Cohort          string   `json:"cohort"`
	Interval        int      `json:"interval" schema:"min=1"` // 1: from tagging to the first recapture
	From            Capture  `json:"from"`
	To              Capture  `json:"to"`
	Days            Number   `json:"days"`
	MMPerDay        Number   `json:"mm_per_day"`
	GPerDay         Number   `json:"g_per_day"`
	LengthPercent   Number   `json:"length_percent_per_day"`
	WeightPercent   Number   `json:"weight_percent_per_day"`
	ConditionBefore Number   `json:"condition_before"`
	ConditionAfter  Number   `json:"condition_after"`
	Flags           []string `json:"flags" schema:"words"` // what was noticed, in words; nothing is left out for it
}

// GrowthGroup summarises the growth of a cohort over one of the intervals.
type GrowthGroup struct {
	Cohort          *string `json:"cohort"`                  // null: all fish
	Interval        *int    `json:"interval" schema:"min=1"` // null: all
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
func NewGrowth(head Head, d *analysis.Data, r *growth.Result, caught *growth.Recaptures) Growth {
	h := d.Histories
	doc := Growth{Head: head, Length: r.Length, NoLine: r.NoLine, NoSpecies: r.NoSpecies, WithoutTime: r.NoTime,
		Tagging: each(r.Tagging, tagged), Lines: LinesOf(r.Lines),
		Odd:           OddOf(h, r.Odd),
		Growth:        IntervalsOf(h, r.Growth),
		Findings:      []history.Finding{},
		GrowthSummary: each(r.Groups, func(g growth.Group) GrowthGroup { return growthGroup(h, g) })}
	if b := r.TagBurden; b != nil {
		doc.TagBurden = &TagBurden{Percent: summary(b.Percent)}
		for k, rule := range growth.BurdenRules {
			doc.TagBurden.Rules = append(doc.TagBurden.Rules, BurdenRule{Number(rule.Percent), b.Above[k], rule.What, rule.Source})
		}
	}
	if caught != nil {
		doc.Recaptures = boxes(caught.Accounting)
		doc.Findings = list(caught.Findings)
	}
	return doc
}

func tagged(x growth.Tagged) Tagged {
	of := Of{}
	for _, c := range x.Of {
		of[c.Name] = c.Value
	}
	return Tagged{of, x.Fish, summary(x.Length), summary(x.Weight), summary(x.Condition)}
}

func lengthWeight(l growth.Line) LengthWeight {
	return LengthWeight{l.Species, l.Fish, l.Off, Number(l.Intercept), Number(l.InterceptSE), Number(l.Slope), Number(l.SlopeSE),
		Number(l.SlopeLow), Number(l.SlopeHigh), Number(l.ResidualSD), Number(l.Explained)}
}

func odd(h *history.Histories, o growth.Odd) Odd {
	x := Odd{nil, int(o.Fish) + 1, Number(o.LengthMM), Number(o.WeightG), Number(o.Condition), Number(o.Residual), list(o.Flags.Names()), o.Guess}
	if h.Tag != nil {
		x.Fish = &h.Tag[o.Fish]
	}
	return x
}

func growthInterval(h *history.Histories, g growth.Growth) GrowthInterval {
	capture := func(c growth.Capture) Capture {
		return Capture{optional(c.Time), c.Place, c.Line, Number(c.LengthMM), Number(c.WeightG)}
	}
	return GrowthInterval{h.Tag[g.Fish], h.Cohorts[h.Cohort[g.Fish]], g.Interval, capture(g.From), capture(g.To),
		Number(g.Days), Number(g.MMPerDay), Number(g.GPerDay), Number(g.LengthPercent), Number(g.WeightPercent),
		Number(g.ConditionFrom), Number(g.ConditionTo), list(g.Flags.Names())}
}

func growthGroup(h *history.Histories, g growth.Group) GrowthGroup {
	x := GrowthGroup{nil, nil, g.Fish, g.Flagged, summary(g.Days), summary(g.MMPerDay), summary(g.GPerDay), summary(g.LengthPercent),
		summary(g.WeightPercent), summary(g.ConditionFrom), summary(g.ConditionTo)}
	if g.Cohort != growth.All {
		x.Cohort = &h.Cohorts[g.Cohort]
	}
	if g.Interval != growth.All {
		x.Interval = &g.Interval
	}
	return x
}

// LinesOf are the lines of weight on length.
func LinesOf(in []growth.Line) []LengthWeight { return each(in, lengthWeight) }

// OddOf are fish whose measurements look wrong.
func OddOf(h *history.Histories, in []growth.Odd) []Odd {
	return each(in, func(o growth.Odd) Odd { return odd(h, o) })
}

// IntervalsOf are fish between one capture and the next.
func IntervalsOf(h *history.Histories, in []growth.Growth) []GrowthInterval {
	return each(in, func(g growth.Growth) GrowthInterval { return growthInterval(h, g) })
}
