package model

import (
	"errors"
	"fmt"

	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// Build makes the problem of fitting spec to in. Errors are the user's: a name
// that is not there, a missing value, a hold that contradicts the data.
func Build(in Input, spec Spec) (*Problem, error) {
	if err := in.Check(); err != nil {
		return nil, err
	}
	h := withReleaseDay(in.Histories, spec, in.Location)
	p := &Problem{Spec: spec, Histories: h, masks: h.River.SiteMasks(), TestPasses: in.TestPasses, AsOf: history.NoTime, zone: in.Location}
	rows := make([]int, len(h.River.Sites))
	for k := range rows {
		rows[k] = h.River.Sites[k].RowCount()
	}
	var err error
	if p.Layout, err = likelihood.NewLayout(rows); err != nil {
		return nil, err
	}
	if !in.AsOf.IsZero() {
		if err := p.running(in.AsOf); err != nil {
			return nil, err
		}
	}
	if err := p.windows(in); err != nil {
		return nil, err
	}
	parts := p.Parts()
	if err := p.readTerms(); err != nil {
		return nil, err
	}
	if err := p.timed(); err != nil {
		return nil, err
	}
	r := &resolver{h: h, conditions: in.Conditions}
	p.resolver = r
	if err := p.names(r, in, parts); err != nil {
		return nil, err
	}
	if err := p.classes(in); err != nil {
		return nil, err
	}
	p.Design = &likelihood.Design{Layout: p.Layout, Numbers: 1, Slots: make([][][]likelihood.Entry, len(p.Classes)), Links: make([][]likelihood.Link, len(p.Classes))}
	p.Products = [][]int{nil}
	for g := range p.Classes {
		p.Design.Slots[g] = make([][]likelihood.Entry, p.Layout.Slots())
		p.Design.Links[g] = make([]likelihood.Link, p.Layout.Slots())
	}
	if err := p.links(); err != nil {
		return nil, err
	}
	if err := p.holds(in.Holds); err != nil {
		return nil, err
	}
	for _, part := range parts {
		if err := p.columns(r, part); err != nil {
			return nil, err
		}
		if n := len(p.Columns); n > MaxParameters {
			return nil, errors.New(history.Say("the model has %d parameters or more for %d fish; at most %d can be fitted. Give terms that more fish share, as reach + cohort for reach by cohort, or cohorts of more fish each", n, h.Fish(), MaxParameters))
		}
	}
	p.Design.Columns = len(p.Columns)
	p.Design.Numbers = len(p.Products)
	if p.Design.Numbers > likelihood.MaxNumbers {
		return nil, fmt.Errorf("the model multiplies the fish's numbers into %d covariates; at most %d can be handled", p.Design.Numbers-1, likelihood.MaxNumbers-1)
	}
	p.data()
	if err := p.times(); err != nil {
		return nil, err
	}
	if spec.Drift == "" && spec.Spread == "" && spec.Rest == "" && p.Timed() {
		if p.speeds, p.tested = p.testSpeeds(), true; p.speeds.Differ() {
			spec.Drift, spec.Spread = "reach", "reach"
			return Build(in, spec)
		}
	}
	if err := p.testPasses(in.TestPasses); err != nil {
		return nil, err
	}
	return p, nil
}
