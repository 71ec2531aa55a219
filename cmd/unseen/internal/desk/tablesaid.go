package desk

import (
	"context"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"example.org/unseen/history/propose"
	"example.org/unseen/history/study"
	"example.org/unseen/history/study/edit"
	"example.org/unseen/history/table"
)

// place is where a study file says how a table is read.
type place struct {
	at    edit.Path
	taken propose.Taken
	group *study.SightingFiles // of sightings, else nil
	table *study.Table         // of the others
}

// placeOf is that of a table by its name.
func placeOf(ctx context.Context, st *study.Study, name string) (place, error) {
	all, err := takenOf(ctx, st)
	if err != nil {
		return place{}, err
	}
	i := slices.IndexFunc(all, func(t propose.Taken) bool { return t.Name == name })
	if i < 0 {
		return place{}, fmt.Errorf("there is no such table as %q", name)
	}
	p := place{taken: all[i]}
	switch p.taken.Kind {
	case propose.Fish:
		p.at, p.table = edit.Path{"fish"}, &st.Fish.Table
	case propose.Recaptures:
		p.at, p.table = edit.Path{"recaptures"}, st.Recaptures
	default:
		files, _, _, err := table.Files(st)
		if err != nil {
			return p, err
		}
		k := files[slices.IndexFunc(files, func(f table.File) bool { return f.Name == name })].Group
		p.group = st.Sightings[k]
		if p.at = (edit.Path{"sightings"}); strings.HasPrefix(p.group.Title, "[[") {
			p.at = edit.Path{"sightings", k}
		}
	}
	return p, nil
}

func (p *place) key(keys ...any) edit.Path { return append(slices.Clone(p.at), keys...) }

// tableChanged says how a table of the study is read.
func tableChanged(ctx context.Context, st *study.Study, said url.Values) (done, error) {
	name := said.Get("table")
	p, err := placeOf(ctx, st, name)
	if err != nil {
		return done{}, err
	}
	var changes []edit.Change
	var words []string
	is := map[string]string{}
	for _, f := range sayable(&p.taken) {
		v := strings.TrimSpace(said.Get(f.Name))
		if !said.Has(f.Name) {
			v = f.Value
		}
		is[f.Name] = v
		if v == f.Value {
			continue
		}
		if err := f.takes(v); err != nil {
			return done{}, err
		}
		shown := v
		if v == "" {
			shown = "none"
		}
		words = append(words, fmt.Sprintf("%s: %s", f.Label, shown))
		role, column := strings.CutPrefix(f.Name, "column-")
		switch {
		case column && slices.Contains([]string{"released", "time", "clock"}, role):
			// Together, below.
		case role == "cohort" || role == "second_tag":
			changes = append(changes, p.text(role, v))
			if role == "cohort" && f.Value == "cohort" && p.table.Columns["cohort_name"] == "" {
				// The word is the release group's alone.
				changes = append(changes, edit.Set(p.key("columns", "cohort_name"), "cohort"))
			}
		case column:
			changes = append(changes, p.column(role, f.Value, v)...)
		case f.Name == "header_line":
			lines, err := headerLines(v)
			switch {
			case err != nil:
				return done{}, err
			case lines == nil:
				changes = append(changes, edit.Remove(p.key("header_line")))
			case len(lines) == 1:
				changes = append(changes, edit.Set(p.key("header_line"), lines[0]))
			default:
				changes = append(changes, edit.Set(p.key("header_line"), edit.Raw("["+headerWords(lines)+"]")))
			}
		default:
			changes = append(changes, p.text(f.Name, v))
		}
	}
	changes = append(changes, p.times(is)...)
	if len(changes) == 0 {
		return done{}, fmt.Errorf("nothing was changed in what is said of %s", name)
	}
	return done{name + ", " + strings.Join(words, ", "), edits(changes...)}, nil
}

// text sets a key, or takes it away.
func (p *place) text(key, is string) edit.Change {
	if is == "" {
		return edit.Remove(p.key(key))
	}
	return edit.Set(p.key(key), is)
}

// column says which column plays a role; of sightings whose files differ in what
// they call it, in the place of the name that this file has.
func (p *place) column(role, was, is string) []edit.Change {
	path := p.key("columns", role)
	if p.group != nil && len(p.group.Columns[role]) > 1 && is != "" {
		names := slices.Clone(p.group.Columns[role])
		if i := slices.Index(names, was); i >= 0 {
			names[i] = is
		} else {
			names = append(names, is)
		}
		return []edit.Change{edit.Set(path, names)}
	}
	mapped := p.table != nil && p.table.Columns[role] != "" || p.group != nil && len(p.group.Columns[role]) > 0
	switch {
	case is != "" && is != role:
		return []edit.Change{edit.Set(path, is)}
	case mapped:
		return []edit.Change{edit.Remove(path)}
	}
	return nil
}

// times says which column, or which two, hold the times.
func (p *place) times(is map[string]string) []edit.Change {
	role := "time"
	if p.taken.Kind == propose.Fish {
		role = "released"
	}
	time, clock := is["column-"+role], is["column-clock"]
	was, wasClock := p.taken.Columns[role], p.taken.Columns["clock"]
	if p.taken.Kind == propose.Recaptures || time == "" || time == was && clock == wasClock {
		return nil
	}
	var out []edit.Change
	if p.group != nil && p.group.Columns["date"] != nil && !p.joined() {
		out = append(out, edit.Remove(p.key("columns", "date")))
	}
	if clock != "" {
		join := fmt.Sprintf("{ join = [%s, %s] }", study.Quote(time), study.Quote(clock))
		return append(out, edit.Set(p.key("columns", role), edit.Raw(join)))
	}
	return append(out, p.column(role, was, time)...)
}

// joined tells whether the study joins the date and the time of day in one key.
func (p *place) joined() bool { return p.group.ColumnPos["date"] == p.group.ColumnPos["time"] }
