package wire

import (
	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// Estimate is a value with its standard error and interval; null for what cannot
// be had.
type Estimate struct {
	// null where there is none, as with status too early
	Estimate Number `json:"estimate"`
	// standard error; null at 0 or 1, and where there is no estimate
	SE Number `json:"se"`
	// of the interval; null where there is none, or the search found no limit on this side; an
	// open end is 0 or 1 (0 or 100 in percent)
	Low Number `json:"low"`
	// likewise
	High Number `json:"high"`
	// what the estimate rests on; docs/convergence.md explains each
	Status cjs.Status `json:"status" schema:"empty"`
	// how the interval was made: logit, profile, bounds, bootstrap, wilson, wald, log,
	// counted; empty where there is none. With bounds, fish of which nothing is known yet
	// count as 0 for low and as 1 for high
	Method string `json:"method"`
}

func estimate(e cjs.Estimate, factor float64) Estimate {
	return Estimate{Number(factor * e.Value), Number(factor * e.SE), Number(factor * e.Low), Number(factor * e.High),
		e.Status, e.Method}
}

// Survival is survival in one reach.
type Survival struct {
	Of   Of     `json:"of"`
	From string `json:"from"`
	To   string `json:"to"`
	At   At     `json:"at"`
	Estimate
	// the closed-form value, which may exceed 1; null where none exists
	Raw Number `json:"raw"`
}

// Working is a row that did not work all the time: its detection is that at full
// work, and the share is of the passages, by the law of travel, for which it worked.
type Working struct {
	Site string `json:"site"`
	Row  string `json:"row,omitempty"`
	// of the passages there, by the law of travel, for which the row worked
	SharePercent Number `json:"share_percent"`
}

// WorkingOf is the rows that did not work all the time.
func WorkingOf(river *history.River, in []cjs.Working) []Working {
	return each(in, func(w cjs.Working) Working {
		return Working{river.Sites[w.Site].Name, rowName(river, w.Site, w.Row), Number(100 * w.Share)}
	})
}

// Detection is detection at one row or site.
type Detection struct {
	Of   Of     `json:"of"`
	Site string `json:"site"`
	Row  string `json:"row,omitempty"`
	At   At     `json:"at"`
	Estimate
}

// Product is a survival × detection product that cannot be taken apart.
type Product struct {
	Of      Of       `json:"of"`
	From    string   `json:"from"`
	To      string   `json:"to"`
	Site    string   `json:"site"`
	Product Estimate `json:"product"`
}

// Passed is one site's line of the passed table.
type Passed struct {
	Of   Of     `json:"of"`
	Site string `json:"site"`
	// fish newly released above the site
	Released int `json:"released"`
	// fish taken out above the site
	RemovedAbove int `json:"removed_above"`
	// fish detected there
	Seen int `json:"seen"`
	// fish detected there or farther down
	KnownPassed      int      `json:"known_passed"`
	SeenPercent      Estimate `json:"seen_percent"`
	DetectionPercent Estimate `json:"detection_percent"`
	// survival from release to the site, had no fish been removed
	PassedPercent Estimate `json:"passed_percent"`
	// number that really passed, of those released: what was removed above is not among
	// them
	PassedFish        Estimate `json:"passed_fish"`
	PassedFishPercent Estimate `json:"passed_fish_percent"`   // passed_fish in percent of released: the realised share
	SoFar             Estimate `json:"passed_so_far_percent"` // passed by as_of; absent when the season is over
	// will still pass; absent when the season is over. passed_percent is then at the
	// season's end
	StillToPass   Estimate `json:"still_to_pass_percent"`
	WithRetention Estimate `json:"passed_percent_with_retention"` // passed_percent had no tag been lost
	// standard deviation of the cohorts' percentages; null but for all fish of at least
	// five cohorts
	BetweenCohorts Number `json:"between_cohorts_sd_percent"`
	// of all fish: the cohorts among them that have no estimate of their own, as it is
	// too early
	TooEarlyFor []string `json:"too_early_for"`
}

// Coefficient is one coefficient on the link scale.
type Coefficient struct {
	Part     model.Part `json:"part"`
	Term     string     `json:"term"`
	Against  string     `json:"against"` // the level a contrast is measured against
	Estimate Number     `json:"estimate"`
	SE       Number     `json:"se"`
	PerSD    Number     `json:"per_standard_deviation"`
	Status   cjs.Status `json:"status" schema:"empty"`
}

// RowTest is a test of whether two rows of a site detect fish independently.
type RowTest struct {
	Site    string `json:"site"`
	RowA    string `json:"row_a"`
	RowB    string `json:"row_b"`
	Both    int    `json:"both"`
	OnlyA   int    `json:"only_a"`
	OnlyB   int    `json:"only_b"`
	Neither int    `json:"neither"`
	P       Number `json:"p"`
	Why     string `json:"why" schema:"words"` // why it cannot be tested
}

// OneSite is what one site alone can say.
type OneSite struct {
	Site string        `json:"site"`
	If   []IfDetection `json:"if"`
}

// IfDetection is the percentage passed if the array sees that of passers.
type IfDetection struct {
	DetectionPercent Number `json:"detection_percent"`
	PassedPercent    Number `json:"passed_percent"`
	Low              Number `json:"low"`
	High             Number `json:"high"`
}

// Warning is something the user must know.
type Warning struct {
	ID      string `json:"id"`
	Message string `json:"message" schema:"words"`
	About   string `json:"about"`
}

// Of are the categories an entry is for; empty: all fish.
type Of map[string]string

// At are the numbers behind an estimate.
type At map[string]Number

func of(categories []cjs.Category) Of {
	m := Of{}
	for _, c := range categories {
		m[c.Name] = c.Level
	}
	return m
}

func at(covariates []cjs.Covariate) At {
	m := At{}
	for _, c := range covariates {
		m[c.Name] = Number(c.Value)
	}
	return m
}

// rowName is the name of a row within a divided site; "" of the whole of it.
func rowName(river *history.River, site, row int) string {
	if row < 0 {
		return ""
	}
	return river.Sites[site].Rows[row]
}

func SurvivalOf(river *history.River, in []cjs.Survival) []Survival {
	return each(in, func(s cjs.Survival) Survival {
		return Survival{of(s.Of), river.Sites[s.From].Name, river.Sites[s.From+1].Name, at(s.At), estimate(s.Estimate, 1), Number(s.Raw)}
	})
}

func DetectionOf(river *history.River, in []cjs.Detection) []Detection {
	return each(in, func(d cjs.Detection) Detection {
		return Detection{of(d.Of), river.Sites[d.Site].Name, rowName(river, d.Site, d.Row), at(d.At), estimate(d.Estimate, 1)}
	})
}

func ProductsOf(river *history.River, in []cjs.Product) []Product {
	return each(in, func(p cjs.Product) Product {
		to := river.Sites[p.Site].Name
		return Product{of(p.Of), river.Sites[p.From].Name, to, to, estimate(p.Estimate, 1)}
	})
}

func PassedOf(river *history.River, in []cjs.Passed) []Passed {
	return each(in, func(p cjs.Passed) Passed {
		return Passed{of(p.Of), river.Sites[p.Site].Name, p.Released, p.Removed, p.Seen, p.KnownPassed,
			estimate(p.SeenShare, 100), estimate(p.Detection, 100), estimate(p.PassedShare, 100), estimate(p.PassedFish, 1), estimate(p.PassedFishShare, 100),
			estimate(p.SoFar, 100), estimate(p.StillToPass, 100),
			estimate(p.WithRetention, 100), Number(100 * p.BetweenCohorts), append([]string{}, p.TooEarlyFor...)}
	})
}

func CoefficientsOf(in []cjs.Coefficient) []Coefficient {
	return each(in, func(c cjs.Coefficient) Coefficient {
		return Coefficient{model.Part(c.Part), c.Term, c.Against, Number(c.Estimate), Number(c.SE), Number(c.PerSD), c.Status}
	})
}

func WarningsOf(in []cjs.Warning) []Warning {
	return each(in, func(w cjs.Warning) Warning { return Warning(w) })
}

func RowTestsOf(river *history.River, in []cjs.RowTest) []RowTest {
	return each(in, func(t cjs.RowTest) RowTest {
		s := &river.Sites[t.Site]
		return RowTest{s.Name, s.Rows[t.RowA], s.Rows[t.RowB], t.Both, t.OnlyA, t.OnlyB, t.Neither, Number(t.P), t.Why}
	})
}

func oneSite(river *history.River, o *cjs.OneSite) *OneSite {
	if o == nil {
		return nil
	}
	return &OneSite{river.Sites[o.Site].Name, each(o.If, func(x cjs.IfDetection) IfDetection {
		return IfDetection{Number(100 * x.Detection), Number(100 * x.Passed), Number(100 * x.Low), Number(100 * x.High)}
	})}
}
