package wire

import (
	"math"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/plan"
)

// Plan is the document of `unseen plan`. Whatever ends in points is in
// percentage points, in percent what ends in percent.
type Plan struct {
	Head
	// to be tagged, in all
	Fish int `json:"fish"`
	// fish released together
	Cohorts []PlanCohort `json:"cohorts"`
	// in downstream order
	Sites []Site `json:"sites"`
	// the model planned for
	Model Model `json:"model"`
	// columns of the design
	Parameters int `json:"parameters"`
	// how many of them the design identifies
	Estimable int `json:"estimable"`
	// method and level
	Interval Interval `json:"interval"`
	// what the design cannot estimate, however many fish are tagged
	Cannot []Warning `json:"cannot"`
	// fish a wanted precision takes (--want)
	Needs []Need `json:"needs"`
	// differences that are detectable (--power)
	Power []Power `json:"power"`
	// what each change would bring; null without --options
	Options *PlanOptions `json:"options"`
	// simulated beside expected standard errors; null without --verify
	Simulated *PlanSimulated `json:"simulated"`
	// precision to expect
	Passed []PlanLine `json:"passed"`
	// precision to expect
	Survival []PlanLine `json:"survival"`
	// precision to expect
	Detection   []PlanLine `json:"detection"`
	Inseparable []PlanLine `json:"inseparable"` // products of survival and detection at the last site
	// docs/planning.md explains each
	Warnings []Warning `json:"warnings"`
	// what had to be assumed
	Notes []string `json:"notes" schema:"words"`
}

// PlanCohort is fish to be released together.
type PlanCohort struct {
	Name string `json:"name"`
	Fish int    `json:"fish"`
	Site string `json:"site"`
}

// PlanLine is what to expect of one estimate. Which of From, To, Site and Row
// there are depends on what it is of.
type PlanLine struct {
	Of            Of         `json:"of"` // the categories the entry is for; empty: all fish
	From          string     `json:"from,omitempty"`
	To            string     `json:"to,omitempty"`
	Site          string     `json:"site,omitempty"`
	Row           string     `json:"row,omitempty"`
	Percent       Number     `json:"percent"`                // the supposed value
	SE            Number     `json:"se_points"`              // the standard error to expect, in percentage points
	HalfWidth     Number     `json:"half_width_points"`      // of the interval to expect in a large sample
	HalfWidthLow  Number     `json:"half_width_low_points"`  // the smallest over the ranges of supposed values
	HalfWidthHigh Number     `json:"half_width_high_points"` // the largest over the ranges
	Low           Number     `json:"low_percent"`
	High          Number     `json:"high_percent"`
	Status        cjs.Status `json:"status" schema:"enum=estimated|held|boundary|inseparable|borrowed|absent"`
	// the interval would be wider than the whole scale: no standard error and no half-width then
	TooFew bool `json:"too_few_fish"`
}

// Need is how many fish a precision takes.
type Need struct {
	Want      string       `json:"want" schema:"words"`
	HalfWidth Number       `json:"half_width_points"`
	Now       Number       `json:"half_width_as_planned_points"`
	Fish      *int         `json:"fish"` // null when no number suffices
	Cohorts   []PlanCohort `json:"cohorts"`
	FishLow   *int         `json:"fish_low"`           // over the ranges of supposed values
	FishHigh  *int         `json:"fish_high"`          // null when at the worst of the ranges no number suffices
	Why       string       `json:"why" schema:"words"` // why no number suffices; empty where one does
}

// Power is which difference between cohorts can be shown.
type Power struct {
	First         string `json:"first"`
	Second        string `json:"second"`
	Of            string `json:"of" schema:"words"`
	FirstPercent  Number `json:"first_percent"`
	SecondPercent Number `json:"second_percent"`
	SE            Number `json:"se_points"`
	Chance        Number `json:"chance"`
	// where the second is at most this, the difference is seen with the wanted chance
	Below        Number `json:"seen_below_percent"`
	Above        Number `json:"seen_above_percent"` // where the second is at least this, likewise
	Alpha        Number `json:"alpha"`
	WantedChance Number `json:"wanted_chance"`
	Why          string `json:"why" schema:"words"`
}

// PlanOptions are changes of the plan, the best first.
type PlanOptions struct {
	For     string       `json:"for" schema:"words"`
	Compare []PlanOption `json:"compared"`           // the best first
	Curves  []PlanCurve  `json:"half_width_by_fish"` // the first is the plan as it is
}

// PlanOption is what one change brings.
type PlanOption struct {
	Option      string `json:"option" schema:"words"`
	What        string `json:"what"`
	MoreFish    int    `json:"more_fish" schema:"signed"`
	HalfWidth   Number `json:"half_width_points"`
	Gain        Number `json:"gain_points"`
	Worth       Number `json:"worth_fish"` // further fish that would do the same
	NoNumber    bool   `json:"no_number_of_fish_does_it"`
	Cost        Number `json:"cost"`
	GainPerCost Number `json:"gain_points_per_1000_of_cost"`
	Why         string `json:"why" schema:"words"`
	Note        string `json:"note" schema:"words"`
}

// PlanCurve is the half-width against the number of fish.
type PlanCurve struct {
	Option    string   `json:"option" schema:"words"`
	Fish      []int    `json:"fish"`
	HalfWidth []Number `json:"half_width_points"`
}

// PlanSimulated sets expected standard errors beside simulated ones.
type PlanSimulated struct {
	Replicates int            `json:"replicates"` // made and fitted
	Failed     map[string]int `json:"failed"`
	Estimates  []PlanVerified `json:"estimates"`
}

// PlanVerified is one estimate, simulated.
type PlanVerified struct {
	Estimate    string `json:"estimate"`
	ExpectedSE  Number `json:"expected_se_points"`
	SimulatedSE Number `json:"simulated_se_points"`
	NoiseSE     Number `json:"simulation_error_points"`
	Ratio       Number `json:"ratio"`
	Bias        Number `json:"bias_points"`
	Coverage    Number `json:"coverage_percent"`
	Replicates  int    `json:"replicates"`
	Off         bool   `json:"more_than_a_tenth_off"`
}

// NewPlan makes the document.
func NewPlan(head Head, d *analysis.Planned) Plan {
	f := d.Forecast
	p := f.Plan
	level := p.Level
	if level == 0 {
		level = 0.95
	}
	doc := Plan{Head: head, Fish: p.Fish(), Cohorts: planCohorts(p, nil), Sites: sites(&p.River), Model: specModel(f.Model()),
		Parameters: f.Parameters, Estimable: f.Estimable, Interval: Interval{"wald", Number(level)},
		Cannot: WarningsOf(f.Cannot),
		Needs:  each(d.Needs, func(n *plan.Need) Need { return need(p, n) }),
		Power:  PowersOf(p, d.Powers),
		Passed: PlanLinesOf(p, f.Passed), Survival: PlanLinesOf(p, f.Survival), Detection: PlanLinesOf(p, f.Detection), Inseparable: PlanLinesOf(p, f.Products),
		Warnings: WarningsOf(f.Cautions), Notes: list(p.Notes)}
	if d.Comparisons != nil {
		doc.Options = planOptions(p, d)
	}
	if v := d.Verification; v != nil {
		doc.Simulated = planSimulated(p, v)
	}
	return doc
}

func planCohorts(p *plan.Plan, fish []int) []PlanCohort {
	out := []PlanCohort{}
	for i := range p.Cohorts {
		c := &p.Cohorts[i]
		n := c.Fish
		if fish != nil {
			n = fish[i]
		}
		out = append(out, PlanCohort{c.Name, n, p.River.Sites[c.Entry].Name})
	}
	return out
}

func PlanLinesOf(p *plan.Plan, lines []plan.Line) []PlanLine {
	return each(lines, func(l plan.Line) PlanLine {
		x := PlanLine{Of: of(l.Of), Percent: Number(100 * l.Value), SE: Number(100 * l.SE), HalfWidth: Number(100 * l.Half),
			HalfWidthLow: Number(100 * l.HalfLow), HalfWidthHigh: Number(100 * l.HalfHigh),
			Low: Number(100 * l.Low), High: Number(100 * l.High), Status: l.Status, Row: rowName(&p.River, l.Site, l.Row), TooFew: l.TooFew}
		site := &p.River.Sites[l.Site]
		if l.From >= 0 {
			x.From, x.To = p.River.Sites[l.From].Name, site.Name
		}
		if l.Kind != plan.Survival {
			x.Site = site.Name
		}
		return x
	})
}

func need(p *plan.Plan, n *plan.Need) Need {
	out := Need{Want: n.Target.Words(p), HalfWidth: Number(100 * n.Target.HalfWidth), Now: Number(100 * n.Now), Why: n.Why, Cohorts: []PlanCohort{}}
	if n.Why != "" {
		return out
	}
	out.Fish, out.Cohorts = &n.Total, planCohorts(p, n.Fish)
	out.FishLow = &n.TotalLow
	if n.TotalHigh >= 0 {
		out.FishHigh = &n.TotalHigh
	}
	return out
}

// PowersOf are the answers on differences between cohorts.
func PowersOf(p *plan.Plan, in []*plan.Power) []Power {
	return each(in, func(x *plan.Power) Power {
		c := &x.Contrast
		return Power{c.First, c.Second, c.Target.Words(p), Number(100 * x.First), Number(100 * x.Second), Number(100 * x.SE),
			Number(x.Chance), Number(100 * x.Lower), Number(100 * x.Higher), Number(c.Alpha), Number(c.Chance), x.Why}
	})
}

// OptionsOf are what changes of the plan bring.
func OptionsOf(in []plan.Comparison) []PlanOption {
	return each(in, func(c plan.Comparison) PlanOption {
		return PlanOption{c.Name, c.Option.What, c.Fish, Number(100 * c.Half), Number(100 * c.Gain),
			Number(c.Worth), math.IsInf(c.Worth, 1), Number(c.Cost), Number(c.GainPerCost), c.Why, c.Note}
	})
}

func planOptions(p *plan.Plan, d *analysis.Planned) *PlanOptions {
	return &PlanOptions{d.Target.Words(p), OptionsOf(d.Comparisons), each(d.Curves, func(c plan.Curve) PlanCurve {
		return PlanCurve{c.Name, c.Fish, each(c.Half, func(h float64) Number { return Number(100 * h) })}
	})}
}

// VerifiedOf are estimates simulated.
func VerifiedOf(p *plan.Plan, in []plan.Verified) []PlanVerified {
	return each(in, func(l plan.Verified) PlanVerified {
		return PlanVerified{p.Name(&l.Line), Number(100 * l.SE), Number(100 * l.SimulatedSE), Number(100 * l.NoiseSE),
			Number(l.Ratio), Number(100 * l.Bias), Number(100 * l.Coverage), l.Given, l.Off}
	})
}

func planSimulated(p *plan.Plan, v *plan.Verification) *PlanSimulated {
	return &PlanSimulated{v.Replicates, v.Failed, VerifiedOf(p, v.Lines)}
}
