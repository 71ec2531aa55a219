package desk

import (
	"html/template"
	"maps"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/cmd/unseen/internal/argv"
	"example.org/unseen/cmd/unseen/internal/explain"
	"example.org/unseen/cmd/unseen/internal/page"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history"
	"example.org/unseen/history/sighting"
)

type siteType = history.Site

func sortedKeys[T any](m map[string]T) []string { return slices.Sorted(maps.Keys(m)) }

type checkData struct {
	At       at
	Has      bool
	Read     int64
	Boxes    []bar
	Findings []found
	Sites    template.HTML
	Settled  []string
	Command  string
}

// bar is a box of records, with its place on a bar of 1000.
type bar struct {
	Name, Class string
	Records     int64
	From, Width float64
	Records2    string // address of its records
}

// found is a finding with what can be done about it.
type found struct {
	history.Finding
	Sentence string
	Advice   string
	Why      string
	Records  string
	Remedies []remedyLink
}

func (l *looking) check() (template.HTML, error) {
	a := &l.Data.Accounting
	out := checkData{At: l.at, Has: l.Data.HasSightings(), Read: a.Read, Settled: l.Data.Notes, Command: "unseen check " + argv.Quoted(base(l.Name))}
	from := 0.0
	add := func(name, class string, n int64, address string) {
		w := 0.0
		if a.Read > 0 {
			w = 1000 * float64(n) / float64(a.Read)
		}
		out.Boxes = append(out.Boxes, bar{name, class, n, from, w, address})
		from += w
	}
	add("kept: the first record of each passage", "kept", a.Kept, "")
	add("repeats of a passage", "repeats", a.Repeats, "")
	boxes := map[string]bool{}
	for _, b := range a.SetAside {
		add("set aside: "+b.Name, "aside", b.Records, l.at.With("records", b.Rule))
		boxes[b.Rule] = true
	}
	for _, f := range l.Data.Findings {
		x := found{Finding: f, Sentence: view.FindingSentence(&f), Advice: strings.TrimSuffix(view.Sentence(f.Advice), "."), Why: l.at.With("why", f.ID)}
		if boxes[f.ID] {
			x.Records = l.at.With("records", f.ID)
		}
		if !l.opt.ReadOnly {
			x.Remedies = l.remediesOf(f)
		}
		out.Findings = append(out.Findings, x)
	}
	if out.Has {
		sites, err := l.fragment(page.Blocks(sectionsOf(view.CheckPage(l.Data, nil), "Every site")))
		if err != nil {
			return "", err
		}
		out.Sites = sites
	}
	return render("check", out)
}

// recordsPage is how many records stand on one page of the drawer.
const recordsPage = 25

type recordsData struct {
	At                 at
	Rule, Name, Search string
	Records            []sighting.SetAside
	Total, From, To    int
	Earlier, Later     string
	Fish               func(tag string) string
}

// records are those that a rule set aside, page by page.
func (l *looking) records(rule string) (template.HTML, error) {
	all, err := l.setAside(l.ctx, l.Desk.ctx)
	if err != nil {
		return "", err
	}
	q := strings.ToLower(strings.TrimSpace(l.at.Get("q")))
	out := recordsData{At: l.at, Rule: rule, Search: l.at.Get("q"), Fish: func(tag string) string {
		return address("fish", map[string][]string{"tag": {tag}})
	}}
	var matching []sighting.SetAside
	for _, r := range all {
		if r.Rule != rule {
			continue
		}
		out.Name = r.Name
		text := strings.ToLower(r.File + ":" + strconv.Itoa(r.Line) + " " + r.Tag + " " + r.Site + " " + r.Antenna + " " + r.Time + " " + r.Reason)
		if strings.Contains(text, q) {
			matching = append(matching, r)
		}
	}
	out.Total = len(matching)
	n, _ := strconv.Atoi(l.at.Get("page"))
	n = max(0, min(n, (out.Total-1)/recordsPage))
	from, to := n*recordsPage, min(out.Total, (n+1)*recordsPage)
	out.Records, out.From, out.To = matching[from:to], from+1, to
	turn := func(to int) string {
		return l.at.With("records", rule, "q", out.Search, "page", strconv.Itoa(to))
	}
	if n > 0 {
		out.Earlier = turn(n - 1)
	}
	if to < out.Total {
		out.Later = turn(n + 1)
	}
	return render("records", out)
}

// drawer is what is opened beside the part.
func (l *looking) drawer() (template.HTML, error) {
	if id := l.at.Get("why"); id != "" {
		return render("why", struct {
			At      at
			ID      string
			Entries []explain.Entry
		}{l.at, id, explain.Find(id)})
	}
	if l.Data == nil {
		return "", nil
	}
	if rule := l.at.Get("records"); rule != "" {
		return l.records(rule)
	}
	if l.at.Get("remedy") != "" {
		return l.remedy()
	}
	return "", nil
}
