package wire

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestNumber(t *testing.T) {
	third := 1.0 / 3
	b, err := json.Marshal([]Number{Number(math.NaN()), Number(math.Inf(1)), 0, Number(third), 1e-300})
	require.NoError(t, err)
	assert.Equal(t, "[null,null,0,0.3333333333333333,1e-300]", string(b))
	var back []*float64
	require.NoError(t, json.Unmarshal(b, &back))
	assert.Equal(t, third, *back[3], "nothing is lost")
}
