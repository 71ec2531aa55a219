package figure

import (
	"bytes"
	"context"
	"encoding/xml"
	"flag"
	"fmt"
	"image/png"
	"io"
	"maps"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/travel"
	"example.org/unseen/cmd/unseen/internal/canvas"
	"example.org/unseen/cmd/unseen/internal/speech"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

var update = flag.Bool("update", false, "rewrite the expected structure of figures")

const (
	demoStudy   = "../demo/files/study.toml"
	dipperStudy = "../../../../testdata/published/lebreton1992/dipper.toml"
)

var fits = map[string]*analysis.Fitted{}

// fitted is a fit that no test changes, made once.
func fitted(t *testing.T, path string, choice analysis.Choice) *analysis.Fitted {
	t.Helper()
	key := fmt.Sprint(path, choice)
	if fits[key] == nil {
		fits[key] = fittedAnew(t, path, choice)
	}
	return fits[key]
}

func fittedAnew(t *testing.T, path string, choice analysis.Choice) *analysis.Fitted {
	t.Helper()
	d, err := analysis.Open(context.Background(), path, ingest.Options{})
	require.NoError(t, err)
	spec, err := d.Spec(choice)
	require.NoError(t, err)
	f, err := d.Fit(context.Background(), spec, analysis.Options{})
	require.NoError(t, err)
	return f
}

var drawn map[string]*Figure

// figures are all of the demo, with a number in its model, and of the dipper.
// Nothing changes a figure, so they are made once.
func figures(t *testing.T) map[string]*Figure {
	t.Helper()
	if drawn != nil {
		return drawn
	}
	out := map[string]*Figure{}
	drawn = out
	add := func(study string, list ...*Figure) {
		for _, f := range list {
			require.NotNil(t, f, study)
			out[study+"-"+f.ID] = f
		}
	}
	demo := fitted(t, demoStudy, analysis.Choice{Survival: "reach + cohort + fork_length_mm", Detection: "row"})
	r, err := demo.Travel(context.Background(), travel.Options{})
	require.NoError(t, err)
	add("demo", Passage(demo), PassedBy(demo), Survival(demo), SurvivalPer100Km(demo), Detection(demo), Flow(demo.Data), Arrivals(demo), TravelTimes(demo.Data, r))
	add("demo", Effects(demo)...)
	models, err := demo.Compare(context.Background(), demo.Specs(), analysis.Options{}, nil)
	require.NoError(t, err)
	add("demo", River(demo), Weeks(demo), Lengths(demo.Data), Cumulative(demo), Tracks(demo.Data), Expected(demo, assess.OfModel(demo.Fit.Problem)), Forest(demo.Data, models))
	add("simulated", Coverage(simulated(t)))
	dipper := fitted(t, dipperStudy, analysis.Choice{})
	add("dipper", Passage(dipper), Survival(dipper), Detection(dipper), Flow(dipper.Data))
	add("birds", Spoken([]*Figure{Passage(dipper), Survival(dipper), Detection(dipper), Flow(dipper.Data)}, speech.Of(dipper.Source().StudyFile))...)
	return out
}

// Every colour that a figure uses is known on a dark page.
func TestEveryColourHasADarkOne(t *testing.T) {
	for name, f := range figures(t) {
		for _, o := range f.lay(Wide).Ops {
			if o.Kind == canvas.OpFill || o.Kind == canvas.OpStroke || o.Kind == canvas.OpText {
				_, ok := canvas.Dark[o.Colour]
				assert.True(t, ok, "%s: %v", name, o.Colour)
			}
		}
	}
}

func TestSameFigureSameBytes(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	write := func(f *Figure) (out [3]string) {
		var b bytes.Buffer
		require.NoError(t, f.SVG(&b, Wide, ""))
		out[0] = b.String()
		b.Reset()
		require.NoError(t, f.PNG(&b))
		out[1] = b.String()
		b.Reset()
		require.NoError(t, f.PDF(&b))
		out[2] = b.String()
		return out
	}
	f := fitted(t, dipperStudy, analysis.Choice{})
	one, two := write(Passage(f)), write(Passage(fittedAnew(t, dipperStudy, analysis.Choice{})))
	for i, name := range []string{"SVG", "PNG", "PDF"} {
		assert.True(t, one[i] == two[i], "%s differs", name)
	}
	img, err := png.Decode(strings.NewReader(one[1]))
	require.NoError(t, err)
	assert.Equal(t, Wide*canvas.PngScale, img.Bounds().Dx())
	r, g, b, a := img.At(0, 0).RGBA()
	assert.Equal(t, [4]uint32{0xffff, 0xffff, 0xffff, 0xffff}, [4]uint32{r, g, b, a}, "the paper is white, not clear")
	assert.True(t, strings.HasPrefix(one[2], "%PDF-"))
}

// svgNode is what the tests read of an SVG element.
type svgNode struct {
	name string
	attr map[string]string
	text string
}

func parse(t *testing.T, f *Figure, width float64) []svgNode {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, f.SVG(&b, width, "-x"))
	d := xml.NewDecoder(&b)
	d.Strict = true
	var out []svgNode
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return out
		}
		require.NoError(t, err)
		switch x := tok.(type) {
		case xml.StartElement:
			n := svgNode{name: x.Name.Local, attr: map[string]string{}}
			for _, a := range x.Attr {
				n.attr[a.Name.Local] = a.Value
			}
			out = append(out, n)
		case xml.CharData:
			if len(out) > 0 {
				out[len(out)-1].text += strings.TrimSpace(string(x))
			}
		}
	}
}

func TestSVGSpeaks(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for name, f := range figures(t) {
		for _, width := range []float64{Wide, Narrow} {
			nodes := parse(t, f, width)
			root := nodes[0]
			assert.Equal(t, "img", root.attr["role"], name)
			assert.Equal(t, "title", nodes[1].name, name)
			assert.Equal(t, root.attr["aria-labelledby"], nodes[1].attr["id"], name)
			assert.NotEmpty(t, nodes[1].text, name)
			assert.Equal(t, "desc", nodes[2].name, name)
			assert.Equal(t, root.attr["aria-describedby"], nodes[2].attr["id"], name)
			assert.Greater(t, len(nodes[2].text), 60, "%s: the description says little", name)
			assert.Contains(t, root.attr["font-family"], "sans-serif", name)
			assert.True(t, strings.HasSuffix(nodes[1].attr["id"], "-x-title"), name)
			assert.NotEmpty(t, f.Caption, name)
		}
	}
}

// extent is the box of a text, in Liberation Sans, whose widths the first of
// the fonts named share.
func extent(o *canvas.Op) (x0, y0, x1, y1 float64) {
	p := o.Origin()
	return p.X, p.Y - .72*o.Size, p.X + canvas.TextWidth(o.Text, o.Size, o.Bold), p.Y + .2*o.Size
}

// TestTextStandsFree: no text leaves the figure or runs into another.
func TestTextStandsFree(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	all := maps.Clone(figures(t))
	for name, f := range hardFigures() {
		all["hard-"+name] = f
	}
	for name, f := range all {
		for _, width := range []float64{Wide, Narrow} {
			s := f.lay(width)
			var texts []canvas.Op
			for _, o := range s.Ops {
				if o.Kind == canvas.OpText {
					texts = append(texts, o)
				}
			}
			require.NotEmpty(t, texts, name)
			boxes := make([][4]float64, len(texts))
			for i := range texts {
				x0, y0, x1, y1 := extent(&texts[i])
				boxes[i] = [4]float64{x0, y0, x1, y1}
				assert.True(t, x0 >= -1 && y0 >= -1 && x1 <= s.Width+1 && y1 <= s.Height+1,
					"%s at %v: %q leaves the figure (%.0f %.0f %.0f %.0f of %.0f × %.0f)", name, width, texts[i].Text, x0, y0, x1, y1, s.Width, s.Height)
				for j := range i {
					b := boxes[j]
					over := min(x1, b[2])-max(x0, b[0]) > 1 && min(y1, b[3])-max(y0, b[1]) > 1
					assert.False(t, over, "%s at %v: %q runs into %q", name, width, texts[i].Text, texts[j].Text)
				}
			}
		}
	}
}

// hardFigures are of studies that are hard to draw.
func hardFigures() map[string]*Figure {
	value := func(x, low, high float64) cjs.Estimate {
		return cjs.Estimate{Value: x, Low: low, High: high, Status: cjs.Estimated}
	}
	none := cjs.NoEstimate(cjs.Inseparable)
	early := cjs.NoEstimate(cjs.TooEarly)
	early.Low, early.High = 20, 90
	long := "The confluence below the old paper mill at Upper Hollin"
	var many []stop
	var group rowGroup
	for i := range 24 {
		v := 100 * math.Pow(.9, float64(i))
		many = append(many, stop{site: fmt.Sprintf("Site %d", i+1), asides: []string{"1.0 km down", "of 12,345 fish, +678"}, seen: value(v/2, v/3, v), passed: value(v, .9*v, min(100, 1.1*v))})
		group.rows = append(group.rows, row{label: fmt.Sprintf("cohort %d of %s", i, long), Estimate: value(v/100, 0, 1), look: canvas.LookOf(i)})
	}
	var curves []line
	for i := range 12 {
		curves = append(curves, line{label: fmt.Sprintf("cohort %d", i+1), x: []float64{0, 1}, y: []float64{.5, .5}, look: canvas.LookOf(i)})
	}
	return map[string]*Figure{
		"many sites": {ID: "a", body: &along{released: "1 fish released", first: "Mill Lade", stops: many}},
		"edges": {ID: "b", body: &along{released: "12,345,678 fish released", first: long, running: true, stops: []stop{
			{site: long, asides: []string{"1,234.5 km down"}, seen: value(100, 100, 100), passed: value(100, 100, 100), away: value(0, 0, 0), end: value(100, 100, 100)},
			{site: "B", seen: value(0, 0, 3), passed: value(0, 0, 4), away: value(96, 90, 100), end: value(96, 90, 100)},
			{site: "C", seen: value(1, 0, 3), passed: none, away: none, end: none}, {site: "D", seen: value(40, 38, 42), passed: early, away: none, end: early},
		}}},
		"long names":  {ID: "c", body: &rows{axis: shareAxis("survival in the reach, with 95 % interval", 1), digits: 3, groups: []rowGroup{group}}},
		"many labels": {ID: "d", body: &charts{panels: []panel{{x: numberAxis("x", 0, 1, 5), y: shareAxis("y", 1), lines: curves}}}},
	}
}

// TestHardCasesCannotPanic: whatever the sizes, every figure is drawn.
func TestHardCasesCannotPanic(t *testing.T) {
	for name, f := range hardFigures() {
		var b bytes.Buffer
		require.NoError(t, f.SVG(&b, Narrow, ""), name)
		for _, bad := range []string{"NaN", "Inf"} {
			assert.NotContains(t, b.String(), bad, name)
		}
	}
	one := &history.Histories{River: history.River{Sites: []history.Site{{Name: "A", Km: math.NaN()}}}}
	assert.Nil(t, Flow(&analysis.Data{Study: &study.Study{}, Result: &ingest.Result{Histories: one}}))
}

// TestBarsAreAsLongAsTheySay measures the passage figure: bars and whiskers
// stand where the fit's shares put them, and the labels say the same.
func TestBarsAreAsLongAsTheySay(t *testing.T) {
	f := fitted(t, demoStudy, analysis.Choice{})
	s := Passage(f).lay(Wide)
	// The axis from its own labels: 0 and 100.
	zero, hundred := math.NaN(), math.NaN()
	var seen, unseen, texts []canvas.Op
	for _, o := range s.Ops {
		switch {
		case o.Kind == canvas.OpText && o.Text == "0":
			zero = o.At.X
		case o.Kind == canvas.OpText && o.Text == "100":
			hundred = o.At.X
		case o.Kind == canvas.OpFill && o.Colour == canvas.Seen && len(o.Path) == 5 && o.Path[2].To.Y-o.Path[0].To.Y == barHeight:
			seen = append(seen, o)
		case o.Kind == canvas.OpFill && o.Colour == canvas.Unseen && len(o.Path) == 5 && o.Path[2].To.Y-o.Path[0].To.Y == barHeight:
			unseen = append(unseen, o)
		}
		if o.Kind == canvas.OpText {
			texts = append(texts, o)
		}
	}
	share := func(x float64) float64 { return (x - zero) / (hundred - zero) }
	i := 0
	for _, p := range f.Fit.Passed {
		if len(p.Of) > 0 {
			continue
		}
		// Positions are exact up to rounding of sums of a few numbers.
		assert.InDelta(t, p.SeenShare.Value, share(seen[i].Path[1].To.X), 1e-12)
		assert.InDelta(t, p.PassedShare.Value, share(unseen[i].Path[1].To.X), 1e-12)
		for _, want := range []string{view.Digits(100*p.SeenShare.Value, 1) + " % seen", view.Digits(100*p.PassedShare.Value, 1) + " %",
			view.Span(100*p.PassedShare.Low, 100*p.PassedShare.High, 1)} {
			found := 0
			for _, o := range texts {
				if o.Text == want {
					found++
				}
			}
			assert.Equal(t, 1, found, want)
		}
		i++
	}
	assert.Equal(t, 3, i)
}

// TestStreamsHoldAllFish: what goes out of a site is what came in.
func TestStreamsHoldAllFish(t *testing.T) {
	for _, path := range []string{demoStudy, dipperStudy} {
		d, err := analysis.Open(context.Background(), path, ingest.Options{})
		require.NoError(t, err)
		drawn := Flow(d)
		// The table behind it: what was released is next seen somewhere or never.
		for _, r := range drawn.Table.Rows {
			sum := 0.0
			for _, x := range r[2:] {
				if !math.IsNaN(x.Value) {
					sum += x.Value
				}
			}
			assert.Equal(t, r[1].Value, sum, r[0].Text)
		}
		f := drawn.body.(*flow)
		for k, s := range f.sites {
			in, out := s.released, s.never+s.removed
			for i := range f.sites {
				in += f.next[i][k]
				out += f.next[k][i]
			}
			if k < len(f.sites)-1 {
				assert.Equal(t, in, out, s.name)
			}
			assert.Equal(t, in, s.released+s.seen, s.name)
		}
	}
}

// TestBarsOfDaysHoldAllFish: the arrivals drawn are all fish seen.
func TestBarsOfDaysHoldAllFish(t *testing.T) {
	f := fitted(t, demoStudy, analysis.Choice{})
	a := Arrivals(f)
	bySite := map[string]float64{}
	for _, r := range a.Table.Rows {
		bySite[r[0].Text] += r[2].Value
	}
	for _, p := range f.Fit.Passed {
		if len(p.Of) == 0 {
			assert.Equal(t, float64(p.Seen), bySite[f.Histories.River.Sites[p.Site].Name])
		}
	}
	r, err := f.Travel(context.Background(), travel.Options{})
	require.NoError(t, err)
	days := TravelTimes(f.Data, r)
	byReach := map[string]float64{}
	for _, row := range days.Table.Rows {
		byReach[row[0].Text] += row[3].Value
	}
	for _, s := range r.Stretches {
		if s.Cohort == travel.All {
			name := f.Histories.River.Sites[s.From].Name + " to " + f.Histories.River.Sites[s.To].Name
			assert.LessOrEqual(t, byReach[name], float64(s.Days.N))
			// The slow few stand beside the plot; they are never more than a tenth.
			assert.GreaterOrEqual(t, byReach[name], .9*float64(s.Days.N), name)
		}
	}
}

func TestAxes(t *testing.T) {
	a := numberAxis("", 106, 232, 5)
	assert.Equal(t, []tick{{100, "100"}, {150, "150"}, {200, "200"}, {250, "250"}}, a.ticks)
	a = numberAxis("", 0.012, 0.055, 4)
	assert.Equal(t, "0.02", a.ticks[1].label)
	a = countAxis("", 1, 3)
	assert.Equal(t, []tick{{0, "0"}, {1, "1"}}, a.ticks)
	a = numberAxis("", 5, 5, 3)
	assert.Less(t, a.low, 5.0)
	assert.Greater(t, a.high, 5.0)
	a = numberAxis("", -1200, 3400, 5)
	assert.Equal(t, "−2,000", a.ticks[0].label)
}

// TestStructure compares what each figure is made of with what it was: texts in
// order, and how many areas and lines. Positions may move.
func TestStructure(t *testing.T) {
	for name, f := range figures(t) {
		var b strings.Builder
		fmt.Fprintf(&b, "title: %s\ncaption: %s\nsource: %s\ndescription: %s\n", f.Title, f.Caption, f.Source, f.Description)
		for _, width := range []float64{Wide, Narrow} {
			fills, strokes := 0, 0
			var texts []string
			for _, o := range f.lay(width).Ops {
				switch o.Kind {
				case canvas.OpFill:
					fills++
				case canvas.OpStroke:
					strokes++
				case canvas.OpText:
					texts = append(texts, o.Text)
				}
			}
			fmt.Fprintf(&b, "width %v: %d areas, %d lines\n  %s\n", width, fills, strokes, strings.Join(texts, "\n  "))
		}
		golden(t, filepath.Join("testdata", name+".golden"), b.String())
	}
	files, err := filepath.Glob("testdata/*.golden")
	require.NoError(t, err)
	assert.Len(t, files, len(figures(t)), "a golden file is stale")
}

func golden(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(want), got, "if the new figure is right: go test ./cmd/unseen/internal/figure -update")
}
