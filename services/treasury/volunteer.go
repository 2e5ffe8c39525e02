package treasury

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/pkg/taxpaper"
)

// volunteer is what a member's stream adds up to: what they laid out, and the entries of
// costs that are no boat's.
type volunteer struct {
	book
	costs  []cost
	papers map[int]message.VolunteerPaperNoted // by year the newest; it may be cancelled
}

// cost is what a member laid out, as it stands.
type cost struct {
	message.VolunteerCostStated
	state message.CostState
	ended clock.Date
	// by are the actors who wrote it down and what became of it.
	by []string
}

// Fold adds an event.
func (v *volunteer) Fold(e message.Event, body message.Body) {
	v.book.Fold(e, body)
	ended := func(id string, state message.CostState, on clock.Date) {
		if c := v.cost(id); c != nil {
			c.state, c.ended, c.by = state, on, append(c.by, e.Actor)
		}
	}
	switch b := body.(type) {
	case message.VolunteerCostStated:
		v.costs = append(v.costs, cost{VolunteerCostStated: b, state: message.CostOwed, by: []string{e.Actor}})
	case message.VolunteerCostPaidBack:
		ended(b.Cost, message.CostPaidBack, b.On)
	case message.VolunteerCostGiven:
		ended(b.Cost, message.CostGiven, b.On)
	case message.VolunteerCostWithdrawn:
		ended(b.Cost, message.CostWithdrawn, clock.Date{})
	case message.VolunteerPaperNoted:
		if v.papers == nil {
			v.papers = map[int]message.VolunteerPaperNoted{}
		}
		v.papers[b.Year] = b
	}
}

func (v *volunteer) cost(id string) *cost {
	i := slices.IndexFunc(v.costs, func(c cost) bool { return c.Cost == id })
	if i < 0 {
		return nil
	}
	return &v.costs[i]
}

// newCost wants an id that no cost of the member has.
func (v *volunteer) newCost(id string) error {
	if err := desk.GoodID("cost", id); err != nil {
		return err
	}
	if v.cost(id) != nil {
		return desk.Conflict("cost", "another cost has this id already")
	}
	return nil
}

// goodService wants words that can stand on a paper: no time, and no amount of money.
func goodService(service string) error {
	err := desk.First(
		desk.Needed("service", service, "say what the member did for the club; it stands on a paper"),
		desk.OneLine("service", service, maxWork),
	)
	if err != nil {
		return err
	}
	if found := taxpaper.SaysTime(service); found != "" {
		return fault.Field("service", "counts time (“%s”); a paper never states time, as the value of services is not deductible (26 CFR 1.170A-1(g)). Describe what was done, not how long", strings.TrimSpace(found))
	}
	if found := taxpaper.SaysMoney(service); found != "" {
		return fault.Field("service", "states an amount (“%s”); a paper describes what was done, and the member's own records show what was laid out", found)
	}
	return nil
}

// costEntry names the entry of a cost. Two members may have costs of one id, in one boat's
// book too.
func costEntry(member people.ID, id string) string {
	sum := sha256.Sum256([]byte(string(member) + "\n" + id))
	return "volunteer-" + hex.EncodeToString(sum[:16])
}

// state decides to write down what a member laid out, and the entry that owes it.
func (v *volunteer) state(c message.StateVolunteerCost, club money.Currency, today clock.Date) (message.VolunteerCostStated, error) {
	said := message.VolunteerCostStated{
		Cost: c.Cost, Member: c.Member, On: c.On, Service: strings.TrimSpace(c.Service), Bought: strings.TrimSpace(c.Bought),
		Amount: money.Of(c.Amount.Minor, club), Receipt: c.Receipt, Boat: c.Boat, Entry: costEntry(c.Member, c.Cost),
	}
	err := desk.First(
		v.newCost(c.Cost),
		desk.Past("on", c.On, today),
		goodService(c.Service),
		desk.Needed("bought", c.Bought, "say what was bought"),
		desk.OneLine("bought", c.Bought, maxWork),
		desk.ClubMoney("amount", c.Amount, club),
	)
	if err == nil && c.Amount.IsZero() {
		err = fault.Field("amount", "say what it cost")
	}
	return said, err
}

// owes is the entry for a cost that was not booked before.
func owes(c message.VolunteerCostStated) message.EntryPosted {
	account := volunteerCosts
	if c.Boat != "" {
		account = boatVolunteer
	}
	return entry(c.Boat, c.Entry, c.On, c.Bought, account, owed, c.Amount)
}

// take decides that a booking of a boat's book or a bin's is owed to a member. says is who
// the booking says it is, or nobody.
func (v *volunteer) take(c message.TakeVolunteerCost, b *book, says people.ID) (message.VolunteerCostStated, error) {
	said := message.VolunteerCostStated{
		Cost: c.Cost, Member: c.Member, Service: strings.TrimSpace(c.Service), Receipt: c.Receipt, Boat: c.Boat, Bin: c.Bin, Entry: c.Entry, Booked: true,
	}
	if err := desk.First(v.newCost(c.Cost), goodService(c.Service)); err != nil {
		return said, err
	}
	first, err := b.owes(c.Entry)
	if err != nil {
		return said, err
	}
	settled := b.entry(settledMark + c.Entry)
	switch {
	case b.noted[c.Entry] != "":
		err = desk.Conflict("entry", "this booking is written down as a member's cost already")
	case settled != nil && settled.Lines[1].Account != pockets:
		err = desk.Conflict("entry", "this booking was paid back already; nothing is owed for it any more")
	case says != "" && says != c.Member:
		err = fault.Field("member", "the booking says that another member paid; if that is wrong, take it back in the workshop and book it anew")
	}
	said.On, said.Bought, said.Amount = ownDay(*first), first.Words, first.Lines[0].Amount
	return said, err
}

// ends wants a cost of which nothing was decided yet, and a day that is not before it.
func (v *volunteer) ends(id string, on, today clock.Date) (*cost, error) {
	if err := desk.First(desk.GoodID("cost", id), desk.Past("on", on, today)); err != nil {
		return nil, err
	}
	c := v.cost(id)
	switch {
	case c == nil:
		return nil, desk.Unknown("cost", noCost)
	case c.state != message.CostOwed:
		return c, desk.Conflict("cost", "this cost is %s already", c.state)
	case on.Before(c.On):
		return c, fault.Field("on", "lies before the day on which the member laid it out, %s", c.On)
	}
	return c, nil
}

const noCost = "no such cost of this member is written down"

// ownCost keeps a member from deciding that the club pays them.
func ownCost(by, member people.ID) error {
	if by != "" && by == member {
		return fault.New(fault.Forbidden, "this is your own cost; another treasurer has to pay it back")
	}
	return nil
}

// withdraw decides that a cost counts no more. One that the club paid back, or that was
// booked in the workshop and given, is mended where the money moved.
func (v *volunteer) withdraw(c message.WithdrawVolunteerCost) (*cost, error) {
	if err := desk.First(desk.GoodID("cost", c.Cost), desk.Needed("why", c.Why, "say what was wrong; the reason is kept with it")); err != nil {
		return nil, err
	}
	at := v.cost(c.Cost)
	switch {
	case at == nil:
		return nil, desk.Unknown("cost", noCost)
	case at.state == message.CostWithdrawn:
		return at, desk.Conflict("cost", "this cost was withdrawn already")
	case at.state == message.CostPaidBack:
		return at, desk.Conflict("cost", "the club paid this cost back; what the member returns is no cost of theirs")
	case at.state == message.CostGiven && at.Booked:
		return at, desk.Conflict("cost", "this cost was booked in the workshop and is given; take the booking back there, and book it anew")
	}
	return at, nil
}

// bookOfCost names the stream of the book in which a cost is owed.
func bookOfCost(c message.VolunteerCostStated) string {
	switch {
	case c.Boat != "":
		return message.TreasuryBoat(c.Boat)
	case c.Bin != "":
		return message.TreasuryBin(c.Bin)
	}
	return message.TreasuryVolunteer(c.Member)
}
