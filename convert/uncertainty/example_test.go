package uncertainty_test

import (
	"fmt"
	"math"

	"manobridge/convert/uncertainty"
)

// A filter on the test bench reads 120 Pa. The position along the scale brings 0.3 Pa, the density of the oil 0.4 Pa;
// 3, 4 and 5 make the triangle everybody can check.
func ExampleNewBudget() {
	coverage, err := uncertainty.NewCoverage(uncertainty.DefaultP)
	if err != nil {
		fmt.Println(err)
		return
	}
	budget, err := uncertainty.NewBudget([]uncertainty.Component{
		{Name: "position", Unit: "mm", Value: 75, U: 0.1875, Sensitivity: 1.6, DOF: math.Inf(1)},
		{Name: "density", Unit: "kg/m³", Value: 828, U: 2.76, Sensitivity: 120.0 / 828, DOF: math.Inf(1), Assumed: true},
	}, nil, coverage)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(uncertainty.Statement(120, budget.ExpandedU, budget.CoverageFactor, "Pa"))
	for _, s := range budget.Shares() {
		fmt.Printf("%s %.0f %%\n", s.Name, 100*s.Fraction)
	}
	// Output:
	// 120.0 Pa ± 1.0 Pa (k = 2.00)
	// density 64 %
	// position 36 %
}
