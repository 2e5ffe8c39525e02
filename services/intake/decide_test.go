package intake

import (
	"fmt"
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
	return folded(append([]message.Body{message.BoatLogged{
		Boat: "b1", Name: "Heron", Taking: message.Gift, Giver: giver, Right: "owner's declaration", Facts: kayakFacts(),
	}}, bodies...)...)
}

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

func wantFault(t *testing.T, err error, kind fault.Kind, field string) {
	t.Helper()
	require.Error(t, err)
	f := fault.Of(err)
	assert.Equal(t, kind, f.Kind, "%v", err)
	assert.Equal(t, field, f.Field, "%v", err)
}

func TestWhichDefectsAMaterialCanHave(t *testing.T) {
	hull := message.Place{Zone: "amid", Side: "port", Face: "outside", Part: "hull"}
	yoke := message.Place{Zone: "amid", Side: "centreline", Face: "inside", Part: "yoke"}
	number := message.Place{Zone: "stern", Side: "starboard", Face: "outside", Part: "hull number"}
	// Published repair guides, drawn together: worn stems and cracks for
	// polyethylene, cold cracks for ABS, crazing and soft spots for composites,
	// leaks for inflatables, rot for wood, corrosion for metal.
	for name, row := range map[string]struct {
		material boat.Material
		place    message.Place
		defect   boat.Defect
		can      bool
	}{
		"polyethylene wears":                   {boat.Rotomoulded, hull, "abrasion", true},
		"polyethylene cracks":                  {boat.Rotomoulded, hull, "crack", true},
		"polyethylene does not rot":            {boat.Rotomoulded, hull, "rot", false},
		"nor does it when cross-linked":        {boat.CrossLinked, hull, "rot", false},
		"a wooden yoke on polyethylene rots":   {boat.Rotomoulded, yoke, "rot", true},
		"polyethylene has no layers":           {boat.Rotomoulded, hull, "delamination", false},
		"ABS has layers":                       {boat.ABSSandwich, hull, "delamination", true},
		"ABS has no gelcoat":                   {boat.ABSSandwich, hull, "crazing", false},
		"gelcoat crazes":                       {boat.Composite, hull, "crazing", true},
		"laminate goes soft":                   {boat.Composite, hull, "soft spot", true},
		"laminate does not corrode":            {boat.Composite, hull, "corrosion", false},
		"wood rots":                            {boat.Wood, hull, "rot", true},
		"wood does not corrode":                {boat.Wood, hull, "corrosion", false},
		"metal corrodes":                       {boat.Aluminium, hull, "corrosion", true},
		"metal dents":                          {boat.Aluminium, hull, "dent", true},
		"metal does not rot":                   {boat.Aluminium, hull, "rot", false},
		"an inflatable leaks":                  {boat.PVC, hull, "leaking", true},
		"an inflatable does not stay dented":   {boat.PVC, hull, "dent", false},
		"a hull number can be altered":         {boat.Rotomoulded, number, "altered", true},
		"a hull number has no cracks":          {boat.Rotomoulded, number, "crack", false},
		"a hull number on metal has no leaks":  {boat.Aluminium, number, "leaking", false},
		"a hull number of any hull can be off": {boat.PVC, number, "missing", true},
	} {
		err := suitsMaterial(row.defect, row.place, row.material)
		if row.can {
			assert.NoError(t, err, name)
		} else {
			wantFault(t, err, fault.Invalid, "defect")
		}
	}
}

func TestTheTableOfDefectsUsesTheTradesWords(t *testing.T) {
	assert.Len(t, cannotHave, len(boat.Materials))
	for material, rows := range cannotHave {
		require.NoError(t, boat.Known("", material, boat.Materials))
		for defect, why := range rows {
			require.NoError(t, boat.Known("", defect, boat.Defects))
			assert.NotEmpty(t, why)
		}
	}
}

func TestALookOverIsItsInspectorsAlone(t *testing.T) {
	open := boatWith(begun("l1", inspector))
	done := boatWith(begun("l1", inspector), finished("l1", inspector))

	_, err := open.note(crackAt("bow"), inspector)
	require.NoError(t, err)
	_, err = open.note(crackAt("bow"), second)
	wantFault(t, err, fault.Forbidden, "")
	_, err = done.note(crackAt("bow"), inspector)
	wantFault(t, err, fault.Conflict, "look")
	_, err = boatWith().note(crackAt("bow"), inspector)
	wantFault(t, err, fault.Unknown, "look")

	_, err = open.begin(message.BeginLookOver{Look: "l2"}, inspector)
	wantFault(t, err, fault.Conflict, "look")
	_, err = open.begin(message.BeginLookOver{Look: "l1"}, second)
	wantFault(t, err, fault.Conflict, "look")
	_, err = open.begin(message.BeginLookOver{Look: "l2"}, second)
	require.NoError(t, err)
	_, err = done.begin(message.BeginLookOver{Look: "l2"}, inspector)
	require.NoError(t, err)
	_, err = open.begin(message.BeginLookOver{Look: "l2"}, "")
	wantFault(t, err, fault.SignIn, "")
}

func TestAFindingIsWithdrawnByWhoMayKnowOfIt(t *testing.T) {
	found := message.DefectFound{Boat: "b1", Finding: "f1", Look: "l1", Defect: "crack"}
	take := message.WithdrawDefect{Boat: "b1", Finding: "f1", Why: "a scratch, seen wet"}
	open := boatWith(begun("l1", inspector), found)
	done := boatWith(begun("l1", inspector), found, finished("l1", inspector))

	_, err := open.withdraw(take, second)
	wantFault(t, err, fault.Forbidden, "")
	_, err = open.withdraw(take, inspector)
	require.NoError(t, err)
	_, err = done.withdraw(take, second)
	require.NoError(t, err)
	_, err = boatWith(begun("l1", inspector), found, message.DefectWithdrawn{Finding: "f1"}).withdraw(take, inspector)
	wantFault(t, err, fault.Conflict, "finding")
	_, err = open.withdraw(message.WithdrawDefect{Finding: "f2", Why: "x"}, inspector)
	wantFault(t, err, fault.Unknown, "finding")
	_, err = open.withdraw(message.WithdrawDefect{Finding: "f1"}, inspector)
	wantFault(t, err, fault.Invalid, "why")
}

// notes takes orders on a boat one after the other, as the book would.
func (b *Boat) notes(t *testing.T, by people.ID, orders ...message.NoteDefect) []message.DefectFound {
	t.Helper()
	var said []message.DefectFound
	for _, c := range orders {
		body, err := b.note(c, by)
		require.NoError(t, err)
		b.Fold(message.Event{}, body)
		said = append(said, body.(message.DefectFound))
	}
	return said
}

func in(look, finding string, c message.NoteDefect) message.NoteDefect {
	c.Look, c.Finding = look, finding
	return c
}

func TestTheSecondListIsMatchedWithTheFirst(t *testing.T) {
	b := boatWith(begun("l1", inspector), begun("l2", second))
	soft := crackAt("bow")
	soft.Defect = "dent"
	b.notes(t, inspector, in("l1", "a1", crackAt("bow")), in("l1", "a2", crackAt("bow")), in("l1", "a3", crackAt("aft")))
	said := b.notes(t, second,
		in("l2", "b1", crackAt("bow")), in("l2", "b2", crackAt("bow")), in("l2", "b3", crackAt("bow")), in("l2", "b4", soft), in("l2", "b5", crackAt("stern")))
	assert.Equal(t, []string{"a1", "a2", "", "", ""}, []string{said[0].SameAs, said[1].SameAs, said[2].SameAs, said[3].SameAs, said[4].SameAs})

	b.Fold(message.Event{}, message.DefectWithdrawn{Finding: "a3"})
	said = b.notes(t, second, in("l2", "b6", crackAt("aft")))
	assert.Empty(t, said[0].SameAs, "what was withdrawn is not seen again")
}

func TestAThirdListIsMatchedWithWhatStands(t *testing.T) {
	b := boatWith(begun("l1", inspector), begun("l2", second), begun("l3", "third"))
	b.notes(t, inspector, in("l1", "a1", crackAt("bow")))
	b.notes(t, second, in("l2", "b1", crackAt("bow")))
	said := b.notes(t, "third", in("l3", "c1", crackAt("bow")), in("l3", "c2", crackAt("bow")))
	assert.Equal(t, "a1", said[0].SameAs)
	assert.Empty(t, said[1].SameAs, "b1 is a1 seen again, no second crack")

	b.Fold(message.Event{}, message.DefectWithdrawn{Finding: "c1"})
	said = b.notes(t, "third", in("l3", "c3", crackAt("bow")))
	assert.Equal(t, "a1", said[0].SameAs, "noted anew after a slip")

	b.Fold(message.Event{}, message.DefectWithdrawn{Finding: "c3"})
	b.Fold(message.Event{}, message.DefectWithdrawn{Finding: "a1"})
	said = b.notes(t, "third", in("l3", "c4", crackAt("bow")))
	assert.Equal(t, "b1", said[0].SameAs, "the second person's stands by itself now")
}

func TestTheSecondLookOverSaysWhatBothMissed(t *testing.T) {
	// first, second, both → missed and the upper end of the 95 % interval on the
	// total, in thousandths. Chapman 1951 and the log-normal interval after Chao,
	// worked outside this program: 8, 11, 5 gives 17.00 in all, 14.64 to 28.02.
	// 5, 4, 2 is a teaching example that is published.
	for _, row := range []struct {
		first, second, both int
		missed, high        int
		shown               bool
	}{
		{12, 10, 8, 889, 20_500, true},
		{8, 11, 5, 3000, 28_020, true},
		{5, 4, 2, 2000, 18_700, false},
		{9, 9, 9, 0, 9000, true},
	} {
		t.Run(fmt.Sprint(row.first, row.second, row.both), func(t *testing.T) {
			b := boatWith(begun("l1", inspector), begun("l2", second))
			for i := range row.first {
				b.notes(t, inspector, in("l1", fmt.Sprint("a", i), lengthwise(i)))
			}
			for i := range row.second {
				b.notes(t, second, in("l2", fmt.Sprint("b", i), lengthwise(row.first-row.both+i)))
			}
			b.Fold(message.Event{}, finished("l1", inspector))
			body, err := b.finish(message.FinishLookOver{Boat: "b1", Look: "l2", Grade: 3}, second)
			require.NoError(t, err)
			e := body.(message.LookOverFinished).Estimate
			require.NotNil(t, e)
			assert.Equal(t, []int{row.first, row.second, row.both}, []int{e.First, e.Second, e.Both})
			assert.Equal(t, row.missed, e.MissedMilli)
			assert.InDelta(t, row.high, e.HighMilli, 50)
			assert.Equal(t, row.shown, e.Shown)
			assert.Equal(t, row.shown, e.Reason == "")
		})
	}
}

// lengthwise gives defects that are all different from each other.
func lengthwise(i int) message.NoteDefect {
	c := crackAt(boat.Zones[i%5])
	c.Place.Side = boat.Sides[i/5%3]
	c.Place.Face = boat.Faces[i/15%2]
	return c
}

func TestOnlyASecondPersonGivesAnEstimate(t *testing.T) {
	first := []message.Body{begun("l1", inspector), finished("l1", inspector)}
	end := func(b *Boat, look string, by people.ID) *message.MissedEstimate {
		body, err := b.finish(message.FinishLookOver{Boat: "b1", Look: look, Grade: 3}, by)
		require.NoError(t, err)
		return body.(message.LookOverFinished).Estimate
	}
	assert.Nil(t, end(boatWith(begun("l1", inspector)), "l1", inspector), "the first")
	assert.Nil(t, end(boatWith(append(first, begun("l2", inspector))...), "l2", inspector), "the same person again")
	assert.NotNil(t, end(boatWith(append(first, begun("l2", second))...), "l2", second), "another person")
	third := append(first, begun("l2", second), message.LookOverFinished{Look: "l2", Inspector: second, Estimate: &message.MissedEstimate{}}, begun("l3", "third"))
	assert.Nil(t, end(boatWith(third...), "l3", "third"), "a third")
}

func TestWhatCannotBeSeenMakesALookOverProvisional(t *testing.T) {
	b := boatWith(begun("l1", inspector))
	b.notes(t, inspector, in("l1", "f1", crackAt("bow")), in("l1", "f2", crackAt("aft")))
	b.Fold(message.Event{}, message.DefectWithdrawn{Finding: "f2"})
	for _, unseen := range [][]boat.Part{nil, {"keel line"}} {
		body, err := b.finish(message.FinishLookOver{Boat: "b1", Look: "l1", WaterML: 2000, CouldNotSee: unseen, Grade: 2}, inspector)
		require.NoError(t, err)
		said := body.(message.LookOverFinished)
		assert.Equal(t, len(unseen) > 0, said.Provisional)
		assert.Equal(t, 1, said.Findings, "what was withdrawn does not count")
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
	wantFault(t, err, fault.Invalid, "days")
}

func caller(roles ...people.Role) desk.Caller {
	return desk.Caller{Actor: people.Member("steward"), Roles: roles}
}

func TestWhoMayPayHowMuch(t *testing.T) {
	bought := func(more ...message.Body) *Boat {
		return folded(append([]message.Body{message.BoatLogged{Boat: "b1", Name: "Heron", Taking: message.Purchase, Giver: giver, Right: "estate", Facts: kayakFacts()}}, more...)...)
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
			d := deal{row.by, "USD", row.ceiling}
			_, offerErr := row.boat.offer(message.OfferPrice{Boat: "b1", Price: row.price, Words: row.words}, d)
			_, acceptErr := row.boat.accept(message.AcceptBoat{Boat: "b1", Price: row.price, Words: row.words}, d)
			for _, err := range []error{offerErr, acceptErr} {
				if row.want == "" {
					assert.NoError(t, err)
				} else {
					wantFault(t, err, row.want, row.field)
				}
			}
		})
	}
}

func TestAGiftCostsNothing(t *testing.T) {
	b := boatWith(begun("l1", inspector), finished("l1", inspector))
	d := deal{by: caller(people.Steward), club: "USD"}
	body, err := b.accept(message.AcceptBoat{Boat: "b1"}, d)
	require.NoError(t, err)
	assert.Equal(t, money.Of(0, "USD"), body.(message.BoatAccepted).Price)
	_, err = b.accept(message.AcceptBoat{Boat: "b1", Price: money.Of(1, "USD")}, d)
	wantFault(t, err, fault.Invalid, "price")
	_, err = b.offer(message.OfferPrice{Boat: "b1", Price: money.Of(1, "USD")}, d)
	wantFault(t, err, fault.Conflict, "price")
}

func TestFoundPropertyNeedsAReason(t *testing.T) {
	b := boatWith(begun("l1", inspector), finished("l1", inspector))
	b.right = message.FoundProperty
	d := deal{by: caller(people.Steward), club: "USD"}
	_, err := b.accept(message.AcceptBoat{Boat: "b1"}, d)
	wantFault(t, err, fault.Invalid, "words")
	_, err = b.accept(message.AcceptBoat{Boat: "b1", Words: "reported to the sheriff, not claimed in the time that the law gives"}, d)
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
		"accept":  {func(b *Boat) error { _, err := b.accept(message.AcceptBoat{}, d); return err }, []stage{offered}},
		"decline": {func(b *Boat) error { _, err := b.decline(message.DeclineBoat{Reason: "x"}); return err }, []stage{offered, accepted}},
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
				wantFault(t, err, fault.Conflict, "boat")
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

func TestOneNumberInSeveralSpellings(t *testing.T) {
	// 33 CFR 181.25 wants the number uninterrupted and 181.27 allows the prefix;
	// people write it otherwise.
	for _, spelling := range []string{"XYZ12345L495", "xyz-12345-l495", "US-XYZ12345L495", " XYZ 12345 L495 "} {
		assert.Equal(t, "XYZ12345L495", hullKey(spelling), spelling)
	}
	assert.NotEqual(t, hullKey("XYZ12345L495"), hullKey("CA-XYZ12345L495"), "another country's number")
	assert.Equal(t, hullKey("OLD-4711-b"), hullKey("old 4711 B"), "a number of no known form")
	for _, nothing := range []string{"", "illegible", "---", "0"} {
		assert.Empty(t, hullKey(nothing), "%q tells no boat from another", nothing)
	}
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
			wantFault(t, err, fault.Invalid, row.field)
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
}
