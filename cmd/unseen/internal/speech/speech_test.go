package speech

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history/study"
)

// Names of the study stay as they are, also where they are words of rivers, and
// numbers are no names.
func TestSpeechKeepsNames(t *testing.T) {
	st, err := study.Parse("study.toml", []byte(`title = "Bats of the river site"
animal = "bat"
occasion = ["visit", "visits"]
[histories]
file = "h.csv"
[[site]]
name = "Fish pass"
[[site]]
name = "site 5"
[[site]]
name = "5"
[[model]]
name = "fish by fish"
`))
	require.NoError(t, err)
	say := Of(st)
	for text, want := range map[string]string{
		"Bats of the river site":                       "Bats of the river site",
		"Of 3 tagged fish released above site 5":       "Of 3 tagged bats released before site 5",
		"40 % passed Fish pass":                        "40 % survived to Fish pass",
		"p is below 0.05 in 5 of 9 sites":              "p is below 0.05 in 5 of 9 visits",
		"Fish of each site; a fish; every fish":        "Bats of each visit; a bat; every bat",
		"model fish by fish":                           "model fish by fish",
		"look at `unseen fit FISH --survival reach`":   "look at `unseen fit FISH --survival reach`",
		"survival: reach · detection: site":            "survival: reach · detection: site",
		"no fish are detected downstream. [fish-site]": "no bats are detected later. [fish-site]",
		"":                          "",
		"n/a":                       "n/a",
		"U000F0000 \U000F0000 fish": "U000F0000 \U000F0000 bats",
	} {
		assert.Equal(t, want, say(text))
	}
}

// Without a word of its own a study is of fish and sites, and nothing is changed.
func TestSpeechOfFish(t *testing.T) {
	st, err := study.Parse("study.toml", []byte("[histories]\nfile = \"h.csv\"\n[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\n"))
	require.NoError(t, err)
	assert.Nil(t, Of(st))
	assert.Nil(t, Of(nil))

	otters, err := study.Parse("study.toml", []byte("animal = \"otter\"\n[histories]\nfile = \"h.csv\"\n[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\n"))
	require.NoError(t, err)
	assert.Equal(t, "an otter passed each site of the river; otters", Of(otters)("a fish passed each site of the river; fish"), "the animal alone")
}
