package calc

import "testing"

// 5, 4, 2 is a published teaching example (Chapman 9, variance 5); the others
// are Chapman's formulas worked by hand. See pkg/defects for the interval.
func TestSecondLook(t *testing.T) {
	const few = "fewer than 3 defects were found by both: too few for an estimate"
	const none = "nothing seems to be missed, but a zero spread proves nothing"
	for _, c := range []struct{ name, in, want string }{
		{"too few in common", `{"first":5,"second":4,"both":2}`,
			`{"distinct":7,"estimate":9,"variance":5,"se":2.23606797749979,"missed":2,"low":7.34236925516612,"high":18.68329205862593,"shown":false,"reason":"` + few + `"}`},
		{"nothing missed", `{"first":9,"second":9,"both":9}`,
			`{"distinct":9,"estimate":9,"variance":0,"se":0,"missed":0,"low":9,"high":9,"shown":true,"reason":"` + none + `"}`},
		{"two alike", `{"first":2,"second":2,"both":2}`,
			`{"distinct":2,"estimate":2,"variance":0,"se":0,"missed":0,"low":2,"high":2,"shown":false,"reason":"` + few + "; " + none + `"}`},
		{"both more than one of them", `{"first":9,"second":3,"both":4}`, `{"error":{"field":"both","reason":"must not be more than either found"}}`},
		{"half a defect", `{"first":9.5,"second":3,"both":3}`, `{"error":{"field":"first","reason":"must be a whole number"}}`},
		{"negative", `{"first":9,"second":-3,"both":3}`, `{"error":{"field":"second","reason":"must be from 0 to 1000000000"}}`},
		{"missing", `{"first":9,"second":3}`, `{"error":{"field":"both","reason":"missing"}}`},
	} {
		t.Run(c.name, func(t *testing.T) { answersExactly(t, secondLookCalculator, c.in, c.want) })
	}
}
