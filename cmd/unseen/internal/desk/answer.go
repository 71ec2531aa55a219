package desk

import (
	"errors"
	"fmt"
	"html/template"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cmd/unseen/internal/figure"
	"example.org/unseen/cmd/unseen/internal/page"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history/study"
)

type answerData struct {
	At       at
	Here     string
	Answer   []string
	Verdict  string
	Figure   template.HTML
	Passed   template.HTML
	Cohorts  template.HTML
	More     template.HTML
	Warnings []warned
	Model    []chips
	Name     string
	Variants []variant
	Spec     model.Spec
	Fields   [][2]string // of the model, for a form
	CanKeep  bool
	ReadOnly bool
	Sum      string
	Command  string
	Site     string
}

// warned is a warning with the address where it is explained.
type warned struct {
	cjs.Warning
	Why string
}

// chips are the terms of one part of the model, as things to take away and add.
type chips struct {
	Key, About, Takes string
	Written           string // as the address or the study has it
	Terms             []chip
	Add               []chip
	Fault             *wordFault
	Default           bool
}

// chip is a term, or a name that can be added, with the address of the model
// without, or with it.
type chip struct{ Text, Address, Says string }

// wordFault marks the word that is wrong.
type wordFault struct{ Before, Word, After, Message string }

// variant is a model that was fitted to these data.
type variant struct {
	Words, Name, Address string
	Here, First          bool
	AICc, Delta          string
	Passed               string
}

func (l *looking) answer() (template.HTML, error) {
	asked := l.at.choice()
	out := answerData{At: l.at, Here: l.at.Whole(), Sum: l.Sum, Command: l.command("fit", "--full"), Site: l.at.Get("site")}
	f, err := l.fitted()
	if err != nil {
		var spec model.Spec
		if spec, _ = l.Data.Spec(asked); spec == (model.Spec{}) {
			spec = asked
		}
		out.Model = l.chips(spec, err)
		out.Variants = l.variants(nil)
		return render("answer-refused", struct {
			answerData
			Fault string
		}{out, err.Error()})
	}
	spec := f.Fit.Problem.Canonical()
	out.Spec, out.Name = spec, f.Fit.Problem.Spec.Name
	out.Fields, out.ReadOnly = fieldsOf(spec), l.opt.ReadOnly
	out.CanKeep = out.Name == "" && !l.opt.ReadOnly
	l.tried(f)
	out.Answer = view.Answer(f)[1:] // the first sentence stands on top of the page
	if f.Fit.Verdict != cjs.Converged {
		out.Verdict = "The fit did not converge: do not use these numbers."
	}
	if fig := figure.Passage(f); fig != nil {
		if out.Figure, err = l.fragment([]page.Block{{Figures: []*figure.Figure{fig}}}); err != nil {
			return "", err
		}
	}
	whole := view.FitPage(narrowed(f, out.Site))
	first := sectionsOf(whole, view.HeadingGrave, view.HeadingPassed)
	var rest []view.Section
	if n := len(first) - 1; n >= 0 && len(first[n].Tables) > 1 {
		// Of the tables of what passed, that of all fish stands first.
		rest = []view.Section{{Heading: "Passed, further", Tables: first[n].Tables[1:]}}
		first[n].Tables = first[n].Tables[:1]
	}
	if out.Passed, err = l.fragment(page.Blocks(append(view.OneSiteSections(f), first...))); err != nil {
		return "", err
	}
	if out.Cohorts, err = l.fragment(page.Blocks(rest)); err != nil {
		return "", err
	}
	if out.More, err = l.fragment(page.Blocks(sectionsOf(whole, view.HeadingSurvival, view.HeadingDetection, view.HeadingMovement, view.HeadingProducts, view.HeadingEffects))); err != nil {
		return "", err
	}
	for _, w := range f.Fit.Warnings {
		out.Warnings = append(out.Warnings, warned{w, l.at.With("why", w.ID)})
	}
	out.Model = l.chips(spec, nil)
	out.Variants = l.variants(f)
	return render("answer", out)
}

// fieldsOf are the terms and links of a model as the address has them.
func fieldsOf(spec model.Spec) [][2]string {
	var out [][2]string
	for i := range study.Parts {
		p := &study.Parts[i]
		out = append(out, [2]string{p.Key, spec.Terms(model.Part(p.Key))})
		if p.Links != nil {
			out = append(out, [2]string{p.LinkFlag(), spec.Link(model.Part(p.Key))})
		}
	}
	return out
}

// narrowed is f with only what concerns one site and the reaches at it.
func narrowed(f *analysis.Fitted, site string) *analysis.Fitted {
	k := f.Histories.River.SiteIndex(site)
	if site == "" || k < 0 {
		return f
	}
	out, fit := *f, *f.Fit
	fit.Passed = only(fit.Passed, func(p cjs.Passed) bool { return p.Site == k })
	fit.Survival = only(fit.Survival, func(s cjs.Survival) bool { return s.From == k || s.From == k-1 })
	fit.Detection = only(fit.Detection, func(d cjs.Detection) bool { return d.Site == k })
	out.Fit = &fit
	return &out
}

func only[T any](list []T, keep func(T) bool) []T {
	return slices.DeleteFunc(slices.Clone(list), func(x T) bool { return !keep(x) })
}

// chips lays out the model; err is what is wrong with it, or nil.
func (l *looking) chips(spec model.Spec, err error) []chips {
	var out []chips
	running := l.Data.Running()
	var wrong *model.Fault
	errors.As(err, &wrong)
	for i := range study.Parts {
		p := &study.Parts[i]
		part := model.Part(p.Key)
		if p.Running && !running {
			continue
		}
		written := spec.Terms(part)
		c := chips{Key: p.Key, About: p.About, Takes: p.Takes, Written: written}
		terms, bad := model.Parse(written)
		if written == "" {
			c.Default, bad, terms = true, nil, nil
		}
		if wrong != nil && wrong.Part == part && bad == nil {
			bad = wrong.Err
		}
		if bad != nil {
			c.Fault = faultOf(written, bad)
		}
		if c.Fault == nil || terms != nil {
			l.chipsOf(&c, spec, part, terms)
		}
		out = append(out, c)
	}
	return out
}

func (l *looking) chipsOf(c *chips, spec model.Spec, part model.Part, terms model.Terms) {
	with := func(t model.Terms) string {
		x := spec
		x.Name = ""
		x.SetTerms(part, t.String())
		return l.at.WithModel(x, false)
	}
	for i, term := range terms {
		rest := slices.Concat(terms[:i], terms[i+1:])
		c.Terms = append(c.Terms, chip{Text: model.Terms{term}.String(), Address: with(rest)})
	}
	for _, n := range l.names(part) {
		if !slices.ContainsFunc(terms, func(t []string) bool { return len(t) == 1 && t[0] == n.Text }) {
			if t, err := model.Parse(slices.Concat(terms, model.Terms{{n.Text}}).String()); err == nil && !t.Equal(terms) {
				c.Add = append(c.Add, chip{Text: "+ " + n.Text, Says: n.Says, Address: with(t)})
			}
		}
		for i, term := range terms {
			if slices.Contains(term, n.Text) || len(term) > 1 {
				continue
			}
			more := slices.Clone(terms)
			more[i] = append(slices.Clone(term), n.Text)
			if t, err := model.Parse(more.String()); err == nil {
				text := t.String()
				if len(terms) > 1 {
					text = model.Terms{more[i]}.String()
				}
				if !slices.ContainsFunc(c.Add, func(x chip) bool { return x.Text == text }) {
					c.Add = append(c.Add, chip{Text: text, Says: "a value of its own for every combination", Address: with(t)})
				}
			}
		}
	}
}

// names are what can stand in the terms of a part of this study's model, each
// with what it is.
func (l *looking) names(part model.Part) []chip {
	var out []chip
	add := func(name, says string) {
		if !slices.ContainsFunc(out, func(c chip) bool { return c.Text == name }) {
			out = append(out, chip{Text: name, Says: says})
		}
	}
	h := l.Data.Histories
	switch part {
	case model.Survival:
		add("reach", "a value for each reach")
	case model.Detection:
		add("site", "a value for each site")
		if slices.ContainsFunc(h.River.Sites, func(s siteType) bool { return s.Divided() }) {
			add("row", "a value for each row of each site")
		}
	case model.Drift, model.Spread:
		add("reach", "a value for each stretch")
	}
	if len(h.Cohorts) > 1 {
		add(model.Cohort, view.Plural(len(h.Cohorts), "cohort"))
	}
	for i := range h.Columns {
		c := &h.Columns[i]
		switch {
		case c.IsCategory() && len(c.Levels) > 1 && len(c.Levels) <= mostLevels:
			add(c.Name, strings.Join(c.Levels[:min(len(c.Levels), 6)], ", "))
		case !c.IsCategory():
			add(c.Name, "a number of each fish")
		}
	}
	if part == model.Survival || part == model.Detection {
		for i := range l.Study.Sites {
			for _, name := range sortedKeys(l.Study.Sites[i].Attributes) {
				add(name, "a number of each site")
			}
		}
	}
	if in, err := l.Data.Input(); err == nil {
		for _, c := range in.Conditions {
			add(c.Name, "a number of each cohort at each site")
		}
	}
	return out
}

// mostLevels is how many levels a column may have to be offered as a category.
const mostLevels = 30

var (
	atCharacter = regexp.MustCompile(`at character (\d+)`)
	inQuotes    = regexp.MustCompile(`"([^"]+)"`)
)

// faultOf finds the word of the terms that an error is about.
func faultOf(written string, err error) *wordFault {
	said := err.Error()
	out := &wordFault{Before: written, Message: said}
	runes := []rune(written)
	cut := func(from, to int) *wordFault {
		out.Before, out.Word, out.After = string(runes[:from]), string(runes[from:to]), string(runes[to:])
		return out
	}
	if m := atCharacter.FindStringSubmatch(said); m != nil {
		if n, err := strconv.Atoi(m[1]); err == nil && n >= 1 && n <= len(runes) {
			to := n
			for to < len(runes) && (runes[to] != ' ' || runes[n-1] == '"') {
				to++
			}
			return cut(n-1, to)
		}
	}
	for _, m := range inQuotes.FindAllStringSubmatch(said, -1) {
		if at := strings.Index(written, m[1]); at >= 0 && m[1] != written {
			from := len([]rune(written[:at]))
			return cut(from, from+len([]rune(m[1])))
		}
	}
	return out
}

// tried keeps a fit among the variants of these data.
func (l *looking) tried(f *analysis.Fitted) {
	l.kept.mu.Lock()
	defer l.kept.mu.Unlock()
	key := triedKey{}
	it := l.kept.items[key]
	if it == nil {
		it = &item{done: make(chan struct{}), value: []*analysis.Fitted(nil)}
		close(it.done)
		l.kept.items[key] = it
	}
	list := it.value.([]*analysis.Fitted)
	for _, g := range list {
		if sameModel(g, f) {
			return
		}
	}
	it.value = append(slices.Clip(list), f)
}

type triedKey struct{}

func sameModel(a, b *analysis.Fitted) bool {
	x, y := a.Fit.Problem.Canonical(), b.Fit.Problem.Canonical()
	x.Name, y.Name = "", ""
	return x == y
}

// variants are the models of the study and those tried, side by side, the best
// supported first; the study's own that were not fitted yet last.
func (l *looking) variants(here *analysis.Fitted) []variant {
	l.kept.mu.Lock()
	var list []*analysis.Fitted
	if it := l.kept.items[triedKey{}]; it != nil {
		list = it.value.([]*analysis.Fitted)
	}
	l.kept.mu.Unlock()
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b *analysis.Fitted) int {
		switch x, y := a.Fit.AICc, b.Fit.AICc; {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	specs := l.Data.Specs()
	var out []variant
	shown := map[string]bool{}
	for _, f := range list {
		name := f.Fit.Problem.Spec.Name
		spec := f.Fit.Problem.Canonical()
		v := variant{Words: f.Fit.Problem.WordsWithLinks(), Name: name, Here: here != nil && sameModel(here, f),
			AICc: view.Digits(f.Fit.AICc, 1), Delta: view.Digits(f.Fit.AICc-list[0].Fit.AICc, 2), Passed: passedLast(f)}
		v.First = len(specs) > 0 && name == specs[0].Name && name != "" || len(specs) == 0 && spec == (model.Spec{})
		v.Address = l.at.WithModel(spec, name != "")
		shown[name] = name != ""
		out = append(out, v)
	}
	for i, s := range specs {
		if !shown[s.Name] {
			out = append(out, variant{Words: "survival: " + orDefault(s.Survival, "reach by cohort") + " · detection: " + orDefault(s.Detection, "row"),
				Name: s.Name, Address: l.at.WithModel(s, true), First: i == 0})
		}
	}
	return out
}

func orDefault(s, d string) string {
	if s == "" {
		return d
	}
	return s
}

// passedLast is the share that passed the last site of which it can be said.
func passedLast(f *analysis.Fitted) string {
	for i := range slices.Backward(f.Fit.Passed) {
		p := &f.Fit.Passed[i]
		if len(p.Of) == 0 && p.PassedShare.Value == p.PassedShare.Value {
			e := p.PassedShare
			return fmt.Sprintf("%s: %s", f.Histories.River.Sites[p.Site].Name, view.PercentSpan(e.Value, e.Low, e.High, 1))
		}
	}
	return ""
}
