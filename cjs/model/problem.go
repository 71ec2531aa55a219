package model

import (
	"fmt"
	"math"
	"strings"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// Spec is a model in words. The zero value is the default model: survival
// "reach by cohort", detection "row", links logit.
type Spec struct {
	Name                        string
	Survival, Detection         string // "" is the default
	SurvivalLink, DetectionLink string // "" is "logit"
	// Drift and Spread are terms of the fish (not of the reach); "" is "same".
	// They matter only with [Input.AsOf].
	Drift, Spread string
	// Rest are terms (of the fish) of the share that rests after release; ""
	// is that none does. Only with [Input.AsOf].
	Rest string
}

// Hold is a value taken as known: of reach Reach, or of numbered row Row (the
// other is −1).
type Hold struct {
	Reach, Row int
	Value      float64
	Where      map[string]string // category → level; empty: all fish
}

// TestPasses are known passes of a test tag over a numbered row.
type TestPasses struct {
	Row          int
	Passes, Read int
	Where        map[string]string
}

// Input is what a model is fitted to.
type Input struct {
	Histories  *history.Histories
	Holds      []Hold
	TestPasses []TestPasses
	// Conditions are numbers of a cohort at a site.
	Conditions []history.CohortCondition
	// Missing says what becomes of fish with a missing value of a column the
	// models use: "" refuses, "drop" leaves them out, "mean" puts the mean.
	Missing string
	// AsOf is the time the data end while the season still runs; zero when it
	// is over. With it times of passage are part of the likelihood: fish still
	// on their way are told from the dead. Fish released later are left out;
	// later sightings must not be in Histories.
	AsOf time.Time
	// Also names columns that other models of the same comparison use: fish
	// missing one of them are missing in this model too.
	Also []string
}

// Number is a numeric column of the fish, standardised inside.
type Number struct {
	Name     string
	Mean, SD float64
	Min, Max float64
}

// Column is a coefficient of the model.
type Column struct {
	Part Part
	// Term names the coefficient: "reach A to B", "cohort late",
	// "fork_length_mm by sex male", or "same".
	Term string
	// Against is the level a contrast is measured against, or "".
	Against string
	// Scale turns the coefficient into one per unit of its fish numbers:
	// own = coefficient · Scale. 1 where there is none.
	Scale float64
	// Numeric is set where the term holds a number; SlotSD is the standard
	// deviation of its site or cohort numbers (1 without).
	Numeric bool
	SlotSD  float64
}

// Problem is a model with its data, ready to be fitted.
type Problem struct {
	Spec                Spec
	Survival            Terms
	Detection           Terms
	Drift, Spread, Rest Terms // with AsOf
	Histories           *history.Histories
	Layout              *likelihood.Layout
	Design              *likelihood.Design
	Data                *likelihood.Data
	Columns             []Column
	Categories          []string   // that tell the classes apart; the cohort first
	Levels              [][]string // of each category
	Classes             []Class
	Numbers             []Number
	Products            [][]int                   // number n of the design → indices into Numbers
	Conditions          []history.CohortCondition // those the model uses
	Dropped             int                       // fish left out for missing values
	Filled              int                       // missing values replaced by the mean
	TestPasses          []TestPasses
	SurvivalCategories  []string // those survival differs by
	DetectionCategories []string // those detection differs by
	MovementCategories  []string // those drift or spread differ by
	// AsOf is the time the data end, Unix milliseconds; NoTime without one.
	AsOf int64
	// NotYet is the number of fish released after AsOf.
	NotYet int

	// ClassOf is the class of each record, −1 where it is left out.
	ClassOf []int32
	// Z[n−1] are number n of each record; nil without numbers.
	Z [][]float64

	masks     []uint64
	testUnits int
}

// Class is fish that share all categories of the model.
type Class struct {
	Level []int // index into Levels of each category
	Tally
}

// Build makes the problem of fitting spec to in. Errors are the user's: a name
// that is not there, a missing value, a hold that contradicts the data.
func Build(in Input, spec Spec) (*Problem, error) {
	h := withReleaseDay(in.Histories, spec)
	if err := h.River.Check(); err != nil {
		return nil, err
	}
	if spec.Survival == "" {
		spec.Survival = "reach by cohort"
	}
	if spec.Detection == "" {
		spec.Detection = "row"
	}
	p := &Problem{Spec: spec, Histories: h, masks: h.River.SiteMasks(), TestPasses: in.TestPasses, AsOf: history.NoTime}
	rows := make([]int, len(h.River.Sites))
	for k := range rows {
		rows[k] = h.River.Sites[k].RowCount()
	}
	p.Layout = likelihood.NewLayout(rows)
	parts := []Part{Survival, Detection}
	if !in.AsOf.IsZero() {
		parts = append(parts, Drift, Spread)
		if err := p.running(in.AsOf); err != nil {
			return nil, err
		}
		if p.Layout.Resting {
			parts = append(parts, Rest, RestKm)
		}
	}
	r := &resolver{h: h, conditions: in.Conditions}
	var err error
	if p.Survival, err = p.terms(spec.Survival); err != nil {
		return nil, fmt.Errorf("survival: %w", err)
	}
	if p.Detection, err = p.terms(spec.Detection); err != nil {
		return nil, fmt.Errorf("detection: %w", err)
	}
	// Where no site is divided, site and row are the same.
	if p.Layout.RowCount() == p.Layout.Sites()-1 {
		p.Detection = p.Detection.renamed("row", "site")
	}
	if err := p.names(r, in, parts); err != nil {
		return nil, err
	}
	if err := p.classes(in); err != nil {
		return nil, err
	}
	p.Design = &likelihood.Design{Layout: p.Layout, Numbers: 1, Slots: make([][][]likelihood.Entry, len(p.Classes)), Links: make([][]likelihood.Link, len(p.Classes))}
	p.Products = [][]int{nil}
	for g := range p.Classes {
		p.Design.Slots[g] = make([][]likelihood.Entry, p.Layout.Slots())
		p.Design.Links[g] = make([]likelihood.Link, p.Layout.Slots())
	}
	if err := p.links(); err != nil {
		return nil, err
	}
	if err := p.holds(in.Holds); err != nil {
		return nil, err
	}
	for _, part := range parts {
		if err := p.columns(r, part); err != nil {
			return nil, err
		}
	}
	p.Design.Columns = len(p.Columns)
	p.Design.Numbers = len(p.Products)
	if p.Design.Numbers > likelihood.MaxNumbers {
		return nil, fmt.Errorf("the model multiplies the fish's numbers into %d covariates; at most %d can be handled", p.Design.Numbers-1, likelihood.MaxNumbers-1)
	}
	p.data()
	if err := p.times(); err != nil {
		return nil, err
	}
	if err := p.testPasses(in.TestPasses); err != nil {
		return nil, err
	}
	return p, nil
}

// terms parses s, with the cohort under its one name and left out where there
// is only one.
func (p *Problem) terms(s string) (Terms, error) {
	t, err := Parse(s)
	if err != nil {
		return nil, err
	}
	if c := p.Histories.CohortColumn; c != "" && c != Cohort {
		t = t.renamed(c, Cohort)
	}
	if len(p.Histories.Cohorts) < 2 {
		t = t.Without(Cohort)
	}
	return t, nil
}

// names settles the categories that make classes and the numbers used.
func (p *Problem) names(r *resolver, in Input, parts []Part) error {
	add := func(list *[]string, names ...string) {
		for _, n := range names {
			if indexOf(*list, n) < 0 {
				*list = append(*list, n)
			}
		}
	}
	if len(p.Histories.Cohorts) > 1 {
		add(&p.Categories, Cohort)
	}
	var numbers, uses []string
	for _, part := range parts {
		terms := p.TermsOf(part)
		cats, nums, err := r.needs(part, terms)
		if err != nil {
			return err
		}
		add(&p.Categories, cats...)
		add(&numbers, nums...)
		add(p.categoriesOf(part), cats...)
		// What differs between cohorts at a site differs by cohort.
		for _, n := range terms.Names() {
			f, _ := r.factor(part, n)
			if f.kind != condition {
				continue
			}
			c := in.Conditions[f.index]
			if c.Within > c.Between {
				return fmt.Errorf("%s: %s varies more among the fish of one cohort at a site (standard deviation %.3g) than among the cohorts (%.3g); a cohort's mean says little about its fish. Use shorter release periods as cohorts, or leave %s out", part, n, c.Within, c.Between, n)
			}
			add(&uses, n)
			if len(p.Histories.Cohorts) > 1 {
				add(p.categoriesOf(part), Cohort)
			}
		}
	}
	for _, c := range in.Conditions {
		if indexOf(uses, c.Name) >= 0 {
			p.Conditions = append(p.Conditions, c)
		}
	}
	where := func(what string, w map[string]string, differs *[]string) error {
		for _, n := range sortedKeys(w) {
			level := w[n]
			if n == Cohort || n == p.Histories.CohortColumn {
				if len(p.Histories.Cohorts) > 1 {
					add(differs, Cohort)
				}
				if indexOf(p.Histories.Cohorts, level) < 0 {
					return fmt.Errorf("%s: there is no cohort %q; there are %s", what, level, strings.Join(p.Histories.Cohorts, ", "))
				}
				continue
			}
			c := p.Histories.Column(n)
			if c == nil || !c.IsCategory() {
				return fmt.Errorf("%s: %q is no category of the fish", what, n)
			}
			if indexOf(c.Levels, level) < 0 {
				return fmt.Errorf("%s: %s has no level %q; there are %s", what, n, level, strings.Join(c.Levels, ", "))
			}
			add(&p.Categories, n)
			add(differs, n)
		}
		return nil
	}
	for _, hold := range in.Holds {
		differs := &p.SurvivalCategories
		if hold.Reach < 0 {
			differs = &p.DetectionCategories
		}
		if err := where("hold", hold.Where, differs); err != nil {
			return err
		}
	}
	for _, t := range in.TestPasses {
		if err := where("test_passes", t.Where, new([]string)); err != nil {
			return err
		}
	}
	for _, n := range p.Categories {
		if n == Cohort {
			p.Levels = append(p.Levels, p.Histories.Cohorts)
		} else {
			p.Levels = append(p.Levels, p.Histories.Column(n).Levels)
		}
	}
	for _, n := range numbers {
		p.Numbers = append(p.Numbers, Number{Name: n})
	}
	r.categories, r.numbers = p.Categories, numbers
	return nil
}

// links sets the link of every slot.
func (p *Problem) links() error {
	sl, dl := likelihood.Logit, likelihood.Logit
	per := ""
	switch p.Spec.SurvivalLink {
	case "", "logit":
	case "linear":
		sl = likelihood.Linear
	case "per km", "per day":
		sl = likelihood.Rate
		per = p.Spec.SurvivalLink
	default:
		return fmt.Errorf("survival link %q: there are logit, per km, per day, linear", p.Spec.SurvivalLink)
	}
	switch p.Spec.DetectionLink {
	case "", "logit":
	case "linear":
		dl = likelihood.Linear
	default:
		return fmt.Errorf("detection link %q: there are logit and linear", p.Spec.DetectionLink)
	}
	for a := range p.Layout.Slots() {
		link := likelihood.Link{Kind: dl}
		switch p.PartOf(a) {
		case Drift, Spread, RestKm:
			link.Kind = likelihood.Log
		case Rest:
			link.Kind = likelihood.Logit
		}
		if k := p.Layout.Reach(a); k >= 0 {
			link = likelihood.Link{Kind: sl}
			if sl == likelihood.Rate {
				link.Length = p.Histories.River.ReachKm(k)
				need := "km of both its sites"
				if per == "per day" {
					link.Length = p.Histories.River.Sites[k+1].Days
					need = "days of the site it ends at"
				}
				if !(link.Length > 0) {
					return fmt.Errorf("survival %s: the reach %s has no length; give the %s in the study file", per, p.Histories.River.Reach(k), need)
				}
			}
		}
		for g := range p.Classes {
			p.Design.Links[g][a] = link
		}
	}
	return nil
}

// matches tells whether class g is in where.
func (p *Problem) matches(g int, where map[string]string) bool {
	for n, level := range where {
		if n == p.Histories.CohortColumn {
			n = Cohort
		}
		i := indexOf(p.Categories, n)
		if i < 0 {
			continue // the one cohort of the study
		}
		if p.Levels[i][p.Classes[g].Level[i]] != level {
			return false
		}
	}
	return true
}

// holds fixes slots at known values.
func (p *Problem) holds(holds []Hold) error {
	river := &p.Histories.River
	for _, hold := range holds {
		if hold.Value < 0 || hold.Value > 1 || math.IsNaN(hold.Value) {
			return fmt.Errorf("a held probability is between 0 and 1, not %v", hold.Value)
		}
		for g := range p.Classes {
			if !p.matches(g, hold.Where) {
				continue
			}
			t := &p.Classes[g].Tally
			a := -1
			if hold.Reach >= 0 {
				a = p.Layout.Survival(hold.Reach)
				if hold.Value == 0 && t.Alive[hold.Reach] > 0 {
					return fmt.Errorf("survival %s is held at 0, but %d fish were seen below", river.Reach(hold.Reach), t.Alive[hold.Reach])
				}
			} else {
				a = p.Layout.Detection(hold.Row)
				if hold.Value == 0 && t.RowSeen[hold.Row] > 0 {
					return fmt.Errorf("detection at %s is held at 0, but %d fish were seen there", river.RowLabel(hold.Row), t.RowSeen[hold.Row])
				}
				if hold.Value == 1 && t.RowMissed[hold.Row] > 0 {
					return fmt.Errorf("detection at %s is held at 1, but %d fish seen farther down were not seen there", river.RowLabel(hold.Row), t.RowMissed[hold.Row])
				}
			}
			p.Design.Links[g][a] = likelihood.Link{Kind: likelihood.Fixed, Value: hold.Value}
		}
	}
	return nil
}

// testPasses adds the passes of test tags to the counts of their row.
func (p *Problem) testPasses(tests []TestPasses) error {
	river := &p.Histories.River
	for _, t := range tests {
		a := p.Layout.Detection(t.Row)
		label := river.RowLabel(t.Row)
		at := -1
		for g := range p.Classes {
			if !p.matches(g, t.Where) {
				continue
			}
			if p.Design.Varies(g, a) {
				return fmt.Errorf("test passes at %s: the model lets detection there differ between fish by a number, which a test tag does not have", label)
			}
			if at >= 0 && !sameSlot(p.Design, at, g, a) {
				return fmt.Errorf("test passes at %s: the model lets detection there differ between %s; say which of them the test tag stands for with where = {…} in [[test_passes]], or use a detection model without them", label, strings.Join(p.DetectionCategories, " and "))
			}
			if at < 0 {
				at = g
			}
		}
		if at < 0 {
			continue
		}
		z := make([]float64, p.Design.Numbers)
		z[0] = 1
		u := likelihood.NewUnit(p.Layout, at, z)
		u.Seen[t.Row] = float64(t.Read)
		u.Missed[t.Row] = float64(t.Passes - t.Read)
		p.Data.Units = append(p.Data.Units, u)
		p.testUnits++
	}
	return nil
}

func sameSlot(d *likelihood.Design, g, h, a int) bool {
	if d.Links[g][a] != d.Links[h][a] || len(d.Slots[g][a]) != len(d.Slots[h][a]) {
		return false
	}
	for i, e := range d.Slots[g][a] {
		if d.Slots[h][a][i] != e {
			return false
		}
	}
	return true
}

// Words is the model as shown on screen.
func (p *Problem) Words() string {
	s := fmt.Sprintf("survival: %s · detection: %s", p.Survival, p.Detection)
	if p.Running() {
		s += fmt.Sprintf(" · drift: %s · spread: %s", p.Drift, p.Spread)
		if p.Layout.Resting {
			s += fmt.Sprintf(" · rest: %s", p.Rest)
		}
	}
	return s
}

// Running tells whether the season still runs: times are part of the model.
func (p *Problem) Running() bool { return p.AsOf != history.NoTime }

// TermsOf are the terms of a part.
func (p *Problem) TermsOf(part Part) Terms {
	switch part {
	case Survival:
		return p.Survival
	case Detection:
		return p.Detection
	case Drift:
		return p.Drift
	case Spread:
		return p.Spread
	case Rest:
		return p.Rest
	default:
		return Terms{} // one way lost by all that rest
	}
}

func (p *Problem) categoriesOf(part Part) *[]string {
	switch part {
	case Survival:
		return &p.SurvivalCategories
	case Detection:
		return &p.DetectionCategories
	default:
		return &p.MovementCategories
	}
}

// PartOf is the part that slot a of the design belongs to.
func (p *Problem) PartOf(a int) Part {
	switch {
	case p.Layout.Reach(a) >= 0:
		return Survival
	case p.Layout.Row(a) >= 0:
		return Detection
	case a == p.Layout.Drift():
		return Drift
	case a == p.Layout.Spread():
		return Spread
	case a == p.Layout.Rest():
		return Rest
	default:
		return RestKm
	}
}

func sortedKeys(m map[string]string) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	sortNames(out)
	return out
}
