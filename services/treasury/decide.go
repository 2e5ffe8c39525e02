package treasury

import (
	"slices"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// sell decides to sell a boat.
func (b *book) sell(c message.SellBoat, r record, club money.Currency, today clock.Date) (message.BoatSold, error) {
	gross := money.Of(c.Gross.Minor, club)
	said := message.BoatSold{Boat: c.Boat, On: c.On, Gross: gross, ArmsLength: c.ArmsLength, Auction: c.Auction}
	err := desk.First(
		desk.Past("on", c.On, today),
		desk.ClubMoney("gross", c.Gross, club),
		b.forSale(r),
	)
	switch {
	case err != nil:
	case c.On.Before(r.received):
		err = fault.Field("on", "lies before the day on which the club received the boat, %s", r.received)
	case c.On.Before(b.back):
		err = fault.Field("on", "lies before the day on which its last buyer brought it back, %s", b.back)
	}
	return said, err
}

// forSale wants a boat that is the club's and still there.
func (b *book) forSale(r record) error {
	switch {
	case b.sold != nil:
		return desk.Conflict("boat", "%s was sold on %s", r.name, b.sold.On)
	case r.state == placed || r.state == retired:
		return desk.Conflict("boat", "%s was %s; it cannot be sold any more", r.name, r.state)
	case r.received.IsZero():
		return desk.Conflict("boat", "%s is not the club's yet; receive it first", r.name)
	}
	return nil
}

// stateClaim decides to write down what a donor said.
func stateClaim(c message.StateClaim, r record, club money.Currency, today clock.Date) (message.ClaimStated, error) {
	said := message.ClaimStated{Boat: c.Boat, Claim: money.Of(c.Claim.Minor, club), On: c.On}
	said.DonorsCost = message.DonorsCost{Cost: c.Cost, Acquired: c.Acquired, ToGive: c.ToGive}
	err := desk.First(
		desk.ClubMoney("claim", c.Claim, club),
		desk.Past("on", c.On, today),
		goodCost(c, club, today),
	)
	switch {
	case err != nil:
	case r.taking == message.Purchase:
		err = desk.Conflict("boat", "%s was bought; there is no gift to claim", r.name)
	case r.state == declined:
		err = desk.Conflict("boat", "%s was declined; there is no gift to claim", r.name)
	case !r.received.IsZero() && c.Acquired.After(r.received):
		err = fault.Field("acquired", "lies after the gift")
	}
	return said, err
}

// goodCost wants the donor's cost and its day together.
func goodCost(c message.StateClaim, club money.Currency, today clock.Date) error {
	switch {
	case c.Acquired.IsZero() && !c.Cost.IsZero():
		return fault.Field("acquired", "say when the donor acquired the boat at this cost")
	case c.Acquired.IsZero() && c.ToGive:
		return fault.Field("acquired", "say when the donor acquired the boat")
	case c.Acquired.IsZero():
		return nil
	}
	return desk.First(desk.ClubMoney("cost", c.Cost, club), desk.Past("acquired", c.Acquired, today))
}

// apart keeps the donor away from their own paper.
func apart(by, donor people.ID) error {
	if by != "" && by == donor {
		return fault.New(fault.Forbidden, "you gave this boat yourself; another treasurer has to see to its paper")
	}
	return nil
}

// issuable wants a gift that has no standing paper, and persons who are not the
// donor.
func (g gift) issuable(by people.ID, on clock.Date) error {
	switch {
	case g.taking == message.Purchase:
		return desk.Conflict("boat", "%s was bought; its seller gets no donor's paper", g.name)
	case g.received.IsZero():
		return desk.Conflict("boat", "%s has not been received; a gift is made when possession and the signed transfer both exist", g.name)
	case on.Before(g.received):
		return fault.Field("on", "lies before the gift, %s", g.received)
	case g.sold != nil && on.Before(g.sold.On):
		return fault.Field("on", "lies before the sale, %s, which the paper speaks of", g.sold.On)
	case g.worth != nil && g.worth.valuer == g.giver:
		return fault.New(fault.Forbidden, "the value of this boat was given by its donor; another member has to value it first")
	case g.worth != nil && by != "" && g.worth.valuer == by:
		return fault.New(fault.Forbidden, "you valued this boat yourself; another treasurer issues its paper, or another member values it again")
	}
	return apart(by, g.giver)
}

// settle decides to end a debt to a member for something they paid for.
func (b *book) settle(c message.SettlePocket, today clock.Date) (message.EntryPosted, error) {
	var none message.EntryPosted
	err := desk.First(
		boat.Known("how", c.How, message.Settlings),
		desk.Past("on", c.On, today),
	)
	if err != nil {
		return none, err
	}
	if cost := b.noted[c.Entry]; cost != "" {
		return none, desk.Conflict("entry", "this is written down as a member's cost; pay it back or note it as given under “Volunteers’ costs”")
	}
	return b.ended(c.Entry, c.How, c.On, "")
}

// owes wants an entry for which a member is out of money.
func (b *book) owes(id string) (*message.EntryPosted, error) {
	first := b.entry(id)
	switch {
	case first == nil:
		return nil, desk.Unknown("entry", "no such entry stands in this book")
	case !slices.ContainsFunc(first.Lines, func(l message.EntryLine) bool { return l.Account == owed && l.Amount.Minor < 0 }):
		return nil, desk.Conflict("entry", "nothing is owed to a member for this entry")
	case b.reversed[id]:
		return nil, desk.Conflict("entry", "this entry was taken back; nothing is owed for it any more")
	}
	return first, nil
}

// ended is the entry that ends a debt to a member; way says how the money went, where
// that is known.
func (b *book) ended(id string, how message.Settling, on clock.Date, way string) (message.EntryPosted, error) {
	first, err := b.owes(id)
	switch {
	case err != nil:
		return message.EntryPosted{}, err
	case b.entry(settledMark+id) != nil:
		return message.EntryPosted{}, desk.Conflict("entry", "this debt was settled before")
	case on.Before(ownDay(*first)):
		return message.EntryPosted{}, fault.Field("on", "lies before the day of the entry, %s", ownDay(*first))
	}
	words, credit := "paid back to the member", cash
	if how == message.Given {
		words, credit = "given by the member who paid", pockets
	}
	if way != "" {
		words += " (" + way + ")"
	}
	return entry(first.Boat, settledMark+id, on, words+": "+first.Words, owed, credit, first.Lines[0].Amount), nil
}
