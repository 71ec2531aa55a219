package view

import (
	"fmt"
	"math"

	"example.org/unseen/cjs/whatif"
	"example.org/unseen/history"
)

// whatIfSections say how far the answer hangs on each rule, cohort and site,
// and on single fish.
func whatIfSections(river *history.River, r *whatif.Result) []Section {
	shown, csv, same := moveTables(river, r)
	s := Section{Heading: "What if", Tables: []Table{shown, csv}}
	if len(r.Outcomes) > 0 {
		if o := r.Outcomes[0]; o.Largest() > 0 {
			m := largestOf(o)
			s.Paragraphs = append(s.Paragraphs, fmt.Sprintf("The answer hangs most on this: %s, %s instead of %s would have passed %s.",
				o.Words, Percent(m.After.Value, 1), Percent(m.Before.Value, 1), river.Sites[m.Site].Name))
		}
	}
	s.Notes = append(s.Notes, "Each line is the same model fitted again; numbers are what is added to passed % of all fish.")
	for _, o := range r.Outcomes {
		if o.Kind == whatif.Cohort {
			s.Notes = append(s.Notes, "Without a cohort the mean is over other fish; in brackets the part of the move that comes from this alone. Only the rest says that cohorts lean on each other.")
			break
		}
	}
	if same != "" {
		s.Notes = append(s.Notes, same)
	}
	for _, o := range r.Outcomes {
		switch {
		case o.Err != nil:
			s.Notes = append(s.Notes, sentence(o.Words+": "+o.Err.Error()))
		case o.Note != "":
			s.Notes = append(s.Notes, sentence(o.Words+": "+o.Note))
		}
	}
	fish := Section{Heading: "Fish that pull hardest", Tables: []Table{influenceTable(river, r)},
		Notes: []string{"What would be added to passed % without this one fish, to first order (one step from the fit). Fish of the same history count alike."}}
	if r.WhyNone != "" {
		fish = Section{Heading: fish.Heading, Paragraphs: []string{sentence("no list: " + r.WhyNone)}}
	}
	return []Section{s, fish}
}

func largestOf(o *whatif.Outcome) whatif.Move {
	best := o.Moves[0]
	for _, m := range o.Moves {
		if math.Abs(m.By) > math.Abs(best.By) || math.IsNaN(best.By) {
			best = m
		}
	}
	return best
}

// signed shows what is added, in percentage points; a tenth is as far as an
// answer is read.
func signed(x float64, digits int) string {
	s := Digits(x, digits)
	if x > 0 && math.Round(x*math.Pow10(digits)) != 0 {
		return "+" + s
	}
	if math.Round(x*math.Pow10(digits)) == 0 && !math.IsNaN(x) {
		return Digits(0, digits)
	}
	return s
}

// moveTables are the moves for people, a column a site, and for programs, a
// record a site; same names the changes that change nothing.
func moveTables(river *history.River, r *whatif.Result) (shown, csv Table, same string) {
	csv = Table{ID: "what_if", CSVOnly: true, Columns: []Column{
		{Name: "kind"}, {Name: "name"}, {Name: "words"}, {Name: "fish", Kind: Count}, {Name: "site"},
		{Name: "passed_percent", Kind: Range}, {Name: "then_percent", Kind: Range},
		{Name: "move", Kind: Number}, {Name: "move_of_mix", Kind: Number}, {Name: "why"}}}
	shown = Table{Columns: []Column{{Title: "change", Key: true}, {Title: "fish", Kind: Count}}}
	column := map[int]int{}
	for k := 1; k < len(river.Sites); k++ {
		column[k] = len(shown.Columns)
		shown.Columns = append(shown.Columns, Column{Title: "passed " + river.Sites[k].Name})
	}
	var unmoved []string
	for _, o := range r.Outcomes {
		why := o.Why
		if o.Err != nil {
			why = o.Err.Error()
		}
		if o.Err != nil || len(o.Moves) == 0 {
			csv.Rows = append(csv.Rows, []Cell{T(string(o.Kind)), T(o.Name), T(o.Words), None(), T(""), None(), None(), None(), None(), T(why)})
			continue
		}
		row := make([]Cell, len(shown.Columns))
		row[0], row[1] = T(o.Words), I(o.Fish)
		for k := range column {
			row[column[k]] = T("–")
		}
		for _, m := range o.Moves {
			name := river.Sites[m.Site].Name
			csv.Rows = append(csv.Rows, []Cell{T(string(o.Kind)), T(o.Name), T(o.Words), I(o.Fish), T(name),
				R(100*m.Before.Value, 100*m.Before.Low, 100*m.Before.High), R(100*m.After.Value, 100*m.After.Low, 100*m.After.High),
				N(100 * m.By), N(100 * m.OfMix), T(why)})
			move := signed(100*m.By, 1)
			if !math.IsNaN(m.OfMix) && !math.IsNaN(m.By) {
				move += " (" + signed(100*m.OfMix, 1) + ")"
			}
			row[column[m.Site]] = T(move)
		}
		if o.Input == nil {
			unmoved = append(unmoved, o.Words+" ("+o.Why+")")
			continue
		}
		shown.Rows = append(shown.Rows, row)
	}
	if len(unmoved) > 0 {
		same = sentence("nothing would move with " + And(unmoved))
	}
	return shown, csv, same
}

// influenceTable lists the fish that pull hardest.
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
		some = some || of != ""
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
