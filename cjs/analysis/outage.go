package analysis

import (
	"context"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// Simulated is a study whose samples are fitted.
type Simulated struct {
	Source
	Study *simulate.Study // what was simulated
	// Truth says where the truth is from.
	Truth string
	// File is the study or plan file.
	File *study.Study
	// Result of the replicates; nil where there were none.
	Result *simulate.Result
}

// Outage is a time in which rows do not work.
type Outage struct {
	Rows     []int     // as numbered in the river
	From, To time.Time // the end is not included
}

// outageWords take "Tidehead/upper 2025-04-22 to 2025-04-28" apart.
var outageWords = regexp.MustCompile(`^(.*\S)\s+(\d{4}-\d\d-\d\d\S*(?:\s\S+)?)\s+to\s+(\d{4}-.*)$`)

// outageOf reads an outage in words, such as "Tidehead 2025-04-22 to 2025-04-28" or
// "Tidehead/upper 2025-04-22T14:00 to 2025-04-23T09:30": of all rows of a site or of
// one. A date alone is the first moment of that day, as in the windows of a study
// file; zone is that of a site.
func outageOf(words string, river *history.River, zone func(site int) *time.Location) (o Outage, err error) {
	m := outageWords.FindStringSubmatch(strings.TrimSpace(words))
	if m == nil {
		return o, &Error{ID: Unclear, Cause: fmt.Errorf("%q is no outage; write SITE FROM to TO, such as \"Tidehead 2025-04-22 to 2025-04-28\", or SITE/ROW for one row; the end is not included", words)}
	}
	var known []string
	site := 0
	for b, k := range river.SiteOfRow() {
		label, name := river.RowLabel(b), river.Sites[k].Name
		if m[1] == label || m[1] == name {
			o.Rows, site = append(o.Rows, b), k
		}
		if river.Sites[k].Divided() && !slices.Contains(known, name) {
			known = append(known, name)
		}
		known = append(known, label)
	}
	if o.Rows == nil {
		return o, &Error{ID: Unclear, Cause: fmt.Errorf("there is no site or row %q below the first; there are: %s", m[1], strings.Join(known, ", "))}
	}
	for i, t := range []*time.Time{&o.From, &o.To} {
		if *t, err = moment(m[2+i], zone(site), 0, "the first moment of that day"); err != nil {
			return o, &Error{ID: Unclear, Cause: err}
		}
	}
	if !o.From.Before(o.To) {
		return o, &Error{ID: Unclear, Cause: fmt.Errorf("the outage %q ends before it starts; the end is not included", words)}
	}
	return o, nil
}

// stop has the rows of the outages stand still in what is simulated.
func (s *Simulated) stop(outages []string, zone func(site int) *time.Location) error {
	for _, words := range outages {
		o, err := outageOf(words, &s.Study.Truth.River, zone)
		if err != nil {
			return err
		}
		for _, b := range o.Rows {
			s.Study.Truth.Stop(b, o.From, o.To)
		}
	}
	return nil
}

// withTimes is the truth that [simulate.TruthOf] makes of the model spec, its fish
// let go when they were and under way as the law of travel of those seen says,
// though the season is over.
func (d *Data) withTimes(ctx context.Context, spec model.Spec, opt Options) (*simulate.Truth, error) {
	refused := func(format string, args ...any) error {
		return &Error{ID: Unclear, Cause: fmt.Errorf("which fish pass in an outage is told by the law of travel, which needs "+format, args...)}
	}
	h := d.Histories
	switch {
	case h.First == nil || h.Released == nil:
		return nil, refused("times: give the study [fish] and [sightings] instead of ready histories or counts")
	case slices.Contains(h.Released, history.NoTime):
		return nil, refused("the release time of every fish; some have none")
	}
	for k := range len(h.River.Sites) - 1 {
		if !(h.River.ReachKm(k) > 0) {
			return nil, refused("the km of every site; the reach %s has no length", h.River.Reach(k))
		}
	}
	in, err := d.Input()
	if err != nil {
		return nil, err
	}
	// Long after the last sighting no fish is under way: the times of travel are
	// then a likelihood of their own, beside that of the counts.
	in.AsOf = d.Through().AddDate(longAfter, 0, 0)
	p, err := model.Build(in, spec)
	if err != nil {
		return nil, err
	}
	opt.EstimatesOnly = true
	f, err := cjs.New(ctx, p, opt.Options)
	if err != nil {
		return nil, err
	}
	if f.Verdict != cjs.Converged {
		return nil, &Error{ID: NotConverged, Name: "simulation", Path: d.Study.Path}
	}
	t := simulate.TruthOf(f)
	t.AsOf = time.Time{}
	return t, nil
}

// longAfter is in years.
const longAfter = 10
