// Package studyfile writes study files.
package studyfile

import (
	"bytes"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// ForHistories writes the study file that reads histories of h from the named
// table, with the sites, test passes, holds, retention and models of st: what
// is fitted from it is the same.
func ForHistories(w io.Writer, st *study.Study, h *history.Histories, table string) error {
	var b builder
	b.line("# Written by `unseen histories`: the same study, from its detection histories.")
	if st.Title != "" {
		b.key("title", study.Quote(st.Title))
	}
	b.nouns(st)
	if st.Missing != "" {
		b.key("missing", study.Quote(st.Missing))
	}
	b.table("[histories]")
	b.key("file", study.Quote(table))
	if h.CohortColumn != "" {
		b.key("cohort", study.Quote(h.CohortColumn))
	}
	if kinds := kinds(h); len(kinds) > 0 {
		b.key("kinds", inline(kinds))
	}
	for i := range st.Sites {
		b.site(&st.Sites[i])
	}
	for _, t := range st.TestPasses {
		b.table("[[test_passes]]")
		b.place(t.Site, t.Row)
		b.key("passes", strconv.Itoa(t.Passes))
		b.key("read", strconv.Itoa(t.Read))
		b.where(t.Where)
	}
	b.holds(st.Holds)
	if r := st.Retention; r != nil {
		b.table("[retention]")
		b.key("held", strconv.Itoa(r.Held))
		b.key("kept", strconv.Itoa(r.Kept))
	}
	b.models(st.Models)
	_, err := w.Write(b.Bytes())
	return err
}

// kinds says of every column what it is, so that a category of digits is not
// read back as a number.
func kinds(h *history.Histories) map[string]string {
	m := map[string]string{}
	for i := range h.Columns {
		kind := "number"
		if h.Columns[i].IsCategory() {
			kind = "category"
		}
		m[h.Columns[i].Name] = study.Quote(kind)
	}
	return m
}

type builder struct{ bytes.Buffer }

func (b *builder) line(s string)         { b.WriteString(s + "\n") }
func (b *builder) table(head string)     { b.line("\n" + head) }
func (b *builder) key(key, value string) { b.line(key + " = " + value) }

// nouns are what the study calls fish and sites, where it calls them otherwise.
func (b *builder) nouns(st *study.Study) {
	for _, n := range []struct {
		key  string
		noun study.Noun
	}{{"animal", st.Animal}, {"occasion", st.Occasion}} {
		if n.noun != (study.Noun{}) {
			b.key(n.key, "["+study.Quote(n.noun.One)+", "+study.Quote(n.noun.Several)+"]")
		}
	}
}

func (b *builder) place(site, row string) {
	b.key("site", study.Quote(site))
	if row != "" {
		b.key("row", study.Quote(row))
	}
}

func (b *builder) where(where map[string]string) {
	if len(where) == 0 {
		return
	}
	quoted := map[string]string{}
	for k, v := range where {
		quoted[k] = study.Quote(v)
	}
	b.key("where", inline(quoted))
}

func (b *builder) holds(holds []study.Hold) {
	for _, x := range holds {
		b.table("[[hold]]")
		if x.Reach != "" {
			b.key("reach", study.Quote(x.Reach))
			b.key("survival", study.FormatNumber(x.Survival))
		} else {
			b.place(x.Site, x.Row)
			b.key("detection", study.FormatNumber(x.Detection))
		}
		b.where(x.Where)
	}
}

func (b *builder) models(models []study.Model) {
	for _, m := range models {
		b.table("[[model]]")
		for _, k := range m.Keys() {
			if k[1] != "" {
				b.key(k[0], study.Quote(k[1]))
			}
		}
	}
}

func (b *builder) site(s *study.Site) {
	b.table("[[site]]")
	b.key("name", study.Quote(s.Name))
	if !math.IsNaN(s.Km) {
		b.key("km", study.FormatNumber(s.Km))
	}
	if len(s.Rows) > 0 {
		rows := make([]string, len(s.Rows))
		for i, r := range s.Rows {
			rows[i] = study.Quote(r.Name)
		}
		b.key("rows", "["+strings.Join(rows, ", ")+"]")
	}
	attributes := map[string]string{}
	for k, v := range s.Attributes {
		attributes[k] = study.FormatNumber(v)
	}
	if _, there := attributes["days"]; !there && !math.IsNaN(s.Days) {
		attributes["days"] = study.FormatNumber(s.Days)
	}
	if len(attributes) > 0 {
		b.key("attributes", inline(attributes))
	}
}

// inline is an inline table of values that are TOML already.
func inline(m map[string]string) string {
	return ordered(slices.Sorted(maps.Keys(m)), m)
}

// ordered is an inline table in the order of keys.
func ordered(keys []string, m map[string]string) string {
	parts := make([]string, len(keys))
	for i, k := range keys {
		parts[i] = study.Quote(k) + " = " + m[k]
	}
	return "{ " + strings.Join(parts, ", ") + " }"
}
