package study

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestNouns(t *testing.T) {
	const rest = "\n[histories]\nfile = \"h.csv\"\n[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\n"
	for written, want := range map[string]Noun{
		``:                            Fish,
		`animal = "bird"`:             {"bird", "birds"},
		`animal = "fox"`:              {"fox", "foxes"},
		`animal = "canary"`:           {"canary", "canaries"},
		`animal = "monkey"`:           {"monkey", "monkeys"},
		`animal = ["mouse", "mice"]`:  {"mouse", "mice"},
		`animal = ["sheep", "sheep"]`: {"sheep", "sheep"},
	} {
		s, err := Parse("s.toml", []byte(written+rest))
		require.NoError(t, err, written)
		animal, occasion := s.Nouns()
		assert.Equal(t, want, animal, written)
		assert.Equal(t, Sites, occasion)
	}
	s, err := Parse("s.toml", []byte(`occasion = "year"`+rest))
	require.NoError(t, err)
	assert.Equal(t, Noun{"year", "years"}, s.Occasion)
	for _, written := range []string{`animal = ["a", "b", "c"]`, `animal = []`, `animal = 3`, `occasion = ""`} {
		_, err := Parse("s.toml", []byte(written+rest))
		assert.ErrorContains(t, err, "s.toml:1", written)
	}
}
