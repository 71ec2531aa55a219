package likelihood

import (
	"errors"
	"math"
	"slices"

	"example.org/unseen/likelihood/linear"
)

// Point is the log-likelihood at one x with its derivatives.
type Point struct {
	F float64   // log-likelihood
	G []float64 // ∂F/∂x
	H []float64 // ∂²F/∂x∂xᵀ, Columns × Columns

	// arrow, where not nil, has the places of H that are not zero at every x;
	// only they are written.
	arrow *linear.Arrow
}

// Objective is a log-likelihood as a function of coefficients.
type Objective interface {
	// Columns is the number of coefficients.
	Columns() int
	// Eval sets p.F, from order 1 on p.G, from order 2 on p.H at x. p's
	// slices are used where long enough. Where the likelihood is zero or x
	// makes no probability, F is −Inf or NaN.
	Eval(x []float64, order int, p *Point)
}

// maxBlocks is the number of parts the data are cut into, whatever the number
// of cores; their sums are added in order, so that the result has the same
// bits at any GOMAXPROCS.
const maxBlocks = 64

// CJS is the log-likelihood of data under a design. It is safe for one
// goroutine at a time.
type CJS struct {
	Design *Design // how coefficients make predictors
	Data   *Data   // counts of identical fish

	blocks      [][]piece
	travelTimes []travelTimeSum
	alone       []TravelTime // travel times that cannot be added up
	within      []TravelTime // travel times that count as ended within their days
	waits       []Wait
	first, last float64 // days of the first start of a time or wait and of the last
	arrow       *linear.Arrow
	sums        []Point
	free        []*worker
	made        bool  // by NewCJS, with
	err         error // where that could not be
}

// Err says why the log-likelihood cannot be had; nil where it can.
func (o *CJS) Err() error {
	if o == nil || !o.made && o.err == nil {
		return errors.New("there is no log-likelihood; make one with NewCJS")
	}
	return o.err
}

// piece is a part of a block: units, travel times or waits from..to, or fish from..to
// of a history group.
type piece struct {
	what     int // a history group, or one of these
	from, to int
}

const (
	unitPiece = -1 - iota
	travelTimePiece
	alonePiece
	withinPiece
	waitPiece
)

// NewCJS is the log-likelihood of data under design. Where the two do not fit each
// other it is NaN, and [CJS.Err] says why; what the counts and numbers may be
// [Design.Check] and [Data.Check] tell.
func NewCJS(design *Design, data *Data) *CJS {
	err := design.shaped()
	if err == nil {
		err = data.fits(design)
	}
	if err != nil {
		return &CJS{Design: design, Data: data, err: err}
	}
	o := &CJS{Design: design, Data: data, waits: data.Waits, made: true}
	o.travelTimes, o.alone = sumTravelTimes(design, data.TravelTimes)
	for _, t := range data.TravelTimes {
		if t.Within > 0 {
			o.within = append(o.within, t)
		}
	}
	switch {
	case design.Layout.Windowed():
		o.first, o.last = starts(data)
		// Fish alike one after another.
		o.alone, o.waits = slices.Clone(o.alone), slices.Clone(o.waits)
		slices.SortStableFunc(o.alone, func(a, b TravelTime) int { return a.Class - b.Class })
		slices.SortStableFunc(o.waits, func(a, b Wait) int { return a.Class - b.Class })
	case design.Layout.LawCount() > 1:
		o.alone, o.waits = fewTravelTimes(design, o.alone, (*TravelTime).days), fewWaits(design, data.Waits)
		fallthrough
	default:
		o.within = fewTravelTimes(design, o.within, (*TravelTime).within)
	}
	o.cut()
	o.arrow = design.arrow()
	o.sums = make([]Point, len(o.blocks))
	for i := range o.sums {
		o.sums[i] = o.NewPoint()
	}
	return o
}

// NewPoint is a point for Eval of o, and of quantities of its design, that saves
// the work on second derivatives that are zero at any x; H is for reading alone.
func (o *CJS) NewPoint() Point { return Point{arrow: o.arrow} }

// Arrow is where the second derivatives may differ from zero; nil where they may
// as good as anywhere.
func (o *CJS) Arrow() *linear.Arrow { return o.arrow }

// fewColumns: with no more the whole of the second derivatives is as fast.
const fewColumns = 64

// arrow is where second derivatives may differ from zero: between columns that a
// class has a part in.
func (d *Design) arrow() *linear.Arrow {
	if d.Columns <= fewColumns {
		return nil
	}
	sets := make([][]int, len(d.Slots))
	for g, slots := range d.Slots {
		for _, es := range slots {
			for _, e := range es {
				sets[g] = append(sets[g], e.Column)
			}
		}
		slices.Sort(sets[g])
		sets[g] = slices.Compact(sets[g])
	}
	return linear.NewArrow(sets, d.Columns)
}

// starts are the days of the first and the last start of a trip or wait.
func starts(data *Data) (first, last float64) {
	first, last = math.Inf(1), math.Inf(-1)
	for i := range data.TravelTimes {
		first, last = min(first, data.TravelTimes[i].At), max(last, data.TravelTimes[i].At)
	}
	for i := range data.Waits {
		first, last = min(first, data.Waits[i].At), max(last, data.Waits[i].At)
	}
	return first, last
}

// Columns is the number of coefficients.
func (o *CJS) Columns() int {
	if o.Design == nil {
		return 0
	}
	return o.Design.Columns
}

// cut lays the blocks: sizes depend on data and design only.
func (o *CJS) cut() {
	// One Hessian a block: keep them below 32 MB in all.
	most := max(1, min(maxBlocks, 32<<20/(8*max(1, o.Design.Columns*o.Design.Columns))))
	const unitCost, waitCost, small = 16, 16, 4096
	total := unitCost*len(o.Data.Units) + len(o.travelTimes) + waitCost*(len(o.alone)+len(o.within)+len(o.waits))
	for i := range o.Data.HistoryGroups {
		total += o.Data.HistoryGroups[i].N
	}
	n := min(most, (total+small-1)/small)
	if n < 1 {
		n = 1
	}
	size := (total + n - 1) / n
	var block []piece
	room := size
	add := func(what, count, cost int) {
		for at := 0; at < count; {
			if room < cost && len(block) > 0 {
				o.blocks = append(o.blocks, block)
				block, room = nil, size
			}
			take := min(count-at, max(1, room/cost))
			block = append(block, piece{what, at, at + take})
			at += take
			room -= take * cost
		}
	}
	add(unitPiece, len(o.Data.Units), unitCost)
	add(travelTimePiece, len(o.travelTimes), 1)
	add(alonePiece, len(o.alone), waitCost)
	add(withinPiece, len(o.within), waitCost)
	add(waitPiece, len(o.waits), waitCost)
	for i := range o.Data.HistoryGroups {
		add(i, o.Data.HistoryGroups[i].N, 1)
	}
	if len(block) > 0 {
		o.blocks = append(o.blocks, block)
	}
}

// reset makes p zero with room for n columns.
func (p *Point) reset(n, order int) {
	p.F = 0
	if order >= 1 {
		p.G = zeroed(p.G, n)
	}
	if order >= 2 {
		if p.arrow == nil || len(p.H) != n*n {
			p.H = zeroed(p.H, n*n)
			return
		}
		for _, r := range p.arrow.Runs {
			clear(p.H[r[0]:r[1]])
		}
	}
}

// Set sets p to a point of the same log-likelihood, with second derivatives.
func (p *Point) Set(from *Point) {
	if from == nil {
		return
	}
	p.F, p.G = from.F, append(p.G[:0], from.G...)
	if p.arrow == nil || len(p.H) != len(from.H) {
		p.H = append(p.H[:0], from.H...)
		return
	}
	for _, r := range p.arrow.Runs {
		copy(p.H[r[0]:r[1]], from.H[r[0]:r[1]])
	}
}

// addH adds the second derivatives of s, at no more places than those of p.
func (p *Point) addH(s *Point) {
	if s.arrow == nil {
		for k, v := range s.H {
			p.H[k] += v
		}
		return
	}
	for _, r := range s.arrow.Runs {
		to := p.H[r[0]:r[1]]
		for k, v := range s.H[r[0]:r[1]] {
			to[k] += v
		}
	}
}

// probs are a Prob for each fish of a chunk.
type probs struct{ p, q, u, w, v []float64 }

// worker evaluates blocks, one at a time.
type worker struct {
	moments *moments
	chain   *chain
	waiting *waiting
	sweep   *sweep      // where rows do not work all the time
	alike   bool        // the fish of the chain's class have the same probabilities
	eta     []float64   // [slot][number]: predictor coefficients of the class
	numbers [][]int     // slot → numbers it varies with, the constant included
	p       []probs     // slot → probabilities of the chunk
	again   [][]float64 // site
	miss    [][]float64 // site
	chi     [][]float64 // site
	h, ua   [][]float64 // slot
	wz      [][]float64 // number → weight · z
	wzz     [][]float64 // pair → weight · z · z
	hz      [][]float64 // pair → h · weight · z · z
	like    []float64   // likelihood of each fish
	tmp     []float64   // scratch
	z       []float64   // one fish
}
