package desk

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history/study"
	"example.org/unseen/history/study/edit"
	"example.org/unseen/history/table"
)

// done is a change of the study with what it does, in words.
type done struct {
	what string
	make func(name string, text []byte) ([]byte, error)
}

// change does what a form of the page asks for to the study.
func (d *Desk) change(_ http.ResponseWriter, r *http.Request) (string, error) {
	s := d.current()
	if s.Study == nil {
		return back(r), fmt.Errorf("the study file cannot be read, so it cannot be changed here; mend it in an editor: %w", s.Err)
	}
	get := r.PostFormValue
	var x done
	var err error
	switch what := get("do"); {
	case what == "sites":
		x, err = sitesChanged(s.Study, get)
	case strings.HasPrefix(what, "up:") || strings.HasPrefix(what, "down:"):
		x, err = siteMoved(s.Study, what)
	case what == "settings":
		x, err = settingsChanged(s.Study, get)
	case what == "columns":
		x, err = columnsChanged(s.Study, get)
	case what == "keep-model":
		x, err = modelKept(s.Study, get)
	case what == "first-model":
		x, err = modelFirst(s.Study, get("name"))
	case what == "remedy":
		x, err = remedyOf(s.Study, get)
	default:
		err = fmt.Errorf("the page cannot do %q", what)
	}
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

// sitesChanged sets names and km of all sites at once: km at some alone is no
// study.
func sitesChanged(st *study.Study, get func(string) string) (done, error) {
	var changes []edit.Change
	var words []string
	for i := range st.Sites {
		s := &st.Sites[i]
		if name := strings.TrimSpace(get(fmt.Sprint("name-", i))); name != "" && name != s.Name {
			changes = append(changes, edit.Set(edit.Path{"site", i, "name"}, name))
			words = append(words, fmt.Sprintf("%s is called %s", s.Name, name))
		}
		km := strings.Replace(strings.TrimSpace(get(fmt.Sprint("km-", i))), ",", ".", 1)
		if km == "" {
			if s.Km == s.Km {
				changes = append(changes, edit.Remove(edit.Path{"site", i, "km"}))
				words = append(words, "no km at "+s.Name)
			}
			continue
		}
		v, ok := table.ParseNumber(km)
		if !ok {
			return done{}, fmt.Errorf("the km of %s is %q; it is a number, such as 36.6", s.Name, km)
		}
		if v != s.Km {
			changes = append(changes, edit.Set(edit.Path{"site", i, "km"}, v))
			words = append(words, fmt.Sprintf("%s at km %v", s.Name, v))
		}
	}
	if len(changes) == 0 {
		return done{}, fmt.Errorf("nothing was changed in the sites")
	}
	return done{strings.Join(words, ", "), edits(changes...)}, nil
}

// siteMoved changes places of a site with its neighbour, with all that is
// written of both.
func siteMoved(st *study.Study, what string) (done, error) {
	way, n, _ := strings.Cut(what, ":")
	i, err := strconv.Atoi(n)
	if way == "up" {
		i--
	}
	if err != nil || i < 0 || i+1 >= len(st.Sites) {
		return done{}, fmt.Errorf("there is no such site to move")
	}
	a, b := st.Sites[i].Name, st.Sites[i+1].Name
	from, mid := st.Sites[i].Pos.Line-1, st.Sites[i+1].Pos.Line-1
	words := fmt.Sprintf("%s stands above %s", b, a)
	return done{words, func(name string, text []byte) ([]byte, error) {
		lines := strings.SplitAfter(string(text), "\n")
		if last := len(lines) - 1; lines[last] != "" {
			lines[last] += "\n"
		}
		end := mid + 1
		for end < len(lines) && !strings.HasPrefix(strings.TrimSpace(lines[end]), "[") {
			end++
		}
		if from >= mid || end > len(lines) || !strings.HasPrefix(strings.TrimSpace(lines[from]), "[[site]]") || !strings.HasPrefix(strings.TrimSpace(lines[mid]), "[[site]]") {
			return nil, fmt.Errorf("these two sites cannot be moved here; change their order in an editor")
		}
		out := []byte(strings.Join(slices.Concat(lines[:from], lines[mid:end], lines[from:mid], lines[end:]), ""))
		now, err := study.Parse(name, out)
		if err != nil {
			return nil, fmt.Errorf("with %s the study is not right: %w. Where km are given they say the order; change them together", words, err)
		}
		if len(now.Sites) != len(st.Sites) || now.Sites[i].Name != b || now.Sites[i+1].Name != a {
			return nil, fmt.Errorf("these two sites cannot be moved here; change their order in an editor")
		}
		return out, nil
	}}, nil
}

// setting is a key at the top of the study file.
type setting struct {
	Key, Label, Value, Hint string
	Choices                 []string
}

func (l *looking) settings() []setting {
	st := l.Study
	return []setting{
		{"title", "Title", st.Title, "", nil},
		{"time_zone", "Zone of times without an offset", st.TimeZone, "as Europe/Dublin; empty is UTC", nil},
		{"date_order", "Order of day and month, where the data leave it open", st.DateOrder, "", []string{"", "day first", "month first"}},
		{"tag_form", "Tags are", st.TagForm, "", []string{"", "text"}},
	}
}

// settingsChanged sets keys at the top of the file.
func settingsChanged(st *study.Study, get func(string) string) (done, error) {
	l := looking{snapshot: &snapshot{Study: st}}
	var changes []edit.Change
	var words []string
	for _, s := range l.settings() {
		v := strings.TrimSpace(get(s.Key))
		switch {
		case v == s.Value:
			continue
		case v == "":
			changes = append(changes, edit.Remove(edit.Path{s.Key}))
			words = append(words, "no "+s.Key)
		default:
			changes = append(changes, edit.Set(edit.Path{s.Key}, v))
			words = append(words, s.Key+" is "+v)
		}
	}
	if len(changes) == 0 {
		return done{}, fmt.Errorf("nothing was changed in the settings")
	}
	return done{strings.Join(words, ", "), edits(changes...)}, nil
}

// picker is a role of a table with the column that plays it.
type picker struct {
	Table, Role, Label, Column string
	Columns                    []string
}

// roles are what columns of the two kinds of tables are for.
var (
	fishRoles     = [][2]string{{"tag", "tag"}, {"released", "time of release"}, {"site", "place of release"}, {"removed", "taken out at"}}
	sightingRoles = [][2]string{{"tag", "tag"}, {"time", "time"}, {"site", "site"}, {"antenna", "antenna"}}
)

// pickers are those of a table of the study, named as results name it.
func (l *looking) pickers(st *study.Study, file string, fish bool) []picker {
	if fish {
		columns := headers(st.Fish.File)
		var out []picker
		for _, r := range fishRoles {
			if st.Fish.Joined[r[0]] == "" {
				out = append(out, pickerOf("fish", r, st.Fish.Column(r[0]), columns))
			}
		}
		if len(columns) > 0 {
			out = append(out, picker{"fish", "cohort", "cohort", st.Fish.Cohort, withCurrent(columns, st.Fish.Cohort)})
		}
		return out
	}
	files, _, _, err := table.Files(st)
	if err != nil {
		return nil
	}
	at := slices.IndexFunc(files, func(f table.File) bool { return f.Name == file })
	if at < 0 {
		return nil
	}
	group := st.Sightings[files[at].Group]
	if group.Columns["date"] != nil {
		return nil // date and time apart are settled in the file
	}
	columns := headers(files[at].Path)
	var out []picker
	for _, r := range sightingRoles {
		column := r[0]
		if names := group.Columns[r[0]]; len(names) > 0 {
			column = names[0]
		}
		out = append(out, pickerOf("sightings:"+strconv.Itoa(files[at].Group), r, column, columns))
	}
	return out
}

func pickerOf(table string, role [2]string, column string, columns []string) picker {
	if !slices.Contains(columns, column) {
		column = "" // no such column: an optional one that the table lacks
	}
	return picker{table, role[0], role[1], column, withCurrent(columns, column)}
}

func withCurrent(columns []string, column string) []string {
	if column == "" {
		return slices.Concat([]string{""}, columns)
	}
	return columns
}

// headers are the names of a table's columns; none where it cannot be opened.
func headers(path string) []string {
	t, err := table.Open(path)
	if err != nil {
		return nil
	}
	defer t.Close()
	return t.Columns()
}

// columnsChanged says which columns play the roles.
func columnsChanged(st *study.Study, get func(string) string) (done, error) {
	which := get("table")
	var at edit.Path
	var current func(role string) string
	roles := sightingRoles
	switch n, group := strings.CutPrefix(which, "sightings:"); {
	case which == "fish" && st.Fish != nil:
		at, roles = edit.Path{"fish"}, fishRoles
		current = st.Fish.Column
	case group:
		i, err := strconv.Atoi(n)
		if err != nil || i < 0 || i >= len(st.Sightings) {
			return done{}, fmt.Errorf("there is no such table")
		}
		at = edit.Path{"sightings"}
		if strings.HasPrefix(st.Sightings[i].Title, "[[") {
			at = edit.Path{"sightings", i}
		}
		current = func(role string) string {
			if names := st.Sightings[i].Columns[role]; len(names) > 0 {
				return names[0]
			}
			return role
		}
	default:
		return done{}, fmt.Errorf("there is no such table")
	}
	var changes []edit.Change
	var words []string
	for _, r := range roles {
		column := get("column-" + r[0])
		if column == "" || column == current(r[0]) {
			continue
		}
		path := append(slices.Clone(at), "columns", r[0])
		if column == r[0] {
			changes = append(changes, edit.Remove(path))
		} else {
			changes = append(changes, edit.Set(path, column))
		}
		words = append(words, fmt.Sprintf("%s in column %s", r[1], column))
	}
	if which == "fish" {
		switch c := get("column-cohort"); {
		case c == st.Fish.Cohort:
		case c == "":
			changes, words = append(changes, edit.Remove(edit.Path{"fish", "cohort"})), append(words, "no cohorts")
		default:
			changes, words = append(changes, edit.Set(edit.Path{"fish", "cohort"}, c)), append(words, "cohorts in column "+c)
		}
	}
	if len(changes) == 0 {
		return done{}, fmt.Errorf("nothing was changed in the columns")
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
