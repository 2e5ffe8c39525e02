package intake

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/guide"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// A provisional look-over blocks money without a reason, and nothing else.
func TestWhatAProvisionalLookOverBlocks(t *testing.T) {
	hidden := message.LookOverFinished{Boat: "b1", Look: "l1", Inspector: inspector, Grade: 3, Provisional: true, Hampered: []string{"dirty"}, CouldNotSee: []boat.Part{"keel line"}, Open: []string{"pe-sun", "lift"}}
	looked := func(taking message.Taking, more ...message.Body) *Boat {
		b := boatWith(append([]message.Body{begun("l1", inspector), hidden}, more...)...)
		b.taking = taking
		return b
	}
	ceiling := money.Of(20_000, "USD")
	d := deal{by: caller(people.Steward), club: "USD", ceiling: &ceiling}
	price := money.Of(10_000, "USD")
	offer := func(b *Boat, words string) (message.Body, error) {
		return b.offer(message.OfferPrice{Boat: "b1", Price: price, Words: words, Stake: "none"}, d)
	}
	accept := func(b *Boat, price money.Amount, words string) (message.Body, error) {
		return b.accept(message.AcceptBoat{Boat: "b1", Price: price, Words: words, Stake: "none"}, d)
	}

	b := looked(message.Purchase)
	for _, try := range []func() (message.Body, error){
		func() (message.Body, error) { return offer(b, " ") }, func() (message.Body, error) { return accept(b, price, "") },
	} {
		_, err := try()
		faulttest.Want(t, err, fault.Invalid, "words")
		assert.ErrorContains(t, err, "provisional (dirty, not seen: keel line, 2 points of the guide not seen)")
		assert.ErrorContains(t, err, "clean, dry and unstrap it", "the way out")
	}
	body, err := offer(b, "it is cheap, and the hull is sound where it could be seen")
	require.NoError(t, err)
	assert.True(t, body.(message.PriceOffered).Gamble)
	body, err = accept(b, price, "as above")
	require.NoError(t, err)
	assert.Equal(t, message.Dealing{Stake: "none", Gamble: true}, body.(message.BoatAccepted).Dealing)

	// A gift costs nothing, so nothing is a gamble; the rest goes on as well.
	body, err = accept(looked(message.Gift), money.Of(0, "USD"), "")
	require.NoError(t, err)
	assert.False(t, body.(message.BoatAccepted).Gamble)
	_, err = b.decline(message.DeclineBoat{Boat: "b1", Reason: "x", Stake: "none"}, d.by)
	require.NoError(t, err)
	_, err = b.hold(message.HoldBoat{Boat: "b1", Why: "x", LookAgain: day}, day)
	require.NoError(t, err)
	_, err = b.begin(message.BeginLookOver{Boat: "b1", Look: "l2"}, inspector)
	require.NoError(t, err)

	// The way out: one look-over that could see all of it.
	b = looked(message.Purchase, begun("l2", inspector), wholly("l2", guide.NotSeen), finished("l2", inspector))
	body, err = offer(b, "")
	require.NoError(t, err)
	assert.False(t, body.(message.PriceOffered).Gamble)
}

func TestWhoDecidesIsAskedForAStake(t *testing.T) {
	machine := desk.Caller{Actor: people.Service(desk.AtMachine)}
	for name, row := range map[string]struct {
		stake string
		by    desk.Caller
		kind  fault.Kind
	}{
		"none":                         {"none", caller(people.Steward), ""},
		"not answered":                 {"", caller(people.Administrator), fault.Invalid},
		"an answer of one's own":       {"a little", caller(people.Steward), fault.Invalid},
		"once my boat":                 {message.Stakes[1], caller(people.Steward), fault.Forbidden},
		"my family":                    {message.Stakes[2], caller(people.Administrator), fault.Forbidden},
		"old books":                    {"", machine, ""},
		"old books that say something": {message.Stakes[1], machine, fault.Forbidden},
	} {
		err := noStake(row.stake, row.by)
		if row.kind == "" {
			assert.NoError(t, err, name)
		} else {
			faulttest.Want(t, err, row.kind, "stake", name)
		}
	}
	d := deal{by: caller(people.Steward), club: "USD"}
	b := boatWith(begun("l1", inspector), finished("l1", inspector))
	for name, err := range map[string]error{
		"accept":  errorOf(b.accept(message.AcceptBoat{Boat: "b1"}, d)),
		"offer":   errorOf(b.offer(message.OfferPrice{Boat: "b1"}, d)),
		"decline": errorOf(b.decline(message.DeclineBoat{Boat: "b1", Reason: "x"}, d.by)),
	} {
		faulttest.Want(t, err, fault.Invalid, "stake", name)
	}
}

func errorOf(_ message.Body, err error) error { return err }

func TestAHoldHasAReasonAndADay(t *testing.T) {
	b := boatWith()
	for name, row := range map[string]struct {
		why   string
		again clock.Date
		field string
	}{
		"today":         {"the owner looks for the paddle", day, ""},
		"in a year":     {"x", day.AddDays(maxHold), ""},
		"yesterday":     {"x", day.AddDays(-1), "look_again"},
		"for ever":      {"x", day.AddDays(maxHold + 1), "look_again"},
		"without a day": {"x", clock.Date{}, "look_again"},
		"without words": {" ", day, "why"},
	} {
		_, err := b.hold(message.HoldBoat{Boat: "b1", Why: row.why, LookAgain: row.again}, day)
		if row.field == "" {
			assert.NoError(t, err, name)
		} else {
			faulttest.Want(t, err, fault.Invalid, row.field, name)
		}
	}
}

func TestADeclinedBoatEndsInAWayOfTheList(t *testing.T) {
	b, by := boatWith(), caller(people.Steward)
	body, err := b.decline(message.DeclineBoat{Boat: "b1", Reason: "brittle", Way: message.DisposalWays[3], Stake: "none"}, by)
	require.NoError(t, err)
	assert.Equal(t, message.DisposalWays[3], body.(message.BoatDeclined).Way)
	_, err = b.decline(message.DeclineBoat{Boat: "b1", Reason: "brittle", Way: "into the lake", Stake: "none"}, by)
	faulttest.Want(t, err, fault.Invalid, "way")
}
