package desk

import (
	"context"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cmd/unseen/internal/figure"
	"example.org/unseen/cmd/unseen/internal/page"
	"example.org/unseen/cmd/unseen/internal/view"
)

// works are the long works: what they are called, how many steps they have at
// most, and what they find, also when they are stopped.
var works = map[string]struct {
	name  string
	most  int
	usual int
	run   func(ctx context.Context, d *Desk, s *snapshot, spec model.Spec, n int, j *job) (view.Page, error)
}{
	"bootstrap":  {"replicates of the fit", 100_000, 1000, bootstrapped},
	"simulation": {"made-up seasons", 100_000, 1000, simulated},
	"whatif":     {"refits", 1, 1, whatIfs},
}

// found is what a work found of a model, as it is kept.
type foundKey struct {
	kind string
	spec model.Spec
}

// whatIfs refits with each rule, cohort and site changed.
func whatIfs(ctx context.Context, _ *Desk, s *snapshot, spec model.Spec, _ int, j *job) (view.Page, error) {
	f, err := s.Data.Fit(ctx, spec, options())
	if err != nil {
		return view.Page{}, err
	}
	if err := f.AskWhatIf(ctx, j.at); err != nil {
		return view.Page{}, err
	}
	return view.Page{Sections: view.WhatIfSections(&f.Histories.River, f.WhatIf)}, nil
}

// startJob begins a long work on the model of the view that the form is on.
func (d *Desk) startJob(_ http.ResponseWriter, r *http.Request) (string, error) {
	to := back(r)
	kind := r.PostFormValue("kind")
	work, ok := works[kind]
	if !ok {
		return to, fmt.Errorf("there is no work %q", kind)
	}
	n := work.usual
	if v := strings.TrimSpace(r.PostFormValue("replicates")); v != "" {
		var err error
		if n, err = strconv.Atoi(strings.ReplaceAll(v, ",", "")); err != nil || n < 2 || n > work.most {
			return to, fmt.Errorf("%q is no number of %s; write one from 2 to %s", v, work.name, view.Digits(float64(work.most), 0))
		}
	}
	s := d.current()
	if s.Data == nil {
		return to, fmt.Errorf("the tables are not read")
	}
	spec, err := s.Data.Spec(at{Query: r.PostForm}.choice())
	if err != nil {
		return to, err
	}
	d.jobs.mu.Lock()
	defer d.jobs.mu.Unlock()
	if now := d.jobs.now; now != nil && !now.finished() {
		return to, fmt.Errorf("a work goes on already; wait for it, or stop it")
	}
	ctx, cancel := context.WithCancel(d.ctx)
	j := &job{kind: kind, of: n, end: cancel, began: time.Now()}
	d.jobs.now = j
	go func() {
		defer cancel()
		p, err := guarded(func() (view.Page, error) { return work.run(ctx, d, s, spec, n, j) })
		j.mu.Lock()
		defer j.mu.Unlock()
		if err != nil && ctx.Err() != nil {
			err = fmt.Errorf("stopped before anything could be said")
		}
		s.kept.put(foundKey{kind, spec}, finding{p, err, j.done, ctx.Err() != nil, false})
		j.ended = true
	}()
	return to, nil
}

// stopJob ends the work that goes on; what it made is kept.
func (d *Desk) stopJob(_ http.ResponseWriter, r *http.Request) (string, error) {
	d.jobs.mu.Lock()
	now := d.jobs.now
	d.jobs.mu.Unlock()
	if now != nil {
		now.end()
		for i := 0; i < 100 && !now.finished(); i++ {
			time.Sleep(20 * time.Millisecond)
		}
	}
	return back(r), nil
}

// put keeps a value that was worked out elsewhere.
func (k *kept) put(key, value any) {
	k.mu.Lock()
	defer k.mu.Unlock()
	it := &item{done: make(chan struct{}), value: value}
	close(it.done)
	k.items[key] = it
}

// peek is a value that was put, or none.
func (k *kept) peek(key any) (any, bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if it := k.items[key]; it != nil {
		return it.value, true
	}
	return nil, false
}

type trustData struct {
	At    at
	Here  string
	Model map[string]string
	Fit   template.HTML
	Works []workData
	// Going is the work that goes on.
	Going   *jobState
	Command string
}

// workData is a long work as the page shows it.
type workData struct {
	Kind, Title, About, Label string
	Usual                     int
	Numbered                  bool
	Going                     *jobState
	Busy                      bool
	Found                     template.HTML
	Fault                     string
	Said                      string
	Command                   string
}

// trust says whether the model fits, how sensitive and how sure the answer is.
func (l *looking) trust() (template.HTML, error) {
	f, err := l.fitted()
	if err != nil {
		return "", err
	}
	spec, err := l.Data.Spec(l.at.choice())
	if err != nil {
		return "", err
	}
	out := trustData{At: l.at, Here: l.at.Whole(), Model: l.at.Model(), Command: l.command("assess")}
	type key struct {
		what string
		spec model.Spec
	}
	blocks, err := once(l.ctx, l.Desk.ctx, l.kept, key{"assess", spec}, func(context.Context) ([]page.Block, error) {
		a, covariates := assess.OfModel(f.Fit.Problem), assess.Covariates(f.Fit)
		// Words first; what is drawn follows the tables.
		out := page.Blocks(view.AssessPage(f, a, covariates, false).Sections)
		for _, x := range figure.Fit(f, a, covariates) {
			if x != nil {
				out = append(out, page.Block{Figures: x.Pages()})
			}
		}
		return out, nil
	})
	if err != nil {
		return "", err
	}
	if out.Fit, err = l.fragment(slices.Clone(blocks)); err != nil {
		return "", err
	}
	if s := l.jobs.state(); s != nil && !s.Ended {
		out.Going = s
	}
	for _, w := range []workData{
		{Kind: "whatif", Title: "How sensitive is it?", About: "The model is fitted again with every rule that is a choice switched, and with every cohort and site left out.", Label: "Start the refits", Command: l.command("fit", "--what-if")},
		{Kind: "bootstrap", Title: "How sure is it?", About: "A bootstrap refits the model to data made anew from it: intervals without large-sample theory.", Label: "Replicates", Usual: 1000, Numbered: true, Command: l.command("fit", "--interval", "bootstrap")},
		{Kind: "simulation", Title: "Would the method find the truth?", About: "Made-up seasons with the estimates for truth are fitted: bias, and how often intervals hold the truth.", Label: "Made-up seasons", Usual: 1000, Numbered: true, Command: l.command("simulate", "--replicates", "1000")},
	} {
		if out.Going != nil {
			w.Busy = true
			if out.Going.Kind == w.Kind {
				w.Going = out.Going
			}
		}
		v, ok := l.kept.peek(foundKey{w.Kind, spec})
		x, _ := v.(finding)
		if !ok && w.Numbered && w.Going == nil {
			x, ok = l.before(w.Kind, spec)
		}
		if ok {
			switch {
			case x.err != nil:
				w.Fault = x.err.Error()
			default:
				if x.before {
					w.Said = fmt.Sprintf("%s %s were made before; Start goes on from them.", view.Digits(float64(x.steps), 0), works[w.Kind].name)
				}
				if x.stopped {
					w.Said = fmt.Sprintf("Stopped after %s; what was made is summed up below.", view.Plural(x.steps, "step", "steps"))
				}
				if w.Found, err = l.fragment(page.Blocks(x.page.Sections)); err != nil {
					return "", err
				}
			}
		}
		out.Works = append(out.Works, w)
	}
	return render("trust", out)
}
