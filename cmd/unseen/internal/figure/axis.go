package figure

import (
	"math"
	"strconv"
	"time"

	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/view"
)

// axis is a scale: values from low to high, and where it is labelled.
type axis struct {
	title     string // with the unit
	low, high float64
	ticks     []tick
}

type tick struct {
	at    float64
	label string
}

// of gives where a value lies between 0 (low) and 1 (high).
func (a *axis) of(x float64) float64 {
	if a.high == a.low {
		return 0.5
	}
	return (x - a.low) / (a.high - a.low)
}

// percentAxis is an axis of 0 to 100.
func percentAxis(title string) axis {
	a := axis{title: title, high: 100}
	for i := range 6 {
		a.ticks = append(a.ticks, tick{float64(20 * i), strconv.Itoa(20 * i)})
	}
	return a
}

// shareAxis is an axis of 0 to 1, or to the highest value where that is more.
func shareAxis(title string, highest float64) axis {
	a := numberAxis(title, 0, max(1, highest), 5)
	a.low = 0
	return a
}

// numberAxis covers low to high, its ends at ticks of 1, 2 or 5 times a power
// of ten, about n of them.
func numberAxis(title string, low, high float64, n int) axis {
	if !(high > low) {
		pad := max(math.Abs(low)*0.1, 0.5)
		low, high = low-pad, high+pad
	}
	raw := (high - low) / float64(n)
	unit := math.Pow(10, math.Floor(math.Log10(raw)))
	by := 10 * unit
	for _, m := range []float64{1, 2, 5} {
		if m*unit >= raw*(1-1e-9) {
			by = m * unit
			break
		}
	}
	digits := max(0, -int(math.Floor(math.Log10(by)+1e-9)))
	first, last := math.Floor(low/by+1e-9), math.Ceil(high/by-1e-9)
	a := axis{title: title, low: first * by, high: last * by}
	for i := first; i <= last; i++ {
		a.ticks = append(a.ticks, tick{i * by, view.Digits(i*by, digits)})
	}
	return a
}

// countAxis is a numberAxis of whole numbers from 0.
func countAxis(title string, high float64, n int) axis {
	a := numberAxis(title, 0, max(1, high), n)
	whole := a.ticks[:0]
	for _, t := range a.ticks {
		if t.at == math.Trunc(t.at) {
			t.label = view.Digits(t.at, 0)
			whole = append(whole, t)
		}
	}
	a.ticks = whole
	return a
}

// dateAxis covers bars of so many days each, labelled at the middle of about n
// of them with the day they begin. Days are counted as [dayOf] does.
func dateAxis(low, by float64, bars, n int) axis {
	a := axis{low: low, high: low + by*float64(bars)}
	every := max(1, int(math.Ceil(float64(bars)/float64(n))))
	if by == 1 && every > 3 {
		every = (every + 6) / 7 * 7 // whole weeks
	}
	for b := 0; b < bars; b += every {
		day := low + by*float64(b)
		a.ticks = append(a.ticks, tick{day + by/2, time.Unix(int64(day)*86400, 0).UTC().Format("2 Jan")})
	}
	return a
}

// timeAxis covers moments, in days since 1970, labelled at about n midnights.
func timeAxis(low, high float64, n int) axis {
	a := axis{low: math.Floor(low), high: max(math.Ceil(high), math.Floor(low)+1)}
	by := math.Ceil((a.high - a.low) / float64(n))
	if by > 3 {
		by = math.Ceil(by/7) * 7
	}
	for v := a.low; v <= a.high; v += by {
		a.ticks = append(a.ticks, tick{v, time.Unix(int64(v)*86400, 0).UTC().Format("2 Jan")})
	}
	return a
}

// dayOf is the number of the local day a moment lies in, from 1 January 1970.
func dayOf(ms int64, zone *time.Location) float64 {
	y, m, d := time.UnixMilli(ms).In(zone).Date()
	return float64(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// thin leaves out tick labels that would touch, given the length of the axis.
func (a *axis) thin(length float64) []tick {
	if len(a.ticks) < 2 {
		return a.ticks
	}
	widest := 0.0
	for _, t := range a.ticks {
		widest = max(widest, canvas.TextWidth(t.label, canvas.SmallSize, false))
	}
	room := math.Abs(a.of(a.ticks[1].at)-a.of(a.ticks[0].at)) * length
	every := max(1, int(math.Ceil((widest+10)/room)))
	var out []tick
	for i := 0; i < len(a.ticks); i += every {
		out = append(out, a.ticks[i])
	}
	return out
}

// rule is a vertical line with its label at the top.
type rule struct {
	x     float64
	label string
	dash  []float64
}

func date(day float64) string { return time.Unix(int64(day)*86400, 0).UTC().Format("2 Jan 2006") }
