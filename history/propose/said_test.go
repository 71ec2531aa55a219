package propose_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/propose"
	"example.org/unseen/history/study"
)

// lines are a table of forty records below its header.
func lines(header string, record func(i int) string) string {
	out := header + "\n"
	for i := range 40 {
		out += record(i) + "\n"
	}
	return out
}

func row(cells ...string) string { return strings.Join(cells, ";") }

func code(i int) string { return fmt.Sprintf("9990410000%05d", 100+i) }

func tables(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	return dir
}

// saidTables are a fish table and two of sightings; what they hold tells the rest.
var saidTables = map[string]string{
	"fish.csv": lines("tag;set;measured;trap;batch", func(i int) string {
		return row(code(i), fmt.Sprintf("2025-04-01 20:%02d", i), fmt.Sprintf("2025-04-01 18:%02d", i), "Upper trap", []string{"a", "b"}[i%2])
	}),
	"one.csv": lines("tag;when;where;reader", func(i int) string { return row(code(i), fmt.Sprintf("2025-04-03 10:%02d:00", i), "Weir", "7") }),
	"two.csv": lines("tag;when;where;reader", func(i int) string { return row(code(i), fmt.Sprintf("2025-04-05 10:%02d:00", i), "Mouth", "9") }),
}

func taken(t *testing.T, p *propose.Proposal, name string) propose.Taken {
	t.Helper()
	for _, x := range p.Tables {
		if x.Name == name {
			return x
		}
	}
	t.Fatalf("no table %s among %v", name, p.Tables)
	return propose.Taken{}
}

// What a user says of a table holds, the rest is guessed with it.
func TestSaidIsNotGuessed(t *testing.T) {
	dir := tables(t, saidTables)
	told := func(said map[string]propose.Said) (*propose.Proposal, *study.Study, error) {
		p, err := propose.Told(t.Context(), []string{dir}, dir, said)
		require.NotNil(t, p)
		if err != nil {
			return p, nil, err
		}
		st, err := study.Parse(dir+"/study.toml", []byte(p.Study))
		require.NoError(t, err, p.Study)
		return p, st, nil
	}
	p, st, err := told(nil)
	require.NoError(t, err)
	assert.Equal(t, map[string]string{"tag": "tag", "time": "when", "site": "where", "antenna": "reader"}, taken(t, p, "one.csv").Columns)
	assert.Equal(t, "set", taken(t, p, "fish.csv").Columns["released"])
	require.Len(t, st.Sites, 3)

	// A column, and a table that is none.
	p, st, err = told(map[string]propose.Said{"fish.csv": {Columns: map[string]string{"released": "measured", "cohort": "batch", "site": "trap"}},
		"two.csv": {Kind: propose.Unused}})
	require.NoError(t, err)
	assert.Equal(t, "measured", st.Fish.Column("released"))
	assert.Equal(t, "batch", st.Fish.Cohort)
	assert.Equal(t, "trap", st.Fish.Column("site"))
	assert.Equal(t, []string{"two.csv"}, p.Other)
	require.Len(t, st.Sites, 2)

	// The site of all records of a file, and its zone: its group stands alone, and
	// the sites are told anew.
	_, st, err = told(map[string]propose.Said{"two.csv": {Site: "Estuary", Columns: map[string]string{"antenna": ""}, TimeZone: "Etc/GMT-1", Order: clock.MonthFirst}})
	require.NoError(t, err)
	require.Len(t, st.Sightings, 2)
	assert.Equal(t, "Estuary", st.Sightings[1].Site)
	assert.Equal(t, "Etc/GMT-1", st.Sightings[1].TimeZone)
	assert.Equal(t, "Estuary", st.Sites[2].Name)

	// Another column for the site.
	_, st, err = told(map[string]propose.Said{"one.csv": {Columns: map[string]string{"site": "reader", "antenna": ""}}})
	require.NoError(t, err)
	assert.Equal(t, "7", st.Sites[1].Name)

	// Tables of another kind than they look.
	_, st, err = told(map[string]propose.Said{"one.csv": {Kind: propose.Recaptures, Columns: map[string]string{"length_mm": "reader"}}})
	require.NoError(t, err)
	require.NotNil(t, st.Recaptures)
	assert.Equal(t, "when", st.Recaptures.Column("date"))
	assert.Equal(t, "reader", st.Recaptures.Column("length_mm"))
	_, st, err = told(map[string]propose.Said{"one.csv": {Kind: propose.Fish}, "fish.csv": {Kind: propose.Unused}})
	require.NoError(t, err)
	assert.Equal(t, "one.csv", st.Fish.Written)

	// What is missing is named, with the tables as they stand.
	for says, said := range map[string]map[string]propose.Said{
		"which of its columns holds the tags":  {"one.csv": {Kind: propose.Sightings, Columns: map[string]string{"tag": ""}}},
		"which of its columns holds the times": {"one.csv": {Kind: propose.Sightings, Columns: map[string]string{"time": "", "released": ""}}},
		"needs a fish table":                   {"fish.csv": {Kind: propose.Unused}, "one.csv": {Kind: propose.Sightings}, "two.csv": {Kind: propose.Sightings}},
	} {
		p, _, err := told(said)
		require.ErrorContains(t, err, says)
		assert.Len(t, p.Tables, 3)
		assert.Equal(t, []string{"tag", "when", "where", "reader"}, taken(t, p, "one.csv").Header)
	}
}

// How a file is written can be said, and a file that cannot be read so is shown
// with the reason.
func TestSaidReading(t *testing.T) {
	dir := tables(t, map[string]string{"fish.csv": saidTables["fish.csv"], "two.csv": saidTables["two.csv"],
		"one.csv": "tag;when;where;reader\ncode;time;place;no\n" + saidTables["one.csv"][len("tag;when;where;reader\n"):]})
	p, err := propose.Told(t.Context(), []string{dir}, dir, map[string]propose.Said{"one.csv": {Reading: study.Reading{HeaderLine: []int{2}, Delimiter: ";"}}})
	require.NoError(t, err)
	x := taken(t, p, "one.csv")
	assert.Equal(t, []string{"code", "time", "place", "no"}, x.Header)
	assert.Equal(t, "place", x.Columns["site"])
	p, err = propose.Told(t.Context(), []string{dir}, dir, map[string]propose.Said{"one.csv": {Reading: study.Reading{HeaderLine: []int{4000}}}})
	require.NoError(t, err)
	x = taken(t, p, "one.csv")
	assert.Equal(t, propose.Unused, x.Kind)
	assert.Contains(t, x.Why, "4000")
}
