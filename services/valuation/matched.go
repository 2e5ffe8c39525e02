package valuation

import (
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
)

// keepMatched takes the estimate that rests on what a person confirmed in the
// place of the one by the tool's own matching. Without one, the numbers carry no
// weight and the club's rule holds.
func keepMatched(exec desk.Executor, b message.FindingsMatched) error {
	if b.Estimate == nil {
		return nil // this look-over is not the one that an estimate rests on
	}
	return exec(`UPDATE valuation.look_over SET estimate = $2, first = $3, second = $4, in_both = $5 WHERE boat = $1`,
		b.Boat, b.Estimate.Shown, b.Estimate.First, b.Estimate.Second, b.Estimate.Both)
}
