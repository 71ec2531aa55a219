package wire

import (
	"cmp"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// DeclaredPasses is the kind of [Declaration] of test passes.
const DeclaredPasses = "test passes"

// Declaration is what the study declares of its sites and tags, and the records
// alone do not say.
type Declaration struct {
	Kind string `json:"kind" schema:"enum=last day|clock|working|test passes|held|tags kept|test tags|ghost tags|rule off"`
	// site, site/row, reach or files; empty: everywhere
	At    string `json:"at"`
	Value string `json:"value" schema:"words"`
}

// DeclarationsOf lists what a study declares, down the river.
func DeclarationsOf(s *study.Study) []Declaration {
	out := []Declaration{}
	add := func(kind, at, format string, args ...any) {
		out = append(out, Declaration{kind, at, history.Say(format, args...)})
	}
	if !s.LastDay.IsZero() {
		add("last day", "", "%s", s.LastDay.Format(time.DateOnly))
	}
	at := func(site, row string) string {
		if row != "" {
			return site + "/" + row
		}
		return site
	}
	clocks := func(at string, fixes []study.ClockFix, loc *time.Location) {
		for _, c := range fixes {
			add("clock", at, "%s s%s", signed(c.Seconds), within(", ", c.Window, loc))
		}
	}
	for _, g := range s.Sightings {
		clocks(strings.Join(g.Written, ", "), g.Clock, cmp.Or(g.Location, s.Location))
	}
	windows := func(at string, in []study.Window, loc *time.Location) {
		for _, w := range in {
			add("working", at, "%s", within("", w, loc))
		}
	}
	for i := range s.Sites {
		x := &s.Sites[i]
		clocks(x.Name, x.Clock, x.Location)
		windows(x.Name, x.Working, x.Location)
		for _, r := range x.Rows {
			windows(at(x.Name, r.Name), r.Working, x.Location)
		}
	}
	for _, t := range s.TestPasses {
		add(DeclaredPasses, at(t.Site, t.Row), "%d of %d read%s", t.Read, t.Passes, whose(t.Where))
	}
	for _, h := range s.Holds {
		if h.Reach != "" {
			add("held", h.Reach, "survival %v%s", h.Survival, whose(h.Where))
		} else {
			add("held", at(h.Site, h.Row), "detection %v%s", h.Detection, whose(h.Where))
		}
	}
	if r := s.Retention; r != nil {
		add("tags kept", "", "%d of %d", r.Kept, r.Held)
	}
	for _, l := range []struct {
		kind string
		list []string
	}{{"test tags", s.Rules.TestTags}, {"ghost tags", s.Rules.GhostTags}, {"rule off", s.Rules.Off}} {
		if len(l.list) > 0 {
			add(l.kind, "", "%s", strings.Join(l.list, ", "))
		}
	}
	return out
}

// signed is a number with its sign, and the minus sign of texts.
func signed(x float64) string {
	s := history.Thousands(strconv.FormatFloat(x, 'f', -1, 64))
	if x > 0 {
		return "+" + s
	}
	return s
}

// within is a time window in words, with its zone, after a lead; "" where it has
// no end.
func within(lead string, w study.Window, loc *time.Location) string {
	var parts []string
	for _, end := range []struct {
		word string
		at   time.Time
	}{{"from", w.From}, {"to", w.To}} {
		if !end.at.IsZero() {
			parts = append(parts, end.word+" "+end.at.In(loc).Format("2006-01-02 15:04:05"))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return lead + strings.Join(parts, " ") + " (" + loc.String() + ")"
}

// whose names the fish that something holds for; "" for all.
func whose(where map[string]string) string {
	var out []string
	for _, k := range slices.Sorted(maps.Keys(where)) {
		out = append(out, k+" "+where[k])
	}
	if len(out) == 0 {
		return ""
	}
	return ", " + strings.Join(out, ", ")
}
