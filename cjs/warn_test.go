package cjs_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// TestWarningsStandByWeight: whatever finds them first, the most serious
// warning stands first, and every ID is of the list.
func TestWarningsStandByWeight(t *testing.T) {
	// Rows at A that cannot be tested, for all seen below are seen at both; rows
	// at B that see the same fish: found in this order, of weight the other way.
	h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{
		{Name: "Mill Lade"}, {Name: "Alder Ford", Rows: []string{"upper", "lower"}}, {Name: "Scar Weir", Rows: []string{"upper", "lower"}}, {Name: "Tidehead"}}}}
	for i, n := range []int{40, 40, 60, 60} {
		h.Entry = append(h.Entry, 0)
		h.Seen = append(h.Seen, []uint64{0b11111, 0b10011, 0b00011, 0}[i])
		h.End = append(h.End, history.Open)
		h.Cohort = append(h.Cohort, 0)
		h.Count = append(h.Count, int32(n))
	}
	p, err := model.Build(model.Input{Histories: h}, model.Spec{})
	require.NoError(t, err)
	f, err := cjs.New(t.Context(), p, cjs.Options{})
	require.NoError(t, err)
	last := 0
	ids := map[string]bool{}
	for _, w := range f.Warnings {
		i := slices.Index(cjs.WarningIDs, w.ID)
		assert.GreaterOrEqual(t, i, last, "%s", w.ID)
		last = max(last, i)
		ids[w.ID] = true
	}
	assert.True(t, ids[cjs.WarnRows] && ids[cjs.WarnRowsUntested], "%v", ids)
}

// TestProductsAreSaidOnce: the last survival and detection stand side by side for
// both sexes; one warning says so of both.
func TestProductsAreSaidOnce(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	in := dipper(t, "dipper.toml")
	f := mustFit(t, in, model.Spec{Survival: "reach by sex", Detection: "site by sex"}, cjs.Options{})
	require.Len(t, f.Products, 2)
	var said []cjs.Warning
	for _, w := range f.Warnings {
		if w.ID == cjs.WarnInseparable {
			said = append(said, w)
		}
	}
	require.Len(t, said, 1)
	assert.Equal(t, "sex female; sex male", said[0].About)
	assert.Contains(t, said[0].Message, "Survival 1986 to 1987 and detection at 1987 are not separately estimable for any sex: no fish")
}

// TestModelAlone: what an additive model makes of the last site is told by what
// reaches share; a shared detection, test passes or the full model give no such warning.
func TestModelAlone(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	in := dipper(t, "dipper.toml")
	for _, c := range []struct {
		survival, detection string
		want                bool
	}{
		{"reach + sex", "site", true}, {"same", "site", true}, {"reach + sex", "site by sex", false}, {"reach + sex", "same", false}, {"reach + sex", "sex", false},
		{"reach by sex", "site", false}, {"reach", "site", false},
	} {
		f := mustFit(t, in, model.Spec{Survival: c.survival, Detection: c.detection}, cjs.Options{})
		i := slices.IndexFunc(f.Warnings, func(w cjs.Warning) bool { return w.ID == cjs.WarnModelAlone })
		assert.Equal(t, c.want, i >= 0, "%s, %s", c.survival, c.detection)
		if i >= 0 {
			assert.Equal(t, "1987", f.Warnings[i].About)
			assert.Contains(t, f.Warnings[i].Message, "survival 1986 to 1987 and detection there are separated only by the parameters that the model shares between reaches (survival: "+c.survival+")")
		}
	}
}
