package cjs_test

import (
	"context"
	"fmt"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history/ready"
	"example.org/unseen/history/study"
)

// Two models of one study, fitted and compared.
func Example() {
	st, err := study.Load("../testdata/published/lebreton1992/dipper.toml")
	if err != nil {
		panic(err)
	}
	h, _, err := ready.Read(st)
	if err != nil {
		panic(err)
	}
	for _, spec := range []model.Spec{{Survival: "reach", Detection: "site"}, {Survival: "flood", Detection: "same"}} {
		p, err := model.Build(model.Input{Histories: h}, spec)
		if err != nil {
			panic(err)
		}
		f, err := cjs.New(context.Background(), p, cjs.Options{})
		if err != nil {
			panic(err)
		}
		fmt.Printf("%s: AICc %.2f, %s\n", p.Words(), f.AICc, f.Verdict)
	}
	// Output:
	// survival: reach · detection: site: AICc 679.59, converged
	// survival: flood · detection: same: AICc 666.16, converged
}

// Estimates are plain data.
func ExampleFit() {
	st, _ := study.Load("../testdata/published/lebreton1992/dipper.toml")
	h, _, err := ready.Read(st)
	if err != nil {
		panic(err)
	}
	p, err := model.Build(model.Input{Histories: h}, model.Spec{Survival: "flood", Detection: "same"})
	if err != nil {
		panic(err)
	}
	f, err := cjs.New(context.Background(), p, cjs.Options{Interval: "profile"})
	if err != nil {
		panic(err)
	}
	for _, s := range f.Survival[:2] {
		fmt.Printf("%s: %.3f (%.3f to %.3f, %s)\n", h.River.Reach(s.From), s.Value, s.Low, s.High, s.Method)
	}
	// Output:
	// 1981 to 1982: 0.607 (0.546 to 0.667, profile)
	// 1982 to 1983: 0.469 (0.386 to 0.554, profile)
}
