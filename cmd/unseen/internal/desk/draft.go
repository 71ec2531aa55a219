package desk

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"os"
	"path"
	"slices"
	"strings"
	"time"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/history"
	"example.org/unseen/history/findings"
	"example.org/unseen/history/propose"
	"example.org/unseen/history/study"
)

// say keeps what was said, made on sayings of that sum. change gives the new ones.
func (d *Desk) say(sum string, change func([]url.Values) ([]url.Values, error)) error {
	d.edit.Lock()
	defer d.edit.Unlock()
	unlock, err := atomicfile.Lock(d.folder.path)
	if err != nil {
		return err
	}
	defer unlock()
	said, is := d.sayings()
	if is != sum || d.findStudy() != "" {
		return errMeanwhile
	}
	if said, err = change(said); err != nil {
		return err
	}
	text, err := json.Marshal(said)
	if err != nil {
		return err
	}
	if err := d.mkdir(path.Dir(draftName)); err != nil {
		return err
	}
	if err := d.put(draftName, text); err != nil {
		return err
	}
	d.changes.tell()
	return nil
}

// draftNow is the study that would be written; nil where there is no table.
func (d *Desk) draftNow(ctx context.Context) (*draft, error) {
	files, _, err := d.folder.list()
	if err != nil {
		return nil, err
	}
	var paths []string
	for _, f := range files {
		if f.Table {
			full := d.folder.join(f.Name)
			if err := d.folder.within(full); err != nil {
				return nil, err
			}
			paths = append(paths, full)
		}
	}
	if len(paths) == 0 {
		return nil, nil
	}
	said, sum := d.sayings()
	key := sum + stampOf(paths)
	d.mu.Lock()
	if d.draftKey != key { // only the last is kept: it holds the tables
		d.draftKey, d.drafts = key, &kept{items: map[any]*item{}}
	}
	drafts := d.drafts
	d.mu.Unlock()
	return once(ctx, d.ctx, drafts, key, func(ctx context.Context) (*draft, error) { return d.propose(ctx, paths, said) })
}

// propose makes a study of tables and of what was said.
func (d *Desk) propose(ctx context.Context, paths []string, said []url.Values) (*draft, error) {
	x := &draft{Right: map[string]bool{}}
	tables := map[string]propose.Said{}
	for _, v := range said {
		if name := v.Get("table"); aboutTable(v) {
			x.Right[name] = x.Right[name] || v.Get("do") == "right"
			tables[name] = toldBy(v, tables[name])
		}
	}
	if x.Proposal, x.Err = propose.Told(ctx, paths, d.folder.path, tables); x.Err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return x, nil
	}
	at := d.folder.join(studyName)
	x.Text = x.Proposal.Study
	if x.Study, x.Err = study.Parse(at, []byte(x.Text)); x.Err != nil {
		return x, nil
	}
	for _, v := range said {
		if aboutTable(v) {
			continue
		}
		if _, err := x.apply(ctx, at, v); err != nil {
			x.Dropped = append(x.Dropped, fmt.Sprintf("What you said, %s, fits the tables no more: %s", v.Get("words"), err))
			continue
		}
		x.Asks = slices.DeleteFunc(x.Asks, func(a propose.Ask) bool { return answers(v, a.About) })
	}
	if _, x.Err = d.folder.paths(x.Study); x.Err != nil {
		return x, nil
	}
	if x.Data, x.Err = read(ctx, x.Study); ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if day, runs := seasonRuns(x.Data); runs && x.Study.AsOf.IsZero() && x.Study.LastDay.IsZero() {
		p := *x.Proposal
		p.Study = x.Text
		p.OfferAsOf(day)
		x.Text, x.Asks = p.Study, append(x.Asks, propose.Ask{About: "as_of", Text: p.Doubts[len(p.Doubts)-1]})
	}
	return x, nil
}

// seasonRuns tells whether the season seems to run still, and the day of the
// last record.
func seasonRuns(d *analysis.Data) (day string, runs bool) {
	if d == nil || !slices.ContainsFunc(d.Findings, func(f history.Finding) bool { return f.ID == findings.SeasonRuns }) {
		return "", false
	}
	return d.LastRecord().Format(time.DateOnly), true
}

// aboutTable tells whether a form says how a table is read, or that it is right.
func aboutTable(v url.Values) bool { return v.Get("do") == "table" || v.Get("do") == "right" }

// answers tells whether a form answers what a proposal asks about.
func answers(v url.Values, about string) bool {
	switch do := v.Get("do"); do {
	case "settings":
		return v.Has(about)
	case "remedy":
		return v.Get("kind") == map[string]string{"released_at": "released at", "as_of": "running"}[about]
	case "sites":
		return about == "release" && v.Has("name-0") && v.Get("name-0") != v.Get("was-0")
	case "move":
		return about == "site"
	default:
		return about == "site" && (strings.HasPrefix(do, "up:") || strings.HasPrefix(do, "down:"))
	}
}

// apply makes a change that a form asks for, and says what it was.
func (x *draft) apply(ctx context.Context, at string, v url.Values) (words string, err error) {
	change, err := changeOf(ctx, x.Study, v)
	if err != nil {
		return "", err
	}
	next, err := change.make(at, []byte(x.Text))
	if err != nil {
		return "", err
	}
	st, err := study.Parse(at, next)
	if err != nil {
		return "", err
	}
	x.Text, x.Study = string(next), st
	return change.what, nil
}

// toldBy adds what a form says of a table to what was said before.
func toldBy(v url.Values, s propose.Said) propose.Said {
	take := func(key string, take func(string)) {
		if v.Has(key) {
			take(v.Get(key))
		}
	}
	s.Columns = maps.Clone(s.Columns)
	if s.Columns == nil {
		s.Columns = map[string]string{}
	}
	for key := range v {
		if role, ok := strings.CutPrefix(key, "column-"); ok {
			s.Columns[role] = v.Get(key)
		}
	}
	take("kind", func(k string) { s.Kind = propose.Kind(k) })
	take("site", func(name string) { s.Site = name })
	take("time_zone", func(zone string) { s.TimeZone = zone })
	take("date_order", func(words string) { s.Order = orderOf(words) })
	take("header_line", func(words string) { s.Reading.HeaderLine, _ = headerLines(words) })
	take("delimiter", func(mark string) { s.Reading.Delimiter = mark })
	take("encoding", func(name string) { s.Reading.Encoding = name })
	take("decimal", func(mark string) { s.Reading.Decimal = (mark + "\x00")[0] })
	return s
}

// change does what a form of the page asks for to the study.
func (d *Desk) change(_ http.ResponseWriter, r *http.Request) (string, error) {
	s := d.current()
	if s.Name == "" {
		return d.draftChange(r)
	}
	if s.Study == nil {
		return back(r), fmt.Errorf("the study file cannot be read, so it cannot be changed here; mend it in an editor: %w", s.Err)
	}
	if _, err := d.folder.paths(s.Study); err != nil {
		return back(r), err
	}
	get := r.PostFormValue
	x, err := changeOf(r.Context(), s.Study, r.PostForm)
	if err != nil {
		return back(r), err
	}
	if err := d.rewrite(get("sum"), x.what, x.make); err != nil {
		return back(r), err
	}
	if what := get("do"); what == "keep-model" || what == "first-model" {
		// The model is the study's now.
		a := at{Part: "answer"}
		return d.noted(a.WithModel(model.Spec{Name: get("name")}, true), note{Text: "Done: " + x.what + "."}), nil
	}
	return d.noted(back(r), note{Text: "Done: " + x.what + "."}), nil
}

// draftChange keeps what a form says of the study that is not written yet.
func (d *Desk) draftChange(r *http.Request) (string, error) {
	x, err := d.draftNow(r.Context())
	if err != nil {
		return back(r), err
	}
	if x == nil {
		return back(r), fmt.Errorf("there is no table to say something of")
	}
	v := url.Values{}
	for key, list := range r.PostForm {
		if key != "back" && key != "sum" && len(list) > 0 {
			v.Set(key, strings.TrimSpace(list[0]))
		}
	}
	var words string
	switch try := *x; {
	case aboutTable(v):
		words, err = x.saidOf(v)
	case x.Study == nil:
		err = fmt.Errorf("say first what the tables are: %w", x.Err)
	default:
		words, err = try.apply(r.Context(), d.folder.join(studyName), v)
	}
	if err != nil {
		return back(r), err
	}
	v.Set("words", words)
	if err := d.say(r.PostFormValue("sum"), func(said []url.Values) ([]url.Values, error) { return append(said, v), nil }); err != nil {
		return back(r), err
	}
	return d.noted(back(r), note{Text: "Done: " + words + "."}), nil
}

// saidOf leaves in a form about a table what it changes, or for one that is right
// all that it confirms, and says so in words.
func (x *draft) saidOf(v url.Values) (string, error) {
	name := v.Get("table")
	i := slices.IndexFunc(x.Tables, func(t propose.Taken) bool { return t.Name == name })
	if i < 0 {
		return "", fmt.Errorf("there is no table %s", name)
	}
	t := &x.Tables[i]
	if v.Get("do") == "right" {
		v.Set("kind", string(t.Kind))
		for _, role := range propose.Roles[t.Kind] {
			v.Set("column-"+role, t.Columns[role])
		}
		if t.Site != "" {
			v.Set("site", t.Site)
		}
		return name + " is understood rightly", nil
	}
	var words []string
	if kind := propose.Kind(v.Get("kind")); v.Has("kind") && kind != t.Kind {
		at := slices.IndexFunc(tableKinds, func(k kindChoice) bool { return k.Key == kind })
		if at < 0 {
			return "", fmt.Errorf("%s cannot be %q", name, kind)
		}
		// Columns were shown for what the table was taken for.
		maps.DeleteFunc(v, func(key string, _ []string) bool { return key != "do" && key != "table" && key != "kind" })
		return name + ": " + tableKinds[at].Words, nil
	}
	v.Del("kind")
	for _, f := range sayable(t) {
		value := v.Get(f.Name)
		if !v.Has(f.Name) || value == f.Value {
			v.Del(f.Name)
			continue
		}
		if err := f.takes(value); err != nil {
			return "", err
		}
		if value == "" {
			value = "none"
		}
		words = append(words, fmt.Sprintf("%s: %s", f.Label, value))
	}
	if len(words) == 0 {
		return "", fmt.Errorf("nothing was changed in what is said of %s", name)
	}
	return name + ", " + strings.Join(words, ", "), nil
}

// undo puts the study back to what it was before the last edit.
func (d *Desk) undo(_ http.ResponseWriter, r *http.Request) (string, error) {
	if d.current().Name == "" {
		return d.draftUndone(r)
	}
	d.edit.Lock()
	defer d.edit.Unlock()
	var done string
	err := d.locked(r.PostFormValue("sum"), func(name string, text []byte) error {
		v, later := d.before(name, sumOf(text))
		if v == nil {
			return fmt.Errorf("there is nothing to take back: the study was not made what it is here")
		}
		done = v.what
		if err := d.put(name, v.text); err != nil {
			return err
		}
		for _, x := range later {
			if err := d.folder.root.Remove(x.name); err != nil && !errors.Is(err, os.ErrNotExist) {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return back(r), err
	}
	return d.noted(back(r), note{Text: "Taken back: " + done + "."}), nil
}

// draftUndone takes back what was said last.
func (d *Desk) draftUndone(r *http.Request) (string, error) {
	var words string
	err := d.say(r.PostFormValue("sum"), func(said []url.Values) ([]url.Values, error) {
		if len(said) == 0 {
			return nil, fmt.Errorf("there is nothing to take back")
		}
		words = said[len(said)-1].Get("words")
		return said[:len(said)-1], nil
	})
	if err != nil {
		return back(r), err
	}
	return d.noted(back(r), note{Text: "Taken back: " + words + "."}), nil
}
