// Package assigncheck checks the result of a pairing round against the rows that
// it was made from, in one pass over them and with code that shares nothing with
// the solver.
//
// When it finds nothing wrong, the result is a best pairing: every pair is a row
// and nobody stands in two; the counts, the total and the step are those of the
// rows; the prices reach the worth of every row; and their sum, formed in 128
// bits, is the sum of the worths of the pairs. No other pairing can be worth more
// than the sum of such prices, because its pairs' worths are covered by the
// prices of different boats and applicants.
//
// It does not repeat the lottery: another best pairing of the same rows passes
// too. Nor does it ask whether the rows are true.
package assigncheck

import (
	"fmt"
	"maps"
	"math/bits"
	"slices"
)

// What a row may hold.
const (
	maxWeight = 1_000_000_000
	maxTier   = 9
	maxStep   = 1 << 58 // for more than 10⁸ boats; keeps a worth within 64 bits
)

// A Couple names a boat and an applicant.
type Couple struct {
	Boat      string `json:"boat"`
	Applicant string `json:"applicant"`
}

// A Refusal says why a result does not hold.
type Refusal struct{ Why string }

func (r *Refusal) Error() string { return r.Why }

// A File says which input is to blame.
type File string

// The inputs besides the result.
const (
	Rows    File = "rows"
	Pins    File = "pins"
	Forbids File = "forbids"
)

// BadInput is a row, a pin or a forbidden pair that breaks a rule, so that
// nothing can be said about the result.
type BadInput struct {
	File   File
	Row    int // of a file, the header being row 1
	Field  string
	Reason string
}

func (b *BadInput) Error() string {
	return fmt.Sprintf("%s, row %d: %s: %s", b.File, b.Row, b.Field, b.Reason)
}

// An end is a boat or an applicant.
type end struct {
	number  uint32
	price   int64
	partner *end // in the result
	pin     *end
	tier    int  // of an applicant that stood in a row
	stood   bool // in a row
	kept    bool // in a row that is not removed
}

type ends map[string]*end

func (e ends) of(id string) *end {
	x := e[id]
	if x == nil {
		x = &end{number: uint32(len(e))}
		e[id] = x
	}
	return x
}

// A pin in the order of its file.
type pin struct {
	boat, applicant *end
	row             int
	present         bool
}

// A Checker takes the rows one by one.
type Checker struct {
	claim             *Claim
	boats, applicants ends
	forbidden         map[[2]*end]bool
	pins              []*pin
	pinOf             map[*end]*pin // by boat

	seen                      map[uint64]struct{}
	keptBoats, keptApplicants int64
	heaviest                  int64
	tiers                     int

	found  int // pairs of the result that stood in a row
	served [maxTier]int64
	total  int64
	worths sum // of the pairs found

	refusal *Refusal // the first
}

// A sum is an unsigned number of 128 bits.
type sum struct{ high, low uint64 }

func (s *sum) add(x int64) {
	low, carry := bits.Add64(s.low, uint64(x), 0)
	s.low, s.high = low, s.high+carry
}

// New makes a checker of a result. The pins and forbidden pairs must be those of
// the round; the error is a *BadInput with the row that each would have in a file.
func New(claim *Claim, pins, forbids []Couple) (*Checker, error) {
	c := &Checker{claim: claim, boats: ends{}, applicants: ends{},
		forbidden: map[[2]*end]bool{}, pinOf: map[*end]*pin{}, seen: map[uint64]struct{}{}}
	for i, f := range forbids {
		if bad := c.forbid(f); bad != nil {
			bad.File, bad.Row = Forbids, i+2
			return nil, bad
		}
	}
	for i, p := range pins {
		if bad := c.pin(p, i+2); bad != nil {
			bad.File, bad.Row = Pins, i+2
			return nil, bad
		}
	}
	c.takeClaim()
	return c, nil
}

func (c *Checker) forbid(f Couple) *BadInput {
	if bad := f.empty(); bad != nil {
		return bad
	}
	key := [2]*end{c.boats.of(f.Boat), c.applicants.of(f.Applicant)}
	if c.forbidden[key] {
		return &BadInput{Field: "applicant", Reason: "this pair is forbidden before"}
	}
	c.forbidden[key] = true
	return nil
}

func (c *Checker) pin(p Couple, row int) *BadInput {
	if bad := p.empty(); bad != nil {
		return bad
	}
	b, a := c.boats.of(p.Boat), c.applicants.of(p.Applicant)
	switch {
	case b.pin != nil:
		return &BadInput{Field: "boat", Reason: "this boat is pinned before"}
	case a.pin != nil:
		return &BadInput{Field: "applicant", Reason: "this applicant is pinned before"}
	case c.forbidden[[2]*end{b, a}]:
		return &BadInput{Field: "applicant", Reason: "this pair is forbidden too"}
	}
	b.pin, a.pin = a, b
	c.pinOf[b] = &pin{boat: b, applicant: a, row: row}
	c.pins = append(c.pins, c.pinOf[b])
	return nil
}

func (c Couple) empty() *BadInput {
	switch {
	case c.Boat == "":
		return &BadInput{Field: "boat", Reason: "must not be empty"}
	case c.Applicant == "":
		return &BadInput{Field: "applicant", Reason: "must not be empty"}
	}
	return nil
}

func (c *Checker) refuse(format string, args ...any) {
	if c.refusal == nil {
		c.refusal = &Refusal{Why: fmt.Sprintf(format, args...)}
	}
}

// takeClaim lays the result's pairs and prices beside the ends.
func (c *Checker) takeClaim() {
	for i, p := range c.claim.Pairs {
		if i > 0 && p.Boat <= c.claim.Pairs[i-1].Boat {
			c.refuse("pairs[%d]: boat %q does not come after %q: each boat may stand once, in byte order", i, p.Boat, c.claim.Pairs[i-1].Boat)
		}
		b, a := c.boats.of(p.Boat), c.applicants.of(p.Applicant)
		if a.partner != nil {
			c.refuse("pairs[%d]: applicant %q stands in two pairs", i, p.Applicant)
		}
		b.partner, a.partner = a, b
	}
	c.takePrices("boats", c.claim.Boats, c.boats)
	c.takePrices("applicants", c.claim.Applicants, c.applicants)
	if c.claim.Step < 1 || c.claim.Step > maxStep {
		c.refuse("proof.step is %d, which no rows give", c.claim.Step)
	}
	if len(c.claim.ServedByTier) > maxTier {
		c.refuse("served_by_tier has %d entries, but there are at most %d tiers", len(c.claim.ServedByTier), maxTier)
	}
}

func (c *Checker) takePrices(side string, prices map[string]int64, of ends) {
	for _, id := range slices.Sorted(maps.Keys(prices)) {
		if prices[id] < 0 {
			c.refuse("proof.%s: the price of %q is negative", side, id)
		}
		of.of(id).price = prices[id]
	}
}

// Row takes the next row. The error is a *BadInput without File and Row, of which
// the caller knows more.
func (c *Checker) Row(boat, applicant string, weight int64, tier int) *BadInput {
	if bad := (Couple{boat, applicant}).empty(); bad != nil {
		return bad
	}
	switch {
	case weight < 0 || weight > maxWeight:
		return &BadInput{Field: "weight", Reason: fmt.Sprintf("must be a whole number from 0 to %d", maxWeight)}
	case tier < 1 || tier > maxTier:
		return &BadInput{Field: "tier", Reason: fmt.Sprintf("must be a whole number from 1 to %d", maxTier)}
	}
	b, a := c.boats.of(boat), c.applicants.of(applicant)
	if a.tier != 0 && a.tier != tier {
		return &BadInput{Field: "tier", Reason: fmt.Sprintf("this applicant stood in tier %d before", a.tier)}
	}
	a.tier, a.stood, b.stood = tier, true, true
	key := uint64(b.number)<<32 | uint64(a.number)
	if _, again := c.seen[key]; again {
		return &BadInput{Field: "applicant", Reason: "this pair stood in a row before"}
	}
	c.seen[key] = struct{}{}
	if b.pin == a {
		c.pinOf[b].present = true
	}
	removed := b.pin != nil && b.pin != a || a.pin != nil && a.pin != b || len(c.forbidden) > 0 && c.forbidden[[2]*end{b, a}]
	if removed {
		return nil
	}
	c.count(b, a, weight, tier)
	if c.refusal == nil {
		c.weigh(Couple{boat, applicant}, b, a, weight)
	}
	return nil
}

// count gathers what the step and the number of tiers follow from.
func (c *Checker) count(b, a *end, weight int64, tier int) {
	if !b.kept {
		b.kept = true
		c.keptBoats++
	}
	if !a.kept {
		a.kept = true
		c.keptApplicants++
	}
	c.heaviest, c.tiers = max(c.heaviest, weight), max(c.tiers, tier)
}

// weigh holds the prices against a row's worth. Step and tiers are as claimed;
// Verdict holds them against the rows.
func (c *Checker) weigh(row Couple, b, a *end, weight int64) {
	tiers := len(c.claim.ServedByTier)
	if a.tier > tiers {
		c.refuse("served_by_tier has %d entries, but applicant %q is in tier %d", tiers, row.Applicant, a.tier)
		return
	}
	worth := weight + int64(tiers+1-a.tier)*c.claim.Step
	if uint64(b.price)+uint64(a.price) < uint64(worth) {
		c.refuse("the prices of boat %q and applicant %q are %d and %d, together less than the row's worth %d",
			row.Boat, row.Applicant, b.price, a.price, worth)
	}
	if b.partner == a {
		c.found++
		c.served[a.tier-1]++
		c.total += weight
		c.worths.add(worth)
	}
}

// Verdict is nil when the result holds for the rows taken, else a *Refusal; or a
// *BadInput, when a pin was no row.
func (c *Checker) Verdict() error {
	for _, p := range c.pins {
		if bad := p.absent(); bad != nil {
			bad.File, bad.Row = Pins, p.row
			return bad
		}
	}
	c.compare()
	if c.refusal != nil {
		return c.refusal
	}
	return nil
}

func (p *pin) absent() *BadInput {
	switch {
	case !p.boat.stood:
		return &BadInput{Field: "boat", Reason: "no row has this boat"}
	case !p.applicant.stood:
		return &BadInput{Field: "applicant", Reason: "no row has this applicant"}
	case !p.present:
		return &BadInput{Field: "applicant", Reason: "no row has this boat and applicant"}
	}
	return nil
}

func (c *Checker) compare() {
	claim := c.claim
	if step := min(c.keptBoats, c.keptApplicants)*c.heaviest + 1; claim.Step != step {
		c.refuse("proof.step is %d, but the rows give %d", claim.Step, step)
	}
	if len(claim.ServedByTier) != c.tiers {
		c.refuse("served_by_tier has %d entries, but the largest tier in the rows is %d", len(claim.ServedByTier), c.tiers)
	}
	for _, p := range c.pins {
		switch {
		case p.boat.partner != p.applicant:
			c.refuse("the pin of row %d is not among the pairs", p.row)
		case p.boat.price != 0: // the applicant's price is then the row's worth: less does not cover it, more does not sum
			c.refuse("the boat of the pin of row %d has the price %d, but nobody else can have it: 0", p.row, p.boat.price)
		}
	}
	if c.found != len(claim.Pairs) {
		c.refuse("%d of %d pairs are no rows, or were removed by a pin or a forbidden pair", len(claim.Pairs)-c.found, len(claim.Pairs))
	}
	for i, n := range claim.ServedByTier {
		if c.refusal == nil && n != c.served[i] {
			c.refuse("served_by_tier[%d] is %d, but %d are served", i, n, c.served[i])
		}
	}
	if claim.Total != c.total {
		c.refuse("total is %d, but the pairs' weights sum to %d", claim.Total, c.total)
	}
	var prices sum
	for _, side := range []map[string]int64{claim.Boats, claim.Applicants} {
		for _, price := range side {
			prices.add(price)
		}
	}
	if prices != c.worths {
		c.refuse("the prices do not sum to the worths of the pairs, so they do not prove them best")
	}
}
