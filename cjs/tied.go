package cjs

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"example.org/unseen/cjs/internal/maximum"
	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/linear"
)

const (
	// openEnd: a logit beyond this is a probability that cannot be told from
	// 0 or 1.
	openEnd = 12
	// mostPressed bounds how often one end is sought the slow way.
	mostPressed = 8
	// mostMaxima bounds the constrained maxima sought for one end.
	mostMaxima = 60
	// limitGap: at a limit the log-likelihood is this near to what it must be.
	limitGap = 1e-8
	// roughGap is as near as can be had where the maximum lies at infinity.
	roughGap = 1e-6
	// restGain: at a constrained maximum twice the rise still to be had is
	// below this.
	restGain = 1e-8
)

// solution is a point with the quantity, on its scale, at t. Where it is open
// the limit lies beyond all that can be told from 0 or 1.
type solution struct {
	x []float64
	t float64
	f float64 // log-likelihood
	// slope is the derivative of the constrained maximum by t.
	slope float64
	open  bool
	// soft, where not nil, is the maximum of the log-likelihood less a small
	// square of the coefficients, from which this one was found.
	soft []float64
}

// tied is a log-likelihood with a quantity that is to have a given value, at one
// point at a time.
type tied struct {
	design   *likelihood.Design
	cjs      *likelihood.CJS
	quantity *likelihood.Quantity
	// over, where not nil, is what the quantity is divided by: then the logarithm of
	// the ratio is sought. It is linear.
	over *likelihood.Quantity
	// overAt is room for it, overOf the columns that the ratio has to do with.
	overAt likelihood.Point
	overOf []int
	// linear: the quantity is taken as it is, not by its logit.
	linear bool
	// byComponents: the step is solved without the part of the curvature that
	// ties the blocks together; see evalQuantity.
	byComponents bool
	// blocks are the sets of columns between which that is zero.
	blocks [][]int

	n int
	x []float64
	*room
	bend float64 // of the quantity at x, whose H leaves out bend·ggᵀ
	// multiplier of the constraint: how much the maximum gains as the quantity
	// rises.
	multiplier float64
	start      []float64
	// limits and moved are those the design is at; see search.
	limits [][]float64
	moved  [][]maximum.Row
	// home, where not nil, is a constrained maximum at which a search without
	// shrinking ends as soon as it gets near.
	home *solution
	// softened are the last shrunk maxima that searches went by, with where each led.
	softened []softened
	// known is the log-likelihood at points where many ways start.
	known     []*known
	shrink    float64
	pressings int // how often the slow way was taken for this end

	ridge float64
	// floor is added to all curvature; see step.
	floor float64
}

// room is for what is known at one point. Searches that follow each other, of the
// same data, share it: each begins by going to its start.
type room struct {
	p, q   likelihood.Point // the log-likelihood and the quantity on its scale
	matrix []float64        // of which only what is not zero at every x is set
}

// known is a log-likelihood at a point, with second derivatives.
type known struct {
	x []float64
	p likelihood.Point
}

func newTied(o *likelihood.CJS, q *likelihood.Quantity, linear bool) *tied {
	n := o.Columns()
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	return &tied{design: o.Design, cjs: o, quantity: q, linear: linear, n: n, blocks: [][]int{all}, x: make([]float64, n), room: &room{p: o.NewPoint()}}
}

// split makes steps be solved by blocks of columns, between which the log-likelihood
// has no second derivatives.
func (t *tied) split(blocks [][]int) {
	t.byComponents, t.blocks, t.q = true, blocks, t.cjs.NewPoint()
}

// under is the same quantity under o, whose design is at limits.
func (t *tied) under(o *likelihood.CJS, limits [][]float64, moved [][]maximum.Row) *tied {
	u := newTied(o, t.quantity, t.linear)
	u.over, u.overOf = t.over, t.overOf
	u.limits, u.moved = limits, moved
	u.byComponents, u.blocks, u.room = t.byComponents, t.blocks, t.room
	return u
}

// at goes to x, as the point to start from.
func (t *tied) at(x []float64) {
	t.start = x
	copy(t.x, x)
	t.multiplier = 0
	t.ridge = likelihood.StepRidge
	if i := slices.IndexFunc(t.known, func(k *known) bool { return slices.Equal(x, k.x) }); i >= 0 {
		t.p.Set(&t.known[i].p)
		shrink(t.x, t.shrink, 2, &t.p)
		t.bend = t.evalQuantity(t.x, 2, &t.q)
		return
	}
	t.eval()
}

func (t *tied) eval() {

	t.objective().Eval(t.x, 2, &t.p)
	t.bend = t.evalQuantity(t.x, 2, &t.q)
}

// evalQuantity sets q to the quantity on its scale; its second derivatives are
// q.H + bend·ggᵀ, g being q.G.
func (t *tied) evalQuantity(x []float64, order int, q *likelihood.Point) (bend float64) {
	t.quantity.Eval(t.design, x, order, q)
	if t.over != nil {
		t.takeOver(x, order, q)
		return 0
	}
	if t.linear {
		return 0
	}
	return t.onLogit(order, q)
}

func (t *tied) objective() likelihood.Objective {
	if t.shrink > 0 {
		return &shrunk{t.cjs, t.shrink}
	}
	return t.cjs
}

// onScale is a value of the quantity on its scale, that of 0 or 1 as far as can
// be told from them.
func (t *tied) onScale(v float64) float64 {
	if t.linear {
		return v
	}
	return max(-openEnd, min(openEnd, likelihood.LogitOf(v)))
}

// value turns a value on the scale into one of the quantity.
func (t *tied) value(v float64) float64 {
	if t.linear {
		return v
	}
	p, _ := likelihood.Expit(v)
	return p
}

// holds tells whether the interval of a ratio to s, on its side, has value in it. From
// a start on another hill than the maximum's, one that does not is found. That of a
// share may fail so too where fish are separated, once in some fifty; the studies
// count it as an interval.
func (t *tied) holds(s solution, value, side float64) bool {
	return t.over == nil || s.open || (t.value(s.t)-value)*side > -limitGap*(1+math.Abs(value))
}

func (t *tied) copyX() []float64 { return append([]float64(nil), t.x...) }

// tiedStep is what Newton's method on the Lagrangian says at a point: the step
// to the constrained maximum with the quantity as it is, and how it goes on from
// there as the quantity changes.
type tiedStep struct {
	still, along []float64
	// gain is twice the rise by the still step; slope and curve are the
	// derivative of the constrained maximum by the quantity and minus the
	// second.
	gain, slope, curve float64
	raised             bool // the matrix had to be made positive definite
}

// part is what a block of columns says of the step: the solutions for both
// gradients, and what the quantity's makes of them.
type part struct {
	u, w, g []float64
	gu, gw  float64
	// stiff: so much curvature along the quantity's gradient was added. It
	// changes nothing but the multiplier, and makes the matrix positive definite
	// where it is so along the constraint.
	stiff    float64
	definite bool
}

// solve solves a block, made stiff or as it is; ok is false where it cannot.
func (t *tied) solve(index []int, stiff bool) (b part, ok bool) {
	n, m := t.n, len(index)
	of := func() []float64 { return make([]float64, m) }
	b = part{u: of(), w: of(), g: of()}
	f := of()
	var size, steep float64
	for x, i := range index {
		f[x], b.g[x] = t.p.G[i], t.q.G[i]
		size += math.Abs(-t.p.H[i*n+i] + t.multiplier*t.q.H[i*n+i])
		steep += b.g[x] * b.g[x]
	}
	if math.IsInf(steep, 0) || math.IsNaN(size+steep) || stiff && steep == 0 {
		return b, false
	}
	if stiff {
		b.stiff = size / steep
	}
	var used float64
	var definite bool
	if arrow := t.cjs.Arrow(); arrow != nil && m == n && (!stiff || arrow.Within(b.g)) {
		used, definite = arrow.SolveRidge2(t.curvature(arrow, &b), f, b.g, t.ridge, b.u, b.w)
	} else {
		used, definite = linear.SolveRidge2(t.curvatureOf(index, &b), f, b.g, m, t.ridge, b.u, b.w)
	}
	b.definite = definite && used <= 1e-6
	b.gu, b.gw = maximum.Dot(b.g, b.u), maximum.Dot(b.g, b.w)
	return b, !math.IsInf(used, 0) && !math.IsNaN(b.gu+b.gw)
}

// curvatureOf is the matrix of a block, made as stiff as b.
func (t *tied) curvatureOf(index []int, b *part) []float64 {
	n, m := t.n, len(index)
	a := make([]float64, m*m)
	for x, i := range index {
		for y, j := range index {
			a[x*m+y] = -t.p.H[i*n+j] + t.multiplier*t.q.H[i*n+j] + b.stiff*b.g[x]*b.g[y]
		}
		a[x*m+x] += t.floor
	}
	return a
}

// curvature is the whole matrix, made as stiff as b, where arrow has it.
func (t *tied) curvature(arrow *linear.Arrow, b *part) []float64 {
	if t.matrix == nil {
		t.matrix = make([]float64, t.n*t.n)
	}
	for _, r := range arrow.Runs {
		i := r[0] / t.n
		for k := r[0]; k < r[1]; k++ {
			t.matrix[k] = -t.p.H[k] + t.multiplier*t.q.H[k] + b.stiff*b.g[i]*b.g[k-i*t.n]
		}
		t.matrix[i*t.n+i] += t.floor
	}
	return t.matrix
}

const (
	// farOut: a probability with such a logit differs from 0 or 1 by no more than
	// rounding leaves of its curvature.
	farOut = 20
	// noise is curvature so little that it may be rounding alone, as a share of the
	// largest.
	noise = 1e-12
)

// leastCurvature is what is added to the curvature where coefficients are far out:
// along them it is what rounding left, of either sign, and the step would be as long as
// chance has it, or the maximum seem a saddle.
func (t *tied) leastCurvature() float64 {
	if likelihood.Farthest(t.x) < farOut {
		return 0
	}
	most := 0.0
	for i := range t.x {
		most = max(most, math.Abs(t.p.H[i*t.n+i]))
	}
	return noise * most
}

// step works the step out; ok is false where there is none. Of the blocks one may
// curve up along the quantity's gradient, if all together do not along the
// constraint: that one is made stiff.
func (t *tied) step() (s tiedStep, ok bool) {
	t.floor = t.leastCurvature()
	parts := make([]part, len(t.blocks))
	var gu, gw float64 // of the blocks that were left as they are
	var stiff part
	for k, index := range t.blocks {
		b, ok := t.solve(index, !t.byComponents)
		if t.byComponents && !(ok && b.definite) && stiff.stiff == 0 {
			if other, fine := t.solve(index, true); fine {
				b, ok = other, true
			}
		}
		if !ok {
			return s, false
		}
		s.raised = s.raised || !b.definite
		if parts[k] = b; b.stiff > 0 {
			stiff = b
			continue
		}
		gu, gw = gu+b.gu, gw+b.gw
	}
	// With m the multiplier and r the change of the quantity, a block moves by
	// u − m w, the stiff one, of which v is the share in r, by u + (stiff v − m)
	// w, and all shares come to r.
	less := 1 - stiff.stiff*stiff.gw
	all := gw*less + stiff.gw
	if !(all > 0) {
		s.raised, stiff.stiff, less = true, 0, 1
		all = gw + stiff.gw
	}
	if !(all > 0) || math.IsInf(all, 0) {
		return s, false
	}
	s.slope, s.curve = (stiff.gu+gu*less)/all, less/all
	own, ahead := stiff.stiff*(s.slope*gw-gu)-s.slope, stiff.stiff*(1-s.curve*gw)+s.curve
	s.still, s.along = make([]float64, t.n), make([]float64, t.n)
	for k, index := range t.blocks {
		m, along := -s.slope, s.curve
		if parts[k].stiff > 0 {
			m, along = own, ahead
		}
		for x, i := range index {
			s.still[i], s.along[i] = parts[k].u[x]+m*parts[k].w[x], along*parts[k].w[x]
		}
	}
	s.gain = maximum.Dot(t.p.G, s.still)
	s.curve += t.multiplier * t.bend
	return s, true
}

// longest is how far a coefficient may go in one step: farther where some are
// far out already, as the slopes are of numbers that part the fish.
func (t *tied) longest() float64 {
	return max(3, likelihood.Farthest(t.x))
}

// mostFall: a step after which the log-likelihood is lower by more than this went
// too far.
const mostFall = 20

// move takes the step with the quantity changed by d, or less of it where that
// goes too far.
func (t *tied) move(s tiedStep, d float64) {
	from := t.copyX()
	longest := 0.0
	for i := range t.x {
		longest = max(longest, math.Abs(s.still[i]+d*s.along[i]))
	}
	share := 1.0
	if most := t.longest(); longest > most {
		share = most / longest
	}
	least := t.p.F - mostFall
	for range 4 {
		for i := range t.x {
			t.x[i] = from[i] + share*(s.still[i]+d*s.along[i])
		}
		if t.eval(); t.p.F >= least {
			break
		}
		share /= 2
	}
	t.multiplier = s.slope - share*d*s.curve
}

const (
	// mostSteps bounds the steps to one constrained maximum.
	mostSteps = 80
	// softWeight is the weight of the square of the coefficients where the way
	// to a constrained maximum goes by a shrunk one.
	softWeight = 0.03
	// tiedGap: the quantity is this near to its target, on its scale.
	tiedGap = 1e-8
)

// maximum is the constrained maximum with the quantity at target, sought from
// another; ok tells whether it is one: the quantity is there, nothing is to be
// gained along the constraint, and it curves down everywhere. Where Newton's
// method is led astray, as it is where coefficients go to infinity, the way goes
// by the maximum of the log-likelihood less a small square of them.
func (t *tied) maximum(ctx context.Context, from solution, target float64) (out solution, ok bool, err error) {
	if from.soft == nil {
		if out, ok, err = t.newton(ctx, from.x, target); ok || err != nil {
			return out, ok, err
		}
		from.soft = from.x
	}
	t.shrink = softWeight
	soft, ok, err := t.newton(ctx, from.soft, target)
	if err == nil && !ok && t.pressings < mostPressed {
		t.pressings++
		soft, ok, err = t.pressed(ctx, from.soft, target)
	}
	t.shrink = 0
	if err != nil || !ok {
		return out, false, err
	}
	if w := t.again(soft.x, target); w != nil {
		return w.out, w.ok, nil
	}
	out, ok, err = t.newton(ctx, soft.x, target)
	if err == nil && !ok && t.pressings < mostPressed {
		t.pressings++
		out, ok, err = t.pressed(ctx, soft.x, target)
	}
	out.soft = soft.x
	if len(t.softened) == mostSoftened {
		t.softened = slices.Delete(t.softened, 0, 1)
	}
	t.softened = append(t.softened, softened{target, soft.x, out, ok})
	return out, ok, err
}

// softened is a constrained maximum of the shrunk log-likelihood, at x, and the
// maximum found from there.
type softened struct {
	target float64
	x      []float64
	out    solution
	ok     bool
}

// mostSoftened bounds how many are kept; those nearer than softGap are the same.
const mostSoftened, softGap = 4, 1e-3

// again is what a shrunk maximum at x has led to before; nil where it was not met.
// Shrunk, most hills are one: many searches go by the same.
func (t *tied) again(x []float64, target float64) *softened {
	for i := range t.softened {
		if w := &t.softened[i]; w.target == target && floats.Distance(w.x, x, math.Inf(1)) < softGap {
			return w
		}
	}
	return nil
}

// newton seeks the constrained maximum by Newton's method on the Lagrangian.
func (t *tied) newton(ctx context.Context, x []float64, target float64) (out solution, ok bool, err error) {

	t.at(x)
	for range mostSteps {
		if err := ctx.Err(); err != nil {
			return out, false, err
		}
		s, fine := t.step()
		if !fine {
			return out, false, nil
		}
		miss := target - t.q.F
		if math.Abs(miss) < tiedGap && s.gain < restGain*restGain && s.raised {
			return out, false, nil // a saddle
		}
		if math.Abs(miss) < tiedGap && s.gain < restGain && !s.raised {
			return solution{x: t.copyX(), t: t.q.F, f: t.p.F, slope: s.slope}, true, nil
		}
		if t.home != nil && t.shrink == 0 && t.atHome(&s, miss) {
			return *t.home, true, nil
		}
		if s.gain < restGain && !s.raised {
			// Where the maximum is level, as of what these data do not tell apart, a
			// step goes far for nothing, and off the target each time.
			clear(s.still)
		}
		if !t.search(s, miss) {
			return out, false, nil
		}
	}
	return out, false, nil
}

// search takes as much of a step as raises the log-likelihood plus the
// multiplier's share of the miss less a square of it (an augmented Lagrangian,
// which, unlike a penalty on the miss itself, does not cut good steps short).
func (t *tied) search(s tiedStep, miss float64) bool {
	from, at := t.copyX(), t.p.F
	target := t.q.F + miss
	weight := 2 * max(1, math.Abs(s.slope), math.Abs(s.curve))
	merit := func() float64 {
		off := t.q.F - target
		return t.p.F - s.slope*off - weight/2*off*off
	}
	begin := merit()
	longest := 0.0
	for i := range from {
		longest = max(longest, math.Abs(s.still[i]+miss*s.along[i]))
	}
	share := 1.0
	if most := t.longest(); longest > most {
		share = most / longest
	}
	for range 30 {
		for i := range from {
			t.x[i] = from[i] + share*(s.still[i]+miss*s.along[i])
		}
		t.eval()
		if merit() >= begin-1e-11*math.Abs(at) {
			t.multiplier = s.slope - miss*s.curve
			if share < 0.1 {
				t.ridge = min(1, max(100*t.ridge, 1e-6))
			} else {
				t.ridge = max(likelihood.StepRidge, t.ridge/100)
			}
			return true
		}
		share /= 2
	}
	copy(t.x, from)
	t.eval()
	return false
}

// pressed seeks the constrained maximum by pressing the quantity towards its
// target ever harder (the method of multipliers: Hestenes 1969, Powell 1969):
// slower than Newton's method on the Lagrangian, and not so easily led astray.
func (t *tied) pressed(ctx context.Context, x []float64, target float64) (out solution, ok bool, err error) {

	o := &pressedObjective{tied: t, target: target, weight: 10}
	at := x
	for range 8 {
		c := likelihood.Maximise(ctx, o, at, func(c *likelihood.Climb) bool { return c.Distance < 1e-5 || c.Iterations > mostSteps })
		if c.Err != nil {
			return out, false, c.Err
		}
		at = c.X
		t.at(at)
		miss := t.q.F - target
		o.multiplier -= o.weight * miss
		if math.Abs(miss) < tiedGap {
			break
		}
		o.weight = min(1e6, 5*o.weight)
	}
	t.multiplier = -o.multiplier
	s, fine := t.step()
	if !fine || !(math.Abs(target-t.q.F) < 10*tiedGap) || !(s.gain < 100*restGain) || s.raised {
		return out, false, nil
	}
	return solution{x: t.copyX(), t: t.q.F, f: t.p.F, slope: s.slope}, true, nil
}

// pressedObjective is the log-likelihood plus multiplier·(q − target) less
// weight/2·(q − target)².
type pressedObjective struct {
	tied               *tied
	target             float64
	multiplier, weight float64
	q                  likelihood.Point
}

func (o *pressedObjective) Columns() int { return o.tied.n }

func (o *pressedObjective) Eval(x []float64, order int, p *likelihood.Point) {
	t, n := o.tied, o.tied.n
	t.objective().Eval(x, order, p)
	bend := t.evalQuantity(x, order, &o.q)
	miss := o.q.F - o.target
	p.F += o.multiplier*miss - o.weight/2*miss*miss
	if order < 2 {
		return
	}
	pull := o.multiplier - o.weight*miss
	for i, gi := range o.q.G {
		p.G[i] += pull * gi
		for j, gj := range o.q.G {
			p.H[i*n+j] += pull*o.q.H[i*n+j] + (pull*bend-o.weight)*gi*gj
		}
	}
}

// onLogit turns a probability with its derivatives into its logit. Where steps
// are solved component by component the part of its second derivatives that ties
// all together is left out: see evalQuantity.
func (t *tied) onLogit(order int, q *likelihood.Point) (bend float64) {
	v := q.F
	q.F = likelihood.LogitOf(v)
	d := 1 / (v * (1 - v))
	dd := (2*v - 1) * d * d
	if t.byComponents {
		bend, dd = 2*v-1, 0
	}
	switch arrow := t.cjs.Arrow(); {
	case order < 2:
	case t.byComponents && arrow != nil:
		for _, r := range arrow.Runs {
			for k := r[0]; k < r[1]; k++ {
				q.H[k] *= d
			}
		}
	default:
		t.bendAll(q, d, dd)
	}
	for i := range q.G {
		q.G[i] *= d
	}
	return bend
}

// bendAll turns the second derivatives of a probability, of which q has the first
// too, into d times them plus dd times the square of the first.
func (t *tied) bendAll(q *likelihood.Point, d, dd float64) {
	for _, index := range t.blocks {
		for _, i := range index {
			row, pull := q.H[i*t.n:(i+1)*t.n], dd*q.G[i]
			for _, j := range index {
				row[j] = d*row[j] + pull*q.G[j]
			}
		}
	}
}

// takeOver turns q, the quantity at x, into the logarithm of its ratio to the other.
func (t *tied) takeOver(x []float64, order int, q *likelihood.Point) {
	b := &t.overAt
	t.over.Eval(t.design, x, order, b)
	t.toLog(order, q)
	t.toLog(order, b)
	q.F -= b.F
	if order < 1 {
		return
	}
	for _, i := range t.overOf {
		q.G[i] -= b.G[i]
		for _, j := range t.overOf {
			if order > 1 {
				q.H[i*t.n+j] -= b.H[i*t.n+j]
			}
		}
	}
}

// toLog turns a value and its derivatives into those of its logarithm.
func (t *tied) toLog(order int, q *likelihood.Point) {
	v := q.F
	if q.F = math.Log(v); order < 1 {
		return
	}
	for _, i := range t.overOf {
		q.G[i] /= v
	}
	for _, i := range t.overOf {
		for _, j := range t.overOf {
			if order > 1 {
				q.H[i*t.n+j] = q.H[i*t.n+j]/v - q.G[i]*q.G[j]
			}
		}
	}
}

// shrunk is an objective less weight/2 · Σx².
type shrunk struct {
	likelihood.Objective
	weight float64
}

func (s *shrunk) Eval(x []float64, order int, p *likelihood.Point) {
	s.Objective.Eval(x, order, p)
	shrink(x, s.weight, order, p)
}

// shrink takes weight/2 · Σx² from p, at x.
func shrink(x []float64, weight float64, order int, p *likelihood.Point) {
	n := len(x)
	for i, v := range x {
		p.F -= weight / 2 * v * v
		if order >= 1 {
			p.G[i] -= weight * v
		}
		if order >= 2 {
			p.H[i*n+i] -= weight
		}
	}
}

const (
	// homeGap: a search is near a constrained maximum where no probability is
	// farther from what it is there, and no drift or spread by a larger share.
	// Two maxima so near would differ by less than the standard error of any
	// fish that few enough to have rivals can tell.
	homeGap = 0.01
	// homeGain: and where twice the rise still to be had is below this.
	homeGain = 0.05
)

// atHome tells whether the point, of which s is the step and miss what the quantity
// has to go, is near home, and the step leads to no other place.
func (t *tied) atHome(s *tiedStep, miss float64) bool {
	if s.raised || !(s.gain < homeGain) || !(math.Abs(miss) < homeGap) {
		return false
	}
	d, z := t.design, maximum.Constant(t.design.Numbers)
	for g := range d.Slots {
		for a, link := range d.Links[g] {
			v, w := d.Prob(t.x, g, a, z).P, d.Prob(t.home.x, g, a, z).P
			off := math.Abs(v - w)
			if link.Kind == likelihood.Log {
				off /= w
			}
			if !(off < homeGap) {
				return false
			}
		}
	}
	return true
}
