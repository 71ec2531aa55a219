package desk

import (
	"context"
	"fmt"
	"html/template"
	"strconv"
	"strings"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/season"
	"example.org/unseen/cmd/unseen/internal/figure"
	"example.org/unseen/cmd/unseen/internal/page"
	"example.org/unseen/cmd/unseen/internal/view"
)

type seasonData struct {
	At              at
	N, Last         int
	Day             string
	Words           string // all days, for the slider
	Said            string
	Fault           string
	Figure          template.HTML
	Table           template.HTML
	Earlier, Later  string
	Command         string
	EarlierD, LateD string
}

// season shows what would have been said on one day, and what it came to.
func (l *looking) season() (template.HTML, error) {
	days := l.Data.ReplayDays(1)
	if l.Data.Histories.First == nil || len(days) == 0 {
		return render("fault", fault{l.at, "This study has no times of release and detection, so no day can be looked back to."})
	}
	out := seasonData{At: l.at, Last: len(days) - 1}
	out.N = len(days) / 2
	if n, err := strconv.Atoi(l.at.Get("n")); err == nil {
		out.N = max(0, min(n, out.Last))
	}
	names := make([]string, len(days))
	from := l.Data.Source()
	for i, t := range days {
		names[i] = from.UpTo(t, "2 January 2006", "2 January 2006 15:04")
	}
	out.Words, out.Day = strings.Join(names, "|"), names[out.N]
	if out.N > 0 {
		out.Earlier = l.at.With("n", strconv.Itoa(out.N-1))
	}
	if out.N < out.Last {
		out.Later = l.at.With("n", strconv.Itoa(out.N+1))
	}
	at := days[out.N]
	out.Command = l.command("season", "--on", from.UpTo(at, time.DateOnly, "2006-01-02T15:04"))
	spec, err := l.Data.Spec(l.at.choice())
	if err != nil {
		return "", err
	}
	type key struct {
		spec model.Spec
		day  int64
	}
	s, err := once(l.ctx, l.Desk.ctx, l.kept, key{spec, at.UnixMilli()}, func(ctx context.Context) (*analysis.Season, error) {
		return l.Data.Season(ctx, spec, options(), []time.Time{at}, nil)
	})
	if err != nil {
		if l.ctx.Err() != nil {
			return "", err
		}
		out.Fault = err.Error()
		return render("season", out)
	}
	day := &s.Days[0]
	out.Said = view.SeasonPage(s).Sections[0].Paragraphs[0]
	if f := dayFigure(l.Data, day); f != nil {
		if out.Figure, err = l.fragment([]page.Block{{Figures: []*figure.Figure{f}}}); err != nil {
			return "", err
		}
	}
	if out.Table, err = l.fragment([]page.Block{{Section: view.Section{Heading: "By the end of " + out.Day, Tables: []view.Table{dayTable(l.Data, day)}, Notes: []string{
		fmt.Sprintf("Released by then: %s fish. On the day only fish released by then count, and only detections made by then. %s", view.Digits(float64(day.Released), 0), view.FinalNote(l.Data)),
	}}}}); err != nil {
		return "", err
	}
	return render("season", out)
}

// dayFigure is the passage as it stood on a day.
func dayFigure(d *analysis.Data, day *season.Day) *figure.Figure {
	known := season.Known(d.Histories, day.AsOf)
	if day.Err != nil || known == nil || day.Running.Verdict != cjs.Converged {
		return nil
	}
	then, result, study := *d, *d.Result, *d.Study
	result.Histories = known
	then.Result = &result
	// The figure names the day that its data go through: this one, though the
	// season is over or went on.
	study.AsOf, study.LastDay = day.AsOf, time.Time{}
	then.Study = &study
	return figure.Passage(&analysis.Fitted{Data: &then, Fit: day.Running})
}

// dayTable is what was said of each site on a day, beside what it came to.
func dayTable(d *analysis.Data, day *season.Day) view.Table {
	r := func(title string) view.Column { return view.Column{Title: title, Kind: view.Range, Digits: 1} }
	t := view.Table{Columns: []view.Column{{Title: "site", Key: true}, {Title: "seen", Kind: view.Count},
		r("passed so far % (95 %)"), r("still to pass % (95 %)"), r("passed at season's end %, estimated then (95 %)"), r(view.FinalTitle(d) + " (95 %)")}}
	if day.Err != nil {
		return t
	}
	cell := func(e cjs.Estimate) view.Cell {
		c := view.R(100*e.Value, 100*e.Low, 100*e.High)
		if e.Status == cjs.TooEarly {
			c.Text = "too early"
		}
		return c
	}
	for i := range day.Running.Passed {
		p := &day.Running.Passed[i]
		if len(p.Of) > 0 {
			continue
		}
		came := cjs.NoEstimate(cjs.Absent)
		if day.Final != nil {
			for j := range day.Final.Passed {
				if q := &day.Final.Passed[j]; q.Site == p.Site && len(q.Of) == 0 {
					came = q.PassedShare
				}
			}
		}
		t.Rows = append(t.Rows, []view.Cell{view.T(d.Histories.River.Sites[p.Site].Name), view.I(p.Seen), cell(p.SoFar), cell(p.StillToPass), cell(p.PassedShare), cell(came)})
	}
	return t
}
