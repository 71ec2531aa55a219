package figure

import (
	"fmt"
	"math"
	"slices"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
)

// Fit are the figures of whether the model fits; the first may be nil.
func Fit(d *analysis.Fitted, a *assess.Result, covariates []assess.Covariate) []*Figure {
	return append([]*Figure{Expected(d, a)}, Fifths(d, covariates)...)
}

// Fifths shows, for each number of the fish in the model, how many of each fifth of
// the fish were seen at each site against how many the fit expects.
func Fifths(d *analysis.Fitted, covariates []assess.Covariate) []*Figure {
	var out []*Figure
	for _, c := range wire.CovariatesOf(&d.Histories.River, covariates) {
		if f := fifths(d, &c); f != nil {
			out = append(out, f)
		}
	}
	return out
}

func fifths(d *analysis.Fitted, c *wire.CovariateFit) *Figure {
	if len(c.Quintiles) == 0 || len(c.Quintiles[0].Sites) == 0 {
		return nil
	}
	named := label(d.Data, c.Name)
	x := edges(c.Quintiles, named)
	body := &charts{height: 170}
	counts, outside, worst := 0, 0, outlier{}
	for k := range c.Quintiles[0].Sites {
		var here []fifthAt
		highest := 0.0
		for i := range c.Quintiles {
			at := fifthAt{FifthAt: c.Quintiles[i].Sites[k], of: rangeOf(&c.Quintiles[i], c.Quintiles)}
			highest = max(highest, float64(at.Seen), float64(at.High))
			here = append(here, at)
			if at.SD == 0 {
				continue // nothing can be seen here, or all is certain
			}
			counts++
			if at.outside() {
				outside++
			}
			if r := math.Abs(float64(at.Residual)); r > worst.by {
				worst = outlier{r, at}
			}
		}
		body.panels = append(body.panels, panelOfFifths(here, x, highest, c.Name))
	}
	if counts == 0 {
		return nil
	}
	body.names = func(s *drawing) []entry {
		out := []entry{
			{"detected", func(x, y float64) { s.Mark(x+13, y+5, 3.5, canvas.Disc, canvas.Seen) }},
			{"expected by the fit, with the range of about 95 % of counts by chance", func(x, y float64) {
				s.Fill(canvas.Rectangle(x, y-1, 26, 12), canvas.Band)
				s.Segment(x, y+5, x+26, y+5, canvas.Muted, canvas.LineWidth)
			}}}
		if outside > 0 {
			out = append(out, entry{"detected, outside that range", func(x, y float64) { s.Mark(x+13, y+5, 4, canvas.Square, canvas.Series[1].Colour) }})
		}
		return out
	}
	finding := fmt.Sprintf("%s of %s lie outside the range of chance, where about %s would if the model holds; farthest off: %s, %s: %s detected, %s expected.",
		view.Digits(float64(outside), 0), view.Plural(counts, "count"), view.Digits(assess.Level*float64(counts), 1), worst.at.Site, worst.at.of,
		view.Digits(float64(worst.at.Seen), 0), view.Digits(float64(worst.at.Expected), 1))
	missing := ""
	if c.Missing > 0 {
		missing = fmt.Sprintf(" Left out: %s without a value.", view.Plural(c.Missing, "fish", "fish"))
	}
	return &Figure{
		ID:    "fifths-of-" + slug(c.Name),
		Title: "Observed against expected by " + named,
		Caption: finding + " Fish are sorted by " + named + " and cut into " + groups(len(c.Quintiles)) +
			"; expected at a site is what the fit expects of where each fish was last detected, or released, before." + missing,
		Source: source(d),
		Description: "For each site a point of the number detected in each group of fish by " + named +
			", over the number expected with its range by chance. " + finding,
		body: body,
	}
}

// outlier is the count farthest from what is expected.
type outlier struct {
	by float64 // standard deviations
	at fifthAt
}

// fifthAt is a fifth of the fish at a site, and in words which.
type fifthAt struct {
	wire.FifthAt
	of string
}

func (f *fifthAt) outside() bool {
	return float64(f.Seen) < float64(f.Low) || float64(f.Seen) > float64(f.High)
}

// edges is an axis on which each fifth has the same room, labelled with the values
// where fifths begin and the last one ends; where each is of one value, with these.
func edges(fifths []wire.Quintile, title string) axis {
	a := axis{title: title, high: float64(len(fifths))}
	single := !slices.ContainsFunc(fifths, func(q wire.Quintile) bool { return q.Low != q.High })
	for i := range fifths {
		at := float64(i)
		if single {
			at += .5
		}
		a.ticks = append(a.ticks, tick{at, valueIn(float64(fifths[i].Low), fifths)})
	}
	if !single {
		a.ticks = append(a.ticks, tick{a.high, valueIn(float64(fifths[len(fifths)-1].High), fifths)})
	}
	return a
}

// rangeOf is the range of a fifth in words.
func rangeOf(q *wire.Quintile, fifths []wire.Quintile) string {
	if q.Low == q.High {
		return valueIn(float64(q.Low), fifths)
	}
	return valueIn(float64(q.Low), fifths) + " to " + valueIn(float64(q.High), fifths)
}

// valueIn is a value with the decimals that tell three digits of the range apart.
func valueIn(v float64, fifths []wire.Quintile) string {
	span := float64(fifths[len(fifths)-1].High - fifths[0].Low)
	if span <= 0 {
		span = max(1, math.Abs(v))
	}
	return view.Digits(v, max(0, 1-int(math.Floor(math.Log10(span)))))
}

func groups(n int) string {
	if n == 5 {
		return "five groups of about equal numbers"
	}
	return view.Plural(n, "group") + ", for many share a value"
}

// panelOfFifths is one site.
func panelOfFifths(here []fifthAt, x axis, highest float64, number string) panel {
	p := panel{title: here[0].Site, x: x, y: countAxis("fish detected", highest, 4)}
	p.under = func(s *drawing, px, py func(float64) float64, _, _ float64) {
		for i, f := range here {
			left, right := px(float64(i))+3, px(float64(i+1))-3
			low, high, at := py(float64(f.Low)), py(float64(f.High)), py(float64(f.Expected))
			s.Fill(canvas.Rectangle(left, high, right-left, low-high), canvas.Band)
			for _, edge := range []float64{low, high} {
				s.Segment(left, edge, right, edge, canvas.Muted, canvas.Hairline)
			}
			s.Segment(left, at, right, at, canvas.Muted, canvas.LineWidth)
		}
	}
	p.over = func(s *drawing, px, py func(float64) float64, _, _ float64) {
		for i, f := range here {
			s.Show(canvas.Datum{Key: fmt.Sprintf("fifth %d of %s at %s", i+1, number, f.Site), Value: float64(f.Seen), Low: float64(f.Low), High: float64(f.High)}, func() {
				if f.outside() {
					s.Mark(px(float64(i)+.5), py(float64(f.Seen)), 4, canvas.Square, canvas.Series[1].Colour)
				} else {
					s.Mark(px(float64(i)+.5), py(float64(f.Seen)), 3.5, canvas.Disc, canvas.Seen)
				}
			})
		}
	}
	return p
}
