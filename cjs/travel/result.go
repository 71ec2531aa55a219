package travel

import (
	"errors"
	"fmt"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/internal/plain"
	"example.org/unseen/history"
	"example.org/unseen/likelihood/passtime"
)

// Options of the travel times. The zero value is the documented default.
type Options struct {
	// Shares are the quantiles given; nil means 0.10, 0.25, 0.50, 0.75, 0.90.
	Shares []float64
	// FromLast measures from the last sighting above, not the first.
	FromLast bool
	// AsOf is the moment up to which data count, in Unix milliseconds: fish
	// still on their way then have no travel time yet. 0 means the season is
	// over.
	AsOf int64
	// Level of the intervals; 0 means 0.95.
	Level float64
	// Seen is the probability that the fish of record i was seen at a site
	// below its entry when it passed at a moment ([history.NoTime]: while all
	// rows work), as of [cjs.Fit.SeenAt]; nil: arrival dates are not corrected.
	Seen func(i, site int, ms int64) float64
	// SeenKnown tells whether that probability is determined at a site, as
	// [cjs.Fit.SeenKnown]; nil: at every site.
	SeenKnown func(site int) bool
	// Unwatched is what of a cohort passed a site below the first while no row
	// of it was at work, as [cjs.Fit.Unwatched]; nil: nothing did.
	Unwatched func(site, cohort int) cjs.Unwatched
	// Working are the rows that did not work all the time, as [cjs.Fit.Working];
	// they need Seen.
	Working []cjs.Working
}

// check refuses options out of their range.
func (o Options) check(sites int) error {
	if len(o.Working) > 0 && o.Seen == nil {
		return errors.New("rows that did not work all the time, and no fit that says how well they detect")
	}
	for _, w := range o.Working {
		if w.Site < 0 || w.Site >= sites {
			return fmt.Errorf("site %d did not work all the time; there are 0 to %d", w.Site, sites-1)
		}
	}
	for _, p := range o.Shares {
		if !(p >= 0 && p <= 1) {
			return fmt.Errorf("the share %v of the fish; a share lies between 0 and 1", p)
		}
	}
	return cjs.CheckLevel(o.Level)
}

func (o Options) filled() Options {
	if o.Shares == nil {
		o.Shares = []float64{0.10, 0.25, 0.50, 0.75, 0.90}
	}
	if o.Level == 0 {
		o.Level = 0.95
	}
	return o
}

// Result is the travel times of a study.
type Result struct {
	Options Options // with defaults filled in
	// Stretches are the reaches in downstream order, then, with more than one,
	// the whole path; for each all fish, then each cohort where there are
	// several.
	Stretches []Stretch
	// Stays are the times at each site where fish were detected.
	Stays []Stay
	// Arrivals are the dates, the releases at the first site among them.
	Arrivals []Arrival
	Warnings []cjs.Warning
}

// All stands for the fish of all cohorts.
const All = -1

// Stretch is the water from one site to another farther down.
type Stretch struct {
	From, To int // indices of the sites at its ends
	// Cohort is the index of the cohort, or All.
	Cohort int
	// Km is the distance; NaN when the study gives no km.
	Km float64
	// Days from release or first sighting at From to first sighting at To,
	// of fish seen at both; KmPerDay is Km over each fish's days.
	Days, KmPerDay history.Summary
	// NotTimed are fish seen at both without a time between: the release time
	// is not known, or the sighting below is not later than the one above.
	NotTimed int
	// Law is the first-passage law fitted to the days; nil with WhyNoLaw.
	Law      *Law
	WhyNoLaw string
}

// Stay is the time at a site: last sighting less first, in days, of all fish
// seen there. A fish read once stayed 0.
type Stay struct {
	Site, Cohort int             // indices of the site and the cohort; [All] for all cohorts
	Days         history.Summary // between first and last detection there
	// Once is the number of fish whose first and last sighting are the same.
	Once int
}

// Arrival is when the fish of a cohort came to a site: its releases there and
// first sightings. Times are Unix milliseconds.
type Arrival struct {
	Site, Cohort int // indices of the site and the cohort; [All] for all cohorts
	// Fish is the number with a known time.
	Fish        int
	First, Last int64
	// Seen are the times by which a tenth, half and nine tenths of the fish
	// seen had come.
	Seen [3]int64
	// Corrected are the same of all that passed: every fish seen stands for
	// 1/(probability that it was seen), and while no row was at work the fish
	// come as the law of travel says. NoTime where that cannot be had, with
	// Why. First and last cannot be corrected: who came unseen before the
	// first is not known.
	Corrected [3]int64
	Why       string
}

// Law is the first-passage law fitted to the days over a stretch.
type Law struct {
	// Drift is v in km/day, Spread σ in km/√day, with intervals on the
	// logarithmic scale; that of the drift by profile likelihood where fish
	// are hidden by as_of and it is wide. Where its low end is then open (0), slow fish cannot
	// be told from missing ones: the drift has an interval but no value, and
	// the law no median.
	Drift, Spread cjs.Estimate
	// Correlation of log v and log σ; NaN without a drift.
	Correlation   float64
	LogLikelihood float64
	Verdict       cjs.Verdict
	// Truncated: fish that arrive after as_of, or while the rows at the end of
	// the stretch do not all work, are not among those seen, or less often, and
	// the fit takes account of it.
	Truncated bool
	// Hidden is the share of journeys, begun when those seen were, that the
	// law puts after as_of or into an outage; 0 where there is neither.
	Hidden float64 // NaN without a drift
	// Mean and Median are of the law, in days, whatever is hidden.
	Mean, Median cjs.Estimate
	// Check compares the law with the fish seen.
	Check Check
}

// Over is the law over km kilometres.
func (l *Law) Over(km float64) passtime.Law {
	return passtime.Law{Km: km, Drift: l.Drift.Value, Spread: l.Spread.Value}
}

// Check is the quantile check: the share of fish seen that came before the day
// by which, under the law and for the time each fish had to be seen, the share
// Expected of them should have come.
type Check struct {
	Expected, Seen []float64 // at the shares of the options
	// Days are the law's quantiles at the same shares.
	Days []float64
	// ChiSquare compares the fish in Classes equally probable classes. With
	// the two parameters taken from the same fish, its distribution lies
	// between the chi-square ones with Classes−3 and Classes−1 degrees of
	// freedom (Chernoff & Lehmann 1954, Annals of Mathematical Statistics
	// 25:579–586), so the probability of a larger value lies between PLow and
	// PHigh. NaN with fewer than 50 fish.
	ChiSquare   float64
	Classes     int
	PLow, PHigh float64
}

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value does not exist.

func (r Result) MarshalJSON() ([]byte, error)  { return plain.JSON(r) }
func (s Stretch) MarshalJSON() ([]byte, error) { return plain.JSON(s) }
func (s Stay) MarshalJSON() ([]byte, error)    { return plain.JSON(s) }
func (a Arrival) MarshalJSON() ([]byte, error) { return plain.JSON(a) }
func (l Law) MarshalJSON() ([]byte, error)     { return plain.JSON(l) }
func (c Check) MarshalJSON() ([]byte, error)   { return plain.JSON(c) }
