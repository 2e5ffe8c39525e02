// Package defects estimates, from what two people found independently of each
// other on one boat, how many defects there are and so how many both missed.
//
// Sources: D. G. Chapman, 1951 (estimate), with the variance that Seber's
// textbook gives; A. Chao for the log-normal interval on what was not seen
// (1987, from memory); L. C. Briand and others, IEEE Transactions on Software
// Engineering 26(6), 2000, for the use of such estimates in inspections.
//
// It holds for one closed list, two people who did not talk to each other,
// defects of equal visibility, no false alarms and right matching of the two
// lists. Hidden defects and talking make the estimate too low. It is a prompt to
// look again, never a count of defects and never a proof that there are no more.
package defects

import (
	"fmt"
	"math"
	"strings"

	"refloat.example/pkg/fault"
)

// EnoughInCommon is the number of defects found by both below which an estimate
// should not be shown (course notes ask for 3 to 7).
const EnoughInCommon = 3

// z is the normal deviate of a 95 % interval.
const z = 1.96

// maxFound bounds a list, so that no sum of two overflows.
const maxFound = 1_000_000_000

// Estimate is what two lists of defects say together.
type Estimate struct {
	Distinct  int64   // found by one or both
	Total     float64 // estimated, found or not
	Variance  float64 // of Total
	Missed    float64 // by both: Total less Distinct
	Low, High float64 // 95 % interval on the total
	InCommon  int64
}

// SE gives the standard error of the total.
func (e Estimate) SE() float64 { return math.Sqrt(e.Variance) }

// Shown says whether enough was found by both for the numbers to carry weight.
func (e Estimate) Shown() bool { return e.InCommon >= EnoughInCommon }

// Reason says why the numbers carry little weight or none; empty where they
// carry some.
func (e Estimate) Reason() string {
	var reasons []string
	if !e.Shown() {
		reasons = append(reasons, fmt.Sprintf("fewer than %d defects were found by both: too few for an estimate", EnoughInCommon))
	}
	if e.Missed == 0 {
		reasons = append(reasons, "nothing seems to be missed, but a zero spread proves nothing")
	}
	return strings.Join(reasons, "; ")
}

// LookAgain says whether one more person should look, or the price be lower: when
// the numbers carry no weight, or when by the upper end of the interval a quarter
// of all may be missed. The quarter is our proposal.
func (e Estimate) LookAgain() bool { return !e.Shown() || 3*e.High > 4*float64(e.Distinct) }

// TooLow is why such an estimate is too low rather than too high, in sentences.
// Source: the validity conditions that the inspection literature gives (Briand and
// others 2000).
var TooLow = []string{
	"Some defects are harder to see than others. Those that both found are the easy ones, so the hidden ones are counted short.",
	"If the two spoke about the boat, or one saw the other's list, they found the same things for that reason.",
	"What neither could see or reach is in nobody's count.",
}

// SecondLook estimates from the numbers of defects that the first and the second
// person found, and that both did. The faults name first, second or both.
func SecondLook(first, second, both int64) (Estimate, error) {
	if err := check(first, second, both); err != nil {
		return Estimate{}, err
	}
	n1, n2, m := float64(first), float64(second), float64(both)
	e := Estimate{
		Distinct: first + second - both,
		Total:    (n1+1)*(n2+1)/(m+1) - 1,
		Variance: (n1 + 1) * (n2 + 1) * (n1 - m) * (n2 - m) / ((m + 1) * (m + 1) * (m + 2)),
		// Total less Distinct in closed form, exactly 0 where one list holds the other.
		Missed:   (n1 - m) * (n2 - m) / (m + 1),
		InCommon: both,
	}
	e.Low, e.High = interval(float64(e.Distinct), e.Missed, e.Variance)
	return e, nil
}

func check(first, second, both int64) error {
	for _, c := range []struct {
		name  string
		found int64
	}{{"first", first}, {"second", second}, {"both", both}} {
		if c.found < 0 || c.found > maxFound {
			return fault.Field(c.name, "must be from 0 to %d", maxFound)
		}
	}
	if both > min(first, second) {
		return fault.Field("both", "must not be more than either found")
	}
	return nil
}

// interval is log-normal on what was missed, so that it never falls below what
// was found. Where nothing seems missed it has no width.
func interval(distinct, missed, variance float64) (low, high float64) {
	if missed == 0 {
		return distinct, distinct
	}
	c := math.Exp(z * math.Sqrt(math.Log1p(variance/(missed*missed))))
	return distinct + missed/c, distinct + missed*c
}
