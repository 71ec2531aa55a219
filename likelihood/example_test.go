package likelihood_test

import (
	"fmt"
	"math"

	"example.org/unseen/likelihood"
)

// Ten fish in a hundred are seen at the one site below: the log-likelihood of
// survival and detection, of which only the product counts.
func ExampleNewCJS() {
	layout, err := likelihood.NewLayout([]int{1, 1})
	if err != nil {
		panic(err)
	}
	slot := func(column int) []likelihood.Entry { return []likelihood.Entry{{Column: column, Value: 1}} }
	design := &likelihood.Design{Layout: layout, Columns: 2, Numbers: 1,
		Slots: [][][]likelihood.Entry{{slot(0), slot(1)}}, Links: [][]likelihood.Link{make([]likelihood.Link, 2)}}
	fish := likelihood.NewUnit(layout, 0, []float64{1})
	fish.Add(layout, 0, 1, 1, false, true, 10)
	fish.Add(layout, 0, 0, 0, true, true, 90)
	data := &likelihood.Data{Units: []likelihood.Unit{fish}}
	if err := data.Check(design); err != nil {
		panic(err)
	}
	var at likelihood.Point
	l := likelihood.NewCJS(design, data)
	for _, p := range [][2]float64{{0.5, 0.2}, {0.2, 0.5}, {0.5, 0.5}} {
		l.Eval([]float64{likelihood.LogitOf(p[0]), likelihood.LogitOf(p[1])}, 1, &at)
		fmt.Printf("survival %.1f, detection %.1f: −2 ln L %.3f\n", p[0], p[1], -2*at.F)
	}
	fmt.Println("can be told apart:", likelihood.DesignRank(design, []likelihood.Released{{Z: []float64{1}, At: []float64{100, 0}}}, nil), "of", design.Columns)
	// Output:
	// survival 0.5, detection 0.2: −2 ln L 65.017
	// survival 0.2, detection 0.5: −2 ln L 65.017
	// survival 0.5, detection 0.5: −2 ln L 79.509
	// can be told apart: 1 of 2
}

// A mortality of 0.01 per km, over 30 km.
func ExampleLink() {
	rate := likelihood.Link{Kind: likelihood.Rate, Length: 30}
	eta := rate.Inverse(0.75)
	fmt.Printf("%.3f survive %g km, %.4f die per km\n", rate.At(eta).P, rate.Length, math.Exp(eta))
	// Output:
	// 0.750 survive 30 km, 0.0096 die per km
}
