package figure

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
)

// Where it is not known how many fish of a cohort came in an outage, the fish seen
// are not taken for all that passed: a line too low would be drawn.
func TestArrivalsInAnOutage(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS(filepath.Dir(demoStudy))))
	path := filepath.Join(dir, "study.toml")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	outage := func(from, to string) *analysis.Fitted {
		with := strings.Replace(string(text), "km   = 0.0\n", "km   = 0.0\nworking = [[2025-03-01, "+from+"], ["+to+", 2025-07-01]]\n", 1)
		require.NoError(t, os.WriteFile(path, []byte(with), 0o644))
		return fittedAnew(t, path, analysis.Choice{Survival: "reach by cohort", Detection: "row"})
	}
	const last, said = 3, "How many came to Tidehead while no row worked is not known"
	for _, c := range []struct {
		from, to string
		hidden   bool
	}{{"2025-04-20", "2025-04-29", true}, {"2025-04-22", "2025-04-23", false}} {
		d := outage(c.from, c.to)
		bySite, hidden := arrivals(d)
		assert.Equal(t, []bool{false, false, false, c.hidden}, hidden)
		fish, weight := 0.0, 0.0
		for _, a := range bySite[last] {
			fish, weight = fish+a.fish, weight+a.weight
		}
		assert.Equal(t, c.hidden, fish == weight)
		for _, f := range []*Figure{Arrivals(d), Cumulative(d)} {
			assert.Equal(t, c.hidden, strings.Contains(f.Caption, said), f.Caption)
			says := func(n svgNode) bool { return n.text == "not working, by the study file" }
			assert.True(t, slices.ContainsFunc(parse(t, f, Wide), says), f.ID)
		}
	}
}

// A cumulative line is level over days without arrivals.
func TestCumulativeLineIsLevelWithoutArrivals(t *testing.T) {
	l := line{x: []float64{3}, y: []float64{0}}
	l.until(3, 5)
	l.until(4, 7)
	l.until(8, 9)
	assert.Equal(t, []float64{3, 4, 5, 8, 9}, l.x)
	assert.Equal(t, []float64{0, 5, 7, 7, 9}, l.y)
}

// A passage figure of which all is too early does not say that it never can be told.
func TestTooEarlyIsNotUnidentifiable(t *testing.T) {
	early := stop{site: "Tidehead", passed: cjs.NoEstimate(cjs.TooEarly)}
	for _, c := range []struct {
		a    along
		want string
	}{
		{along{running: true, stops: []stop{early}}, "It is too early to say how many have passed"},
		{along{stops: []stop{early}}, "too many may have while rows did not work"},
		{along{stops: []stop{{site: "Tidehead", passed: cjs.NoEstimate(cjs.Inseparable)}}}, "not identifiable"},
	} {
		assert.Contains(t, found(&c.a)[0], c.want)
	}
}
