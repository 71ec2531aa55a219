package compare_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/model"
)

// A fit made already is taken where it is that of the same model, fish and
// options, and nowhere else.
func TestKnownFitsAreTaken(t *testing.T) {
	in := dipper(t)
	specs := []model.Spec{{Survival: "same", Detection: "same"}, {Survival: "sex", Detection: "same"}}
	p, err := model.Build(in, specs[0])
	require.NoError(t, err)
	known, err := cjs.New(context.Background(), p, cjs.Options{})
	require.NoError(t, err)
	taken := func(in model.Input, specs []model.Spec, opt cjs.Options) bool {
		r, err := compare.Run(t.Context(), in, specs, opt, nil, known)
		require.NoError(t, err)
		n := 0
		for _, v := range r.Variants {
			if v.Fit == known {
				n++
				assert.Equal(t, "same", v.Spec.Survival)
			}
		}
		return n == 1
	}
	assert.True(t, taken(in, specs, cjs.Options{}))
	assert.True(t, taken(in, specs, cjs.Options{Level: 0.95}), "the default by its value")
	assert.False(t, taken(in, specs, cjs.Options{Level: 0.9}))
	assert.False(t, taken(in, specs[1:], cjs.Options{}))
	// Fish without a length are left out of both models.
	specs[1].Survival = "length"
	assert.False(t, taken(blank(in), specs, cjs.Options{}))
}
