package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

// scriptCommands are what scripts can do besides running unseen.
var scriptCommands = map[string]func(ts *testscript.TestScript, neg bool, args []string){
	"valid":  valid,
	"field":  field,
	"agree":  agree,
	"narrow": narrow,
	"box":    box,
	"lines":  lines,
	"edit":   edit,
	"flow":   flow,
}

// flow STUDY: adds made-up conditions to the demo study: a flow at each array
// on each day that rises over the season.
func flow(ts *testscript.TestScript, _ bool, args []string) {
	study := ts.MkAbs(args[0])
	var b strings.Builder
	b.WriteString("date,site,flow\n")
	first := time.Date(2025, 3, 20, 0, 0, 0, 0, time.UTC)
	for day := range 100 {
		for k, site := range []string{"Alder Ford", "Scar Weir", "Tidehead"} {
			fmt.Fprintf(&b, "%s,%s,%.1f\n", first.AddDate(0, 0, day).Format(time.DateOnly), site, 10+0.4*float64(day)+float64((3*day+k)%4))
		}
	}
	ts.Check(os.WriteFile(filepath.Join(filepath.Dir(study), "flow.csv"), []byte(b.String()), 0o644))
	// With detection differing by cohort the test tag must stand for one.
	have := strings.Replace(ts.ReadFile(args[0]), "[[test_passes]]", "[[test_passes]]\nwhere = { cohort = \"week 3\" }", 1)
	ts.Check(os.WriteFile(study, []byte(have+"\n[conditions]\nfile = \"flow.csv\"\n"), 0o644))
}

// valid FILE: FILE is JSON as its schema says.
func valid(ts *testscript.TestScript, _ bool, args []string) {
	ts.Check(validate(ts.Getenv("ROOT"), []byte(ts.ReadFile(args[0]))))
}

// field FILE PATH REGEXP: the value at a path such as passed.0.site matches,
// as a whole.
func field(ts *testscript.TestScript, neg bool, args []string) {
	v, err := lookUp(ts.ReadFile(args[0]), args[1])
	ts.Check(err)
	s := fmt.Sprint(v)
	if regexp.MustCompile("^(?:"+args[2]+")$").MatchString(s) == neg {
		ts.Fatalf("%s is %s", args[1], s)
	}
}

// agree A B PATH…: the values at the paths (PATH, or PATH_IN_A=PATH_IN_B) are
// the same in both files, numbers to 1e-7 of their size: two ways to the same
// maximum end within the optimiser's tolerance of each other.
func agree(ts *testscript.TestScript, neg bool, args []string) {
	a, b := ts.ReadFile(args[0]), ts.ReadFile(args[1])
	for _, path := range args[2:] {
		pa, pb, two := strings.Cut(path, "=")
		if !two {
			pb = pa
		}
		x, err := lookUp(a, pa)
		ts.Check(err)
		y, err := lookUp(b, pb)
		ts.Check(err)
		if err := same(path, x, y); (err != nil) != neg {
			ts.Fatalf("%v", err)
		}
	}
}

// narrow FILE: no line is wider than 100 columns.
func narrow(ts *testscript.TestScript, _ bool, args []string) {
	for i, line := range strings.Split(ts.ReadFile(args[0]), "\n") {
		if n := len([]rune(line)); n > 100 {
			ts.Fatalf("line %d is %d wide: %s", i+1, n, line)
		}
	}
}

// box FIT RULE TRUTH NAME: as many records ended in the rule's box as the
// demo's generator made for it.
func box(ts *testscript.TestScript, _ bool, args []string) {
	want, err := lookUp(ts.ReadFile(args[2]), "records_to_set_aside."+args[3])
	ts.Check(err)
	boxes, err := lookUp(ts.ReadFile(args[0]), "data.accounting.set_aside")
	ts.Check(err)
	for _, b := range boxes.([]any) {
		if b := b.(map[string]any); b["rule"] == args[1] {
			ts.Check(same(args[1], b["records"], want))
			return
		}
	}
	ts.Fatalf("no record ended in %s; %v were meant to", args[1], want)
}

// lines FILE N: the file has N lines.
func lines(ts *testscript.TestScript, _ bool, args []string) {
	if n := strings.Count(ts.ReadFile(args[0]), "\n"); strconv.Itoa(n) != args[1] {
		ts.Fatalf("%s has %d lines", args[0], n)
	}
}

// edit FILE OLD NEW: in FILE, NEW stands in the place of OLD, which it must hold
// once; \n is a line's end.
func edit(ts *testscript.TestScript, _ bool, args []string) {
	text, now := ts.ReadFile(args[0]), strings.ReplaceAll(args[2], `\n`, "\n")
	if n := strings.Count(text, args[1]); n != 1 {
		ts.Fatalf("%s holds %q %d times", args[0], args[1], n)
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(strings.Replace(text, args[1], now, 1)), 0o644))
}

func lookUp(document, path string) (any, error) {
	var v any
	if err := json.Unmarshal([]byte(document), &v); err != nil {
		return nil, err
	}
	for _, step := range strings.Split(path, ".") {
		switch x := v.(type) {
		case map[string]any:
			next, ok := x[step]
			if !ok {
				return nil, fmt.Errorf("%s: there is no %s", path, step)
			}
			v = next
		case []any:
			i, err := strconv.Atoi(step)
			if err != nil || i >= len(x) {
				return nil, fmt.Errorf("%s: there is no entry %s of %d", path, step, len(x))
			}
			v = x[i]
		default:
			return nil, fmt.Errorf("%s: nothing inside %v", path, v)
		}
	}
	return v, nil
}

func same(path string, x, y any) error {
	switch a := x.(type) {
	case float64:
		b, ok := y.(float64)
		if !ok || math.Abs(a-b) > 1e-7*max(1, math.Abs(a)) {
			return fmt.Errorf("%s: %v against %v", path, x, y)
		}
	case []any:
		b, ok := y.([]any)
		if !ok || len(a) != len(b) {
			return fmt.Errorf("%s: %d entries against %v", path, len(a), y)
		}
		for i := range a {
			if err := same(fmt.Sprintf("%s.%d", path, i), a[i], b[i]); err != nil {
				return err
			}
		}
	case map[string]any:
		b, ok := y.(map[string]any)
		if !ok || len(a) != len(b) {
			return fmt.Errorf("%s: %v against %v", path, x, y)
		}
		for k := range a {
			if err := same(path+"."+k, a[k], b[k]); err != nil {
				return err
			}
		}
	default:
		if !reflect.DeepEqual(x, y) {
			return fmt.Errorf("%s: %v against %v", path, x, y)
		}
	}
	return nil
}
