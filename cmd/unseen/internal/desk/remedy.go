package desk

import (
	"cmp"
	"context"
	"fmt"
	"html/template"
	"maps"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history"
	"example.org/unseen/history/study"
	"example.org/unseen/history/study/edit"
)

// remedyLink leads to what can be done about a finding.
type remedyLink struct{ Text, Address string }

// remedy is one thing that can be done about a finding: a change of the study,
// told by a few values that an address and a form carry.
type remedy struct {
	Kind  string // what is done
	Args  url.Values
	Words string
	// Fields are what has to be given first.
	Fields []field
}

// kinds say how each kind of remedy changes the study.
var kinds = map[string]func(st *study.Study, get func(string) string) (done, error){
	"test tag": func(st *study.Study, get func(string) string) (done, error) {
		return done{get("tag") + " is a test tag", edits(edit.Append(edit.Path{"rules", "test_tags"}, get("tag")))}, nil
	},
	"ghost tag": func(st *study.Study, get func(string) string) (done, error) {
		return done{get("tag") + " is no living fish", edits(edit.Append(edit.Path{"rules", "ghost_tags"}, get("tag")))}, nil
	},
	"second tag": func(st *study.Study, get func(string) string) (done, error) {
		if get("first") == "" {
			return done{}, fmt.Errorf("say which fish has the tag")
		}
		return done{get("tag") + " is the second tag of " + get("first"), edits(edit.Set(edit.Path{"fish", "aliases", get("tag")}, get("first")))}, nil
	},
	"alias": func(st *study.Study, get func(string) string) (done, error) {
		i, err := siteNamed(st, get("place"))
		if err != nil {
			return done{}, err
		}
		return done{"“" + get("name") + "” is " + get("place"), edits(edit.Append(edit.Path{"site", i, "aliases"}, get("name")))}, nil
	},
	"date order": func(st *study.Study, get func(string) string) (done, error) {
		return done{"dates are " + get("order"), edits(edit.Set(edit.Path{"date_order"}, get("order")))}, nil
	},
	"tag form": func(*study.Study, func(string) string) (done, error) {
		return done{"tags are any text", edits(edit.Set(edit.Path{"tag_form"}, "text"))}, nil
	},
	"time zone": func(st *study.Study, get func(string) string) (done, error) {
		i, err := siteNamed(st, get("place"))
		if err != nil {
			return done{}, err
		}
		return done{"the zone of " + get("place") + " is " + get("zone"), edits(edit.Set(edit.Path{"site", i, "time_zone"}, get("zone")))}, nil
	},
	"off": func(st *study.Study, get func(string) string) (done, error) {
		return done{"the rule " + get("rule") + " is off", edits(edit.Append(edit.Path{"rules", "off"}, get("rule")))}, nil
	},
	"released at": func(st *study.Study, get func(string) string) (done, error) {
		return done{"fish were released at " + get("time"), edits(edit.Set(edit.Path{"fish", "released_at"}, get("time")))}, nil
	},
	"running": func(st *study.Study, get func(string) string) (done, error) {
		day, err := moment(st, get("day"))
		return done{"the season still runs, with data to " + get("day"), edits(edit.Set(edit.Path{"as_of"}, day))}, err
	},
	"over": func(st *study.Study, get func(string) string) (done, error) {
		day, err := moment(st, get("day"))
		return done{"the season ended on " + get("day"), edits(edit.Set(edit.Path{"last_day"}, day))}, err
	},
	"clock": func(st *study.Study, get func(string) string) (done, error) {
		i, err := siteNamed(st, get("place"))
		if err != nil {
			return done{}, err
		}
		seconds, err := strconv.ParseFloat(strings.TrimSpace(get("seconds")), 64)
		if err != nil {
			return done{}, fmt.Errorf("the correction is %q; it is a number of seconds to add, such as -340", get("seconds"))
		}
		var fix edit.Table
		for _, end := range []string{"from", "to"} {
			if v := strings.TrimSpace(get(end)); v != "" {
				t, err := moment(st, v)
				if err != nil {
					return done{}, err
				}
				fix = append(fix, edit.Key{Name: end, Value: t})
			}
		}
		fix = append(fix, edit.Key{Name: "seconds", Value: seconds})
		return done{fmt.Sprintf("the clock of %s is corrected by %v s", get("place"), seconds), edits(edit.Append(edit.Path{"site", i, "clock"}, fix))}, nil
	},
	"working": func(st *study.Study, get func(string) string) (done, error) {
		i, err := siteNamed(st, get("place"))
		if err != nil {
			return done{}, err
		}
		from, err := moment(st, get("from"))
		if err != nil {
			return done{}, err
		}
		to, err := moment(st, get("to"))
		if err != nil {
			return done{}, err
		}
		return done{fmt.Sprintf("%s worked from %s to %s", get("place"), get("from"), get("to")),
			edits(edit.Append(edit.Path{"site", i, "working"}, edit.Raw("["+string(from)+", "+string(to)+"]")))}, nil
	},
}

// moment is a day or a time as the study file writes it.
func moment(st *study.Study, words string) (edit.Raw, error) {
	words = strings.TrimSpace(words)
	if _, err := analysis.Moment(words, st.Location); err != nil {
		return "", err
	}
	words = strings.Replace(words, " ", "T", 1)
	if strings.Count(words, ":") == 1 && !strings.ContainsAny(words, "+Z") {
		words += ":00"
	}
	return edit.Raw(words), nil
}

func siteNamed(st *study.Study, name string) (int, error) {
	i := slices.IndexFunc(st.Sites, func(s study.Site) bool { return s.Name == name })
	if i < 0 {
		return 0, fmt.Errorf("there is no site %q", name)
	}
	return i, nil
}

// remedyOf is the change that a form asks for.
func remedyOf(st *study.Study, get func(string) string) (done, error) {
	kind := kinds[get("kind")]
	if kind == nil {
		return done{}, fmt.Errorf("there is no remedy %q", get("kind"))
	}
	return kind(st, get)
}

// remediesOf tells whether there is something to do about a finding, and where.
func (l *looking) remediesOf(f history.Finding) []remedyLink {
	if len(l.remedies(f, nil)) == 0 {
		return nil
	}
	return []remedyLink{{"What can be done", l.at.With("remedy", f.ID, "about", f.About)}}
}

// remedies are the things that can be done about a finding. tags are those of
// its records, the most frequent first; without them a single one stands for all.
func (l *looking) remedies(f history.Finding, tags []string) []remedy {
	st := l.Study
	one := func(kind, words string, fields []field, args ...string) remedy {
		v := url.Values{}
		for i := 0; i+1 < len(args); i += 2 {
			v.Set(args[i], args[i+1])
		}
		return remedy{kind, v, words, fields}
	}
	river := st.River()
	sites := river.SiteNames()[1:]
	if i := slices.Index(sites, strings.SplitN(f.About, "/", 2)[0]); i >= 0 {
		sites = slices.Concat(sites[i:], sites[:i])
	}
	clock := one("clock", "Correct the clock of a site", []field{
		{"place", "Site", sites[0], "", sites}, {"seconds", "Seconds to add to its times", "", "-3600 takes an hour away", nil},
		{"from", "From", "", "2025-04-20, or 2025-04-20T12:00; empty: from the start", nil}, {"to", "To", "", "empty: to the end", nil}})
	zone := one("time zone", "The readers of a site keep another time zone", []field{
		{"place", "Site", sites[0], "", sites}, {"zone", "Zone", "", "as Europe/Dublin, or Etc/GMT-1", nil}})
	working := one("working", "Say when a site worked: records outside, and fish that passed outside, are allowed for", []field{
		{"place", "Site", sites[0], "", sites}, {"from", "It worked from", "", "2025-03-20, or 2025-04-14T09:00", nil}, {"to", "To", "", "the end is not included", nil}})
	day := ""
	if t := l.Data.LastRecord(); !t.IsZero() {
		day = t.Format("2006-01-02")
	}
	switch f.ID {
	case "unknown_tag":
		if tags == nil {
			tags = []string{""}
		}
		var out []remedy
		for _, t := range tags {
			out = append(out, one("test tag", "List "+t+" as a test tag", nil, "tag", t))
		}
		if st.Fish != nil {
			out = append(out, one("second tag", "One of them is the second tag of a fish", []field{{"tag", "The unknown tag", tags[0], "", nil}, {"first", "The tag the fish is listed by", "", "", nil}}))
		}
		return out
	case "unknown_site":
		if tags == nil {
			tags = []string{""}
		}
		var out []remedy
		for _, name := range tags {
			place := cmp.Or(history.Nearest(name, river.SiteNames()), sites[0])
			out = append(out, one("alias", "“"+name+"” is another spelling of a site", []field{{"place", "Site", place, "", river.SiteNames()}}, "name", name))
		}
		return out
	case "parked_tag":
		tag, _, _ := strings.Cut(f.About, " ")
		return []remedy{one("ghost tag", tag+" is no living fish: set its records aside", nil, "tag", tag)}
	case "before_release", "clock_jump", "time_never_existed", "time_existed_twice":
		return []remedy{clock, zone}
	case "turned_back":
		return []remedy{one("off", "Count these records as sightings: switch the rule off", nil, "rule", f.ID), clock}
	case "outage", "outside_working":
		return []remedy{working}
	case "bad_time":
		return []remedy{one("date order", "Dates are day first", nil, "order", "day first"), one("date order", "Dates are month first", nil, "order", "month first")}
	case "bad_tag":
		return []remedy{one("tag form", "Tags are any text, not codes of ISO 11784", nil)}
	case "release_date_alone":
		return []remedy{one("released at", "Say at what time of day fish were released", []field{{"time", "Time of day", "20:00", "", nil}})}
	case "season_runs":
		return []remedy{one("running", "The season still runs: allow for fish that are still to come", []field{{"day", "Data to the end of", day, "", nil}}),
			one("over", "The season is over", []field{{"day", "Last day", day, "", nil}})}
	}
	return nil
}

// offered is a remedy as the drawer shows it.
type offered struct {
	remedy
	Lines   []string // that would be written
	Effect  []string
	Fault   string
	Ready   bool
	Address string
}

type remedyData struct {
	At      at
	Here    string
	Sum     string
	Finding history.Finding
	Says    string
	Offers  []offered
}

// remedy shows what can be done about a finding, and what each would do.
func (l *looking) remedy() (template.HTML, error) {
	id, about := l.at.Get("remedy"), l.at.Get("about")
	i := slices.IndexFunc(l.Data.Findings, func(f history.Finding) bool { return f.ID == id && f.About == about })
	if i < 0 {
		return render("settled", l.at)
	}
	f := l.Data.Findings[i]
	var tags []string
	if id == "unknown_tag" || id == "unknown_site" {
		var err error
		if tags, err = l.mostOf(id); err != nil {
			return "", err
		}
	}
	out := remedyData{At: l.at, Here: l.at.Here(), Sum: l.Sum, Finding: f, Says: view.FindingSentence(&f)}
	for _, r := range l.remedies(f, tags) {
		o := offered{remedy: r, Ready: true}
		get := func(key string) string {
			if l.at.Get("kind") == r.Kind && l.at.Query.Has(key) && slices.ContainsFunc(r.Fields, func(f field) bool { return f.Name == key }) {
				return l.at.Get(key)
			}
			for _, f := range r.Fields {
				if f.Name == key {
					return f.Value
				}
			}
			if key == "kind" {
				return r.Kind
			}
			return r.Args.Get(key)
		}
		for k := range o.Fields {
			o.Fields[k].Value = get(o.Fields[k].Name)
			o.Ready = o.Ready && (l.at.Get("kind") == r.Kind)
		}
		if o.Ready {
			o.Args = maps.Clone(o.Args)
			for _, f := range r.Fields {
				o.Args.Set(f.Name, f.Value)
			}
			o.Args.Set("kind", r.Kind)
			if x, err := remedyOf(l.Study, get); err != nil {
				o.Fault = err.Error()
			} else if o.Lines, o.Effect, err = l.effect(x); err != nil {
				o.Fault = "With it the study could not be read. " + short(err)
			}
		}
		out.Offers = append(out.Offers, o)
	}
	return render("remedy", out)
}

// short is the first of what is wrong, and how much more there is.
func short(err error) string {
	lines := strings.Split(err.Error(), "\n")
	if n := len(lines) - 2; n > 0 {
		return strings.Join(lines[:2], "\n") + fmt.Sprintf("\nand %s more", view.Plural(n, "fault", "faults"))
	}
	return err.Error()
}

// mostTags is how many tags are offered one by one.
const mostTags = 4

// mostOf are the tags, or the names of sites, of the records that a rule set aside
// for them, the most frequent first.
func (l *looking) mostOf(rule string) ([]string, error) {
	all, err := l.setAside(l.ctx, l.Desk.ctx)
	if err != nil {
		return nil, err
	}
	count := map[string]int{}
	for _, r := range all {
		switch {
		case r.Rule != rule:
		case rule == "unknown_site":
			if r.Site != "" {
				count[r.Site]++
			}
		default:
			count[r.Tag]++
		}
	}
	tags := slices.SortedFunc(maps.Keys(count), func(a, b string) int { return cmp.Or(cmp.Compare(count[b], count[a]), cmp.Compare(a, b)) })
	return tags[:min(len(tags), mostTags)], nil
}

// effect is what a change would write, and what it would do to the answer.
func (l *looking) effect(x done) (lines, effect []string, err error) {
	text, err := x.make(l.folder.join(l.Name), []byte(l.Text))
	if err != nil {
		return nil, nil, err
	}
	type key struct{ text, model string }
	now, err := once(l.ctx, l.Desk.ctx, l.kept, key{sumOf(text), fmt.Sprint(l.at.choice())}, func(ctx context.Context) (string, error) { return l.changed(ctx, text) })
	if err != nil {
		return nil, nil, err
	}
	return written(l.Text, string(text)), strings.Split(now, "\n"), nil
}

// changed says what becomes of the records and of the answer with another text.
func (l *looking) changed(ctx context.Context, text []byte) (string, error) {
	st, err := study.Parse(l.folder.join(l.Name), text)
	if err != nil {
		return "", err
	}
	if _, err := l.folder.paths(st); err != nil {
		return "", err
	}
	data, err := read(ctx, st)
	if err != nil {
		return "", err
	}
	var out []string
	a, b := &l.Data.Accounting, &data.Accounting
	aside := func(x *history.Accounting) int64 { return x.Read - x.Kept - x.Repeats }
	if aside(a) == aside(b) {
		out = append(out, fmt.Sprintf("Records set aside: %s, as now.", view.Digits(float64(aside(a)), 0)))
	} else {
		out = append(out, fmt.Sprintf("Records set aside: %s → %s.", view.Digits(float64(aside(a)), 0), view.Digits(float64(aside(b)), 0)))
	}
	was, err := l.fitted()
	if err != nil {
		return strings.Join(append(out, "The answer: there is none yet."), "\n"), nil
	}
	spec, err := data.Spec(l.at.choice())
	if err != nil {
		return "", err
	}
	is, err := data.Fit(ctx, spec, options())
	if err != nil {
		return strings.Join(append(out, "The model could then not be fitted: "+err.Error()), "\n"), nil
	}
	for i := range was.Fit.Passed {
		p := &was.Fit.Passed[i]
		if len(p.Of) > 0 || i >= len(is.Fit.Passed) {
			continue
		}
		q := &is.Fit.Passed[i]
		if q.Site != p.Site || len(q.Of) > 0 {
			continue
		}
		name := was.Histories.River.Sites[p.Site].Name
		from, to := view.Digits(100*p.PassedShare.Value, 1), view.Digits(100*q.PassedShare.Value, 1)
		if from == to {
			out = append(out, fmt.Sprintf("Passed %s: %s %%, as now.", name, from))
		} else {
			out = append(out, fmt.Sprintf("Passed %s: %s → %s %%.", name, from, to))
		}
	}
	return strings.Join(out, "\n"), nil
}
