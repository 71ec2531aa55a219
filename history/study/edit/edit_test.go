package edit_test

import (
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
	"example.org/unseen/history/study/edit"
)

const hollin = `# Hollin Water, spring
title     = "Hollin Water"   # as on the report
time_zone = "Europe/Dublin"

[fish]
file    = "fish.csv"
columns = { tag = "Tag" }   # the rest is as it should be

[sightings]
files = [
  "arrays/ford.csv",   # north bank
  "arrays/weir.csv"    # both
]

# released here
[[site]]
name = "Mill Lade"
km   = 58.0

[[site]]
name = "Alder Ford"
km   = 36.6 # by map
working = [[2025-03-20, 2025-04-14T09:00:00]]

[[site.clock]]
from    = 2025-04-20
seconds = -340
# the battery was changed

[[site]]
name = "Tidehead"
km   = 0.0

[rules]
test_tags = "999000000000001"
`

func at(path ...any) edit.Path { return path }

// What is written, against the text by hand: old is what the change takes out of
// the file, new what it puts there; all else stays.
func TestWhatIsWritten(t *testing.T) {
	from := time.Date(2025, 4, 25, 6, 0, 0, 0, time.UTC)
	for name, x := range map[string]struct {
		change   edit.Change
		old, new string
	}{
		"a key":  {edit.Set(at("site", 1, "km"), 36.8), "km   = 36.6 #", "km   = 36.8 #"},
		"a text": {edit.Set(at("title"), `Hollin "Grüne" Water\`), `"Hollin Water"`, `"Hollin \"Grüne\" Water\\"`},
		"a new key stands in line": {edit.Set(at("fish", "cohort"), "week"),
			"# the rest is as it should be\n", "# the rest is as it should be\ncohort  = \"week\"\n"},
		"a new key at the top": {edit.Set(at("date_order"), "day first"),
			"\"Europe/Dublin\"\n", "\"Europe/Dublin\"\ndate_order = \"day first\"\n"},
		"an alias": {edit.Set(at("fish", "aliases", "B2"), "A1"),
			"# the rest is as it should be\n", "# the rest is as it should be\naliases = { B2 = \"A1\" }\n"},
		"a column": {edit.Set(at("fish", "columns", "released"), "Let go"), `{ tag = "Tag" }`, `{ tag = "Tag", released = "Let go" }`},
		"a file on its line": {edit.Append(at("sightings", "files"), "arrays/tide.csv"),
			"\"arrays/weir.csv\"    # both\n", "\"arrays/weir.csv\",    # both\n  \"arrays/tide.csv\"\n"},
		"a test tag beside one": {edit.Append(at("rules", "test_tags"), "999000000000002"),
			`"999000000000001"`, `["999000000000001", "999000000000002"]`},
		"a working window": {edit.Append(at("site", 1, "working"), []any{edit.Raw("2025-04-16"), edit.Raw("2025-06-01")}),
			"09:00:00]]", "09:00:00], [2025-04-16, 2025-06-01]]"},
		"the first working window": {edit.Append(at("site", 2, "working"), []any{edit.Raw("2025-04-16"), edit.Raw("2025-06-01")}),
			"km   = 0.0\n", "km   = 0.0\nworking = [[2025-04-16, 2025-06-01]]\n"},
		"a clock correction under headers": {edit.Append(at("site", 1, "clock"), edit.Table{{"from", from}, {"seconds", 5}}),
			"# the battery was changed\n", "# the battery was changed\n\n[[site.clock]]\nfrom = 2025-04-25T06:00:00Z\nseconds = 5\n"},
		"a clock correction in a list": {edit.Append(at("site", 0, "clock"), edit.Table{{"to", from}, {"seconds", 5}}),
			"km   = 58.0\n", "km   = 58.0\nclock = [{ to = 2025-04-25T06:00:00Z, seconds = 5 }]\n"},
		"a site": {edit.Append(at("site"), edit.Table{{"name", "Bar"}, {"km", -2}}),
			"km   = 0.0\n", "km   = 0.0\n\n[[site]]\nname = \"Bar\"\nkm = -2\n"},
		"a first model": {edit.Append(at("model"), edit.Table{{"name", "one"}, {"survival", "same"}}),
			"test_tags = \"999000000000001\"\n", "test_tags = \"999000000000001\"\n\n[[model]]\nname = \"one\"\nsurvival = \"same\"\n"},
		"a table": {edit.Set(at("retention"), edit.Table{{"held", 500}, {"kept", 492}}),
			"test_tags = \"999000000000001\"\n", "test_tags = \"999000000000001\"\n\n[retention]\nheld = 500\nkept = 492\n"},
		"a list keeps what stays": {edit.Set(at("sightings", "files"), []string{"arrays/ford.csv"}),
			"\"arrays/ford.csv\",   # north bank\n  \"arrays/weir.csv\"    # both\n", "\"arrays/ford.csv\"   # north bank\n  # both\n"},
		"a key taken away":       {edit.Remove(at("site", 1, "working")), "working = [[2025-03-20, 2025-04-14T09:00:00]]\n", ""},
		"a table taken away":     {edit.Remove(at("rules")), "\n[rules]\ntest_tags = \"999000000000001\"\n", ""},
		"a comment is not":       {edit.Remove(at("title")), `title     = "Hollin Water"   #`, "#"},
		"an entry of headers":    {edit.Remove(at("site", 1, "clock", 0)), "\n[[site.clock]]\nfrom    = 2025-04-20\nseconds = -340\n", ""},
		"the same value again":   {edit.Set(at("site", 0, "km"), 58), "", ""},
		"a list the same again":  {edit.Set(at("sightings", "files"), []string{"arrays/ford.csv", "arrays/weir.csv"}), "", ""},
		"a table the same again": {edit.Set(at("fish", "columns"), edit.Table{{"tag", "Tag"}}), "", ""},
	} {
		for ends, newline := range map[string]string{"": "\n", ", CRLF": "\r\n"} {
			t.Run(name+ends, func(t *testing.T) {
				text := strings.ReplaceAll(hollin, "\n", newline)
				f, err := edit.Parse("hollin.toml", []byte(text))
				require.NoError(t, err)
				require.NoError(t, f.Apply(x.change))
				require.Equal(t, 1, max(1, strings.Count(hollin, x.old)*min(1, len(x.old))), "the case is ambiguous")
				want := strings.ReplaceAll(strings.Replace(hollin, x.old, x.new, 1), "\n", newline)
				require.Equal(t, want, string(f.Bytes()))
			})
		}
	}
}

// Study files of the project, unchanged and after a change and its way back.
func TestUneditedFilesAreTheSameBytes(t *testing.T) {
	for _, file := range []string{
		"../../../cmd/unseen/internal/demo/files/study.toml",
		"../../../testdata/published/lebreton1992/dipper.toml",
		"../../../testdata/published/lebreton1992/dipper_next_seen_by_sex.toml",
	} {
		data, err := os.ReadFile(file)
		require.NoError(t, err)
		st, err := study.Parse(file, data)
		require.NoError(t, err)
		f, err := edit.Parse(file, data)
		require.NoError(t, err)
		require.Equal(t, data, f.Bytes())
		require.NoError(t, f.Apply(edit.Set(at("site", 0, "name"), st.Sites[0].Name)))
		require.Equal(t, data, f.Bytes())
		require.NoError(t, f.Apply(edit.Append(at("rules", "ghost_tags"), "7")))
		require.NotEqual(t, data, f.Bytes())
		back := []edit.Change{edit.Remove(at("rules", "ghost_tags"))}
		if !strings.Contains(string(data), "[rules]") {
			back = append(back, edit.Remove(at("rules")))
		}
		require.NoError(t, f.Apply(back...))
		require.Equal(t, data, f.Bytes(), "%s", file)
	}
}

// The place of a first edit: before the tables, and in a file without a last line end.
func TestEndsOfTheFile(t *testing.T) {
	const head = "# a study\n\n# seen and not seen\n"
	const rest = "[next_seen]\nfile = \"m.csv\"\n[[site]]\nname = \"A\"\n[[site]]\nname = \"B\""
	for _, mark := range []string{"", "\xef\xbb\xbf"} {
		f, err := edit.Parse("s.toml", []byte(mark+head+rest))
		require.NoError(t, err)
		require.NoError(t, f.Apply(edit.Set(at("title"), "T"), edit.Set(at("site", 1, "days"), 2.5)))
		require.Equal(t, mark+"# a study\n\ntitle = \"T\"\n\n# seen and not seen\n"+rest+"\ndays = 2.5", string(f.Bytes()))
	}
}

// What the study refuses is refused whole, and leaves the file as it was.
func TestRefusals(t *testing.T) {
	f, err := edit.Parse("hollin.toml", []byte(hollin))
	require.NoError(t, err)
	for want, changes := range map[string][]edit.Change{
		`hollin.toml:24: unknown key "colour" in [[site]]`: {edit.Set(at("title"), "x"), edit.Set(at("site", 1, "colour"), "red")},
		"km": {edit.Remove(at("site", 1, "km"))},
		"hollin.toml: there is no site 4: the list has 3":       {edit.Set(at("site", 3, "km"), 1)},
		"hollin.toml: there is no site 2, colour":               {edit.Remove(at("site", 1, "colour"))},
		"site is a list; the path lacks the place in it":        {edit.Set(at("site", "km"), 1)},
		"title is no table, so it has no x":                     {edit.Set(at("title", "x"), 1)},
		"rules is made of tables":                               {edit.Set(at("rules"), 1)},
		"fish is a table, no list":                              {edit.Append(at("fish"), "x")},
		"site is a list of tables; Bar is none":                 {edit.Append(at("site"), "Bar")},
		"site 1, km: NaN is no finite number":                   {edit.Set(at("site", 0, "km"), nan())},
		`title: the text "\xff" is not UTF-8`:                   {edit.Set(at("title"), "\xff")},
		`"1 # one" holds more than one value`:                   {edit.Set(at("site", 0, "km"), edit.Raw("1 # one"))},
		`"1\nname = 2" is not one value as a study file writes`: {edit.Set(at("site", 0, "km"), edit.Raw("1\nname = 2"))},
		`"soon" is not one value`:                               {edit.Set(at("as_of"), edit.Raw("soon"))},
		"a struct {} is no value of a study file":               {edit.Set(at("title"), struct{}{})},
		`the key "a" stands twice`:                              {edit.Set(at("fish", "kinds"), edit.Table{{"a", "x"}, {"a", "y"}})},
		"the path is empty":                                     {edit.Remove(nil)},
		"a path is keys":                                        {edit.Remove(at("site", -1)), edit.Remove(at(0))},
	} {
		require.ErrorContains(t, f.Apply(changes...), want)
		require.Equal(t, hollin, string(f.Bytes()))
	}
	_, err = edit.Parse("hollin.toml", []byte("title = \n"))
	require.ErrorContains(t, err, "hollin.toml:1")
	var faults *history.Faults
	require.ErrorAs(t, f.Apply(edit.Set(at("title"), 1)), &faults)
}

// km goes from every site in one go, and comes back; one at a time it is refused.
func TestTogether(t *testing.T) {
	f, err := edit.Parse("hollin.toml", []byte(hollin))
	require.NoError(t, err)
	var away, back []edit.Change
	for i, km := range []float64{58, 36.6, 0} {
		away = append(away, edit.Remove(at("site", i, "km")))
		back = append(back, edit.Set(at("site", i, "km"), km))
	}
	require.Error(t, f.Apply(away[0]))
	require.NoError(t, f.Apply(away...))
	require.NotContains(t, string(f.Bytes()), "km ")
	require.Contains(t, string(f.Bytes()), "\n# by map\n")
	require.NoError(t, f.Apply(back...))
	st, err := study.Parse("hollin.toml", f.Bytes())
	require.NoError(t, err)
	require.Equal(t, 36.6, st.Sites[1].Km)
}

func nan() float64 { zero := 0.0; return zero / zero }
