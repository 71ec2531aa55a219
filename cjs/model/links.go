package model

import (
	"fmt"

	"example.org/unseen/likelihood"
)

// links sets the link of every slot.
func (p *Problem) links() error {
	kinds := map[Part]likelihood.LinkKind{}
	for _, part := range p.Parts() {
		kind, err := p.Spec.kind(part)
		if err != nil {
			return err
		}
		kinds[part] = kind
	}
	for a := range p.Layout.Slots() {
		link := likelihood.Link{Kind: kinds[p.PartOf(a)], Length: 1}
		if link.Kind == likelihood.Rate {
			var err error
			if link.Length, err = p.length(p.Layout.Reach(a)); err != nil {
				return err
			}
		}
		for g := range p.Classes {
			p.Design.Links[g][a] = link
		}
	}
	return nil
}

// length is that of reach k, in the unit of the survival's rate.
func (p *Problem) length(k int) (float64, error) {
	river := &p.Histories.River
	per := p.Spec.Link(Survival)
	length, need := river.ReachKm(k), "km of both its sites"
	if per == "per day" {
		length, need = river.Sites[k+1].Days, "days of the site it ends at"
	}
	if !(length > 0) {
		return 0, fmt.Errorf("survival %s: the reach %s has no length; give the %s in the study file", per, river.Reach(k), need)
	}
	return length, nil
}
