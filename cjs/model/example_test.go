package model_test

import (
	"fmt"

	"example.org/unseen/cjs/internal/hollin"
	"example.org/unseen/cjs/model"
)

// Terms in canonical form, and what is wrong with those that are none.
func ExampleParse() {
	t, err := model.Parse("sex + cohort by reach + cohort")
	fmt.Println(t, err)
	_, err = model.Parse("reach cohort")
	fmt.Println(err)
	// Output:
	// reach by cohort + sex <nil>
	// "reach cohort": + or by is missing before "cohort" at character 7
}

// A model in words becomes coefficients.
func ExampleBuild() {
	p, err := model.Build(model.Input{Histories: hollin.Counted()}, model.Spec{Survival: "reach + cohort", Detection: "same"})
	if err != nil {
		panic(err)
	}
	fmt.Println(p.Words())
	for _, c := range p.Columns {
		fmt.Printf("%s: %s\n", c.Part, c.Term)
	}
	_, err = model.Build(model.Input{Histories: hollin.Counted()}, model.Spec{Survival: "site"})
	fmt.Println(err)
	// Output:
	// survival: reach + cohort · detection: same
	// survival: reach Mill Lade to Alder Ford
	// survival: reach Alder Ford to Scar Weir
	// survival: reach Scar Weir to Tidehead
	// survival: cohort late
	// detection: same
	// survival "site": survival is about reaches; write reach instead of site
}
