package history_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/unseen/history"
)

func TestNaturalCompare(t *testing.T) {
	want := []string{"", "2", "10", "010", "1a9", "a", "a1", "a1b", "a02", "a2", "a2", "a10", "b", "b99999999999999999999998", "b99999999999999999999999", "ä"}
	got := slices.Clone(want)
	slices.SortFunc(got, history.NaturalCompare)
	for i, a := range got {
		for j, b := range got {
			c, back := history.NaturalCompare(a, b), history.NaturalCompare(b, a)
			require.Equal(t, c, -back, "%q %q", a, b)
			require.Equal(t, a == b, c == 0, "%q %q", a, b)
			if i < j && a != b {
				require.Negative(t, c, "%q stands before %q, transitively", a, b)
			}
		}
	}
	require.Negative(t, history.NaturalCompare("week 9", "week 10"))
	require.Positive(t, history.NaturalCompare("10", "9"))
}

func TestNearest(t *testing.T) {
	known := []string{"title", "time_zone", "km", "cohort"}
	for word, want := range map[string]string{"titel": "title", "Cohort": "cohort", "timezone": "time_zone", "weather": "", "": "", "x": ""} {
		require.Equal(t, want, history.Nearest(word, known), word)
	}
	require.Equal(t, `; did you mean "title"?`, history.Propose("titel", known))
	require.Empty(t, history.Propose("weather", known))
}

// What differs in nothing but the words in quotes is told once, from four on.
func TestFaultsOfAKind(t *testing.T) {
	f := history.Faults{Keep: 4}
	for line := range 30 {
		f.Add(history.Pos{File: "t.csv", Line: line + 2}, "column %q: %q is no number", "FL", fmt.Sprintf(`a\"%d`, line))
	}
	f.Add(history.Pos{File: "t.csv", Line: 5}, "one %q", "x")
	f.Add(history.Pos{File: "t.csv", Line: 6}, "two %q", "x")
	require.Equal(t, 32, f.Count())
	err := f.Err()
	require.EqualError(t, err, `t.csv:2: column "FL": "a\\\"0" is no number; likewise 29 more, lines 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, …
t.csv:5: one "x"
and 1 more`)
	var back *history.Faults
	require.ErrorAs(t, err, &back)
	require.Equal(t, 32, back.Count())

	few := history.Faults{Keep: 20}
	for line := range 3 {
		few.Add(history.Pos{File: "t.csv", Line: line}, "%q is no number", "x")
	}
	require.EqualError(t, few.Err(), "t.csv: \"x\" is no number\nt.csv:1: \"x\" is no number\nt.csv:2: \"x\" is no number")
	all := history.Faults{}
	for line := range 5 {
		all.Add(history.Pos{File: "t.toml", Line: line + 1}, "%q is no number", "x")
	}
	require.Equal(t, 5, strings.Count(all.Err().Error(), "no number"))
}

func TestFaults(t *testing.T) {
	f := history.Faults{Keep: 2}
	require.NoError(t, f.Err())
	f.Add(history.Pos{File: "t.csv", Line: 9}, "late %d", 1)
	f.Add(history.Pos{File: "t.csv", Line: 3, Column: 2}, "early")
	f.Add(history.Pos{File: "t.csv", Line: 4}, "not kept")
	require.Equal(t, 3, f.Count())
	err := fmt.Errorf("reading: %w", f.Err())
	require.EqualError(t, err, "reading: t.csv:3: early\nt.csv:9: late 1\nand 1 more")
	var back *history.Faults
	require.True(t, errors.As(err, &back))
	require.Equal(t, 3, back.List[0].Pos.Line)
	require.Equal(t, "t.csv", history.Pos{File: "t.csv"}.String())
}
