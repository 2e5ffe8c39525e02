package web

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/jackets"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// Every block names itself, what it blocks, and the way out, and is gone when the
// way out was gone. What the rooms refuse meanwhile is tested with them:
// TestWhatStopsABoatAndWhatDoesNot, TestWhatAProvisionalLookOverBlocks, and
// matching's hand-over.
func TestEveryBlockNamesItselfAndTheWayOut(t *testing.T) {
	c := open(t)
	v := visit{Site: c.site, Who: Who{Person: "p", Roles: people.Roles}, ctx: t.Context()}
	today := v.today()
	whole := Look{ID: "l2", Inspector: "b", Place: 2, Finished: &message.LookOverFinished{}}
	clear := func() Boat {
		return Boat{ID: "b1", State: LookedOver, Right: "estate", Looks: []Look{{ID: "l1", Inspector: "a", Place: 1, Finished: &message.LookOverFinished{}}},
			Arrival: Arrival{Shown: &message.RightShown{Right: "estate"}}}
	}
	clash := func(b *Boat) {
		b.Doubts = []Doubt{{DoubtRaised: message.DoubtRaised{Doubt: "d1", About: message.NumberTwice, Other: "b2"}}}
	}
	for name, row := range map[string]struct {
		id, is, blocks, way, link string
		comes, goes               func(b *Boat)
	}{
		"nobody has looked": {
			"no-look", "Nobody has finished a look-over", "not accepted, and no price is named", "clean and dry", "/boats/b1/look",
			func(b *Boat) { b.Looks = nil }, func(b *Boat) { b.Looks = []Look{whole} },
		},
		"provisional": {
			"provisional", "provisional: the boat was dirty", "No price is named without words that say why the club takes the gamble", "Clean it, let it dry, unstrap it", "/boats/b1/look",
			func(b *Boat) {
				b.Looks[0].Finished = &message.LookOverFinished{Provisional: true, Hampered: []string{"dirty"}}
			},
			func(b *Boat) { b.Looks = append(b.Looks, whole) },
		},
		"no declaration": {
			"no-right", "Nothing shows yet by what right it is given (estate)", "not accepted", "records which it is", "/boats/b1/right",
			func(b *Boat) { b.Shown = nil }, func(b *Boat) { b.Shown = &message.RightShown{Right: "estate"} },
		},
		"another boat's number": {
			"doubt-d1", "number of another boat", "neither accepted nor received", "An administrator asks and settles it", "/boats/b1/doubts/d1/settle",
			clash, func(b *Boat) { b.Doubts[0].Settled = "misread" },
		},
		"another boat's number, seen after acceptance": {
			"doubt-d1", "number of another boat", "no transfer is signed", "or the boat is declined", "/boats/b1/doubts/d1/settle",
			func(b *Boat) { clash(b); b.State, b.Decision = Accepted, &Decision{Taken: true} }, func(b *Boat) { b.Doubts[0].Settled = "misread" },
		},
		"drying": {
			"drying", "It dries until", "not handed over, put into a round or offered", "Wait", "/boats/b1/quarantine",
			func(b *Boat) { b.Quarantine = &message.QuarantineSet{LastWater: "the lake", Until: today.AddDays(1)} }, func(b *Boat) { b.Quarantine.Until = today },
		},
		"back, and no water known": {
			"no-quarantine", "in which water it was last", "not accepted", "keeps it dry", "/boats/b1/quarantine",
			func(b *Boat) { b.Time = 2 }, func(b *Boat) { b.Quarantine = &message.QuarantineSet{Until: today} },
		},
		"found": {
			"found", "waits for its owner until", "not accepted", "Nothing but time", "",
			func(b *Boat) {
				b.Right, b.Shown = message.FoundProperty, &message.RightShown{Right: message.FoundProperty, RightPaper: message.RightPaper{On: today.AddDays(-29)}}
			},
			func(b *Boat) { b.Shown.On = today.AddDays(-30) },
		},
		"a life jacket": {
			"jacket", "fails, or was not checked as a whole", "not handed over", "cut it up", "#jackets",
			func(b *Boat) {
				b.Jackets = []Jacket{{JacketChecked: message.JacketChecked{Sort: jackets.Foam, Failing: []string{"straps"}}}}
			},
			func(b *Boat) { b.Jackets[0].Gone = &message.JacketGone{Way: message.JacketDestroyed} },
		},
	} {
		b := clear()
		found := func() (*obstacle, bool) {
			list, err := v.inTheWay(&b)
			require.NoError(t, err)
			for _, o := range list {
				assert.NotEmpty(t, o.Is, o.ID)
				assert.NotEmpty(t, o.Blocks, o.ID)
				assert.NotEmpty(t, o.Way, o.ID)
				assert.Equal(t, o.Link == "", o.Label == "", o.ID)
			}
			return in(list, func(o *obstacle) bool { return o.ID == row.id })
		}
		_, there := found()
		assert.False(t, there, "%s: before", name)
		row.comes(&b)
		o, there := found()
		require.True(t, there, name)
		assert.Contains(t, o.Is, row.is, name)
		assert.Contains(t, o.Blocks, row.blocks, name)
		assert.Contains(t, o.Way, row.way, name)
		assert.Equal(t, row.link, o.Link, name)
		row.goes(&b)
		_, there = found()
		assert.False(t, there, "%s: after the way out", name)
	}
}

func TestEveryStateSaysWhatIsMissingToLeaveIt(t *testing.T) {
	ends := []State{Placed, Sold, Declined, Retired}
	for _, s := range States {
		b := Boat{State: s}
		if b.Ended() {
			assert.Contains(t, ends, s)
			assert.Empty(t, missing(&b, true), s)
			continue
		}
		assert.NotEmpty(t, missing(&b, false), s)
	}
	looked := Boat{State: LookedOver, Looks: []Look{{Finished: &message.LookOverFinished{}}}, Arrival: Arrival{Shown: &message.RightShown{}}}
	assert.Equal(t, []string{"the club's decision"}, missing(&looked, false))
	here := Boat{State: Accepted}
	assert.Equal(t, []string{"the boat in the club's hands", "the signed transfer"}, missing(&here, false))
	here.Doubts = []Doubt{{}}
	assert.Contains(t, missing(&here, false), "an administrator's word on whose it is")
	ready := Boat{State: Ready}
	assert.NotContains(t, missing(&ready, false), "the end of its drying time")
	assert.Contains(t, missing(&ready, true), "the end of its drying time")
	promise := Boat{State: OnOffer, Offers: []BoatOffer{{}}}
	assert.Equal(t, []string{"the household's answer"}, missing(&promise, false))
	promise.Offers[0].Answer = "accepted"
	assert.Equal(t, []string{"the hand-over"}, missing(&promise, false))
}
