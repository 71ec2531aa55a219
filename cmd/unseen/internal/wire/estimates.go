package wire

import (
	"example.org/unseen/cjs"
	"example.org/unseen/history"
)

// Estimate is a value with its uncertainty.
type Estimate struct {
	Estimate Number `json:"estimate"`
	SE       Number `json:"se"`
	Low      Number `json:"low"`
	High     Number `json:"high"`
	Status   string `json:"status"`
	// Method is how the interval was made; "" when there is none.
	Method string `json:"method"`
}

func estimate(e cjs.Estimate, factor float64) Estimate {
	return Estimate{Number(factor * e.Value), Number(factor * e.SE), Number(factor * e.Low), Number(factor * e.High),
		string(e.Status), e.Method}
}

// Survival is survival in one reach.
type Survival struct {
	Of   map[string]string `json:"of"`
	From string            `json:"from"`
	To   string            `json:"to"`
	At   map[string]Number `json:"at"`
	Estimate
	Raw Number `json:"raw"`
}

// Detection is detection at one row or site.
type Detection struct {
	Of   map[string]string `json:"of"`
	Site string            `json:"site"`
	Row  string            `json:"row,omitempty"`
	At   map[string]Number `json:"at"`
	Estimate
}

// Product is a survival × detection product that cannot be taken apart.
type Product struct {
	Of      map[string]string `json:"of"`
	From    string            `json:"from"`
	To      string            `json:"to"`
	Site    string            `json:"site"`
	Product Estimate          `json:"product"`
}

// Passed is one site's line of the passed table.
type Passed struct {
	Of               map[string]string `json:"of"`
	Site             string            `json:"site"`
	Released         int               `json:"released"`
	RemovedAbove     int               `json:"removed_above"`
	Seen             int               `json:"seen"`
	KnownPassed      int               `json:"known_passed"`
	SeenPercent      Estimate          `json:"seen_percent"`
	DetectionPercent Estimate          `json:"detection_percent"`
	PassedPercent    Estimate          `json:"passed_percent"`
	PassedFish       Estimate          `json:"passed_fish"`
	// PassedFishPercent is PassedFish of those released.
	PassedFishPercent Estimate `json:"passed_fish_percent"`
	// SoFar and StillToPass are of a season that still runs; PassedPercent is
	// then at its end.
	SoFar       Estimate `json:"passed_so_far_percent"`
	StillToPass Estimate `json:"still_to_pass_percent"`
	// WithRetention is PassedPercent had no tag been lost.
	WithRetention Estimate `json:"passed_percent_with_retention"`
	// BetweenCohorts is the standard deviation of the cohorts' percentages.
	BetweenCohorts Number `json:"between_cohorts_sd_percent"`
}

// Coefficient is one coefficient on the link scale.
type Coefficient struct {
	Part     string `json:"part"`
	Term     string `json:"term"`
	Against  string `json:"against"`
	Estimate Number `json:"estimate"`
	SE       Number `json:"se"`
	PerSD    Number `json:"per_standard_deviation"`
	Status   string `json:"status"`
}

// RowTest is a test of whether two rows of a site see fish independently.
type RowTest struct {
	Site    string `json:"site"`
	RowA    string `json:"row_a"`
	RowB    string `json:"row_b"`
	Both    int    `json:"both"`
	OnlyA   int    `json:"only_a"`
	OnlyB   int    `json:"only_b"`
	Neither int    `json:"neither"`
	P       Number `json:"p"`
	Why     string `json:"why"`
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
	Message string `json:"message"`
	About   string `json:"about"`
}

func of(categories []cjs.Category) map[string]string {
	m := map[string]string{}
	for _, c := range categories {
		m[c.Name] = c.Level
	}
	return m
}

func at(covariates []cjs.Covariate) map[string]Number {
	m := map[string]Number{}
	for _, c := range covariates {
		m[c.Name] = Number(c.Value)
	}
	return m
}

func survivals(river *history.River, in []cjs.Survival) []Survival {
	out := make([]Survival, len(in))
	for i, s := range in {
		out[i] = Survival{of(s.Of), river.Sites[s.From].Name, river.Sites[s.From+1].Name, at(s.At),
			estimate(s.Estimate, 1), Number(s.Raw)}
	}
	return out
}

func detections(river *history.River, in []cjs.Detection) []Detection {
	out := make([]Detection, len(in))
	for i, d := range in {
		row := ""
		if d.Row >= 0 {
			row = river.Sites[d.Site].Rows[d.Row]
		}
		out[i] = Detection{of(d.Of), river.Sites[d.Site].Name, row, at(d.At), estimate(d.Estimate, 1)}
	}
	return out
}

func products(river *history.River, in []cjs.Product) []Product {
	out := make([]Product, len(in))
	for i, p := range in {
		to := river.Sites[p.Site].Name
		out[i] = Product{of(p.Of), river.Sites[p.From].Name, to, to, estimate(p.Estimate, 1)}
	}
	return out
}

func passed(river *history.River, in []cjs.Passed) []Passed {
	out := make([]Passed, len(in))
	for i, p := range in {
		out[i] = Passed{of(p.Of), river.Sites[p.Site].Name, p.Released, p.Removed, p.Seen, p.KnownPassed,
			estimate(p.SeenShare, 100), estimate(p.Detection, 100), estimate(p.PassedShare, 100), estimate(p.PassedFish, 1), estimate(p.PassedFishShare, 100),
			estimate(p.SoFar, 100), estimate(p.StillToPass, 100),
			estimate(p.WithRetention, 100), Number(100 * p.BetweenCohorts)}
	}
	return out
}

func coefficients(in []cjs.Coefficient) []Coefficient {
	out := make([]Coefficient, len(in))
	for i, c := range in {
		out[i] = Coefficient{c.Part, c.Term, c.Against, Number(c.Estimate), Number(c.SE), Number(c.PerSD), string(c.Status)}
	}
	return out
}

func warnings(in []cjs.Warning) []Warning {
	out := make([]Warning, len(in))
	for i, w := range in {
		out[i] = Warning{w.ID, w.Message, w.About}
	}
	return out
}

func rowTests(river *history.River, in []cjs.RowTest) []RowTest {
	out := make([]RowTest, len(in))
	for i, t := range in {
		s := &river.Sites[t.Site]
		out[i] = RowTest{s.Name, s.Rows[t.RowA], s.Rows[t.RowB], t.Both, t.OnlyA, t.OnlyB, t.Neither, Number(t.P), t.Why}
	}
	return out
}

func oneSite(river *history.River, o *cjs.OneSite) *OneSite {
	if o == nil {
		return nil
	}
	out := &OneSite{Site: river.Sites[o.Site].Name}
	for _, x := range o.If {
		out.If = append(out.If, IfDetection{Number(100 * x.Detection), Number(100 * x.Passed), Number(100 * x.Low), Number(100 * x.High)})
	}
	return out
}
