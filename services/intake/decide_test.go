package intake

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

var day = clock.MustDate("2026-04-01")

const (
	inspector = people.ID("inspector")
	second    = people.ID("second-inspector")
	giver     = people.ID("giver")
)

func kayakFacts() message.BoatFacts {
	return message.BoatFacts{Type: boat.SitInside, Seats: 1, LengthMM: 4300, Material: boat.Rotomoulded, HullNumber: "XYZ12345L495"}
}

// boatWith folds events into a boat that was logged as a gift.
func boatWith(bodies ...message.Body) *Boat {
	return folded(append([]message.Body{
		message.BoatLogged{Boat: "b1", Name: "Heron", Taking: message.Gift, Giver: giver, Right: "owner's declaration", Facts: kayakFacts()},
		message.RightShown{Boat: "b1", Right: "owner's declaration", RightPaper: declaration},
	}, bodies...)...)
}

// declaration is by what a right is shown in these tests.
var declaration = message.RightPaper{Paper: "signed declaration", On: day}

func folded(bodies ...message.Body) *Boat {
	b := &Boat{}
	for _, body := range bodies {
		b.Fold(message.Event{}, body)
	}
	return b
}

func begun(look string, by people.ID) message.Body {
	return message.LookOverBegun{Boat: "b1", Look: look, Inspector: by}
}

func finished(look string, by people.ID) message.Body {
	return message.LookOverFinished{Boat: "b1", Look: look, Inspector: by, Grade: 3}
}

func crackAt(zone boat.Zone) message.NoteDefect {
	return message.NoteDefect{
		Boat: "b1", Finding: "f-" + string(zone), Look: "l1", Defect: "crack", LengthMM: 80, Severity: boat.MendBefore,
		Place: message.Place{Zone: zone, Side: "port", Face: "outside", Part: "hull"},
	}
}

func TestHowLongABoatDries(t *testing.T) {
	// Published drying times of the State of Utah: 7 days in June to August, 18 in
	// spring and autumn, 30 in winter.
	club := dryingRules{rule: message.DryingUtah, clubDays: 5}
	now := clock.MustDate("2026-12-31")
	for name, row := range map[string]struct {
		out, rule string
		days      int
		until     string
	}{
		"summer by rule":           {"2026-08-20", "utah", 0, "2026-08-27"},
		"autumn by rule":           {"2026-09-05", "utah", 0, "2026-09-23"},
		"winter by the club's own": {"2026-12-20", "", 0, "2027-01-19"},
		"so many days":             {"2026-08-20", "days", 10, "2026-08-30"},
		"the club's days":          {"2026-08-20", "days", 0, "2026-08-25"},
	} {
		body, err := boatWith().dry(message.SetQuarantine{Boat: "b1", LastWater: "Lake Amberjay", OutOfWater: clock.MustDate(row.out), Rule: row.rule, Days: row.days}, club, now)
		require.NoError(t, err, name)
		assert.Equal(t, row.until, body.(message.QuarantineSet).Until.String(), name)
	}
	_, err := boatWith().dry(message.SetQuarantine{LastWater: "x", OutOfWater: day, Rule: "utah", Days: 3}, club, now)
	faulttest.Want(t, err, fault.Invalid, "days")
}

func caller(roles ...people.Role) desk.Caller {
	return desk.Caller{Actor: people.Member("steward"), Roles: roles}
}

func TestWhoMayPayHowMuch(t *testing.T) {
	bought := func(more ...message.Body) *Boat {
		return folded(append([]message.Body{
			message.BoatLogged{Boat: "b1", Name: "Heron", Taking: message.Purchase, Giver: giver, Right: "estate", Facts: kayakFacts()},
			message.RightShown{Boat: "b1", Right: "estate", RightPaper: declaration},
		}, more...)...)
	}
	looked := bought(begun("l1", inspector), finished("l1", inspector))
	usd := func(minor int64) money.Amount { return money.Of(minor, "USD") }
	ceiling, euros := usd(20_000), money.Of(20_000, "EUR")
	steward, administrator := caller(people.Steward), caller(people.Administrator)
	for name, row := range map[string]struct {
		boat    *Boat
		by      desk.Caller
		ceiling *money.Amount
		price   money.Amount
		words   string
		want    fault.Kind
		field   string
	}{
		"at the ceiling":                    {looked, steward, &ceiling, usd(20_000), "", "", ""},
		"a cent above, by a steward":        {looked, steward, &ceiling, usd(20_001), "rare", fault.Forbidden, ""},
		"a cent above, by an administrator": {looked, administrator, &ceiling, usd(20_001), "rare", "", ""},
		"the same without words":            {looked, administrator, &ceiling, usd(20_001), " ", fault.Invalid, "words"},
		"no ceiling":                        {looked, administrator, nil, usd(100), "rare", fault.Conflict, "price"},
		"no ceiling, from old books":        {looked, desk.Caller{Actor: people.Service(desk.AtMachine)}, nil, usd(100), "", "", ""},
		"a ceiling in another currency":     {looked, steward, &euros, usd(100), "", fault.Conflict, "price"},
		"a price in another currency":       {looked, steward, &ceiling, money.Of(100, "EUR"), "", fault.Invalid, "price"},
		"no price":                          {looked, steward, &ceiling, usd(0), "", fault.Invalid, "price"},
		"less than nothing":                 {looked, steward, &ceiling, usd(-1), "", fault.Invalid, "price"},
		"not looked over":                   {bought(), steward, &ceiling, usd(100), "", fault.Conflict, "boat"},
		"a look-over that is open":          {bought(begun("l1", inspector)), steward, &ceiling, usd(100), "", fault.Conflict, "boat"},
		"the seller":                        {looked, desk.Caller{Actor: people.Member(giver), Roles: []people.Role{people.Steward}}, &ceiling, usd(100), "", fault.Forbidden, ""},
	} {
		t.Run(name, func(t *testing.T) {
			d := deal{by: row.by, club: "USD", ceiling: row.ceiling}
			_, offerErr := row.boat.offer(message.OfferPrice{Boat: "b1", Price: row.price, Words: row.words, Stake: "none"}, d)
			_, acceptErr := row.boat.accept(message.AcceptBoat{Boat: "b1", Price: row.price, Words: row.words, Stake: "none"}, d)
			for _, err := range []error{offerErr, acceptErr} {
				if row.want == "" {
					assert.NoError(t, err)
				} else {
					faulttest.Want(t, err, row.want, row.field)
				}
			}
		})
	}
}

func TestAGiftCostsNothing(t *testing.T) {
	b := boatWith(begun("l1", inspector), finished("l1", inspector))
	d := deal{by: caller(people.Steward), club: "USD"}
	body, err := b.accept(message.AcceptBoat{Boat: "b1", Stake: "none"}, d)
	require.NoError(t, err)
	assert.Equal(t, money.Of(0, "USD"), body.(message.BoatAccepted).Price)
	_, err = b.accept(message.AcceptBoat{Boat: "b1", Price: money.Of(1, "USD"), Stake: "none"}, d)
	faulttest.Want(t, err, fault.Invalid, "price")
	_, err = b.offer(message.OfferPrice{Boat: "b1", Price: money.Of(1, "USD"), Stake: "none"}, d)
	faulttest.Want(t, err, fault.Conflict, "price")
}

func TestFoundPropertyNeedsAReason(t *testing.T) {
	b := boatWith(begun("l1", inspector), finished("l1", inspector))
	b.right = message.FoundProperty
	d := deal{by: caller(people.Steward), club: "USD", today: day}
	_, err := b.accept(message.AcceptBoat{Boat: "b1", Stake: "none"}, d)
	faulttest.Want(t, err, fault.Invalid, "words")
	_, err = b.accept(message.AcceptBoat{Boat: "b1", Stake: "none", Words: "reported to the sheriff, not claimed in the time that the law gives"}, d)
	require.NoError(t, err)
}

func TestStages(t *testing.T) {
	looks := []message.Body{begun("l1", inspector), finished("l1", inspector), begun("l2", second)}
	at := map[stage]*Boat{
		offered:  boatWith(looks...),
		accepted: boatWith(append(looks, message.BoatAccepted{})...),
		received: boatWith(append(looks, message.BoatAccepted{}, message.BoatReceived{})...),
		declined: boatWith(append(looks, message.BoatDeclined{})...),
	}
	d := deal{by: caller(people.Steward), club: "USD"}
	for name, row := range map[string]struct {
		try func(*Boat) error
		in  []stage
	}{
		"accept": {func(b *Boat) error { _, err := b.accept(message.AcceptBoat{Stake: "none"}, d); return err }, []stage{offered}},
		"decline": {func(b *Boat) error {
			_, err := b.decline(message.DeclineBoat{Reason: "x", Stake: "none"}, d.by)
			return err
		}, []stage{offered, accepted}},
		"hold": {func(b *Boat) error {
			_, err := b.hold(message.HoldBoat{Why: "x", LookAgain: day}, day)
			return err
		}, []stage{offered}},
		"receive": {func(b *Boat) error {
			_, err := b.receive(message.ReceiveBoat{Possession: day, Signed: day}, day)
			return err
		}, []stage{accepted}},
		"correct": {func(b *Boat) error {
			_, err := b.correct(message.CorrectFacts{Facts: kayakFacts(), Why: "x"}, day)
			return err
		}, []stage{offered, accepted, received}},
		"look over": {func(b *Boat) error { _, err := b.begin(message.BeginLookOver{Look: "l9"}, inspector); return err }, []stage{offered, accepted, received}},
		"note":      {func(b *Boat) error { _, err := b.note(in("l2", "f1", crackAt("bow")), second); return err }, []stage{offered, accepted, received}},
		"dry": {func(b *Boat) error {
			_, err := b.dry(message.SetQuarantine{LastWater: "x", OutOfWater: day, Rule: "utah"}, dryingRules{}, day)
			return err
		}, []stage{offered, accepted, received}},
	} {
		for s, b := range at {
			err := row.try(b)
			if slices.Contains(row.in, s) {
				assert.NoError(t, err, "%s while %s", name, s)
			} else {
				faulttest.Want(t, err, fault.Conflict, "boat")
			}
		}
	}
}

func TestTheDayOfAGiftIsTheLaterOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		date := rapid.Custom(func(t *rapid.T) clock.Date { return day.AddDays(-rapid.IntRange(0, 4000).Draw(t, "ago")) })
		possession, signed := date.Draw(t, "possession"), date.Draw(t, "signed")
		body, err := boatWith(message.BoatAccepted{}).receive(message.ReceiveBoat{Possession: possession, Signed: signed}, day)
		if err != nil {
			t.Fatal(err)
		}
		on := body.(message.BoatReceived).On
		if on.Before(possession) || on.Before(signed) || on != possession && on != signed {
			t.Fatalf("%s and %s gave %s", possession, signed, on)
		}
	})
}

func TestNamesAreComparedAsPeopleReadThem(t *testing.T) {
	assert.Equal(t, nameKey("Grey Heron"), nameKey("  grey   HERON "))
	assert.NotEqual(t, nameKey("Grey Heron"), nameKey("Grey Heron 2"))
}

func TestFactsThatContradictEachOther(t *testing.T) {
	for name, row := range map[string]struct {
		change func(*message.BoatFacts)
		field  string // empty: taken
	}{
		"as they are":                  {func(*message.BoatFacts) {}, ""},
		"a number that cannot be read": {func(f *message.BoatFacts) { f.HullNumber = "XYZ1234OH394" }, ""},
		"no number, with a reason":     {func(f *message.BoatFacts) { f.HullNumber, f.NoHullNumber = "", "home-built" }, ""},
		"no number, no reason":         {func(f *message.BoatFacts) { f.HullNumber = " " }, "facts.hull_number"},
		"a number and a reason":        {func(f *message.BoatFacts) { f.NoHullNumber = "home-built" }, "facts.no_hull_number"},
		"an inflatable of plastic":     {func(f *message.BoatFacts) { f.Type = boat.Inflatable }, "facts.material"},
		"a sit-inside that is blown up": {func(f *message.BoatFacts) {
			f.Material = boat.PVC
		}, "facts.material"},
		"a board that is blown up":    {func(f *message.BoatFacts) { f.Type, f.Material = boat.Board, boat.PVC }, ""},
		"a rated load from nowhere":   {func(f *message.BoatFacts) { f.RatedLoadG = 130_000 }, "facts.rated_source"},
		"a rated load from the plate": {func(f *message.BoatFacts) { f.RatedLoadG, f.RatedSource = 130_000, "plate" }, ""},
		"a source of no load":         {func(f *message.BoatFacts) { f.RatedSource = "plate" }, "facts.rated_source"},
		"wider than long":             {func(f *message.BoatFacts) { f.LengthMM, f.BeamMM = 2000, 2000 }, "facts.beam_mm"},
		"next year's model":           {func(f *message.BoatFacts) { f.YearBuilt = 2027 }, ""},
		"a model of the far future":   {func(f *message.BoatFacts) { f.YearBuilt = 2028 }, "facts.year_built"},
		"afloat tomorrow":             {func(f *message.BoatFacts) { f.LastAfloat = day.AddDays(1) }, "facts.last_afloat"},
		"afloat today":                {func(f *message.BoatFacts) { f.LastAfloat = day }, ""},
	} {
		facts := kayakFacts()
		row.change(&facts)
		err := goodFacts(facts, day)
		if row.field == "" {
			assert.NoError(t, err, name)
		} else {
			faulttest.Want(t, err, fault.Invalid, row.field)
		}
	}
}

func TestFactsThatAreTheSame(t *testing.T) {
	a, b := kayakFacts(), kayakFacts()
	b.Features = []boat.Feature{}
	assert.True(t, sameFacts(a, b))
	b.Features = []boat.Feature{"wide cockpit"}
	assert.False(t, sameFacts(a, b))
	b = kayakFacts()
	b.LastAfloat = clock.NewDate(2025, time.June, 1)
	assert.False(t, sameFacts(a, b))
	b = kayakFacts()
	b.Colour, b.StoredWhere = " "+a.Colour+"\n", a.StoredWhere+" "
	assert.False(t, sameFacts(a, b), "blanks can be taken off")
	assert.True(t, sameButBlanks(a, b))
	b.Colour = "another"
	assert.False(t, sameButBlanks(a, b))
}
