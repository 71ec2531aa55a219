package line

import (
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs/analysis"
)

// What the analysis refuses is said with flags and commands, and errors of the
// call are told from those of the data.
func TestWorded(t *testing.T) {
	for _, c := range []struct {
		id   analysis.ID
		name string
		call bool
		says string
	}{
		{analysis.NoModels, "x", true, "s.toml has no [[model]]; give --survival and --detection"},
		{analysis.NoSuchModel, "x", true, `s.toml has no model "x"; its models are a, b`},
		{analysis.NameAndTerms, "", true, "give a model by name or in terms, not both"},
		{analysis.Unclear, "x", true, "why"},
		{analysis.NotANumber, "", true, "--variance-inflation auto needs a study; give a number for a plan"},
		{analysis.NoInflation, "", false, "`unseen assess`"},
		{analysis.NotConverged, "plan", false, "the fit of s.toml did not converge, so there is nothing to plan from; see unseen fit"},
		{analysis.NotConverged, "simulation", false, "or give --truth"},
		{analysis.OtherRiver, "[a]", false, "the study has the sites [a], the truth [a b]; they must be the same"},
		{analysis.NoDay, "", false, "no fish has a release time"},
	} {
		err := worded(fmt.Errorf("%w", &analysis.Error{ID: c.id, Path: "s.toml", Name: c.name, Known: []string{"a", "b"}, Cause: errors.New("why")}))
		assert.ErrorContains(t, err, c.says, c.id)
		assert.Equal(t, c.call, errors.Is(err, ErrCall), c.id)
	}
	other := errors.New("of a file")
	assert.Equal(t, other, worded(other))
	assert.NoError(t, worded(nil))
}
