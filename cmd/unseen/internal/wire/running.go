package wire

import (
	"example.org/unseen/cjs"
	"example.org/unseen/history"
)

// Movement is how a group of fish moves while the season runs.
type Movement struct {
	Of Of `json:"of"`
	At At `json:"at"`
	// from and to: the sites between which they travel so; null where one law holds
	// for the whole river
	From   *string  `json:"from"`
	To     *string  `json:"to"`
	Drift  Estimate `json:"drift_km_per_day"`
	Spread Estimate `json:"spread_km_per_root_day"`
	// rest_percent and rest_days: absent where the model lets no fish rest
	Rest     Estimate `json:"rest_percent"`
	RestDays Estimate `json:"rest_days"`
}

// SeasonOver is what the same data say when every fish not seen again is taken
// for dead or missed.
type SeasonOver struct {
	Verdict  cjs.Verdict `json:"verdict"`
	Survival []Survival  `json:"survival"`
	Passed   []Passed    `json:"passed"`
}

func MovementsOf(river *history.River, in []cjs.Movement) []Movement {
	return each(in, func(m cjs.Movement) Movement {
		out := Movement{Of: of(m.Of), At: at(m.At), Drift: estimate(m.Drift, 1), Spread: estimate(m.Spread, 1), Rest: estimate(m.Rest, 100), RestDays: estimate(m.RestDays, 1)}
		if cjs.ByStretch(in) {
			out.From, out.To = &river.Sites[m.From].Name, &river.Sites[m.To].Name
		}
		return out
	})
}

func seasonOver(river *history.River, f *cjs.Fit) *SeasonOver {
	if f == nil {
		return nil
	}
	return &SeasonOver{f.Verdict, SurvivalOf(river, f.Survival), PassedOf(river, f.Passed)}
}
