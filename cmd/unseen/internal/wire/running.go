package wire

import (
	"example.org/unseen/cjs"
	"example.org/unseen/history"
)

// Movement is how a group of fish moves while the season runs.
type Movement struct {
	Of map[string]string `json:"of"`
	At map[string]Number `json:"at"`
	// From and To are the sites between which they travel so, where the model
	// has laws by reach.
	From   string   `json:"from,omitempty"`
	To     string   `json:"to,omitempty"`
	Drift  Estimate `json:"drift_km_per_day"`
	Spread Estimate `json:"spread_km_per_root_day"`
	// Rest and RestDays are absent where the model lets no fish rest.
	Rest     Estimate `json:"rest_percent"`
	RestDays Estimate `json:"rest_days"`
}

// SeasonOver is what the same data say when every fish not seen again is taken
// for dead or missed.
type SeasonOver struct {
	Verdict  string     `json:"verdict"`
	Survival []Survival `json:"survival"`
	Passed   []Passed   `json:"passed"`
}

func movements(river *history.River, in []cjs.Movement) []Movement {
	out := make([]Movement, len(in))
	for i, m := range in {
		var from, to string
		if cjs.ByStretch(in) {
			from, to = river.Sites[m.From].Name, river.Sites[m.To].Name
		}
		out[i] = Movement{of(m.Of), at(m.At), from, to, estimate(m.Drift, 1), estimate(m.Spread, 1), estimate(m.Rest, 100), estimate(m.RestDays, 1)}
	}
	return out
}

func seasonOver(river *history.River, f *cjs.Fit) *SeasonOver {
	if f == nil {
		return nil
	}
	return &SeasonOver{string(f.Verdict), survivals(river, f.Survival), passed(river, f.Passed)}
}
