package sighting

import (
	"example.org/unseen/history/clock"
	"example.org/unseen/history/rule"
)

// worker merges the records of the blocks it is given. What all workers share
// is the cells; the rest is its own and joined at the end.
type worker struct {
	*reader
	cells bundler

	records int64
	boxes   [rule.Count]tally
	fish    [rule.Count]fishSet
	unknown unknownTags
	// never and twice are the local times a clock change makes doubtful.
	never, twice tally
	// ambiguousOrder and wrongOrder are the dates whose order cannot be told, or
	// is not the file's.
	ambiguousOrder, wrongOrder tally
	activity                   []Activity // by place
	// sites and antennas count the names that are not in the study.
	sites, antennas nameCounts
	// observe is told of every record, where it is not nil.
	observe func(c *reader, r *record, at int64)
}

func newWorker(j *judge, cells *cells) *worker {
	return &worker{
		reader: j.newReader(), cells: bundler{cells: cells}, activity: make([]Activity, len(j.places.list)),
		unknown: unknownTags{}, sites: nameCounts{}, antennas: nameCounts{},
	}
}

// notice takes in what there is to a record besides its fish and its rule.
func (w *worker) notice(r *record, at int64) {
	switch r.how {
	case clock.Never:
		w.never.add(at)
	case clock.Twice:
		w.twice.add(at)
	}
	if w.observe != nil {
		w.observe(w.reader, r, at)
	}
}

// setAside takes in a record that a rule set aside.
func (w *worker) setAside(r *record, at int64) {
	if r.rule > rule.BadTime && r.place >= 0 {
		w.activity[r.place].add(r.ms)
	}
	w.boxes[r.rule].add(at)
	switch r.rule {
	case rule.BadTime:
		switch {
		case w.layout.order != clock.Unsettled: // the study says the order
		case r.fault == clock.AmbiguousOrder:
			w.ambiguousOrder.add(at)
		case r.fault == clock.WrongOrder:
			w.wrongOrder.add(at)
		}
	case rule.UnknownTag:
		w.unknown.add(r.tagKey, unknownTag{reads: 1, first: r.ms, last: r.ms, place: hashPlace(w.siteOf(r), w.antennaOf(r)), times: timeOfDay(r.ms), days: dayBit(r.ms), pos: at})
	case rule.UnknownSite:
		w.sites.add(w.siteOf(r))
	case rule.UnknownAntenna:
		w.antennas.add(w.antennaOf(r))
	}
	if r.fish >= 0 {
		w.fish[r.rule].add(r.fish, w.judge.fish.Known)
	}
}

// join takes in what another worker has counted.
func (w *worker) join(o *worker) {
	w.records += o.records
	for i := range w.boxes {
		w.boxes[i].join(o.boxes[i])
		if o.fish[i] != nil {
			w.fish[i].join(o.fish[i])
		}
	}
	w.never.join(o.never)
	w.twice.join(o.twice)
	for key, x := range o.unknown {
		w.unknown.add(key, *x)
	}
	w.ambiguousOrder.join(o.ambiguousOrder)
	w.wrongOrder.join(o.wrongOrder)
	for i := range w.activity {
		w.activity[i].join(&o.activity[i])
	}
	w.sites.join(o.sites)
	w.antennas.join(o.antennas)
}
