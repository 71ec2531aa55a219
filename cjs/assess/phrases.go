package assess

import (
	"fmt"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/history"
)

// PWords shows a probability: "p = 0.02", "p = 0.004", "p < 0.001".
func PWords(p float64) string {
	switch {
	case p < 0.001:
		return "p < 0.001"
	case p < 0.01, p > 0.045 && p < 0.055:
		return fmt.Sprintf("p = %.3f", p)
	}
	return fmt.Sprintf("p = %.2f", p)
}

func ofWords(of []cjs.Category) string {
	var parts []string
	for _, c := range of {
		parts = append(parts, c.Name+" "+c.Level)
	}
	return strings.Join(parts, ", ")
}

func inBrackets(of []cjs.Category) string {
	if len(of) == 0 {
		return ""
	}
	return " (" + ofWords(of) + ")"
}

// categoryNames joins the names of categories: "cohort and sex".
func categoryNames(of []cjs.Category) string {
	var names []string
	for _, c := range of {
		names = append(names, c.Name)
	}
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return history.Say("%d %s", n, many)
}

func verb(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
