package desk

import (
	"context"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history/study"
	"example.org/unseen/history/study/edit"
	"example.org/unseen/history/table"
)

// changeOf is the change of a study that a form asks for.
func changeOf(ctx context.Context, st *study.Study, said url.Values) (done, error) {
	get := said.Get
	switch what := get("do"); {
	case what == "sites":
		return sitesChanged(st, get)
	case strings.HasPrefix(what, "up:"), strings.HasPrefix(what, "down:"), what == "move":
		return siteMoved(st, get)
	case what == "settings":
		return settingsChanged(st, said)
	case what == "table":
		return tableChanged(ctx, st, said)
	case what == "keep-model":
		return modelKept(st, get)
	case what == "first-model":
		return modelFirst(st, get("name"))
	case what == "remedy":
		return remedyOf(st, get)
	default:
		return done{}, fmt.Errorf("the page cannot do %q", what)
	}
}

// siteShown is the name that site i of a form had when the form was made.
func siteShown(st *study.Study, get func(string) string, i int) string {
	if was := get(fmt.Sprint("was-", i)); was != "" || i < 0 || i >= len(st.Sites) {
		return was
	}
	return st.Sites[i].Name
}

// formPlace is where on a form site k of the study stands; -1 where it does not.
func formPlace(st *study.Study, get func(string) string, k int) int {
	for i := 0; ; i++ {
		switch siteShown(st, get, i) {
		case st.Sites[k].Name:
			return i
		case "":
			return -1
		}
	}
}

// sitesChanged sets names and km of all sites at once: km at some alone is no
// study.
func sitesChanged(st *study.Study, get func(string) string) (done, error) {
	var changes []edit.Change
	var words []string
	for i := range st.Sites {
		s := &st.Sites[i]
		i, k := formPlace(st, get, i), i
		if i < 0 {
			continue // it came meanwhile
		}
		if name := strings.TrimSpace(get(fmt.Sprint("name-", i))); name != "" && name != s.Name {
			changes = append(changes, edit.Set(edit.Path{"site", k, "name"}, name))
			words = append(words, fmt.Sprintf("%s is called %s", s.Name, name))
		}
		km := strings.Replace(strings.TrimSpace(get(fmt.Sprint("km-", i))), ",", ".", 1)
		if km == "" {
			if s.Km == s.Km {
				changes = append(changes, edit.Remove(edit.Path{"site", k, "km"}))
				words = append(words, "no km at "+s.Name)
			}
			continue
		}
		v, ok := table.ParseNumber(km)
		if !ok {
			return done{}, fmt.Errorf("the km of %s is %q; it is a number, such as 36.6", s.Name, km)
		}
		if v != s.Km {
			changes = append(changes, edit.Set(edit.Path{"site", k, "km"}, v))
			words = append(words, fmt.Sprintf("%s at km %v", s.Name, v))
		}
	}
	if len(changes) == 0 {
		return done{}, fmt.Errorf("nothing was changed in the sites")
	}
	return done{strings.Join(words, ", "), edits(changes...)}, nil
}

// siteMoved moves a site to another place in the order, with all that is written
// of it: one place up or down, or to stand above another, as it was dragged.
func siteMoved(st *study.Study, get func(string) string) (done, error) {
	order := make([]int, len(st.Sites))
	for i := range order {
		order[i] = i
	}
	named := func(name string) int {
		return slices.IndexFunc(st.Sites, func(s study.Site) bool { return s.Name == name })
	}
	var from, to int
	if get("do") == "move" {
		from = named(get("site"))
		if to = named(get("above")); get("above") == "" {
			to = len(order)
		}
		if to > from {
			to--
		}
	} else {
		way, n, _ := strings.Cut(get("do"), ":")
		i, err := strconv.Atoi(n)
		if err != nil {
			return done{}, fmt.Errorf("there is no such site to move")
		}
		from = named(siteShown(st, get, i))
		if to = from - 1; way == "down" {
			to = from + 1
		}
	}
	if from < 0 || to < 0 || to >= len(order) {
		return done{}, fmt.Errorf("there is no such site to move, or no place to move it to")
	}
	if from == to {
		return done{}, fmt.Errorf("%s stands there already", st.Sites[from].Name)
	}
	order = slices.Insert(slices.Delete(order, from, from+1), to, from)
	words := st.Sites[from].Name + " stands above " + st.Sites[order[min(to+1, len(order)-1)]].Name
	if to == len(order)-1 {
		words = st.Sites[from].Name + " stands below " + st.Sites[order[to-1]].Name
	}
	return done{words, func(name string, text []byte) ([]byte, error) { return reordered(name, text, st, order, words) }}, nil
}

// reordered puts the sites of a study into another order, each with the lines
// down to the next table.
func reordered(name string, text []byte, st *study.Study, order []int, words string) ([]byte, error) {
	cannot := fmt.Errorf("these sites cannot be moved here; change their order in an editor")
	lines := strings.SplitAfter(string(text), "\n")
	if last := len(lines) - 1; lines[last] != "" {
		lines[last] += "\n"
	}
	type block struct{ from, to int }
	var blocks []block
	for i := range st.Sites {
		b := block{from: st.Sites[i].Pos.Line - 1}
		if b.from < 0 || b.from >= len(lines) || !strings.HasPrefix(strings.TrimSpace(lines[b.from]), "[[site]]") || i > 0 && b.from < blocks[i-1].to {
			return nil, cannot
		}
		for b.to = b.from + 1; b.to < len(lines); b.to++ {
			if l := strings.TrimSpace(lines[b.to]); strings.HasPrefix(l, "[") && !strings.HasPrefix(l, "[site.") {
				break
			}
		}
		blocks = append(blocks, b)
	}
	var out []string
	at := 0
	for i, k := range order {
		out = append(out, lines[at:blocks[i].from]...)
		out = append(out, lines[blocks[k].from:blocks[k].to]...)
		at = blocks[i].to
	}
	next := []byte(strings.Join(append(out, lines[at:]...), ""))
	now, err := study.Parse(name, next)
	if err != nil {
		return nil, fmt.Errorf("with %s the study is not right: %w. Where km are given they say the order; change them together", words, err)
	}
	for i, k := range order {
		if len(now.Sites) != len(st.Sites) || now.Sites[i].Name != st.Sites[k].Name {
			return nil, cannot
		}
	}
	return next, nil
}

// setting is a key at the top of the study file.
type setting struct {
	Key, Label, Value, Hint string
	Choices                 []string
}

func settingsOf(st *study.Study) []setting {
	out := []setting{
		{"title", "Title", st.Title, "", nil},
		{"time_zone", "Zone of times without an offset", st.TimeZone, "as Europe/Dublin; empty is UTC", nil},
		{"date_order", "Order of day and month, where the data leave it open", st.DateOrder, "", []string{"", "day first", "month first"}},
		{"tag_form", "Tags are", st.TagForm, "", []string{"", "text"}},
	}
	if st.Fish != nil && st.Fish.ReleasedAt != nil {
		out = append(out, setting{"released_at", "Time of day of releases with a date alone", clockWords(*st.Fish.ReleasedAt), "as 20:00", nil})
	}
	return out
}

// clockWords is a time of day, since midnight.
func clockWords(d time.Duration) string { return time.Time{}.Add(d).Format("15:04") }

// settingsChanged sets keys at the top of the file.
func settingsChanged(st *study.Study, said url.Values) (done, error) {
	var changes []edit.Change
	var words []string
	for _, s := range settingsOf(st) {
		v := strings.TrimSpace(said.Get(s.Key))
		at := edit.Path{s.Key}
		if s.Key == "released_at" {
			at = edit.Path{"fish", s.Key}
		}
		switch {
		case !said.Has(s.Key) || v == s.Value:
			continue
		case v == "":
			changes = append(changes, edit.Remove(at))
			words = append(words, "no "+s.Key)
		default:
			changes = append(changes, edit.Set(at, v))
			words = append(words, s.Key+" is "+v)
		}
	}
	if len(changes) == 0 {
		return done{}, fmt.Errorf("nothing was changed in the settings")
	}
	return done{strings.Join(words, ", "), edits(changes...)}, nil
}

// tableOf is a model as a [[model]] of the study file.
func tableOf(m study.Model) edit.Table {
	var out edit.Table
	for _, k := range m.Keys() {
		if k[1] != "" {
			out = append(out, edit.Key{Name: k[0], Value: k[1]})
		}
	}
	return out
}

// modelKept adds the model at hand to the study.
func modelKept(st *study.Study, get func(string) string) (done, error) {
	name := strings.TrimSpace(get("name"))
	if name == "" {
		return done{}, fmt.Errorf("the model needs a name to be kept by")
	}
	if slices.ContainsFunc(st.Models, func(m study.Model) bool { return m.Name == name }) {
		return done{}, fmt.Errorf("the study has a model called %s; give another name", name)
	}
	var spec model.Spec
	for i := range study.Parts {
		p := &study.Parts[i]
		spec.SetTerms(model.Part(p.Key), get(p.Key))
		if p.Links != nil {
			if link := get(p.LinkFlag()); link != "" && link != p.Links[0] {
				spec.SetLink(model.Part(p.Key), link)
			}
		}
	}
	return done{"kept the model " + name, edits(edit.Append(edit.Path{"model"}, tableOf(spec.InStudy(name))))}, nil
}

// modelFirst makes a model of the study the answer, which the first is.
func modelFirst(st *study.Study, name string) (done, error) {
	i := slices.IndexFunc(st.Models, func(m study.Model) bool { return m.Name == name })
	if i < 0 {
		return done{}, fmt.Errorf("the study has no model called %s", name)
	}
	list := []edit.Table{tableOf(st.Models[i])}
	for k, m := range st.Models {
		if k != i {
			list = append(list, tableOf(m))
		}
	}
	return done{name + " is the answer", edits(edit.Set(edit.Path{"model"}, list))}, nil
}
