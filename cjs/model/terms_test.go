package model

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/testdata/pieces"
)

func TestParse(t *testing.T) {
	for in, want := range map[string]string{
		"same":                            "same",
		"  same ":                         "same",
		"reach":                           "reach",
		"cohort + reach":                  "reach + cohort",
		"sex by reach":                    "reach by sex",
		"reach by cohort + reach":         "reach by cohort",
		"a + a by b":                      "a by b",
		"b by a + c":                      "c + a by b",
		`"fork length" + reach`:           `reach + "fork length"`,
		`"same"`:                          `"same"`,
		`"by" by reach`:                   `reach by "by"`,
		"length.mm+flow_2":                "flow_2 + length.mm",
		"größe":                           "größe",
		"site by cohort + row by cohort":  "row by cohort + site by cohort",
		"cohort by length by reach + sex": "sex + reach by cohort by length",
	} {
		got, err := Parse(in)
		require.NoError(t, err, in)
		assert.Equal(t, sortedTerms(want), sortedTerms(got.String()), in)
		again, err := Parse(got.String())
		require.NoError(t, err, in)
		assert.Equal(t, got, again, "canonical form reads back: %s", in)
	}
}

// sortedTerms takes the order of terms out of the comparison.
func sortedTerms(s string) map[string]bool {
	out := map[string]bool{}
	for _, t := range strings.Split(s, " + ") {
		out[t] = true
	}
	return out
}

func TestParseRefuses(t *testing.T) {
	for in, why := range map[string]string{
		"":                "no terms",
		"+ reach":         "stands where a name should",
		"reach +":         "ends where a name should follow",
		"reach by":        "ends where a name should follow",
		"by reach":        "stands where a name should",
		"reach cohort":    "+ or by is missing",
		"same + reach":    "same stands alone",
		"reach + same":    "same stands alone",
		"a + b + a":       "the term a stands twice",
		"a by b + b by a": "the term a by b stands twice",
		"a by a":          "a stands twice in one term",
		"reach * sex":     `"*" at character 7 has no meaning`,
		`"open`:           "is not closed",
		`""`:              "an empty name",
		"a - b":           `"-" at character 3`,
	} {
		_, err := Parse(in)
		assert.ErrorContains(t, err, why, in)
	}
}

var someTerms = []string{"same", "reach by cohort + sex", `"a b" + c`, "a by", "\"", "ä + ö by ü"}

func FuzzTerms(f *testing.F) { pieces.Fuzz(f, sameTerms, someTerms...) }

func TestComposedTerms(t *testing.T) { pieces.Texts(t, 3000, sameTerms, someTerms...) }

// sameTerms: terms that are read are written so that they read the same again.
func sameTerms(t *testing.T, s string) {
	terms, err := Parse(s)
	if err != nil {
		return
	}
	again, err := Parse(terms.String())
	if err != nil {
		t.Fatalf("%q reads as %q, which does not read: %v", s, terms, err)
	}
	if again.String() != terms.String() {
		t.Fatalf("%q: canonical form %q changes to %q", s, terms, again)
	}
}
