// Package changes says what moved between an earlier result, read from its
// JSON, and one of now.
package changes

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// Result is the document of `unseen changes`.
type Result struct {
	wire.Head
	// Since is the earlier result.
	Since Since  `json:"since"`
	Files []File `json:"files"` // those that differ
	// fish, releases and records, before and now
	Counts []Count `json:"counts"`
	// words of the model that differ
	Model []Word `json:"model"`
	// of the fit, before and now
	Measures []Measure `json:"measures"`

	// in percent; of a season that ran, what was expected by its end
	Passed []Pair `json:"passed"`
	// estimates before and now
	Survival []Pair `json:"survival"`
	// estimates before and now
	Detection []Pair `json:"detection"`
	// every other number of the answer, under its own name in what
	Numbers []Number `json:"numbers"`
	// whether the season ran then
	RunningBefore bool `json:"running_before"`
	// whether the season runs
	RunningNow bool `json:"running_now"`

	// warnings that are new
	WarningsNew []wire.Warning `json:"warnings_new"`
	// warnings that are gone
	WarningsGone []wire.Warning `json:"warnings_gone"`

	studyNamed bool // the earlier result names its study file
}

// Since names the earlier result.
type Since struct {
	File    string       `json:"file"`
	Program wire.Program `json:"program"`
	AsOf    *string      `json:"as_of" schema:"time"`
}

// File is an input that was "added", "removed" or "changed".
type File struct {
	File   string `json:"file"`
	Change string `json:"change" schema:"enum=added|removed|changed"`
}

// Count is a count before and now; null where it was not counted.
type Count struct {
	What   string `json:"what"`
	Before *int64 `json:"before"`
	Now    *int64 `json:"now"`
}

// Word is a setting before and now.
type Word struct {
	What   string `json:"what"`
	Before string `json:"before"`
	Now    string `json:"now"`
}

// Measure is a measure of the fit before and now.
type Measure struct {
	What   string      `json:"what"`
	Before wire.Number `json:"before"`
	Now    wire.Number `json:"now"`
}

// Pair is an estimate before and now.
type Pair struct {
	Of map[string]string `json:"of"`
	// Place is the site, "site/row", or "site to site".
	Place  string        `json:"place"`
	Before wire.Estimate `json:"before"`
	Now    wire.Estimate `json:"now"`
	// Shift is now less before, ShiftSE in standard errors of before.
	Shift   wire.Number `json:"shift"`
	ShiftSE wire.Number `json:"shift_se"`
}

// Number is a number of the answer before and now, by what the answer calls
// it: what passed so far is one, what is expected by the season's end another.
type Number struct {
	What string `json:"what"`
	Pair
	digits int // shown
}

// Moved tells whether the estimate or one of its bounds differs by as much.
func (e *Pair) Moved(by float64) bool {
	return differs(e.Before.Estimate, e.Now.Estimate, by) || differs(e.Before.Low, e.Now.Low, by) || differs(e.Before.High, e.Now.High, by)
}

// differs tells whether two numbers differ by as much, or one is not there.
func differs(a, b wire.Number, by float64) bool {
	x, y := float64(a), float64(b)
	return math.IsNaN(x) != math.IsNaN(y) || math.Abs(x-y) >= by
}

// Read reads an earlier result: what `unseen fit --json` wrote, with the sum of
// its file.
func Read(path string) (*wire.Fit, history.Input, error) {
	data, err := study.ReadFile(path, study.LargestResult)
	sum := sha256.Sum256(data)
	from := history.Input{File: filepath.Base(path), SHA256: hex.EncodeToString(sum[:])}
	if err != nil {
		return nil, from, err
	}
	f, err := parse(path, data)
	return f, from, err
}

func parse(path string, data []byte) (*wire.Fit, error) {
	var head struct {
		Kind    string `json:"kind"`
		Version int    `json:"version"`
	}
	const how = "; an earlier result is what `unseen fit STUDY.toml --json` wrote"
	if err := json.Unmarshal(data, &head); err != nil {
		return nil, fmt.Errorf("%s is no JSON (%w)%s", path, err, how)
	}
	switch {
	case head.Kind != "unseen/fit":
		return nil, fmt.Errorf("%s is of kind %q, not \"unseen/fit\"%s", path, head.Kind, how)
	case head.Version != 1:
		return nil, fmt.Errorf("%s has version %d of that document; this program reads version 1", path, head.Version)
	}
	var f wire.Fit
	if err := json.Unmarshal(data, &f); err != nil {
		return nil, fmt.Errorf("%s: %w%s", path, err, how)
	}
	if len(f.Passed) == 0 {
		return nil, fmt.Errorf("%s holds no passed %%%s", path, how)
	}
	return &f, nil
}

// namesStudy tells whether the earlier result names its study file, as those of
// earlier versions do not, among its inputs; of now it is the first of them.
func namesStudy(before, now []history.Input) bool {
	return len(now) == 0 || slices.ContainsFunc(before, func(in history.Input) bool {
		return in.File == now[0].File || strings.EqualFold(filepath.Ext(in.File), ".toml")
	})
}

// files are those that differ. What is not known of the study file is not among
// them.
func files(before, now []history.Input) []File {
	if !namesStudy(before, now) {
		now = now[1:]
	}
	out := []File{}
	sum := map[string]string{}
	for _, f := range before {
		sum[f.File] = f.SHA256
	}
	for _, f := range now {
		old, there := sum[f.File]
		switch {
		case !there:
			out = append(out, File{f.File, "added"})
		case old != f.SHA256:
			out = append(out, File{f.File, "changed"})
		}
		delete(sum, f.File)
	}
	for _, f := range before {
		if _, left := sum[f.File]; left {
			out = append(out, File{f.File, "removed"})
		}
	}
	return out
}

// counts are all counts, moved or not.
func counts(before, now *wire.Data) []Count {
	out := []Count{}
	add := func(what string, a, b *int64) { out = append(out, Count{what, a, b}) }
	of := func(n int) *int64 { x := int64(n); return &x }
	add("fish", of(before.Fish), of(now.Fish))
	add("releases", of(before.Releases), of(now.Releases))
	add("cohorts", of(len(before.Cohorts)), of(len(now.Cohorts)))
	add("sites", of(len(before.Sites)), of(len(now.Sites)))
	if before.Accounting == nil && now.Accounting == nil {
		return out
	}
	boxes := func(a *history.Accounting) map[string]*int64 {
		if a == nil {
			return nil
		}
		m := map[string]*int64{"records read": &a.Read, "passages kept": &a.Kept, "repeats": &a.Repeats}
		for i := range a.SetAside {
			m["set aside: "+a.SetAside[i].Name] = &a.SetAside[i].Records
		}
		return m
	}
	old, cur := boxes(before.Accounting), boxes(now.Accounting)
	names := []string{"records read", "passages kept", "repeats"}
	for _, a := range []*history.Accounting{now.Accounting, before.Accounting} {
		if a == nil {
			continue
		}
		for _, b := range a.SetAside {
			if n := "set aside: " + b.Name; !slices.Contains(names, n) {
				names = append(names, n)
			}
		}
	}
	zero := int64(0)
	for _, n := range names {
		a, b := old[n], cur[n]
		if a == nil && old != nil {
			a = &zero
		}
		if b == nil && cur != nil {
			b = &zero
		}
		add(n, a, b)
	}
	return out
}

// words are the settings that differ.
func words(before, now *wire.Fit) []Word {
	out := []Word{}
	asOf := func(s *string) string {
		if s == nil {
			return "the season is over"
		}
		return *s
	}
	for _, w := range []Word{
		{"program version", before.Program.Version, now.Program.Version},
		{"data as of", asOf(before.AsOf), asOf(now.AsOf)},
		{"survival", before.Model.Survival, now.Model.Survival},
		{"detection", before.Model.Detection, now.Model.Detection},
		{"survival link", before.Model.SurvivalLink, now.Model.SurvivalLink},
		{"detection link", before.Model.DetectionLink, now.Model.DetectionLink},
		{"interval", before.Interval.Method, now.Interval.Method},
		{"level", fmt.Sprint(float64(before.Interval.Level)), fmt.Sprint(float64(now.Interval.Level))},
		{"variance inflation", fmt.Sprintf("%.4g", float64(before.Fit.VarianceInflation)), fmt.Sprintf("%.4g", float64(now.Fit.VarianceInflation))},
		{"tag retention", retention(before), retention(now)},
		{"verdict", string(before.Fit.Verdict), string(now.Fit.Verdict)},
	} {
		if w.Before != w.Now && w.Before != notTold {
			out = append(out, w)
		}
	}
	return out
}

func measures(before, now *wire.Measures) []Measure {
	return []Measure{
		{"−2 ln L", before.MinusTwoLogLikelihood, now.MinusTwoLogLikelihood},
		{"parameters", wire.Number(before.Estimable), wire.Number(now.Estimable)},
		{"AICc", before.AICc, now.AICc},
		{"effective sample", wire.Number(before.EffectiveSample), wire.Number(now.EffectiveSample)},
	}
}

// missing are the warnings of a that b lacks.
func missing(a, b []wire.Warning) []wire.Warning {
	out := []wire.Warning{}
	for _, w := range a {
		if !slices.ContainsFunc(b, func(x wire.Warning) bool { return x.ID == w.ID && x.About == w.About }) {
			out = append(out, w)
		}
	}
	return out
}

// pair puts estimates of the same fish and place beside each other: those of
// now in their order, then those that are gone.
func pair[T any](before, now []T, read func(T) (map[string]string, string, wire.Estimate)) []Pair {
	nan := wire.Number(math.NaN())
	none := wire.Estimate{Estimate: nan, SE: nan, Low: nan, High: nan}
	key := func(of map[string]string, place string) string { return fmt.Sprint(of, place) } // maps print sorted
	old := map[string]wire.Estimate{}
	for _, x := range before {
		of, place, e := read(x)
		old[key(of, place)] = e
	}
	out := []Pair{}
	add := func(of map[string]string, place string, a, b wire.Estimate) {
		e := Pair{Of: of, Place: place, Before: a, Now: b, Shift: b.Estimate - a.Estimate, ShiftSE: nan}
		if a.SE > 0 {
			e.ShiftSE = e.Shift / a.SE
		}
		out = append(out, e)
	}
	for _, x := range now {
		of, place, e := read(x)
		k := key(of, place)
		a, there := old[k]
		if !there {
			a = none
		}
		delete(old, k)
		add(of, place, a, e)
	}
	for _, x := range before {
		of, place, e := read(x)
		if _, left := old[key(of, place)]; left {
			add(of, place, e, none)
		}
	}
	return out
}

// notTold: an earlier version did not say.
const notTold = "not given"

// retention is what the study says of tags kept, in words.
func retention(f *wire.Fit) string {
	if r := f.Retention; r != nil {
		return history.Say("%d of %d kept", r.Kept, r.Held)
	}
	for _, p := range f.Passed {
		if e := p.WithRetention; e.Status != "" && e.Status != "absent" {
			return notTold
		}
	}
	return "none given"
}
