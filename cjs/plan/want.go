package plan

import (
	"context"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/history"
)

var plusMinus = regexp.MustCompile(`^(.*?)\s*(?:±|\+/-|\+-)\s*([0-9]*[.,]?[0-9]+)\s*(?:%|points?|percentage points?)?\s*$`)

const wantForms = `write "passed at SITE ± POINTS", "survival REACH ± POINTS" or "detection at SITE ± POINTS", each with "of COHORT" or "of each cohort" before ± where wanted`

// ParseWant reads a wish such as "passed at Tidehead ± 5", "survival A to B of
// early ± 4", "detection at Tidehead/upper ± 6" or "passed at Tidehead of each
// cohort ± 8". The number is in percentage points.
func (p *Plan) ParseWant(s string) (Target, error) {
	m := plusMinus.FindStringSubmatch(s)
	if m == nil {
		return Target{}, fmt.Errorf("%q says no precision; %s", s, wantForms)
	}
	points, err := strconv.ParseFloat(strings.Replace(m[2], ",", ".", 1), 64)
	if err != nil || !(points > 0 && points < 100) {
		return Target{}, fmt.Errorf("%q: ± %s is no number of percentage points between 0 and 100", s, m[2])
	}
	t, err := p.ParseTarget(m[1])
	t.HalfWidth = points / 100
	return t, err
}

// ParseTarget reads a wish without its number.
func (p *Plan) ParseTarget(s string) (Target, error) {
	t := Target{Reach: -1, Site: -1, Row: -1, HalfWidth: math.NaN()}
	words := strings.TrimSpace(s)
	cut := func(prefixes ...string) bool {
		for _, x := range prefixes {
			if len(words) > len(x) && strings.EqualFold(words[:len(x)], x) {
				words = strings.TrimSpace(words[len(x):])
				return true
			}
		}
		return false
	}
	switch {
	case cut("passed at ", "passed "):
		t.Kind = Passed
	case cut("survival in ", "survival "):
		t.Kind = Survival
	case cut("detection at ", "detection "):
		t.Kind = Detection
	default:
		return t, fmt.Errorf("%q is nothing that is estimated; %s", s, wantForms)
	}
	if p.place(&t, words) {
		return t, nil
	}
	// The last " of " parts the place from the cohort: either may hold one.
	place := words
	for at := len(words); ; {
		at = strings.LastIndex(words[:at], " of ")
		if at < 0 {
			break
		}
		place = strings.TrimSpace(words[:at])
		if p.place(&t, place) {
			of := strings.TrimSpace(words[at+4:])
			if strings.EqualFold(of, "each cohort") {
				t.Each = true
				return t, nil
			}
			if !slices.Contains(p.CohortNames(), of) {
				return t, fmt.Errorf("%q: there is no cohort %q%s", s, of, choices(of, p.CohortNames()))
			}
			t.Of = of
			return t, nil
		}
	}
	known := p.places(t.Kind)
	return t, fmt.Errorf("%q: there is no %s%s", s, strconv.Quote(place), choices(place, known))
}

func choices(word string, known []string) string {
	if h := history.Propose(word, known); h != "" {
		return h
	}
	return "; there are: " + strings.Join(known, ", ")
}

// places are the names a target of a kind can have.
func (p *Plan) places(kind Kind) []string {
	var out []string
	for k := 1; k < len(p.River.Sites); k++ {
		switch kind {
		case Survival:
			out = append(out, p.River.Reach(k-1))
		default:
			out = append(out, p.River.Sites[k].Name)
		}
	}
	return out
}

// place finds the reach, site or row called name, in large or small letters where
// none is called just so.
func (p *Plan) place(t *Target, name string) bool {
	return p.placeLike(t, func(x string) bool { return x == name }) || p.placeLike(t, func(x string) bool { return strings.EqualFold(x, name) })
}

func (p *Plan) placeLike(t *Target, is func(name string) bool) bool {
	for k := 1; k < len(p.River.Sites); k++ {
		if t.Kind == Survival {
			if is(p.River.Reach(k - 1)) {
				t.Reach, t.Site = k-1, k
				return true
			}
			continue
		}
		if is(p.River.Sites[k].Name) {
			t.Site = k
			return true
		}
		if t.Kind != Detection {
			continue
		}
		first := p.River.FirstRow(k)
		for b := first; b < p.River.FirstRow(k+1); b++ {
			if is(p.River.RowLabel(b)) {
				t.Site, t.Row = k, b-first
				return true
			}
		}
	}
	return false
}

// Words is the target as the user would write it, without its number.
func (t *Target) Words(p *Plan) string {
	if p.Check() != nil || t.check(p) != nil {
		return string(t.Kind)
	}
	out := ""
	switch t.Kind {
	case Passed:
		out = "passed at " + p.River.Sites[t.Site].Name
	case Survival:
		out = "survival " + p.River.Reach(t.Reach)
	default:
		out = "detection at " + p.River.Sites[t.Site].Name
		if t.Row >= 0 {
			out = "detection at " + p.River.RowLabel(p.River.FirstRow(t.Site)+t.Row)
		}
	}
	switch {
	case t.Each:
		out += " of each cohort"
	case t.Of != "":
		out += " of " + t.Of
	}
	return out
}

// Of are the lines that the target is about.
func (f *Forecast) Of(t Target) []Line { return t.pick(f.Lines()) }

// pick are the lines that the target is about.
func (t *Target) pick(lines []Line) []Line {
	var out []Line
	for _, l := range lines {
		if l.Kind != t.Kind || l.Site != t.Site || l.Row != t.Row {
			continue
		}
		cohort := ""
		for _, c := range l.Of {
			if c.Name == "cohort" {
				cohort = c.Level
			}
		}
		switch {
		case t.Of != "":
			// What does not differ between cohorts is that of each.
			if cohort != t.Of && (t.Kind == Passed || cohort != "") || t.Kind == Passed && len(l.Of) > 1 {
				continue
			}
		case t.Each:
			if t.Kind == Passed && (cohort == "" || len(l.Of) > 1) {
				continue
			}
		case t.Kind == Passed && len(l.Of) > 0:
			continue
		}
		out = append(out, l)
	}
	if t.Each && len(out) == 0 { // a single cohort is all fish
		all := *t
		all.Each = false
		return all.pick(lines)
	}
	return out
}

// widest is the line with the largest half-width, where all have one; else a
// line that has none.
func widest(lines []Line) Line {
	best := Line{Half: math.NaN(), Estimate: cjs.NoEstimate(cjs.Absent)}
	for i, l := range lines {
		if math.IsNaN(l.Half) && l.Status != cjs.Held && l.Status != cjs.Boundary {
			return l
		}
		if i == 0 || l.Half > best.Half || math.IsNaN(best.Half) {
			best = l
		}
	}
	return best
}

// Need is the answer to how many fish a wanted precision takes.
type Need struct {
	Target Target // the precision wanted
	// Now is the half-width with the fish planned; NaN where there is none.
	Now float64
	// Why no number of fish suffices; "" when one does.
	Why string
	// Fish of each cohort of the plan, in its order, in the plan's
	// proportions, and in all; 0 when no number suffices.
	Fish  []int
	Total int
	// Half is the half-width to expect with them.
	Half float64
	// TotalLow and TotalHigh are the fish needed in all at the kindest and
	// the hardest of the ranged values; Total where there are none. −1: no
	// number suffices at the hardest.
	TotalLow, TotalHigh int
}

// mostFish is how many fish are taken for any number: beyond, what test passes
// say would drown in rounding.
const mostFish = 1e8

// Need finds the fish that the target takes, with the cohorts in the plan's
// proportions.
func (f *Forecast) Need(ctx context.Context, t Target) (*Need, error) {
	if err := f.asked(&t); err != nil {
		return nil, err
	}
	p := f.Plan
	if !(t.HalfWidth > 0) {
		return nil, fmt.Errorf("%s: no precision is wanted; %s", t.Words(p), wantForms)
	}
	lines := t.pick(f.Lines())
	if len(lines) == 0 {
		return nil, fmt.Errorf("%s: no fish of this plan come by", t.Words(p))
	}
	n := &Need{Target: t, Now: widest(lines).Half, Half: math.NaN()}
	factor, why, err := f.state.factor(ctx, t)
	if err != nil {
		return nil, err
	}
	if n.Why = why; why != "" {
		return n, nil
	}
	with := p.clone()
	for i := range with.Cohorts {
		c := &with.Cohorts[i]
		need := math.Ceil(float64(c.Fish)*factor - 1e-9)
		if need > math.MaxInt32 {
			n.Fish, n.Total = nil, 0
			n.Why = fmt.Sprintf("it would take more than %d fish of cohort %q", math.MaxInt32, c.Name)
			return n, nil
		}
		c.Fish = max(1, int(need))
		n.Fish = append(n.Fish, c.Fish)
		n.Total += c.Fish
	}
	if n.Half, err = with.half(ctx, t); err != nil {
		return nil, err
	}
	n.TotalLow, n.TotalHigh = n.Total, n.Total
	err = p.combinations(func(ends []int) error {
		s, err := p.state(ctx, ends)
		if err != nil {
			return err
		}
		factor, why, err := s.factor(ctx, t)
		if err != nil {
			return err
		}
		if total := float64(p.Fish()) * factor; why != "" || total > math.MaxInt32 {
			n.TotalHigh = -1
		} else {
			n.TotalLow = min(n.TotalLow, int(math.Ceil(total)))
			if n.TotalHigh >= 0 {
				n.TotalHigh = max(n.TotalHigh, int(math.Ceil(total)))
			}
		}
		return nil
	})
	return n, err
}

// half is the half-width of the target under the plan.
func (p *Plan) half(ctx context.Context, t Target) (float64, error) {
	s, err := p.state(ctx, nil)
	if err != nil {
		return math.NaN(), err
	}
	return s.half(ctx, t, 1)
}

func (s *state) half(ctx context.Context, t Target, factor float64) (float64, error) {
	fit, err := s.expect(ctx, factor, false)
	if err != nil {
		return math.NaN(), err
	}
	return widest(t.pick(s.lines(fit))).Half, nil
}

// factor is by how much the fish of the plan must be multiplied, or why no
// factor suffices. Without test passes the half-width goes with 1/√fish; with
// them it falls more slowly, and maybe not to zero.
func (s *state) factor(ctx context.Context, t Target) (factor float64, why string, err error) {
	fit, err := s.expect(ctx, 1, false)
	if err != nil {
		return 0, "", err
	}
	now := widest(t.pick(s.lines(fit)))
	if math.IsNaN(now.Half) {
		return 0, s.whyNot(&now, &t), nil
	}
	most := mostFish / float64(s.plan.Fish())
	least, err := s.half(ctx, t, most)
	if err != nil {
		return 0, "", err
	}
	if !(least <= t.HalfWidth) {
		if len(s.fixed) > 0 {
			return 0, fmt.Sprintf("however many fish are tagged, the half-width stays above ± %.1f points, because detection rests on test passes; more of these, a second row of antennas or a site farther down would help", 100*least), nil
		}
		return 0, fmt.Sprintf("it would take more than %.0f million fish", mostFish/1e6), nil
	}
	low, high := math.Log(0.5/float64(s.plan.Fish())), math.Log(most)
	guess := 2 * math.Log(now.Half/t.HalfWidth) // exact without test passes
	for range 100 {
		h, err := s.half(ctx, t, math.Exp(guess))
		if err != nil {
			return 0, "", err
		}
		if h > t.HalfWidth {
			low = guess
		} else {
			high = guess
		}
		step := 2 * math.Log(h/t.HalfWidth)
		if math.Abs(step) < 1e-12 || high-low < 1e-12 {
			break
		}
		if guess += step; !(guess > low && guess < high) {
			guess = (low + high) / 2
		}
	}
	return math.Exp(guess), "", nil
}

const tooFewWords = "too few fish: the interval to expect would be wider than the whole scale from 0 to 100 %"

// whyNot says why a line has no standard error.
func (s *state) whyNot(l *Line, t *Target) string {
	p := s.plan
	if l.TooFew {
		return tooFewWords
	}
	switch l.Status {
	case cjs.Held:
		return "it is held as known in the plan: nothing is estimated"
	case cjs.Boundary:
		return fmt.Sprintf("it is assumed to be exactly %.0f, where the large-sample figure does not apply; assume a value inside 0 and 1", l.Value)
	}
	last := len(p.River.Sites) - 1
	if t.Site == last && !p.River.Sites[last].Divided() {
		return fmt.Sprintf("survival %s and detection at %s are not separately estimable: no fish are detected downstream. A second row of antennas or test passes at %s, or a site farther down, would separate them",
			p.River.Reach(last-1), p.River.Sites[last].Name, p.River.Sites[last].Name)
	}
	return "the design does not identify it; share values between cohorts or sites, or hold one that is known"
}
