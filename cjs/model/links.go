package model

import (
	"fmt"

	"example.org/unseen/likelihood"
)

// links sets the link of every slot.
func (p *Problem) links() error {
	sl, dl := likelihood.Logit, likelihood.Logit
	per := ""
	switch p.Spec.SurvivalLink {
	case "", "logit":
	case "linear":
		sl = likelihood.Linear
	case "per km", "per day":
		sl = likelihood.Rate
		per = p.Spec.SurvivalLink
	default:
		return fmt.Errorf("survival link %q: there are logit, per km, per day, linear", p.Spec.SurvivalLink)
	}
	switch p.Spec.DetectionLink {
	case "", "logit":
	case "linear":
		dl = likelihood.Linear
	default:
		return fmt.Errorf("detection link %q: there are logit and linear", p.Spec.DetectionLink)
	}
	for a := range p.Layout.Slots() {
		link := likelihood.Link{Kind: dl}
		switch p.PartOf(a) {
		case Drift, Spread, RestKm:
			link.Kind = likelihood.Log
		case Rest:
			link.Kind = likelihood.Logit
		}
		if k := p.Layout.Reach(a); k >= 0 {
			link = likelihood.Link{Kind: sl}
			if sl == likelihood.Rate {
				link.Length = p.Histories.River.ReachKm(k)
				need := "km of both its sites"
				if per == "per day" {
					link.Length = p.Histories.River.Sites[k+1].Days
					need = "days of the site it ends at"
				}
				if !(link.Length > 0) {
					return fmt.Errorf("survival %s: the reach %s has no length; give the %s in the study file", per, p.Histories.River.Reach(k), need)
				}
			}
		}
		for g := range p.Classes {
			p.Design.Links[g][a] = link
		}
	}
	return nil
}
