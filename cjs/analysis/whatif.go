package analysis

import (
	"context"
	"slices"

	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/whatif"
	"example.org/unseen/history"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/rule"
)

// AskWhatIf fits the model again with every data rule that is a choice
// switched, and with every cohort and site left out, and finds the fish that
// are most influential. done is called after each refit.
func (f *Fitted) AskWhatIf(ctx context.Context, done func(n, of int)) error {
	in, err := f.Input()
	if err != nil {
		return err
	}
	f.WhatIf, err = whatif.Run(ctx, f.Fit, append(f.ruleChanges(), whatif.Changes(in)...), whatif.Options{Done: done})
	return err
}

// ruleChanges switch the rules of the study that are choices. What needs no
// second reading to know gets none.
func (d *Data) ruleChanges() []whatif.Change {
	if !d.HasSightings() {
		return nil
	}
	var out []whatif.Change
	for id := rule.None + 1; id < rule.Count; id++ {
		r := rule.Of(id)
		if !r.Choice {
			continue
		}
		on := !slices.Contains(d.Study.Rules.Off, r.ID)
		c := whatif.Change{Kind: whatif.Rule, Name: r.ID, Words: "rule " + r.ID + " on"}
		if on {
			c.Words = "rule " + r.ID + " off"
		}
		switch {
		case id == rule.TooFast && d.Study.Rules.FastestKmPerDay == 0:
			c.Why = "no fastest_km_per_day is set"
		case id == rule.OutsideWorking && !d.hasWindows():
			c.Why = "no site has working windows"
		case on && id != rule.OutsideWorking && !d.hasBox(r.ID):
			c.Why = "it set no record aside"
		default:
			c.Outages = id == rule.OutsideWorking
			c.Input = func(ctx context.Context) (model.Input, string, error) {
				in, err := d.switched(ctx, r.ID, on)
				return in, d.switchNote(id), err
			}
		}
		out = append(out, c)
	}
	return out
}

// switchNote says what else comes with switching a rule off.
func (d *Data) switchNote(id rule.ID) string {
	if id != rule.OutsideWorking {
		return ""
	}
	note := "rows are then taken to have worked all the time"
	for _, b := range d.Accounting.SetAside {
		if b.Rule == rule.Of(id).ID {
			note += history.Say(", and the %d records from outside their windows are looked at as the others are", b.Records)
		}
	}
	return note
}

func (d *Data) hasBox(id string) bool {
	for _, b := range d.Accounting.SetAside {
		if b.Rule == id {
			return true
		}
	}
	return false
}

// switched reads the tables again with one rule off, or on again.
func (d *Data) switched(ctx context.Context, id string, off bool) (model.Input, error) {
	st := *d.Study
	st.Rules.Off = slices.DeleteFunc(slices.Clone(st.Rules.Off), func(s string) bool { return s == id })
	if off {
		st.Rules.Off = append(st.Rules.Off, id)
	}
	if off && id == rule.Of(rule.OutsideWorking).ID {
		st.Sites = slices.Clone(st.Sites)
		for i := range st.Sites {
			st.Sites[i].AlwaysWorking()
		}
	}
	r, err := ingest.Run(ctx, &st, ingest.Options{})
	if err != nil {
		return model.Input{}, err
	}
	again := &Data{Study: &st, Result: r, Conditions: d.Conditions}
	return again.Input()
}
