package assign

import "time"

// Stages runs Solve without pins and gives what its parts took: reading the rows,
// finding a best pairing, lowering the boats' prices, and the lottery.
func Stages(pairs []Pair, seed string) (read, find, lower, draw time.Duration, err error) {
	start := time.Now()
	r, err := newRound(pairs, Options{})
	if err != nil {
		return
	}
	s := newSearch(r)
	took := func() time.Duration { return time.Since(start) - read - find - lower }
	read = took()
	s.run()
	find = took()
	s.lowerBoatPrices()
	lower = took()
	s.drawLots(seed)
	draw = took()
	return
}
