package likelihood

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// design of a study of testdata/outages.
type outageStudy struct {
	Name          string
	Km            []float64
	Drift, Spread []float64
	Survival      []float64
	Rows          [][]float64
	Windows       [][][][2]float64
	End           *float64
	Histories     [][]outageSight
	LogLikelihood float64 `json:"log_likelihood"`
}

// outageSight is a site with the day of release or the sighting.
type outageSight struct {
	site int
	at   float64
	rows []int
}

func (s *outageSight) UnmarshalJSON(b []byte) error {
	var pair [2]json.RawMessage
	if err := json.Unmarshal(b, &pair); err != nil {
		return err
	}
	if err := json.Unmarshal(pair[0], &s.site); err != nil {
		return err
	}
	if json.Unmarshal(pair[1], &s.at) == nil {
		return nil
	}
	var x struct {
		At   float64
		Rows []int
	}
	err := json.Unmarshal(pair[1], &x)
	s.at, s.rows = x.At, x.Rows
	return err
}

func readOutages(t *testing.T) (out []outageStudy) {
	b, err := os.ReadFile("../testdata/outages/outages.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, &out))
	require.NotEmpty(t, out)
	return out
}

// layout is the study's, with each reach's own law if laws.
func (o *outageStudy) layout(t *testing.T, laws bool) *Layout {
	rows := make([]int, len(o.Km))
	var windows [][]Window
	for k := range o.Km {
		rows[k] = len(o.Rows[k])
		for b := range o.Rows[k] {
			var w []Window
			for _, x := range o.Windows[k][b] {
				w = append(w, Window{x[0], x[1]})
			}
			windows = append(windows, w)
		}
	}
	l, err := NewLayout(rows)
	require.NoError(t, err)
	var of []int
	if laws {
		for k := range len(o.Km) - 1 {
			of = append(of, k)
		}
	}
	l, err = l.Timed(o.Km, of, false)
	require.NoError(t, err)
	end := math.Inf(1)
	if o.End != nil {
		end = *o.End
	}
	l, err = l.Working(windows, end)
	require.NoError(t, err)
	return l
}

// data are the study's histories.
func (o *outageStudy) data(l *Layout) *Data {
	u := NewUnit(l, 0, []float64{1})
	out := &Data{}
	for _, h := range o.Histories {
		for n, s := range h {
			if n > 0 {
				from := h[n-1]
				var seen uint64
				first, _ := l.SiteRows(s.site)
				for _, b := range s.rows {
					seen |= 1 << (first + b)
				}
				_, last := l.SiteRows(s.site)
				all := uint64(1<<(last-first)-1) << first
				idle := l.Unknown(from.site, s.site) | all&^l.RowsAt(s.site, s.at)
				u.Add(l, from.site, s.site, 0, false, false, 1)
				u.AddRows(l, from.site, s.site, seen, idle, 1)
				out.TravelTimes = append(out.TravelTimes, TravelTime{Z: []float64{1}, From: from.site, To: s.site, Days: s.at - from.at, Weight: 1, At: from.at})
			}
		}
		s := h[len(h)-1]
		out.Waits = append(out.Waits, Wait{Z: []float64{1}, Site: s.site, Days: l.end - s.at, Weight: 1, At: s.at})
	}
	out.Units = []Unit{u}
	return out
}

// saturated is a design with a coefficient for each slot, and those that give
// the study's numbers.
func (o *outageStudy) saturated(l *Layout) (*Design, []float64) {
	d := &Design{Layout: l, Columns: l.Slots(), Numbers: 1, Slots: make([][][]Entry, 1), Links: make([][]Link, 1)}
	x := make([]float64, l.Slots())
	var p []float64
	for _, rows := range o.Rows {
		p = append(p, rows...)
	}
	for a := range l.Slots() {
		d.Slots[0] = append(d.Slots[0], []Entry{{a, 0, 1}})
		link := Link{Kind: Logit}
		law, drift, spread := l.Moves(a)
		switch {
		case l.Reach(a) >= 0:
			x[a] = LogitOf(o.Survival[l.Reach(a)])
		case l.Row(a) >= 0:
			x[a] = LogitOf(p[l.Row(a)])
		case drift:
			link, x[a] = Link{Kind: Log}, math.Log(o.Drift[law])
		case spread:
			link, x[a] = Link{Kind: Log}, math.Log(o.Spread[law])
		}
		d.Links[0] = append(d.Links[0], link)
	}
	return d, x
}

// TestOutagesAgainstPlainRecursion holds the likelihood with windows of work to
// that of testdata/outages/independent.py (SciPy 1.10.1), which knows the formulas alone. 5e-7 is 1e-6 of −2 ln L.
func TestOutagesAgainstPlainRecursion(t *testing.T) {
	for _, o := range readOutages(t) {
		laws := o.Drift[0] != o.Drift[1]
		l := o.layout(t, laws)
		d, x := o.saturated(l)
		data := o.data(l)
		require.NoError(t, d.Check())
		require.NoError(t, data.Check(d))
		var p Point
		NewCJS(d, data).Eval(x, 2, &p)
		assert.InDelta(t, o.LogLikelihood, p.F, 5e-7, o.Name)
	}
}

// TestOutageDerivatives holds gradient and Hessian to differences of central
// points: 1e-5 of what the largest is, as differences of 1e-4 allow.
func TestOutageDerivatives(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for _, o := range readOutages(t) {
		l := o.layout(t, o.Drift[0] != o.Drift[1])
		d, x := o.saturated(l)
		checkDerivatives(t, o.Name, NewCJS(d, o.data(l)), x)
	}
}

func checkDerivatives(t *testing.T, name string, c Objective, x []float64) {
	t.Helper()
	const h = 1e-4
	var p, up, down Point
	c.Eval(x, 2, &p)
	n := len(x)
	var most float64
	for _, v := range p.H {
		most = max(most, math.Abs(v))
	}
	for i := range x {
		y := append([]float64(nil), x...)
		y[i] = x[i] + h
		c.Eval(y, 1, &up)
		y[i] = x[i] - h
		c.Eval(y, 1, &down)
		assert.InDelta(t, (up.F-down.F)/(2*h), p.G[i], 1e-5*most, "%s: ∂ %d", name, i)
		for j := range x {
			assert.InDelta(t, (up.G[j]-down.G[j])/(2*h), p.H[i*n+j], 1e-5*most, "%s: ∂² %d %d", name, i, j)
		}
	}
}

// TestUnseenForSure: where all survive, those never seen again have passed for sure,
// and nothing is left to chance: rounding must not make a variance less than none.
func TestUnseenForSure(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	looked := 0
	for _, o := range readOutages(t) {
		l := o.layout(t, o.Drift[0] != o.Drift[1])
		if !math.IsInf(l.end, 1) {
			continue
		}
		d, x := o.saturated(l)
		for a := range x {
			if l.Reach(a) >= 0 {
				x[a] = 45
			}
		}
		waits := o.data(l).Waits
		for shift := range 20 {
			for a := range x {
				if l.Row(a) >= 0 {
					x[a] += 0.01
				}
			}
			for i := range waits {
				for _, s := range UnseenBy(d, x, waits[i:i+1]) {
					for k := waits[i].Site + 1; k < l.Sites(); k++ {
						value, own := s.AddTo(d, k, 1, nil)
						assert.InDelta(t, 1, value, 1e-9, "%s, shift %d", o.Name, shift)
						assert.GreaterOrEqual(t, own, 0.0, "%s, shift %d", o.Name, shift)
						looked++
					}
				}
			}
		}
	}
	require.Positive(t, looked)
}
