package plan_test

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/plan"
	"example.org/unseen/history"
	"example.org/unseen/testdata/pieces"
)

// wholePlan holds every key of the plan file once.
const wholePlan = `title = "Hollin Water, spring 2026"
level = 0.9
want  = "passed at Tidehead ± 5"

[[site]]
name = "Mill Lade"
km   = 58.0

[[site]]
name      = "Alder Ford"
km        = 36.6
rows      = ["upper", "lower"]
survival  = [0.7, 0.85]
detection = { upper = 0.5, lower = [0.3, 0.4] }
test_passes = { upper = 60 }
removed   = 0.1

[[site]]
name      = "Tidehead"
km        = 0
attributes = { gate = 1 }
test_passes = 40

[[cohort]]
name = "early"
fish = 300
survival  = { "Alder Ford to Tidehead" = 0.8 }
detection = { "Alder Ford/lower" = 0.35, "Tidehead" = 0.6 }

[[cohort]]
name = "late"
fish = 200
site = "Alder Ford"
survival  = { "Alder Ford to Tidehead" = [0.6, 0.7] }

[[hold]]
site = "Tidehead"
detection = 1
where = { cohort = "late" }

[[model]]
name      = "additive"
survival  = "reach + cohort"
detection = "row"

[costs]
fish = 4.5
row = 9000
site = 15000
antennas = 3000
cohort = 500
test_pass = 2

[[option]]
what = "fish"
fish = 300

[[option]]
what = "row"
site = "Tidehead"
detection = 0.5
cost = 8000

[[option]]
what = "site"
site = "Scar Weir"
km = 20
detection = 0.4

[[option]]
what = "antennas"
site = "Tidehead"
detection = 0.9
name = "the big loops"

[[option]]
what = "drop"
site = "Alder Ford"
cost = -12000

[[option]]
what = "spread"
cohorts = 3

[[option]]
what = "test passes"
site = "Tidehead"
passes = 100
`

func TestPlanWhole(t *testing.T) {
	p, err := plan.Parse("plan.toml", []byte("\xef\xbb\xbf"+wholePlan))
	require.NoError(t, err)
	assert.Equal(t, 0.9, p.Level)
	assert.Equal(t, "passed at Tidehead ± 5", p.Want)
	assert.Equal(t, 3, p.WantPos.Line)
	assert.Equal(t, "Hollin Water, spring 2026", p.Study.Title)
	require.Len(t, p.Supposed, 3)
	a := p.Supposed[1]
	assert.Equal(t, []float64{0.7, 0.85}, []float64{a.Survival.Low, a.Survival.High})
	assert.Equal(t, []float64{0.5, 0.5, 0.3, 0.4}, []float64{a.Detection[0].Low, a.Detection[0].High, a.Detection[1].Low, a.Detection[1].High})
	assert.Equal(t, []int{60, 0}, a.TestPasses)
	assert.Equal(t, 0.1, a.Removed)
	b := p.Supposed[2]
	assert.False(t, b.Survival.Given())
	assert.False(t, b.Detection[0].Given())
	assert.Equal(t, []int{40}, b.TestPasses)
	require.Len(t, p.Cohorts, 2)
	assert.Equal(t, "Alder Ford", p.Cohorts[1].Site)
	assert.Equal(t, 0.35, p.Cohorts[0].Detection["Alder Ford/lower"].High)
	assert.Equal(t, plan.Costs{Given: true, Fish: 4.5, Row: 9000, Site: 15000, Antennas: 3000, Cohort: 500, Test: 2}, p.Costs)
	var whats []string
	for _, o := range p.Options {
		whats = append(whats, o.What)
	}
	assert.Equal(t, plan.Kinds, whats)
	assert.Equal(t, -12000.0, p.Options[4].Cost)
	assert.True(t, math.IsNaN(p.Options[0].Cost))
	assert.Equal(t, "the big loops", p.Options[3].Name)
	assert.Equal(t, 3, p.Options[5].Cohorts)
	assert.Equal(t, "additive", p.Study.Models[0].Name)

	assert.True(t, plan.IsPlan([]byte(wholePlan)))
	assert.False(t, plan.IsPlan([]byte("[fish]\nfile = \"f.csv\"\n[[cohort]]\nname = \"early\"\n")))
	assert.False(t, plan.IsPlan([]byte("[[cohort")))
	// Without its cohorts it is a plan still, so that they are what is missed.
	assert.True(t, plan.IsPlan([]byte("[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\nsurvival = 0.5\n")))
	assert.True(t, plan.IsPlan([]byte("want = \"passed at B ± 5\"\n")))
	assert.False(t, plan.IsPlan([]byte("[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\n")))
	assert.False(t, plan.IsPlan([]byte("[histories]\nfile = \"h.csv\"\n[[site]]\nname = \"A\"\nsurvival = 0.5\n")))
	_, err = plan.Load("no such file")
	assert.ErrorContains(t, err, "the plan file cannot be read")
}

// Every fault of a plan file has its line and says what would be right.
func TestPlanRefusals(t *testing.T) {
	const sound = `[[site]]
name = "Mill Lade"
[[site]]
name = "Alder Ford"
rows = ["upper", "lower"]
survival = 0.8
detection = 0.5
[[site]]
name = "Tidehead"
survival = 0.9
detection = 0.6
[[cohort]]
name = "early"
fish = 100
`
	_, err := plan.Parse("p.toml", []byte(sound))
	require.NoError(t, err)
	last := strings.Count(sound, "\n")
	for _, c := range []struct {
		add  string
		line int // from the first line added
		says string
	}{
		{"fsh = 5\n", 1, `unknown key "fsh" in [[cohort]]; did you mean "fish"?`},
		{"site = \"Tidehead\"\n", 1, "the last site, can be detected nowhere"},
		{"site = \"Tidehed\"\n", 1, `the plan has no site "Tidehed"; did you mean "Tidehead"?`},
		{"survival = { \"Mill Lade to Alder Frd\" = 0.5 }\n", 1, `did you mean "Mill Lade to Alder Ford"?`},
		{"detection = { \"Alder Ford/uper\" = 0.5 }\n", 1, `did you mean "Alder Ford/upper"?`},
		{"survival = { \"Mill Lade to Alder Ford\" = 80 }\n", 1, "must be above 0 and at most 1 (80 % is 0.8)"},
		{"survival = { \"Mill Lade to Alder Ford\" = 0 }\n", 1, "survival.Mill Lade to Alder Ford is 0; it must be above 0"},
		{"[[cohort]]\nname = \"early\"\nfish = 5\n", 1, `cohort "early" stands twice; first on line 12`},
		{"[[cohort]]\nfish = 5\n", 1, "needs a name"},
		{"[[cohort]]\nname = \"late\"\n", 1, "[[cohort]] needs fish, a whole number"},
		{"[[cohort]]\nname = \"late\"\nfish = 0\n", 3, "fish is 0"},
		{"[[cohort]]\nname = \"late\"\nfish = 2.5\n", 3, "fish must be a whole number"},
		{"[[site]]\nname = \"C\"\ndetection = 0.5\n", 1, `site "C" needs survival, that of the reach Tidehead to C, for cohort "early"`},
		{"[[site]]\nname = \"C\"\nsurvival = 0.5\n", 1, `site "C" needs detection, for cohort "early"`},
		{"[[site]]\nname = \"C\"\nsurvival = 0.5\nrows = [\"u\", \"l\"]\ndetection = { u = 0.5 }\n", 1, `for cohort "early" at row l`},
		{"[[site]]\nname = \"C\"\nsurvival = 0.5\ndetection = [0.6, 0.5]\n", 4, "give the lowest first"},
		{"[[site]]\nname = \"C\"\nsurvival = 0.5\ndetection = [0.5]\n", 4, "a number, or a range [lowest, highest]"},
		{"[[site]]\nname = \"C\"\nsurvival = \"high\"\ndetection = 0.5\n", 3, `survival must be a number, not the text "high"`},
		{"[[site]]\nname = \"C\"\nsurvival = 0.5\ndetection = { u = 0.5 }\n", 4, `site "C" has no row "u"`},
		{"[[site]]\nname = \"C\"\nsurvival = 0.5\ndetection = 0.5\nremoved = 2\n", 5, "removed is 2"},
		{"[[site]]\nname = \"C\"\nsurvival = 0.5\ndetection = 0.5\ntest_passes = -1\n", 5, "test_passes must be a whole number"},
		{"[[hold]]\nsite = \"Tidehead\"\ndetection = 1\nwhere = { sex = \"male\" }\n", 4, "fish differ by cohort only"},
		{"[[hold]]\nsite = \"Tidehead\"\ndetection = 1\nwhere = { cohort = \"erly\" }\n", 4, `no cohort "erly"; did you mean "early"?`},
		{"[[option]]\nfish = 5\n", 1, "needs what: fish, row"},
		{"[[option]]\nwhat = \"rwo\"\n", 2, `what cannot be "rwo"; did you mean "row"?`},
		{"[[option]]\nwhat = \"fish\"\n", 1, `the option "fish" needs fish`},
		{"[[option]]\nwhat = \"fish\"\nfish = 0\n", 3, "fish is 0; it must be at least 1"},
		{"[[option]]\nwhat = \"spread\"\ncohorts = 1\n", 3, "at least 2"},
		{"[[option]]\nwhat = \"row\"\nsite = \"Mill Lade\"\n", 1, "it has no antennas"},
		{"[[option]]\nwhat = \"drop\"\nsite = \"Alder Frd\"\n", 1, `did you mean "Alder Ford"?`},
		{"[[option]]\nwhat = \"site\"\nsite = \"C\"\nkm = 5\ndetection = 0.5\n", 1, "needs the km of the others"},
		{"[[option]]\nwhat = \"site\"\nsite = \"Tidehead\"\nkm = 5\ndetection = 0.5\n", 1, "is there already"},
		{"[[option]]\nwhat = \"antennas\"\nsite = \"Tidehead\"\n", 1, "needs detection"},
		{"[[option]]\nwhat = \"antennas\"\nsite = \"Tidehead\"\ndetection = [0.5, 0.6]\n", 4, "is one number"},
		{"[[option]]\nwhat = \"fish\"\nfish = 5\ncost = -3\n", 4, "only what is dropped"},
		{"[costs]\nfish = -1\n", 2, "a cost is 0 or more"},
		{"[costs]\nfishes = 1\n", 2, `did you mean "fish"?`},
	} {
		_, err := plan.Parse("p.toml", []byte(sound+c.add))
		var faults *history.Faults
		if assert.ErrorAs(t, err, &faults, c.add) {
			assert.Contains(t, faults.List[0].Message, c.says, c.add)
			assert.Equal(t, last+c.line, faults.List[0].Pos.Line, c.add)
		}
	}
	for _, c := range []struct{ file, says string }{
		{"", "no site"},
		{"level = 95\n" + sound, "level is 95; it lies between 0 and 1"},
		{strings.Replace(sound, "name = \"Mill Lade\"\n", "name = \"Mill Lade\"\nsurvival = 0.5\n", 1), "the first site is where fish are released; it has no survival"},
		{strings.Split(sound, "[[cohort]]")[0], "the plan releases no fish"},
		{"[[site]\n", "cannot be read"},
		{strings.Replace(sound, "survival = 0.8", "survival = 0,8", 1), "numbers are written with a point, as in 0.7"},
		{"[fish]\nfile = \"f.csv\"\n" + sound, `unknown key "fish"`},
	} {
		_, err := plan.Parse("p.toml", []byte(c.file))
		assert.ErrorContains(t, err, c.says)
	}
}

var somePlans = []string{
	wholePlan,
	"[[site]]\n[[site]]\n[[cohort]]\n[[option]]\nwhat = 3\n",
	"[[option]]\nwhat = \"site\"\nsite = \"C\"\n",
	"[[site]]\nname = \"A\"\n[[site]]\nname = \"B of C\"\nsurvival = 0.8\ndetection = 0.5\n[[site]]\nname = \"b of c\"\nsurvival = 0.8\ndetection = 0.5\n[[cohort]]\nname = \"C\"\nfish = 100\n",
}

func FuzzPlan(f *testing.F) { pieces.Fuzz(f, soundPlan, somePlans...) }

func TestComposedPlans(t *testing.T) { pieces.Texts(t, 500, soundPlan, somePlans...) }

// soundPlan: whatever the file holds, it is read or every fault has its line.
func soundPlan(t *testing.T, data []byte) {
	plan.IsPlan(data)
	p, err := plan.Parse("p.toml", data)
	if err == nil {
		r := p.Study.River()
		require.NoError(t, r.Check())
		if q, err := plan.FromFile(p); err == nil {
			namedAgain(t, q)
		}
		return
	}
	var faults *history.Faults
	require.ErrorAs(t, err, &faults)
	require.NotEmpty(t, faults.List)
	lines := 1 + bytes.Count(data, []byte("\n"))
	for _, x := range faults.List {
		require.True(t, 1 <= x.Pos.Line && x.Pos.Line <= lines, "%v", x)
	}
}

// namedAgain: whatever the sites are called, the words for each estimate of a plan
// mean that estimate.
func namedAgain(t *testing.T, p *plan.Plan) {
	for k := 1; k < len(p.River.Sites); k++ {
		for _, want := range []plan.Target{
			{Kind: plan.Passed, Reach: -1, Site: k, Row: -1}, {Kind: plan.Survival, Reach: k - 1, Site: k, Row: -1}, {Kind: plan.Detection, Reach: -1, Site: k, Row: -1},
		} {
			got, err := p.ParseTarget(want.Words(p))
			require.NoError(t, err)
			require.Equal(t, []int{want.Reach, want.Site, want.Row}, []int{got.Reach, got.Site, got.Row}, want.Words(p))
		}
	}
}
