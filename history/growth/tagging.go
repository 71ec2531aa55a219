package growth

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/history"
)

// tagging groups the fish.
func (r *Result) tagging(m *measures) {
	var names []string
	var value []func(i int) string
	for _, name := range []string{Species, Age} {
		if c := m.h.Column(name); c != nil {
			names, value = append(names, name), append(value, func(i int) string { return valueOf(c, i) })
		}
	}
	if len(m.h.Cohorts) > 1 {
		names, value = append(names, "cohort"), append(value, func(i int) string { return m.h.Cohorts[m.h.Cohort[i]] })
	}
	groups := map[string][]int{}
	keys := map[string][]Category{}
	var all []int
	for i := range m.h.Len() {
		if !m.h.New(i) {
			continue
		}
		of := make([]Category, len(names))
		parts := make([]string, len(names))
		for k := range names {
			of[k] = Category{names[k], value[k](i)}
			parts[k] = of[k].Value
		}
		key := strings.Join(parts, "\x00")
		keys[key] = of
		groups[key] = append(groups[key], i)
		all = append(all, i)
	}
	r.Tagging = append(r.Tagging, m.tagged(nil, all))
	if len(groups) < 2 {
		return
	}
	order := make([]string, 0, len(groups))
	for key := range groups {
		order = append(order, key)
	}
	slices.SortFunc(order, func(a, b string) int {
		for k, x := range keys[a] {
			if c := history.NaturalCompare(x.Value, keys[b][k].Value); c != 0 {
				return c
			}
		}
		return 0
	})
	for _, key := range order {
		r.Tagging = append(r.Tagging, m.tagged(keys[key], groups[key]))
	}
}

// missing is the value of what the table does not have.
const missing = "missing"

// valueOf is a fish's value in a column, in words.
func valueOf(c *history.Column, i int) string {
	switch {
	case c.IsCategory() && c.Level[i] >= 0:
		return c.Levels[c.Level[i]]
	case !c.IsCategory() && !math.IsNaN(c.Value[i]):
		return strconv.FormatFloat(c.Value[i], 'g', -1, 64)
	}
	return missing
}

// tagged summarises some fish; a record of several counts as so many.
func (m *measures) tagged(of []Category, fish []int) Tagged {
	t := Tagged{Of: of}
	var length, weight, condition []float64
	for _, i := range fish {
		n := m.h.Weight(i)
		t.Fish += n
		for range n {
			length, weight = append(length, m.length[i]), append(weight, m.weight[i])
			condition = append(condition, Condition(m.length[i], m.weight[i]))
		}
	}
	t.Length, t.Weight, t.Condition = history.Summarise(length, nil), history.Summarise(weight, nil), history.Summarise(condition, nil)
	return t
}

// BurdenRule is a share of the fish's weight that the trade talks about.
type BurdenRule struct {
	Percent      float64 // of the fish's weight
	What, Source string  // the finding, and its source
}

// BurdenRules are in ascending order. They are findings on certain fish and
// tags; which holds for a study its permit decides.
var BurdenRules = []BurdenRule{
	{2, "the old rule of thumb; its critics find no generally applicable rule", "Jepsen et al. 2005, in Aquatic telemetry: advances and applications (FAO)"},
	{6.7, "above it survival of Chinook of 80–109 mm fell (acoustic tag with PIT tag, 0.74 g)", "Brown et al. 2010, North American Journal of Fisheries Management 30:499"},
	{7, "not to be exceeded in brook trout; of the heaviest tags 80 % were shed", "Smircich & Kelly 2014, Animal Biotelemetry 2:16"},
	{8.2, "above it growth of Chinook of 80–109 mm fell (acoustic tag with PIT tag, 0.74 g)", "Brown et al. 2010, North American Journal of Fisheries Management 30:499"},
	{12, "swimming of rainbow trout of 5–10 g was not affected by 6–12 %", "Brown et al. 1999, North American Journal of Fisheries Management 19:867"},
}

// TagKind is a common kind of PIT tag: its weight in air and the fish it is
// used for.
type TagKind struct {
	MM          string  // length of the tag, as text
	LowG, HighG float64 // weight in air, from and to
	FromMM      string  // the smallest fish
	Source      string
}

// TagKinds are by length.
var TagKinds = []TagKind{
	{"8.4", 0.030, 0.035, "42–45", "weights: common practice; lengths: Tiffan et al. 2019, Animal Biotelemetry, and 2021, doi 10.1002/nafm.10541"},
	{"9", 0.06, 0.07, "50–55", "common practice"},
	{"12–12.5", 0.10, 0.11, "60–65", "common practice"},
	{"23", 0.6, 0.6, "larger parr, by surgery", "common practice"},
	{"32", 0.8, 0.8, "adults", "common practice"},
}

// burden weighs tags against fish.
func (r *Result) burden(m *measures, tag *history.Column, opt Options) {
	var percent []float64
	for i := range m.h.Len() {
		g := math.NaN()
		if tag != nil {
			g = tag.Value[i]
		}
		if math.IsNaN(g) && opt.TagWeightG > 0 {
			g = opt.TagWeightG
		}
		if b := 100 * g / m.weight[i]; b > 0 && m.h.New(i) {
			for range m.h.Weight(i) {
				percent = append(percent, b)
			}
		}
	}
	if len(percent) == 0 {
		return
	}
	b := &Burden{Percent: history.Summarise(percent, nil), Above: make([]int, len(BurdenRules))}
	for k, rule := range BurdenRules {
		for _, p := range percent {
			if p > rule.Percent {
				b.Above[k]++
			}
		}
	}
	r.TagBurden = b
}
