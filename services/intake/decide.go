package intake

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// logged decides what is written down of a boat that is offered. Whether the
// giver and the name are known is not asked here.
func logged(c message.LogBoat, club money.Currency, today clock.Date) (message.BoatLogged, error) {
	body := message.BoatLogged{
		Boat: c.Boat, Name: tidy(c.Name), Taking: c.Taking, Giver: c.Giver, Asked: c.Asked, Right: c.Right, Facts: c.Facts,
	}
	body.Asked.Currency = club
	return body, desk.First(
		goodName(body.Name),
		boat.Known("taking", c.Taking, message.Takings),
		desk.GoodID("giver", c.Giver),
		goodAsked(c, club),
		boat.Known("right", c.Right, message.Rights),
		goodFacts(c.Facts, today),
	)
}

func goodName(name string) error {
	if name == "" {
		return fault.Field("name", "give the boat a name that no other boat of the club has")
	}
	return desk.OneLine("name", name, maxName)
}

func goodAsked(c message.LogBoat, club money.Currency) error {
	if c.Taking == message.Gift && !c.Asked.IsZero() {
		return fault.Field("asked", "nothing is asked for a gift; call it a bargain purchase if the giver wants something")
	}
	return desk.ClubMoney("asked", c.Asked, club)
}

// correct decides to put facts right. When they are so already there is nothing
// to say.
func (b *Boat) correct(c message.CorrectFacts, today clock.Date) (message.Body, error) {
	err := desk.First(b.notDeclined(), goodFacts(c.Facts, today), desk.Needed("why", c.Why, "say what was wrong or missing"))
	if err != nil {
		return nil, err
	}
	return message.FactsCorrected{Boat: c.Boat, Facts: c.Facts, Why: c.Why}, nil
}

func (b *Boat) notDeclined() error {
	if b.stage == declined {
		return desk.Conflict("boat", "%s was declined; log it anew if it is offered again", b.name)
	}
	return nil
}

// deal is what a decision about a price rests on besides the boat.
type deal struct {
	by      desk.Caller
	club    money.Currency
	ceiling *money.Amount // nil: none was set
	// foundDays is how long a found boat waits for its owner.
	foundDays int
	today     clock.Date
	// apart is set when who decides now valued the boat, and the club keeps the two
	// apart.
	apart bool
}

// offer decides to name a price to the seller.
func (b *Boat) offer(c message.OfferPrice, d deal) (message.Body, error) {
	err := desk.First(b.is(offered, "a price can be offered"), b.mayDeal(d.by.Actor.Person), noStake(c.Stake, d.by))
	if err == nil && b.taking == message.Gift {
		err = desk.Conflict("price", "%s is a gift; no price is offered for it", b.name)
	}
	if err == nil {
		err = desk.First(d.mayPrice(), b.wantsLookOver(), b.goodPrice(c.Price, c.Words, d))
	}
	if err != nil {
		return nil, err
	}
	gamble, err := b.gamble(c.Words)
	if err != nil {
		return nil, err
	}
	said := message.PriceOffered{Boat: c.Boat, Price: c.Price, Words: c.Words, Dealing: message.Dealing{Stake: c.Stake, Gamble: gamble}}
	if d.ceiling != nil {
		said.Ceiling = *d.ceiling
	}
	return said, nil
}

// accept decides to take the boat.
func (b *Boat) accept(c message.AcceptBoat, d deal) (message.Body, error) {
	err := desk.First(
		b.is(offered, "a boat is accepted"),
		b.mayDeal(d.by.Actor.Person),
		noStake(c.Stake, d.by),
		b.wantsLookOver(),
		b.mayBeTaken(c.Words, d),
	)
	if err != nil {
		return nil, err
	}
	dealing := message.Dealing{Stake: c.Stake}
	if b.taking == message.Gift {
		err = nothingPaid(c.Price)
	} else if err = desk.First(d.mayPrice(), b.goodPrice(c.Price, c.Words, d)); err == nil {
		dealing.Gamble, err = b.gamble(c.Words)
	}
	if err != nil {
		return nil, err
	}
	price := money.Of(c.Price.Minor, d.club)
	return message.BoatAccepted{Boat: c.Boat, Price: price, Words: c.Words, Dealing: dealing}, nil
}

func nothingPaid(price money.Amount) error {
	if !price.IsZero() {
		return fault.Field("price", "nothing is paid for a gift")
	}
	return nil
}

// is wants the boat in a stage.
func (b *Boat) is(s stage, what string) error {
	if b.stage != s {
		return desk.Conflict("boat", "%s while a boat is %s; %s is %s", what, s, b.name, b.stage)
	}
	return nil
}

// mayDeal keeps the giver away from both sides of the table.
func (b *Boat) mayDeal(by people.ID) error {
	if by != "" && by == b.giver {
		return fault.New(fault.Forbidden, "you give or sell this boat yourself; another member has to decide for the club")
	}
	return nil
}

func (b *Boat) wantsLookOver() error {
	if !b.lookedOver() {
		return desk.Conflict("boat", "%s has not been looked over; finish a look-over first", b.name)
	}
	return nil
}

// goodPrice wants a price that the ceiling allows, or an administrator's reason.
func (b *Boat) goodPrice(price money.Amount, words string, d deal) error {
	if err := desk.First(desk.ClubMoney("price", price, d.club), desk.NotLonger("words", words, desk.MaxWords)); err != nil {
		return err
	}
	switch {
	case price.IsZero():
		return fault.Field("price", "state the price")
	case d.ceiling == nil && d.by.Actor.Room == desk.AtMachine:
		return nil // purchases from before the book was kept
	case d.ceiling == nil:
		return desk.Conflict("price", "no ceiling is known for %s; value the boat and set its ceiling first", b.name)
	case d.ceiling.Currency != d.club:
		return desk.Conflict("price", "the ceiling of %s is in %s; set it anew in %s", b.name, d.ceiling.Currency, d.club)
	case price.Minor <= d.ceiling.Minor:
		return nil
	case !d.by.Has(people.Administrator) && d.by.Actor.Room != desk.AtMachine:
		return fault.New(fault.Forbidden, "the price is above the ceiling of %s; only an administrator may go there", d.ceiling)
	}
	return desk.Needed("words", words, "say why the club pays more than the ceiling")
}

// decline decides not to take the boat, or not to take it after all.
func (b *Boat) decline(c message.DeclineBoat, by desk.Caller) (message.Body, error) {
	if b.stage != offered && b.stage != accepted {
		return nil, desk.Conflict("boat", "%s is %s; it cannot be declined any more", b.name, b.stage)
	}
	err := desk.First(
		noStake(c.Stake, by),
		desk.Needed("reason", c.Reason, "say why the club does not take the boat"),
		desk.NotLonger("disposal", c.Disposal, desk.MaxWords),
	)
	if err == nil && c.Way != "" {
		err = boat.Known("way", c.Way, message.DisposalWays)
	}
	if err != nil {
		return nil, err
	}
	return message.BoatDeclined{Boat: c.Boat, Reason: c.Reason, Disposal: c.Disposal, Way: c.Way, Stake: c.Stake}, nil
}

// receive decides that the boat is the club's.
func (b *Boat) receive(c message.ReceiveBoat, today clock.Date) (message.Body, error) {
	err := desk.First(
		b.is(accepted, "a boat is received"),
		b.noDoubt(),
		desk.Past("possession", c.Possession, today),
		desk.Past("signed", c.Signed, today),
	)
	if err != nil {
		return nil, err
	}
	on := c.Possession
	if c.Signed.After(on) {
		on = c.Signed
	}
	return message.BoatReceived{Boat: c.Boat, Possession: c.Possession, Signed: c.Signed, On: on}, nil
}
