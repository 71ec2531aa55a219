package cjs

import (
	"math"
	"slices"
	"strings"
)

// WarnOneLaw: fish differ in how they migrate where the model has one law of travel,
// and that law tells what passed while a row stood still.
const WarnOneLaw = "travel-law-doubtful"

// oneLawP is the probability, with Bonferroni over two tests, below which fish are
// taken to differ.
const oneLawP = 0.01

// warnOneLaw tells where working windows lean on a law of travel that does not hold
// for each fish.
func (f *Fit) warnOneLaw() {
	speeds, rests := f.Problem.OneLaw()
	p := 2 * min(speeds, rests)
	if math.IsNaN(rests) {
		p = speeds
	}
	if !(p < oneLawP) {
		return
	}
	var sites []string
	for _, w := range f.Working {
		if name := f.Problem.Histories.River.Sites[w.Site].Name; !slices.Contains(sites, name) {
			sites = append(sites, name)
		}
	}
	seen, try := "Some fish migrate faster than others", "drift by cohort, release_day or a number of the fish, such as length (--drift cohort)"
	if rests < speeds {
		seen, try = "Some fish seem to rest after release", "a rest for some of them (--rest same)"
	}
	f.warning(WarnOneLaw, "travel", "%s (score test, p %s), but the model has one law of travel for all fish alike. How many passed %s while a row there did not work comes from that law: what passed there may come out too high, or too low, and its interval may be too short. Try %s; if the warning stays, report what passed there with this reservation.",
		seen, equalsP(p), strings.Join(sites, " and "), try)
}
