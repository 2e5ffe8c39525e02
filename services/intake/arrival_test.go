package intake_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/services/intake"
)

// Whose a boat is has to be clear before the club takes it: possession of stolen
// property is no gift. That a paper, the hull number and reports are looked at is
// common practice, no source.
func TestWhatStopsABoatAndWhatDoesNot(t *testing.T) {
	accept := message.AcceptBoat{Stake: "none", Boat: "b1"}
	look := message.FinishLookOver{Boat: "b1", Look: "l1", Grade: 3}
	alteredNumber := message.NoteDefect{
		Boat: "b1", Finding: "f1", Look: "l1", Defect: "altered", Severity: boat.Watch,
		Place: message.Place{Zone: "stern", Side: "starboard", Face: "outside", Part: "hull number"},
	}
	for name, row := range map[string]struct {
		log  func(*message.LogBoat)
		find []message.NoteDefect
		says string // what the fault names; empty: accepted
		out  func(c *desktest.Club, steward, administrator people.Actor)
	}{
		"nothing": {},
		"no declaration": {
			log:  func(l *message.LogBoat) { l.Shown = nil },
			says: "by what right",
			out: func(c *desktest.Club, steward, _ people.Actor) {
				c.Do(steward, message.ShowRight{Boat: "b1", Right: "owner's declaration", RightPaper: message.RightPaper{Paper: "bill of sale", On: today}})
			},
		},
		"another boat's number": {
			log:  func(l *message.LogBoat) { l.Facts.HullNumber, l.Facts.NoHullNumber = "XYZ12345L495", "" },
			says: "number of another boat",
			out: func(c *desktest.Club, _, administrator people.Actor) {
				c.Do(administrator, message.SettleDoubt{Boat: "b1", Doubt: "number-of-other", Words: "the other boat's number was misread"})
			},
		},
		"a report of theft": {
			log:  func(l *message.LogBoat) { l.Doubts = []message.Doubt{message.MaybeStolen} },
			says: "may be reported stolen",
			out: func(c *desktest.Club, _, administrator people.Actor) {
				c.Do(administrator, message.SettleDoubt{Boat: "b1", Doubt: "logged-1", Words: "asked the sheriff: another boat"})
			},
		},
		"an altered number, found by a look-over": {
			find: []message.NoteDefect{alteredNumber},
			says: "number looks altered",
			out: func(c *desktest.Club, _, administrator people.Actor) {
				c.Do(administrator, message.SettleDoubt{Boat: "b1", Doubt: "f1", Words: "the maker's duplicate below the seat agrees"})
			},
		},
		"a scratched number": {find: []message.NoteDefect{with(alteredNumber, "worn")}},
		"a found boat, in its time": {
			log: func(l *message.LogBoat) {
				l.Right, l.Shown = message.FoundProperty, &message.RightPaper{Paper: "report to the police", On: today.AddDays(-29)}
			},
			says: "waits for its owner until 2026-04-02",
			out:  func(c *desktest.Club, _, _ people.Actor) { c.Clock.Advance(24 * time.Hour) },
		},
		"a found boat, afterwards": {
			log: func(l *message.LogBoat) {
				l.Right, l.Shown = message.FoundProperty, &message.RightPaper{Paper: "report to the police", On: today.AddDays(-30)}
			},
		},
	} {
		t.Run(name, func(t *testing.T) {
			c := start(t)
			steward, administrator := c.Member(people.Steward), c.Member(people.Administrator)
			c.Say("people.person/donor", "", message.PersonRegistered{Person: "donor", Sort: message.DonorSort})
			c.Do(steward, numbered("other", "Egret", "XYZ12345L495", "donor"))
			log := gift("b1", "Heron", "donor")
			if row.log != nil {
				row.log(&log)
			}
			c.Do(steward, log)
			c.Do(steward, message.BeginLookOver{Boat: "b1", Look: "l1"})
			for _, f := range row.find {
				c.Do(steward, f)
			}
			c.Do(steward, look)
			accept := accept
			if log.Right == message.FoundProperty {
				accept.Words = "nobody claimed it in the time that the law gives"
			}
			if row.says != "" {
				_, err := c.Try(administrator, accept)
				faulttest.Want(t, err, fault.Conflict, "boat")
				assert.Contains(t, err.Error(), row.says)
				// Nothing else waits for it.
				c.Do(steward, message.SetQuarantine{Boat: "b1", LastWater: "Lake Amberjay", OutOfWater: today})
				c.Do(steward, message.NotePossession{Boat: "b1", On: today})
				row.out(c, steward, administrator)
			}
			c.Do(steward, accept)
			c.RebuildIsTheSame(intake.Name)
		})
	}
}

func with(d message.NoteDefect, kind boat.Defect) message.NoteDefect {
	d.Defect = kind
	return d
}

func taken(c *desktest.Club, steward people.Actor) {
	c.Do(steward, gift("b1", "Heron", "donor"))
	lookOver(c, steward, "l1")
	c.Do(steward, message.AcceptBoat{Stake: "none", Boat: "b1"})
}

func donor(c *desktest.Club) {
	c.Say("people.person/donor", "", message.PersonRegistered{Person: "donor", Sort: message.DonorSort})
}

// A doubt that comes up between acceptance and transfer stops the transfer.
func TestADoubtAfterAcceptanceStopsTheTransfer(t *testing.T) {
	c := start(t)
	steward, giver := c.Member(people.Steward), c.Member(people.Administrator)
	donor(c)
	taken(c, steward)
	c.Do(c.Member(people.Repairer), message.RaiseDoubt{Boat: "b1", Doubt: "d1", About: message.MaybeStolen, Words: "a note on the board at the jetty"})
	_, err := c.Try(steward, message.ReceiveBoat{Boat: "b1", Possession: today, Signed: today})
	faulttest.Want(t, err, fault.Conflict, "boat")
	_, err = c.Try(steward, message.SignTransfer{Boat: "b1", On: today})
	faulttest.Want(t, err, fault.Conflict, "boat")
	c.Do(giver, message.SettleDoubt{Boat: "b1", Doubt: "d1", Words: "found, and not this one"})
	assert.Empty(t, c.Do(giver, message.SettleDoubt{Boat: "b1", Doubt: "d1", Words: "again"}).Events)
	c.Do(steward, message.ReceiveBoat{Boat: "b1", Possession: today, Signed: today})
	_, err = c.Try(steward, message.RaiseDoubt{Boat: "b1", Doubt: "d2", About: message.MaybeStolen, Words: "too late for this"})
	faulttest.Want(t, err, fault.Conflict, "boat")
}

// Nobody settles a doubt about the boat that they give themselves.
func TestAGiverSettlesNoDoubt(t *testing.T) {
	c := start(t)
	giver := c.Member(people.Administrator, people.Steward)
	log := gift("b1", "Heron", giver.Person)
	log.Doubts, log.Shown = []message.Doubt{message.NumberAltered}, nil
	c.Do(giver, log)
	_, err := c.Try(giver, message.SettleDoubt{Boat: "b1", Doubt: "logged-1", Words: "it is mine"})
	faulttest.Want(t, err, fault.Forbidden, "")
	_, err = c.Try(giver, message.ShowRight{Boat: "b1", Right: "owner's declaration", RightPaper: message.RightPaper{Paper: "bill of sale", On: today}})
	faulttest.Want(t, err, fault.Forbidden, "")
}

// The day of a gift is the later of possession and the signed transfer; which
// comes first does not matter, and one of them alone gives nothing (a gift needs
// delivery and intent: common law of gifts, from memory).
func TestTheGiftsDateIsTheDayOnWhichBothExist(t *testing.T) {
	early, late := today.AddDays(-5), today.AddDays(-2)
	for name, orders := range map[string][]any{
		"the boat first":  {message.NotePossession{Boat: "b1", On: early}, message.SignTransfer{Boat: "b1", On: late}},
		"the paper first": {message.SignTransfer{Boat: "b1", On: early}, message.NotePossession{Boat: "b1", On: late}},
		"both at once":    {message.ReceiveBoat{Boat: "b1", Possession: early, Signed: late}},
	} {
		t.Run(name, func(t *testing.T) {
			c := start(t)
			steward := c.Member(people.Steward)
			donor(c)
			taken(c, steward)
			for i, order := range orders {
				assert.Empty(t, desktest.Said[message.BoatReceived](c, message.IntakeBoat("b1")), "before order %d", i)
				switch o := order.(type) {
				case message.NotePossession:
					c.Do(steward, o)
				case message.SignTransfer:
					c.Do(steward, o)
				case message.ReceiveBoat:
					c.Do(steward, o)
				}
			}
			said := desktest.Said[message.BoatReceived](c, message.IntakeBoat("b1"))
			require.Len(t, said, 1)
			assert.Equal(t, late, said[0].On)
		})
	}
}

func TestARestrictedGiftIsAcceptedWithWords(t *testing.T) {
	c := start(t)
	steward := c.Member(people.Steward)
	donor(c)
	log := gift("b1", "Heron", "donor")
	log.Intent = &message.GiftIntent{On: today, Restriction: "for the youth group only"}
	c.Do(steward, log)
	lookOver(c, steward, "l1")
	_, err := c.Try(steward, message.AcceptBoat{Stake: "none", Boat: "b1"})
	faulttest.Want(t, err, fault.Invalid, "words")
	c.Do(steward, message.AcceptBoat{Stake: "none", Boat: "b1", Words: "it goes to the youth group's rack"})
}

// A boat that comes back keeps its name and number, begins anew with look-over and
// quarantine, and is tied to the time before.
func TestABoatComesBack(t *testing.T) {
	c := start(t)
	steward := c.Member(people.Steward)
	donor(c)
	back := numbered("b2", "Heron", "XYZ12345L495", "donor")
	back.Again = "b1"
	first := numbered("b1", "Heron", "XYZ12345L495", "donor")
	c.Do(steward, first)
	lookOver(c, steward, "l1")
	c.Do(steward, message.AcceptBoat{Stake: "none", Boat: "b1"})
	_, err := c.Try(steward, back)
	faulttest.Want(t, err, fault.Conflict, "again")
	c.Say(message.MatchingBoat("b1"), "b1", message.BoatHandedOver{Boat: "b1"})
	c.Do(steward, back)
	kinds := c.Kinds(message.IntakeBoat("b2"))
	assert.Contains(t, kinds, message.Kind("intake.boat-came-back"))
	assert.NotContains(t, kinds, message.Kind("intake.doubt-raised"), "its own number is no doubt")

	_, err = c.Try(steward, message.AcceptBoat{Stake: "none", Boat: "b2"})
	faulttest.Want(t, err, fault.Conflict, "boat") // not looked over this time
	c.Do(steward, message.BeginLookOver{Boat: "b2", Look: "m1"})
	c.Do(steward, message.FinishLookOver{Boat: "b2", Look: "m1", Grade: 3})
	_, err = c.Try(steward, message.AcceptBoat{Stake: "none", Boat: "b2"})
	faulttest.Want(t, err, fault.Conflict, "boat")
	assert.Contains(t, err.Error(), "last")
	c.Do(steward, message.SetQuarantine{Boat: "b2", LastWater: "Mill Pond", OutOfWater: today})
	c.Do(steward, message.DeclineBoat{Stake: "none", Boat: "b2", Reason: "brittle by now"})

	third := back
	third.Boat = "b3"
	_, err = c.Try(steward, third)
	faulttest.Want(t, err, fault.Conflict, "again") // b1 has been continued by b2
	third.Again = "b2"
	c.Do(steward, third)
	said := desktest.Said[message.BoatCameBack](c, message.IntakeBoat("b3"))
	require.Len(t, said, 1)
	assert.Equal(t, 3, said[0].Time)
	fourth := gift("b4", "Heron", "donor")
	_, err = c.Try(steward, fourth)
	faulttest.Want(t, err, fault.Conflict, "name") // another boat may not be called so
}
