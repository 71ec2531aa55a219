package main

import (
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const module = "example.org/unseen/"

// siblings are the imports between subpackages of one parent that the
// architecture draws; all others are banned.
var siblings = map[string][]string{
	"history/study/edit": {"history/study"},
	"history/table":      {"history/study", "history/clock", "history/tagcode", "history/internal/dialect"},
	"history/tagindex":   {"history/tagcode", "history/rule"},
	"history/ready":      {"history/study", "history/table"},
	"history/fishtable":  {"history/study", "history/table", "history/tagcode", "history/tagindex", "history/rule"},
	"history/sighting":   {"history/internal/dialect", "history/study", "history/table", "history/clock", "history/tagindex", "history/fishtable", "history/rule"},
	"history/findings":   {"history/study", "history/clock", "history/fishtable", "history/sighting", "history/rule", "history/growth"},
	"history/propose":    {"history/internal/dialect", "history/study", "history/table", "history/clock", "history/tagcode", "history/tagindex"},
	"history/ingest": {"history/study", "history/table", "history/tagindex", "history/rule", "history/growth",
		"history/ready", "history/fishtable", "history/sighting", "history/findings"},
	"history/rule":  {"history/study"},
	"cjs/replicate": {"cjs/simulate"},
	"cjs/plan":      {"cjs/simulate"},
	"cjs/analysis":  {"cjs/assess", "cjs/compare", "cjs/opinion", "cjs/plan", "cjs/replicate", "cjs/season", "cjs/simulate", "cjs/travel", "cjs/whatif"},
}

// banned says why one package of ours must not import another; "" if it may.
func banned(from, to string) string {
	room := func(p string) string { return strings.SplitN(p, "/", 2)[0] }
	switch {
	case room(from) == "likelihood" && room(to) != "likelihood":
		return "likelihood is pure probability and imports nothing of ours"
	case room(from) == "history" && room(to) != "history":
		return "history learns no model and no command"
	case room(from) == "cjs" && room(to) == "cmd":
		return "cjs knows no command"
	case room(from) == "cmd" || from == room(from) || to == room(to):
		// Commands may use everything; a room's own package may use its
		// subpackages, and they their parent: the compiler refuses circles.
		return ""
	case room(from) == "cjs" && (to == "cjs/model" || to == "cjs/internal/plain" || to == "cjs/internal/cores"):
		return "" // fits are made of models, results are plain data and all cores are used, everywhere in cjs
	case room(from) == room(to):
		for _, s := range siblings[from] {
			if s == to {
				return ""
			}
		}
		return "siblings import each other only where docs/architecture.md draws it"
	}
	return ""
}

func TestImportsPointOneWay(t *testing.T) {
	out, err := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}}`, module+"...").Output()
	require.NoError(t, err)
	used := map[[2]string]bool{}
	for _, line := range strings.Split(strings.TrimSpace(string(out)), "\n") {
		words := strings.Fields(line)
		from := strings.TrimPrefix(words[0], module)
		for _, w := range words[1:] {
			to, ours := strings.CutPrefix(w, module)
			if !ours {
				continue
			}
			used[[2]string{from, to}] = true
			assert.Empty(t, banned(from, to), "%s imports %s", from, to)
		}
	}
	assert.Greater(t, len(used), 10, "the list of imports is empty: the test looks at nothing")
	for from, list := range siblings {
		for _, to := range list {
			assert.True(t, used[[2]string{from, to}], "%s imports %s no more: take it from the list and from docs/architecture.md", from, to)
		}
	}
}

func TestBannedEdgesAreSeen(t *testing.T) {
	for _, e := range [][2]string{
		{"likelihood", "history"}, {"likelihood/passtime", "cjs"}, {"history", "likelihood"}, {"history/ingest", "cjs"},
		{"cjs", "cmd/unseen"}, {"cjs/assess", "cjs/compare"}, {"cjs/season", "cjs/analysis"}, {"history/tagcode", "history/clock"}, {"history/study", "history/table"},
	} {
		assert.NotEmpty(t, banned(e[0], e[1]), "%s to %s", e[0], e[1])
	}
	for _, e := range [][2]string{
		{"cmd/unseen", "cjs"}, {"cjs", "likelihood"}, {"cjs", "history"}, {"cjs/replicate", "cjs/simulate"},
		{"history/ingest", "history/study"}, {"cjs/model", "history"}, {"cjs/season", "likelihood/passtime"}, {"history/study", "history"},
	} {
		assert.Empty(t, banned(e[0], e[1]), "%s to %s", e[0], e[1])
	}
}
