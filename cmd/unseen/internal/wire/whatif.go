package wire

import (
	"example.org/unseen/cjs/whatif"
	"example.org/unseen/history"
)

// WhatIf is what the answer hangs on.
type WhatIf struct {
	// SoFar: the season runs, and percentages are those passed so far.
	SoFar     bool        `json:"so_far"`
	Changes   []Change    `json:"changes"`   // the largest move first
	Influence []Influence `json:"influence"` // the fish that pull hardest
	// WhyNoInfluence says why there is no list of fish, or is "".
	WhyNoInfluence string `json:"why_no_influence"`
}

// Change is the same model fitted after one change.
type Change struct {
	Kind  string `json:"kind"` // "rule", "cohort" or "site"
	Name  string `json:"name"`
	Words string `json:"words"`
	Fish  int    `json:"fish"`
	Note  string `json:"note"`
	// Why says why nothing changes, Error why the model could not be fitted.
	Why   string `json:"why"`
	Error string `json:"error"`
	Moves []Move `json:"moves"`
}

// Move is how passed % of a group moves at one site.
type Move struct {
	Of            map[string]string `json:"of"`
	Site          string            `json:"site"`
	PassedPercent Estimate          `json:"passed_percent"`
	ThenPercent   Estimate          `json:"then_percent"`
	Move          Number            `json:"move"`
	MoveOfMix     Number            `json:"move_of_mix"` // the part that comes from the mean being over other fish
}

// Influence is how passed % would move without one fish.
type Influence struct {
	Fish    string            `json:"fish"` // tag, or ""
	Record  int               `json:"record"`
	Alike   int               `json:"alike"`
	Of      map[string]string `json:"of"`
	History string            `json:"history"`
	Moves   []FishMove        `json:"moves"`
}

// FishMove is the move at one site.
type FishMove struct {
	Site string `json:"site"`
	Move Number `json:"move"`
}

func whatIf(river *history.River, r *whatif.Result) *WhatIf {
	if r == nil {
		return nil
	}
	out := &WhatIf{SoFar: r.SoFar, Changes: []Change{}, Influence: []Influence{}, WhyNoInfluence: r.WhyNone}
	for _, o := range r.Outcomes {
		c := Change{Kind: string(o.Kind), Name: o.Name, Words: o.Words, Fish: o.Fish, Note: o.Note, Why: o.Why, Moves: []Move{}}
		if o.Err != nil {
			c.Error = o.Err.Error()
		}
		for _, m := range o.Moves {
			c.Moves = append(c.Moves, Move{of(m.Of), river.Sites[m.Site].Name, estimate(m.Before, 100), estimate(m.After, 100), Number(100 * m.By), Number(100 * m.OfMix)})
		}
		out.Changes = append(out.Changes, c)
	}
	for _, x := range r.Influence {
		f := Influence{Fish: x.Tag, Record: x.Record + 1, Alike: x.Alike, Of: of(x.Of), History: x.History, Moves: []FishMove{}}
		for n, k := range x.Sites {
			f.Moves = append(f.Moves, FishMove{river.Sites[k].Name, Number(100 * x.By[n])})
		}
		out.Influence = append(out.Influence, f)
	}
	return out
}
