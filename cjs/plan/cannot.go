package plan

import (
	"fmt"
	"slices"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/history"
)

// cannot says what the design cannot estimate, before any fish is tagged.
func (f *Forecast) cannot() {
	p := f.Plan
	last := len(p.River.Sites) - 1
	var others, separate []string
	for i := range f.Products {
		separate = append(separate, ofWords(&f.Products[i]))
	}
	for _, lines := range [][]Line{f.Survival, f.Detection} {
		for i := range lines {
			l := &lines[i]
			if l.Status != cjs.Inseparable || len(f.Products) > 0 && l.Site == last {
				continue
			}
			others = append(others, p.Name(l))
		}
	}
	if len(separate) > 0 {
		site := p.River.Sites[last].Name
		who := ""
		if n := slices.DeleteFunc(separate, func(s string) bool { return s == "" }); len(n) > 0 && len(n) < len(f.cohortNames()) {
			who = " of " + list(n, 6)
		}
		what := "Only their product is estimable, and not the share that passed there."
		if last == 1 {
			what = "Only their product, the share seen, is estimable: how many passed unseen is not identifiable."
		}
		f.Cannot = append(f.Cannot, cjs.Warning{ID: CannotSeparate, About: site, Message: fmt.Sprintf(
			"Survival %s and detection at %s%s are not separately estimable, however many fish are tagged: no fish are detected downstream. %s A second row of antennas or test passes at %s, or a site farther down, would separate them.",
			p.River.Reach(last-1), site, who, what, site)})
	}
	if len(others) > 0 {
		f.Cannot = append(f.Cannot, cjs.Warning{ID: CannotEstimate, About: "design", Message: fmt.Sprintf(
			"The model has %d parameters, of which this design identifies %d. Not estimable, however many fish are tagged: %s. Share values between cohorts or sites, or hold one that is known.",
			f.Parameters, f.Estimable, list(others, 8))})
	} else if len(separate) == 0 && f.Estimable < f.Parameters {
		f.Cannot = append(f.Cannot, cjs.Warning{ID: CannotEstimate, About: "design", Message: fmt.Sprintf(
			"The model has %d parameters, of which this design identifies %d: some of its terms are redundant.", f.Parameters, f.Estimable)})
	}
}

func (f *Forecast) cohortNames() []string { return f.Plan.CohortNames() }

func ofWords(l *Line) string {
	var levels []string
	for _, c := range l.Of {
		levels = append(levels, c.Level)
	}
	return strings.Join(levels, ", ")
}

func list(names []string, most int) string {
	if len(names) > most {
		return history.Say("%s and %d more", strings.Join(names[:most], "; "), len(names)-most)
	}
	return strings.Join(names, "; ")
}

// fewAgain: an estimate resting on fewer fish seen again than this is one
// whose large-sample standard error is not to be trusted (common practice).
const fewAgain = 5

// notExact: probabilities farther than this from the supposed ones are said to
// be so.
const notExact = 0.002

// cautions say where the large-sample figures may mislead.
func (f *Forecast) cautions() {
	p, s := f.Plan, f.state
	var bound []string
	for _, l := range slices.Concat(f.Survival, f.Detection) {
		if l.Status == cjs.Boundary {
			bound = append(bound, p.Name(&l))
		}
	}
	if len(bound) > 0 {
		f.Cautions = append(f.Cautions, cjs.Warning{ID: AtBound, About: "supposed values", Message: fmt.Sprintf(
			"Assumed to be exactly 1: %s. There the large-sample figure does not apply, and the others treat it as nearly known; assume a little less, or hold the value if it is known.", list(bound, 6))})
	}
	if s.off > notExact {
		f.Cautions = append(f.Cautions, cjs.Warning{ID: NotExact, About: "model", Message: fmt.Sprintf(
			"The model (%s) cannot represent all assumed values; the plan uses the nearest it can, off by at most %.3f (%s).", s.problem.Words(), s.off, s.offAt)})
	}
	f.SeenAgain = s.seen
	if few := s.fewAgain(); len(few) > 0 {
		f.Cautions = append(f.Cautions, cjs.Warning{ID: FewAgain, About: "fish", Message: fmt.Sprintf(
			"Fewer than %d of the fish detected at a site are expected to be detected again below it: %s. Detection there, and survival on both sides, rest on them; the figures are too optimistic. Simulate the plan (--verify), or share detection between cohorts.", fewAgain, list(few, 6))})
	}
}

// fewAgain names sites where hardly any fish are expected to be seen again
// below, by what detection differs by.
func (s *state) fewAgain() []string {
	p, l := s.problem, s.problem.Layout
	type key struct {
		of   string
		site int
	}
	again := map[key]float64{}
	var order []key
	for _, r := range s.releases {
		var levels []string
		for i, name := range p.Categories {
			if slices.Contains(p.DetectionCategories, name) {
				levels = append(levels, p.Levels[i][p.Classes[r.Class].Level[i]])
			}
		}
		for k := 1; k < l.Sites()-1; k++ {
			if r.At[k] == 0 {
				continue
			}
			at := key{strings.Join(levels, ", "), k}
			if _, ok := again[at]; !ok {
				order = append(order, at)
			}
			again[at] += r.At[k] * s.seenBelow(&r, k)
		}
	}
	var out []string
	for _, k := range order {
		if n := again[k]; n < fewAgain {
			name := s.plan.River.Sites[k.site].Name
			if k.of != "" {
				name += " for " + k.of
			}
			out = append(out, fmt.Sprintf("%s (%.1f)", name, n))
		}
	}
	return out
}
