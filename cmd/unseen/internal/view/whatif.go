package view

import (
	"fmt"
	"math"
	"strings"

	"example.org/unseen/cjs/whatif"
	"example.org/unseen/history"
)

// WhatIfSections say how far the answer hangs on each rule, cohort and site,
// and on single fish.
func WhatIfSections(river *history.River, r *whatif.Result) []Section {
	shown, csv, same := moveTables(river, r)
	s := Section{Heading: "What if", Tables: []Table{shown, csv}}
	what, soFar := "passed", ""
	if r.SoFar {
		what, soFar = "passed so far", " so far"
	}
	if len(r.Outcomes) > 0 {
		if o := r.Outcomes[0]; o.Largest() != nil && o.Largest().By != 0 {
			m := o.Largest()
			whose := ""
			if len(m.Of) > 0 {
				whose = " of " + Whom(m.Of)
			}
			line := fmt.Sprintf("The estimate is most sensitive to this change: %s, %s%s instead of %s would have passed %s%s",
				o.Words, Percent(m.After.Value, 1), whose, Percent(m.Before.Value, 1), river.Sites[m.Site].Name, soFar)
			if !math.IsNaN(m.OfMix) {
				line += fmt.Sprintf("; %s of these %s points arise because the mean is then over other fish", Signed(100*m.OfMix, 1), Signed(100*m.By, 1))
			}
			s.Paragraphs = append(s.Paragraphs, line+".")
		}
	}
	if o := r.WithoutOutages(); o != nil {
		m := o.Largest()
		does := "moves no passed % by 0.05 points"
		if math.Abs(m.By) >= 0.0005 {
			whose := ""
			if len(m.Of) > 0 {
				whose = " of " + Whom(m.Of)
			}
			does = fmt.Sprintf("moves passed %s from %s to %s, by %s points", river.Sites[m.Site].Name+soFar+whose, Percent(m.After.Value, 1), Percent(m.Before.Value, 1), Signed(-100*m.By, 1))
		}
		s.Paragraphs = append(s.Paragraphs, "Declaring the outages "+does+".")
	}
	s.Notes = append(s.Notes, fmt.Sprintf("Each line is a refit of the same model; numbers are the change in the percentage that has %s; – where it cannot be estimated.", what))
	for _, o := range r.Outcomes {
		if m := o.Largest(); m != nil && !math.IsNaN(m.OfMix) {
			s.Notes = append(s.Notes, "Without a cohort the mean is over other fish; in brackets the part of the change that comes from this alone. The remainder is the influence of that group on the others' estimates.")
			break
		}
	}
	if same != "" {
		s.Notes = append(s.Notes, same)
	}
	for _, o := range r.Outcomes {
		switch {
		case o.Err != nil:
			// A refusal can list many faults; JSON and CSV have them all.
			first, rest, more := strings.Cut(o.Err.Error(), "\n")
			if more {
				first += fmt.Sprintf(" (and %d more)", 1+strings.Count(rest, "\n"))
			}
			s.Notes = append(s.Notes, Sentence(o.Words+": "+first))
		case o.Note != "":
			s.Notes = append(s.Notes, Sentence(o.Words+": "+o.Note))
		}
	}
	fish := Section{Heading: "Most influential fish", Tables: []Table{influenceTable(river, r)},
		Notes: []string{"Change in passed % without this one fish, to first order (one step from the fit). Fish with the same history have the same influence.", SingleFish}}
	if r.WhyNone != "" {
		fish = Section{Heading: fish.Heading, Paragraphs: []string{Sentence("no list: " + r.WhyNone)}}
	}
	return []Section{s, fish}
}

// moveTables are the moves for people, a column a site, and for programs, a
// record a site; same names the changes that change nothing. People see all
// fish, and the groups only where nothing can be said of all.
func moveTables(river *history.River, r *whatif.Result) (shown, csv Table, same string) {
	csv = Table{ID: "what_if", CSVOnly: true, Columns: []Column{
		{Name: "kind"}, {Name: "name"}, {Name: "words"}, {Name: "fish", Kind: Count}, {Name: "of"}, {Name: "site"},
		{Name: "passed_percent", Kind: Range}, {Name: "then_percent", Kind: Range},
		{Name: "move", Kind: Number}, {Name: "move_of_mix", Kind: Number}, {Name: "why"}}}
	shown = Table{Columns: []Column{{Title: "change", Key: true}, {Title: "of", Key: true}, {Title: "fish", Kind: Count}}}
	sites := len(shown.Columns) - 1 // column of site k: sites + k
	for k := 1; k < len(river.Sites); k++ {
		shown.Columns = append(shown.Columns, Column{Title: "passed " + river.Sites[k].Name})
	}
	groups := true
	for _, o := range r.Outcomes {
		if m := o.Largest(); m != nil && len(m.Of) == 0 {
			groups = false
		}
	}
	if !groups {
		shown.Columns[1].Title = ""
	}
	var unmoved []string
	for _, o := range r.Outcomes {
		why := o.Why
		if o.Err != nil {
			why = o.Err.Error()
		}
		if o.Err != nil || len(o.Moves) == 0 {
			csv.Rows = append(csv.Rows, []Cell{T(string(o.Kind)), T(o.Name), T(o.Words), None(), T(""), T(""), None(), None(), None(), None(), T(why)})
			continue
		}
		if o.Input == nil {
			unmoved = append(unmoved, o.Words+" ("+o.Why+")")
		}
		of := ""
		for _, m := range o.Moves {
			csv.Rows = append(csv.Rows, []Cell{T(string(o.Kind)), T(o.Name), T(o.Words), I(o.Fish), T(Whom(m.Of)), T(river.Sites[m.Site].Name),
				R(100*m.Before.Value, 100*m.Before.Low, 100*m.Before.High), R(100*m.After.Value, 100*m.After.Low, 100*m.After.High),
				N(100 * m.By), N(100 * m.OfMix), T(why)})
			if o.Input == nil || groups != (len(m.Of) > 0) || groups && math.IsNaN(m.By) {
				continue
			}
			if who := Whom(m.Of); who != of {
				of = who
				row := []Cell{T(o.Words), T(who), I(o.Fish)}
				for range len(river.Sites) - 1 {
					row = append(row, T("–"))
				}
				shown.Rows = append(shown.Rows, row)
			}
			move := Signed(100*m.By, 1)
			if !math.IsNaN(m.OfMix) && !math.IsNaN(m.By) {
				move += " (" + Signed(100*m.OfMix, 1) + ")"
			}
			shown.Rows[len(shown.Rows)-1][sites+m.Site] = T(move)
		}
	}
	if len(unmoved) > 0 {
		same = Sentence("no change with " + And(unmoved))
	}
	return shown, csv, same
}

// influenceTable lists the most influential fish.
func influenceTable(river *history.River, r *whatif.Result) Table {
	t := Table{ID: "influence", Columns: []Column{
		{Name: "fish", Title: "fish", Key: true}, {Name: "alike", Title: "alike", Kind: Count},
		{Name: "of"}, {Title: "of"}, {Name: "history", Title: "history"}}}
	if len(r.Influence) == 0 {
		return t
	}
	for _, k := range r.Influence[0].Sites {
		t.Columns = append(t.Columns, Column{Name: "move_" + river.Sites[k].Name, Title: "passed " + river.Sites[k].Name, Kind: Number, Digits: 3})
	}
	some := false
	for _, x := range r.Influence {
		name := x.Tag
		if name == "" {
			name = fmt.Sprintf("record %d", x.Record+1)
		}
		of := Whom(x.Of)
		some = some || len(x.Of) > 0
		row := []Cell{T(name), I(x.Alike), T(of), T(of), T(x.History)}
		for _, by := range x.By {
			row = append(row, N(100*by))
		}
		t.Rows = append(t.Rows, row)
	}
	if !some {
		t.Columns[3].Title = ""
	}
	return t
}
