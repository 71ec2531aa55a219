package desk

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestPlanSliders: cohorts have sliders of their own; the one of all fish moves them
// in their proportions, and the page's numbers are those of the command that it names.
func TestPlanSliders(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	d := open(t, hollin(t))
	said := func(query string) string {
		page := get(t, d, "/plan?"+query)
		m := regexp.MustCompile(`id="plan-said">(.*?)</div>`).FindStringSubmatch(strings.ReplaceAll(page, "\n", " "))
		require.NotNil(t, m)
		return regexp.MustCompile(`<[^>]*>`).ReplaceAllString(m[1], "")
	}
	sliders := func(query string) (out []string) {
		for _, m := range regexp.MustCompile(`name="fish-\d" min="1" max="1440" value="(\d+)"`).FindAllStringSubmatch(get(t, d, "/plan?"+query), -1) {
			out = append(out, m[1])
		}
		return out
	}
	assert.Contains(t, said(""), "With 1,800 fish")
	assert.Equal(t, []string{"360", "360", "360", "360", "360"}, sliders(""))
	assert.Contains(t, get(t, d, "/plan"), "unseen plan study.toml<")

	// All fish, moved: each cohort with it.
	half := "fish=900&was=1800&fish-0=360&fish-1=360&fish-2=360&fish-3=360&fish-4=360"
	assert.Equal(t, []string{"180", "180", "180", "180", "180"}, sliders(half))
	assert.Contains(t, get(t, d, "/plan?"+half), "unseen plan study.toml --fish 900<")
	assert.Equal(t, said("fish=900"), said(half))

	// Then one cohort: the number of all follows.
	one := "fish=900&was=900&fish-0=1000&fish-1=180&fish-2=180&fish-3=180&fish-4=180"
	assert.Equal(t, []string{"1000", "180", "180", "180", "180"}, sliders(one))
	assert.Contains(t, said(one), "With 1,720 fish")
	assert.NotContains(t, get(t, d, "/plan?"+one), "unseen plan study.toml", "no command gives these numbers")

	// And then all again, in these proportions.
	assert.Equal(t, []string{"500", "90", "90", "90", "90"}, sliders(strings.Replace(one, "fish=900&was=900", "fish=860&was=1720", 1)))

	// What is tried besides is added to them.
	assert.Contains(t, said("fish=900&option-0=on"), "With 1,125 fish")
	assert.Contains(t, said("fish=nonsense&fish-0=-5&fish-1=x"), "With 1,441 fish", "a cohort has at least one fish")
}
