package growth

import (
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/history"
)

// Weight is the weight in grams the line gives at a length: the median one.
func (l *Line) Weight(lengthMM float64) float64 {
	return math.Exp(l.Intercept + l.Slope*math.Log(lengthMM))
}

const (
	// lineFewest fish make a line.
	lineFewest = 10
	// lineLevel: a fish is far from the line when its residual would come up
	// once in so many whole tables by chance (Bonferroni; Cook & Weisberg
	// 1982, Residuals and Influence in Regression).
	lineLevel = 0.05
	// startSD: the first line leaves out fish whose condition is farther than
	// this from the median, in standard deviations by the median absolute
	// deviation, so that many typing errors cannot hide one another.
	startSD = 5
	// guessSD: a fish put right should be one of the many.
	guessSD = 3
)

// lines fits a line to each species and lists the odd fish.
func (r *Result) lines(m *measures) {
	names := []string{""}
	speciesOf := func(int) string { return "" }
	if species := m.h.Column(Species); species != nil {
		// A species may be a code, such as 1 and 2.
		speciesOf = func(i int) string { return valueOf(species, i) }
		names = nil
		for i := range m.h.Len() {
			if v := speciesOf(i); v != missing && !slices.Contains(names, v) {
				names = append(names, v)
			}
		}
		slices.SortFunc(names, history.NaturalCompare)
	}
	residual := make([]float64, m.h.Len())
	of := make([]*Line, m.h.Len())
	for i := range residual {
		residual[i] = math.NaN()
	}
	for _, name := range names {
		var index []int
		var x, y []float64
		for i := range m.h.Len() {
			if m.h.New(i) && speciesOf(i) == name && !math.IsNaN(m.length[i]) && !math.IsNaN(m.weight[i]) {
				index = append(index, i)
				x, y = append(x, math.Log(m.length[i])), append(y, math.Log(m.weight[i]))
			}
		}
		l, t, off := fitLine(x, y)
		if l == nil {
			continue
		}
		l.Species = name
		for j, i := range index {
			residual[i], of[i] = t[j], l
			if off[j] {
				m.flags[i] |= OffTheLine
				l.Off++
			}
		}
		r.Lines = append(r.Lines, *l)
	}
	for i := range m.h.Len() {
		if m.h.New(i) && of[i] == nil && !math.IsNaN(m.length[i]) && !math.IsNaN(m.weight[i]) {
			r.NoLine += m.h.Weight(i)
			if speciesOf(i) == missing {
				r.NoSpecies += m.h.Weight(i)
			}
		}
	}
	for i := range m.h.Len() {
		if m.flags[i] == 0 || !m.h.New(i) {
			continue
		}
		o := Odd{Fish: int32(i), LengthMM: m.length[i], WeightG: m.weight[i], Condition: Condition(m.length[i], m.weight[i]), Residual: residual[i], Flags: m.flags[i]}
		if o.Flags&OffTheLine != 0 {
			o.Guess = of[i].guess(o.LengthMM, o.WeightG)
		}
		r.Odd = append(r.Odd, o)
	}
}

// fitLine fits y on x, tells each point's residual as Student's t, and which
// are off; nil with too few points, or where all x are alike.
func fitLine(x, y []float64) (line *Line, t []float64, off []bool) {
	n := len(x)
	if n < lineFewest {
		return nil, nil, nil
	}
	off = firstLook(x, y)
	t = make([]float64, n)
	// Each round fits those not off and judges all; the set settles, or the
	// last of the rounds stands.
	for range 50 {
		var ok bool
		if line, ok = leastSquares(x, y, off); !ok {
			return nil, nil, nil
		}
		limit := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: line.degrees - 1}.Quantile(1 - lineLevel/2/float64(n))
		next := make([]bool, n)
		for i := range x {
			t[i] = line.studentised(x[i], y[i], off[i])
			next[i] = math.Abs(t[i]) > limit
		}
		if slices.Equal(next, off) {
			break
		}
		off = next
	}
	line.Fish = n
	return line, t, off
}

// firstLook leaves out points far from the line of slope 3 through the middle:
// fish of one condition.
func firstLook(x, y []float64) []bool {
	k := make([]float64, len(x))
	for i := range x {
		k[i] = y[i] - 3*x[i]
	}
	middle := history.Summarise(k, nil).Median
	away := make([]float64, len(k))
	for i := range k {
		away[i] = math.Abs(k[i] - middle)
	}
	// 1.4826: the normal standard deviation over its median absolute one.
	sd := 1.4826 * history.Summarise(away, nil).Median
	off := make([]bool, len(k))
	for i := range k {
		off[i] = sd > 0 && away[i] > startSD*sd
	}
	return off
}

// leastSquares fits the points not left out.
func leastSquares(x, y []float64, out []bool) (*Line, bool) {
	l := &Line{}
	var my float64
	for i := range x {
		if !out[i] {
			l.used++
			l.meanX += x[i]
			my += y[i]
		}
	}
	l.degrees = l.used - 2
	if l.degrees < 2 {
		return nil, false
	}
	l.meanX /= l.used
	my /= l.used
	var xy, yy, rss float64
	for i := range x {
		if !out[i] {
			l.squaresX += (x[i] - l.meanX) * (x[i] - l.meanX)
			xy += (x[i] - l.meanX) * (y[i] - my)
			yy += (y[i] - my) * (y[i] - my)
		}
	}
	// All lengths alike, up to rounding.
	if !(l.squaresX > 1e-20*l.used*l.meanX*l.meanX) {
		return nil, false
	}
	l.Slope = xy / l.squaresX
	l.Intercept = my - l.Slope*l.meanX
	for i := range x {
		if !out[i] {
			e := y[i] - l.Intercept - l.Slope*x[i]
			rss += e * e
		}
	}
	l.ResidualSD = math.Sqrt(rss / l.degrees)
	l.SlopeSE = l.ResidualSD / math.Sqrt(l.squaresX)
	l.InterceptSE = l.ResidualSD * math.Sqrt(1/l.used+l.meanX*l.meanX/l.squaresX)
	q := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: l.degrees}.Quantile(0.975)
	l.SlopeLow, l.SlopeHigh = l.Slope-q*l.SlopeSE, l.Slope+q*l.SlopeSE
	l.Explained = 1 - rss/yy
	return l, true
}

// studentised is a point's residual over its standard deviation, both without
// the point itself: Student's t with one degree of freedom less than the line
// has.
func (l *Line) studentised(x, y float64, out bool) float64 {
	e := y - l.Intercept - l.Slope*x
	h := 1/l.used + (x-l.meanX)*(x-l.meanX)/l.squaresX
	if out {
		return e / (l.ResidualSD * math.Sqrt(1+h))
	}
	r := e / (l.ResidualSD * math.Sqrt(1-h))
	return r * math.Sqrt((l.degrees-1)/max(0, l.degrees-r*r))
}

// guess is the slip, of those common in typing, that brings a fish nearest to
// the line, if within guessSD standard deviations of it.
func (l *Line) guess(length, weight float64) string {
	best, nearest := "", guessSD*l.ResidualSD
	try := func(what string, from, to, w, x float64) {
		if e := math.Abs(math.Log(w / l.Weight(x))); e < nearest {
			nearest = e
			best = what + " " + strconv.FormatFloat(to, 'g', 6, 64) + " for " + strconv.FormatFloat(from, 'g', 6, 64)
		}
	}
	for _, v := range slips(weight) {
		try("weight", weight, v, v, length)
	}
	for _, v := range slips(length) {
		try("length", length, v, weight, v)
	}
	return best
}

// slips are the numbers that a shifted point or two swapped neighbours may
// have been.
func slips(v float64) []float64 {
	out := []float64{v * 10, v / 10}
	s := []byte(strconv.FormatFloat(v, 'f', -1, 64))
	for i := 0; i+1 < len(s); i++ {
		if s[i] == s[i+1] || s[i] == '.' || s[i+1] == '.' {
			continue
		}
		s[i], s[i+1] = s[i+1], s[i]
		if x, err := strconv.ParseFloat(string(s), 64); err == nil && x > 0 {
			out = append(out, x)
		}
		s[i], s[i+1] = s[i+1], s[i]
	}
	return out
}
