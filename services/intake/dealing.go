package intake

import (
	"fmt"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// noStake asks whoever decides whether they or theirs gain by it. The operator at
// the machine brings in what others decided, and is not asked.
func noStake(stake string, by desk.Caller) error {
	if stake == "" && by.Actor.Room == desk.AtMachine {
		return nil
	}
	if err := boat.Known("stake", stake, message.Stakes); err != nil {
		return err
	}
	if stake != message.NoStake {
		f := fault.New(fault.Forbidden, "somebody without a stake in the boat decides about it; ask another member")
		f.Field = "stake"
		return f
	}
	return nil
}

// gamble says whether money is spoken of while no look-over could see all of the
// boat. That is allowed only with words that say why the club takes the gamble.
func (b *Boat) gamble(words string) (bool, error) {
	if b.seenWhole() {
		return false, nil
	}
	if strings.TrimSpace(words) == "" {
		return true, fault.Field("words", "the look-over of %s is provisional (%s), so a price is a gamble: clean, dry and unstrap it and look it over again, or say here why the club takes the gamble", b.name, b.hidden())
	}
	return true, nil
}

// hidden says what kept the last inspector from seeing the boat.
func (b *Boat) hidden() string {
	done := b.finishedLooks()
	if len(done) == 0 {
		return "nobody has looked"
	}
	last := done[len(done)-1]
	why := append([]string{}, last.hampered...)
	if len(last.hidden) > 0 {
		why = append(why, "not seen: "+words(last.hidden))
	}
	if last.unseen > 0 {
		why = append(why, fmt.Sprintf("%d points of the guide not seen", last.unseen))
	}
	return strings.Join(why, ", ")
}

func words(parts []boat.Part) string {
	list := make([]string, len(parts))
	for i, p := range parts {
		list[i] = string(p)
	}
	return strings.Join(list, " and ")
}

// maxHold bounds a hold, in days: an owner cannot wait for ever.
const maxHold = 366

// hold decides to put the decision off.
func (b *Boat) hold(c message.HoldBoat, today clock.Date) (message.Body, error) {
	err := desk.First(
		b.is(offered, "the decision about a boat can be put off"),
		desk.Needed("why", c.Why, "say what the club waits for"),
		ahead("look_again", c.LookAgain, today),
	)
	if err != nil {
		return nil, err
	}
	return message.BoatHeld{Boat: c.Boat, Why: c.Why, LookAgain: c.LookAgain}, nil
}

func ahead(field string, day, today clock.Date) error {
	switch {
	case day.IsZero():
		return fault.Field(field, "state the day on which somebody looks at it again")
	case day.Before(today), day.After(today.AddDays(maxHold)):
		return fault.Field(field, "must be from today to a year from now")
	}
	return nil
}
