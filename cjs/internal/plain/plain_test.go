package plain

import (
	"encoding/json"
	"errors"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

type inner struct {
	Value, SE float64
}

func (i inner) MarshalJSON() ([]byte, error) { return JSON(i) }

type embeds struct {
	Part
	Name     string `json:"called,omitempty"`
	Seen     int64
	Err, No  error
	At, Not  time.Time
	Of       *Part
	Nil      *Part
	List     []float64
	None     []string
	Map      map[string]float64
	NoMap    map[string]int
	Done     func()
	Left     int `json:"-"`
	hidden   int
	Any      any
	Own      inner
	KmPerDay [2]float64
}

// Part is embedded: its fields are the outer one's.
type Part struct{ Low, PerSD float64 }

// Every field is there under its name; a value that does not exist is null.
func TestJSON(t *testing.T) {
	v := embeds{Part: Part{math.NaN(), 1.5}, Seen: noTime, Err: errors.New("why"), At: time.Unix(0, 0).UTC(), Of: &Part{math.Inf(1), 2}, List: []float64{1, math.NaN()},
		Map: map[string]float64{"b": math.Inf(-1), "a": 0.1}, Done: func() {}, Left: 1, hidden: 1, Any: 3, Own: inner{math.NaN(), 4}, KmPerDay: [2]float64{1, 2}}
	b, err := JSON(&v)
	require.NoError(t, err)
	assert.Equal(t, `{"low":null,"per_sd":1.5,"called":"","seen":null,"err":"why","no":null,"at":"1970-01-01T00:00:00Z","not":null,`+
		`"of":{"low":null,"per_sd":2},"nil":null,"list":[1,null],"none":[],"map":{"a":0.1,"b":null},"no_map":{},"any":3,"own":{"value":null,"se":4},"km_per_day":[1,2]}`, string(b))
	require.True(t, json.Valid(b))
	// By encoding/json too, inside what it writes itself.
	b, err = json.Marshal(map[string]inner{"x": {1, math.NaN()}})
	require.NoError(t, err)
	assert.Equal(t, `{"x":{"value":1,"se":null}}`, string(b))
	_, err = JSON(struct{ A []func() }{[]func(){nil}})
	assert.ErrorContains(t, err, "A: func() is no data")
	b, err = JSON((*Part)(nil))
	require.NoError(t, err)
	assert.Equal(t, "null", string(b))
}

func TestKey(t *testing.T) {
	for name, key := range map[string]string{"X": "x", "SE": "se", "DF2": "df2", "PLow": "p_low", "MinusTwoLogLikelihood": "minus_two_log_likelihood", "ID": "id", "WhyNoLaw": "why_no_law", "MMPerDay": "mm_per_day"} {
		assert.Equal(t, key, Key(name))
	}
}
