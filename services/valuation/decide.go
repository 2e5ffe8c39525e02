package valuation

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// Bounds that catch a wrong unit or a slip of the hand, not an odd boat. Common
// practice, no source.
const (
	shortest, longest = 1000, 15_000 // mm
	mostSeats         = 12
	oldest            = 150 // years
	worst, best       = 1, 5
	mostRepairs       = 200
	mostMinutes       = 100_000
	mostAccessories   = 20
)

// tidied fills in what an order may leave empty: a price of which nobody said who
// sold is from private hand. What was forced is not at arm's length, whatever is
// ticked.
func tidied(c message.Comparable) message.Comparable {
	if c.Market == "" {
		c.Market = message.PrivateSale
	}
	if c.Market == message.ForcedSale {
		c.ArmsLength = false
	}
	return c
}

// recorded checks a price for the collection.
func recorded(c message.Comparable, club money.Currency, today clock.Date) error {
	return desk.First(
		desk.GoodID("comparable", c.Comparable),
		goodPrice(c.Price, club),
		desk.Past("on", c.On, today),
		boat.Known("price_kind", c.PriceKind, []message.PriceKind{message.Sold, message.Asking}),
		boat.Known("type", c.Type, boat.Types),
		desk.WithinOrUnknown("length_mm", c.LengthMM, shortest, longest),
		desk.Within("seats", c.Seats, 0, mostSeats),
		desk.OneLine("material", c.Material, desk.MaxLine),
		goodAge(c),
		goodGrade("grade", c.Grade),
		desk.OneLine("area", c.Area, desk.MaxLine),
		desk.Needed("source", c.Source, "say where the price was read or who told it, so that somebody else can look it up"),
		desk.OneLine("source", c.Source, desk.MaxLine),
		notOwn(c.OwnBoat),
		boat.Known("market", c.Market, message.Markets),
		goodAccessories(c.Accessories),
	)
}

func goodAccessories(list []string) error {
	if len(list) > mostAccessories {
		return fault.Field("accessories", "at most %d accessories can be named; put small things together", mostAccessories)
	}
	for i, a := range list {
		at := fmt.Sprintf("accessories[%d]", i)
		if err := desk.First(desk.Needed(at, a, "name the accessory or leave the line out"), desk.OneLine(at, a, desk.MaxLine)); err != nil {
			return err
		}
	}
	return nil
}

func goodPrice(price money.Amount, club money.Currency) error {
	if price.Minor > 0 && price.Currency != club {
		return fault.Field("price", "the club keeps its books in %s and nothing is converted: leave a price in %q out", club, price.Currency)
	}
	if price.Minor == 0 {
		return fault.Field("price", "state the price; a boat given away says nothing of what it would fetch")
	}
	return desk.ClubMoney("price", price, club)
}

func goodAge(c message.Comparable) error {
	if c.AgeUnknown && c.AgeYears != 0 {
		return fault.Field("age_years", "leave this 0 when the age is not known")
	}
	return desk.Within("age_years", c.AgeYears, 0, oldest)
}

func goodGrade(field string, g boat.Grade) error { return desk.Within(field, int(g), worst, best) }

func notOwn(id boat.ID) error {
	if id != "" {
		return fault.Field("own_boat", "the club's own sales come into the collection by themselves; leave this empty")
	}
	return nil
}

// digest tells a sale from others: the same day, price, type, length and source
// are one sale, however the source is spelled.
func digest(c message.Comparable) string {
	source := strings.ToLower(strings.Join(strings.Fields(c.Source), " "))
	sum := sha256.Sum256([]byte(fmt.Sprintf("%s|%s|%s|%d|%s", c.On, c.Price, c.Type, c.LengthMM, source)))
	return hex.EncodeToString(sum[:16])
}

// goodValue checks an order to value a boat.
func goodValue(c message.ValueBoat, today clock.Date) error {
	return desk.First(
		desk.GoodID("boat", c.Boat),
		desk.GoodID("value", c.Value),
		desk.Past("on", c.On, today),
		boat.Known("purpose", c.Purpose, message.ValuePurposes),
		goodGrade("as_it_lies", c.AsItLies),
		goodGrade("repaired", c.Repaired),
		notWorse(c),
		desk.Within("accessories", c.Accessories, 0, mostAccessories),
		noConflict(c.Conflict),
	)
}

func notWorse(c message.ValueBoat) error {
	if c.Repaired < c.AsItLies {
		return fault.Field("repaired", "repair does not lower the grade; it is %d as it lies", c.AsItLies)
	}
	return nil
}

// highest is the best grade that a boat can have as it lies while a finding of a
// severity is open (common practice, no source).
var highest = map[boat.Severity]boat.Grade{boat.DoNotUse: 2, boat.MendBefore: 3, boat.Watch: 4}

// bounded holds the grade as it lies against what look-overs found: findings lower
// a value whoever grades.
func bounded(g boat.Grade, open boat.Severity) error {
	if top, bound := highest[open]; bound && g > top {
		return fault.Field("as_it_lies", "an open finding says %q: as it lies the boat is of grade %d at best", string(open), top)
	}
	return nil
}

// noConflict wants the valuer's clear "none". Any other answer is a stake that
// somebody else has to be asked for.
func noConflict(answer string) error {
	if err := desk.Needed("conflict", answer, `say whether you or your household give, buy or will receive the boat; write "none" if not`); err != nil {
		return err
	}
	if !strings.EqualFold(strings.Trim(answer, " ."), "none") {
		f := fault.New(fault.Forbidden, `somebody without a stake in the boat has to value it; "none" is the only answer with which you can`)
		f.Field = "conflict"
		return f
	}
	return nil
}

// stake says why somebody may not judge a boat's worth.
func stake(by desk.Caller, t tie) error {
	switch {
	case by.Actor.Person == "":
		return fault.New(fault.Forbidden, "a value names the member who gave it; sign in as that member")
	case t.gives:
		return fault.New(fault.Forbidden, "you give or sell this boat yourself; another member has to value it")
	case t.waits:
		return fault.New(fault.Forbidden, "your household waits for a boat; another member has to value it")
	}
	return nil
}

// goodWork checks the repairs that a ceiling reckons with.
func goodWork(repairs []message.ExpectedWork, club money.Currency) error {
	if len(repairs) > mostRepairs {
		return fault.Field("repairs", "at most %d repairs can be reckoned with", mostRepairs)
	}
	for i, r := range repairs {
		at := func(field string) string { return fmt.Sprintf("repairs[%d].%s", i, field) }
		err := desk.First(
			desk.Needed(at("what"), r.What, "say what has to be done"),
			desk.OneLine(at("what"), r.What, desk.MaxLine),
			desk.ClubMoney(at("cost"), r.Cost, club),
			desk.Within(at("percent_likely"), r.PercentLikely, 0, 100),
			desk.Within(at("minutes"), r.MinutesOfHands, 0, mostMinutes),
		)
		if err != nil {
			return err
		}
	}
	return nil
}

// basis gives the figure that a ceiling starts from: the newest value as
// repaired.
func (o *opinions) basis(club money.Currency) (money.Amount, error) {
	v := o.newest()
	switch {
	case v == nil:
		return money.Amount{}, desk.Conflict("boat", "no value is known for this boat; value it first")
	case v.Repaired.Status == message.RefusedWorth:
		return money.Amount{}, desk.Conflict("boat", "the newest value says nothing (%s); record sales and value the boat anew", v.Repaired.Reason)
	case v.Repaired.Value.Currency != club:
		return money.Amount{}, desk.Conflict("boat", "the newest value is in %s; value the boat anew in %s", v.Repaired.Value.Currency, club)
	}
	return v.Repaired.Value, nil
}
