package wire

import (
	"time"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/history"
)

// Histories is the document of `unseen histories`: one of Records (a fish
// each), Counts and NextSeen.
type Histories struct {
	Head
	// in downstream order
	Sites []Site   `json:"sites"`
	Rows  []string `json:"rows"` // the places of `seen`: "Site" or "Site/row"
	// one entry a fish
	Records []Record `json:"histories,omitempty"`
	// fish by distinct history; with --counts
	Counts []Count `json:"counts,omitempty"`
	// the next-seen table; with --next-seen
	NextSeen []NextSeen `json:"next_seen,omitempty"`
}

// Record is one fish, or Count fish alike.
type Record struct {
	Fish       string         `json:"fish"`
	Cohort     string         `json:"cohort"`
	Released   *string        `json:"released"`
	Entry      string         `json:"entry"`
	Seen       []int          `json:"seen" schema:"enum=0|1"` // by row
	Removed    *string        `json:"removed"`
	Count      int            `json:"count"`
	Passages   []Passage      `json:"passages"`
	Attributes map[string]any `json:"attributes" schema:"type=string|number|null"`
	Noticed    []string       `json:"noticed" schema:"words"` // what was noticed about the fish, in words
}

// Passage is when a fish was detected at a row.
type Passage struct {
	Row   string `json:"row"`
	First string `json:"first"`
	Last  string `json:"last"`
}

// Count is a distinct history and its fish.
type Count struct {
	Cohort  string  `json:"cohort"`
	Entry   string  `json:"entry"`
	Seen    []int   `json:"seen" schema:"enum=0|1"`
	Removed *string `json:"removed"`
	Count   int     `json:"count"`
}

// NextSeen is a line of the next-seen table.
type NextSeen struct {
	Cohort      string         `json:"cohort"`
	ReleaseSite string         `json:"release_site"`
	Released    int            `json:"released"`
	Next        map[string]int `json:"next_seen_at"`
	Never       int            `json:"never_again"`
}

// Part chooses what the document of `unseen histories` holds.
type Part uint8

const (
	Records Part = iota
	Counts
	NextSeens
)

// NewHistories makes the document.
func NewHistories(head Head, d *analysis.Data, part Part) Histories {
	h := d.Histories
	doc := Histories{Head: head, Sites: sites(&h.River), Rows: rowLabels(&h.River)}
	switch part {
	case Records:
		doc.Records = records(h, d.Flags, doc.Rows)
	case Counts:
		masks := h.River.SiteMasks()
		doc.Counts = each(h.Distinct(), func(x history.Distinct) Count {
			i := x.Record
			return Count{h.Cohorts[h.Cohort[i]], h.River.Sites[h.Entry[i]].Name, bits(h.Seen[i], len(doc.Rows)), removedAt(h, i, masks), x.Fish}
		})
	case NextSeens:
		doc.NextSeen = each(h.NextSeen(), func(n history.NextSeen) NextSeen {
			next := map[string]int{}
			for k := n.Site + 1; k < len(n.Next); k++ {
				next[h.River.Sites[k].Name] = n.Next[k]
			}
			return NextSeen{h.Cohorts[n.Cohort], h.River.Sites[n.Site].Name, n.Released, next, n.Never()}
		})
	}
	return doc
}

func rowLabels(r *history.River) []string {
	out := make([]string, r.Rows())
	for b := range out {
		out[b] = r.RowLabel(b)
	}
	return out
}

func records(h *history.Histories, flags []history.Flag, rows []string) []Record {
	masks := h.River.SiteMasks()
	out := make([]Record, h.Len())
	for i := range out {
		r := Record{
			Cohort: h.Cohorts[h.Cohort[i]], Entry: h.River.Sites[h.Entry[i]].Name,
			Seen: bits(h.Seen[i], len(rows)), Removed: removedAt(h, i, masks),
			Count: h.Weight(i), Passages: []Passage{}, Attributes: map[string]any{}, Noticed: []string{},
		}
		if flags != nil {
			r.Noticed = list(flags[i].Names())
		}
		if h.Tag != nil {
			r.Fish = h.Tag[i]
		}
		if h.Released != nil {
			r.Released = optional(h.Released[i])
		}
		for b := range rows {
			if h.First != nil && h.Seen[i]>>b&1 == 1 {
				at := i*len(rows) + b
				r.Passages = append(r.Passages, Passage{rows[b], moment(h.First[at]), moment(h.Last[at])})
			}
		}
		for k := range h.Columns {
			c := &h.Columns[k]
			switch {
			case !c.IsCategory():
				r.Attributes[c.Name] = Number(c.Value[i])
			case c.Level[i] < 0:
				r.Attributes[c.Name] = nil
			default:
				r.Attributes[c.Name] = c.Levels[c.Level[i]]
			}
		}
		out[i] = r
	}
	return out
}

func bits(seen uint64, rows int) []int {
	out := make([]int, rows)
	for b := range out {
		out[b] = int(seen >> b & 1)
	}
	return out
}

func removedAt(h *history.Histories, i int, masks []uint64) *string {
	if h.End[i] != history.Removed {
		return nil
	}
	return &h.River.Sites[h.LastSite(i, masks)].Name
}

func moment(ms int64) string { return time.UnixMilli(ms).UTC().Format("2006-01-02T15:04:05.999Z07:00") }

func optional(ms int64) *string {
	if ms == history.NoTime {
		return nil
	}
	s := moment(ms)
	return &s
}
