package wire

import (
	"example.org/unseen/cjs/whatif"
	"example.org/unseen/history"
)

// WhatIf is what the answer hangs on.
type WhatIf struct {
	SoFar bool `json:"so_far"` // the season runs, and percentages are those passed so far
	// the same model fitted after one change; the largest move first
	Changes []Change `json:"changes"`
	// the most influential fish: how passed % would move without one of them, to first
	// order
	Influence      []Influence `json:"influence"`
	WhyNoInfluence string      `json:"why_no_influence" schema:"words"` // why there is no list of fish; empty where there is one
}

// Change is the same model fitted after one change.
type Change struct {
	Kind  whatif.Kind `json:"kind"` // "rule", "cohort" or "site"
	Name  string      `json:"name"`
	Words string      `json:"words" schema:"words"`
	Fish  int         `json:"fish"`
	Note  string      `json:"note" schema:"words"`
	Why   string      `json:"why" schema:"words"`   // why nothing changes, or empty
	Error string      `json:"error" schema:"words"` // why the model could not be fitted, or empty
	Moves []Move      `json:"moves"`
}

// Move is how passed % of a group moves at one site.
type Move struct {
	Of            Of       `json:"of"`
	Site          string   `json:"site"`
	PassedPercent Estimate `json:"passed_percent"`
	ThenPercent   Estimate `json:"then_percent"`
	Move          Number   `json:"move"`
	// the part of the move that comes from the mean being over other fish; null but for a
	// cohort left out
	MoveOfMix Number `json:"move_of_mix"`
}

// Influence is how passed % would move without one fish.
type Influence struct {
	Fish    string     `json:"fish"` // tag, or empty
	Record  int        `json:"record" schema:"min=1"`
	Alike   int        `json:"alike" schema:"min=1"` // fish of the same history, of which each counts so
	Of      Of         `json:"of"`
	History string     `json:"history"`
	Moves   []FishMove `json:"moves"`
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
	return &WhatIf{r.SoFar,
		each(r.Outcomes, func(o *whatif.Outcome) Change {
			return Change{o.Kind, o.Name, o.Words, o.Fish, o.Note, o.Why, because(o.Err), each(o.Moves, func(m whatif.Move) Move {
				return Move{of(m.Of), river.Sites[m.Site].Name, estimate(m.Before, 100), estimate(m.After, 100), Number(100 * m.By), Number(100 * m.OfMix)}
			})}
		}),
		each(r.Influence, func(x whatif.Influence) Influence {
			f := Influence{Fish: x.Tag, Record: x.Record + 1, Alike: x.Alike, Of: of(x.Of), History: x.History, Moves: []FishMove{}}
			for n, k := range x.Sites {
				f.Moves = append(f.Moves, FishMove{river.Sites[k].Name, Number(100 * x.By[n])})
			}
			return f
		}),
		r.WhyNone}
}
