package intake_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/jackets"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// orders has one good order of each verb for a boat in the state that it needs,
// with what must have been done before.
func orders(giver people.ID) map[string]struct {
	good   desk.Commanded
	before func(c *desktest.Club, steward people.Actor)
} {
	type row = struct {
		good   desk.Commanded
		before func(c *desktest.Club, steward people.Actor)
	}
	logged := func(c *desktest.Club, s people.Actor) { c.Do(s, purchase("b1", "Heron", giver)) }
	looking := func(c *desktest.Club, s people.Actor) {
		logged(c, s)
		c.Do(s, message.BeginLookOver{Boat: "b1", Look: "l1"})
	}
	noted := func(c *desktest.Club, s people.Actor) { looking(c, s); c.Do(s, crack("l1", "f1")) }
	priced := func(c *desktest.Club, s people.Actor) {
		noted(c, s)
		c.Do(s, answered("l1"))
		c.Do(s, message.FinishLookOver{Boat: "b1", Look: "l1", Grade: 3})
		c.Say(message.ValuationBoat("b1"), "b1", message.CeilingSet{Boat: "b1", Ceiling: money.Of(20_000, "USD")})
	}
	matchable := func(c *desktest.Club, s people.Actor) {
		noted(c, s)
		c.Do(s, message.FinishLookOver{Boat: "b1", Look: "l1", Grade: 3})
		other := c.Member(people.Steward)
		c.Do(other, message.BeginLookOver{Boat: "b1", Look: "l2"})
		c.Do(other, crack("l2", "g1"))
		c.Do(other, message.FinishLookOver{Boat: "b1", Look: "l2", Grade: 3})
	}
	taken := func(c *desktest.Club, s people.Actor) {
		priced(c, s)
		c.Do(s, message.AcceptBoat{Boat: "b1", Price: money.Of(20_000, "USD"), Stake: "none"})
	}
	given := func(c *desktest.Club, s people.Actor) { c.Do(s, gift("b1", "Heron", giver)) }
	doubted := func(c *desktest.Club, s people.Actor) {
		logged(c, s)
		c.Do(s, message.RaiseDoubt{Boat: "b1", Doubt: "d1", About: message.NumberAltered, Words: "filed at the end"})
	}
	withJacket := func(c *desktest.Club, s people.Actor) {
		logged(c, s)
		c.Do(s, message.CheckJacket{Boat: "b1", Jacket: "j1", Sort: jackets.Foam})
	}
	facts := gift("", "", "").Facts
	facts.Colour = "red"
	return map[string]row{
		"log":         {stranger(), func(*desktest.Club, people.Actor) {}},
		"correct":     {message.CorrectFacts{Boat: "b1", Facts: facts, Why: "paint"}, logged},
		"begin":       {message.BeginLookOver{Boat: "b1", Look: "l1"}, logged},
		"note":        {crack("l1", "f1"), looking},
		"withdraw":    {message.WithdrawDefect{Boat: "b1", Finding: "f1", Why: "mud"}, noted},
		"answer":      {answered("l1"), looking},
		"match":       {message.MatchFindings{Boat: "b1", Look: "l2", Pairs: []message.FindingPair{{Finding: "g1", SameAs: "f1"}}}, matchable},
		"hold":        {message.HoldBoat{Boat: "b1", Why: "the owner looks for the paddle", LookAgain: today.AddDays(7)}, priced},
		"finish":      {message.FinishLookOver{Boat: "b1", Look: "l1", Grade: 3}, noted},
		"quarantine":  {message.SetQuarantine{Boat: "b1", LastWater: "Lake Amberjay", OutOfWater: today, Rule: "days", Days: 5}, logged},
		"offer price": {message.OfferPrice{Boat: "b1", Price: money.Of(100, "USD"), Stake: "none"}, priced},
		"accept":      {message.AcceptBoat{Boat: "b1", Price: money.Of(100, "USD"), Stake: "none"}, priced},
		"decline":     {message.DeclineBoat{Boat: "b1", Reason: "brittle", Stake: "none"}, priced},
		"seller":      {message.NoteAnswer{Boat: "b1", Answer: message.Refuses}, logged},
		"receive":     {message.ReceiveBoat{Boat: "b1", Possession: today, Signed: today}, taken},

		"show right":   {message.ShowRight{Boat: "b1", Right: "estate", RightPaper: message.RightPaper{Paper: "court paper", On: today}}, logged},
		"intent":       {message.StateIntent{Boat: "b1", GiftIntent: message.GiftIntent{On: today, Restriction: "for the youth group"}}, given},
		"registration": {message.NoteRegistration{Boat: "b1", Registration: message.Registration{State: "Amberland", Number: "QW 1"}}, logged},
		"doubt":        {message.RaiseDoubt{Boat: "b1", Doubt: "d1", About: message.MaybeStolen, Words: "a note on the board at the jetty"}, logged},
		"settle":       {message.SettleDoubt{Boat: "b1", Doubt: "d1", Words: "asked the sheriff"}, doubted},
		"possession":   {message.NotePossession{Boat: "b1", On: today}, logged},
		"jacket":       {message.CheckJacket{Boat: "b1", Jacket: "j1", Sort: jackets.Foam, Marked: "adult", Answers: []message.JacketAnswer{{Check: "foam", Answer: jackets.Fails}}}, logged},
		"jacket gone":  {message.EndJacket{Boat: "b1", Jacket: "j1", Way: message.JacketDestroyed}, withJacket},
		"transfer":     {message.SignTransfer{Boat: "b1", On: today}, taken},
	}
}

func TestWhoMayDoWhat(t *testing.T) {
	price := []people.Role{people.Steward, people.Administrator}
	hands := []people.Role{people.Steward, people.Repairer}
	may := map[string][]people.Role{
		"jacket": hands, "jacket gone": hands,
		"log": people.Roles, "offer price": price, "seller": price, "accept": price, "hold": price, "doubt": people.Roles, "settle": {people.Administrator},
	}
	for name, order := range orders("seller") {
		t.Run(name, func(t *testing.T) {
			c := start(t)
			c.Say("people.person/seller", "", message.PersonRegistered{Person: "seller", Sort: message.DonorSort})
			steward := c.Member(people.Steward)
			order.before(c, steward)
			allowed := may[name]
			if allowed == nil {
				allowed = []people.Role{people.Steward}
			}
			c.OnlyFor("seller", order.good, allowed...)
			by := steward
			if !slices.Contains(allowed, people.Steward) {
				by = c.Member(allowed...)
			}
			c.Do(by, order.good)
			assert.Contains(t, c.Kinds(message.IntakeBoat("b1")), saidBy[name])
			for _, role := range may[name] {
				_, err := c.Try(c.Member(role), order.good)
				assert.False(t, fault.Is(err, fault.Forbidden), "%s: %v", role, err) // it has been done, perhaps
			}
		})
	}
}

var saidBy = map[string]message.Kind{
	"log": "intake.boat-logged", "offer price": "intake.price-offered", "seller": "intake.answer-noted", "accept": "intake.boat-accepted",
	"correct": "intake.facts-corrected", "begin": "intake.look-over-begun", "note": "intake.defect-found",
	"withdraw": "intake.defect-withdrawn", "finish": "intake.look-over-finished", "quarantine": "intake.quarantine-set",
	"answer": "intake.points-answered", "match": "intake.findings-matched", "hold": "intake.boat-held",
	"decline": "intake.boat-declined", "receive": "intake.boat-received",
	"show right": "intake.right-shown", "intent": "intake.intent-stated", "registration": "intake.registration-noted",
	"doubt": "intake.doubt-raised", "settle": "intake.doubt-settled", "possession": "intake.possession-noted", "jacket": "intake.jacket-checked", "jacket gone": "intake.jacket-gone", "transfer": "intake.transfer-signed",
}

func long(n int) string { return strings.Repeat("x", n) }

func TestBadInputIsRefusedByName(t *testing.T) {
	type bad struct {
		change map[string]any
		field  string
		kind   fault.Kind // empty: invalid
	}
	place := func(key, word string) map[string]any {
		p := map[string]any{"zone": "bow", "side": "port", "face": "outside", "part": "hull"}
		p[key] = word
		return map[string]any{"place": p}
	}
	facts := func(key string, value any) map[string]any {
		f := map[string]any{"type": "canoe", "seats": 2, "material": "wood or wood and canvas", "no_hull_number": "home-built", "last_afloat": ""}
		f[key] = value
		return map[string]any{"facts": f}
	}
	giver := func(key, value string) map[string]any {
		d := map[string]any{"name": "Odalys"}
		d[key] = value
		return map[string]any{"new_giver": d}
	}
	usd := func(minor int64) map[string]any { return map[string]any{"minor": minor, "currency": "USD"} }
	boatFields := []bad{
		{map[string]any{"boat": ""}, "boat", ""},
		{map[string]any{"boat": "a/b"}, "boat", ""},
		{map[string]any{"boat": "nowhere"}, "boat", fault.Unknown},
		{map[string]any{"bot": "b1"}, "bot", ""},
	}
	factFields := []bad{
		{facts("type", "raft"), "facts.type", ""},
		{facts("seats", 0), "facts.seats", ""},
		{facts("seats", 13), "facts.seats", ""},
		{facts("length_mm", 430), "facts.length_mm", ""},
		{facts("beam_mm", -1), "facts.beam_mm", ""},
		{facts("mass_g", 25), "facts.mass_g", ""},
		{map[string]any{"facts": map[string]any{"type": "canoe", "seats": 2, "material": "wood or wood and canvas", "rated_load_g": 250, "rated_source": "plate"}}, "facts.rated_load_g", ""},
		{facts("rated_source", "hearsay"), "facts.rated_source", ""},
		{facts("material", "stone"), "facts.material", ""},
		{facts("maker", long(121)), "facts.maker", ""},
		{facts("model", "two\nlines"), "facts.model", ""},
		{facts("colour", long(121)), "facts.colour", ""},
		{facts("year_built", 1849), "facts.year_built", ""},
		{facts("hull_number", "XYZ12345L495"), "facts.no_hull_number", ""},
		{facts("no_hull_number", ""), "facts.hull_number", ""},
		{facts("no_hull_number", long(121)), "facts.no_hull_number", ""},
		{facts("stored_where", long(121)), "facts.stored_where", ""},
		{facts("last_afloat", "2026-04-02"), "facts.last_afloat", ""},
		{facts("last_afloat", "1949-12-31"), "facts.last_afloat", ""},
		{facts("features", []string{"wings"}), "facts.features[0]", ""},
		{facts("features", []string{"wide cockpit", "wide cockpit"}), "facts.features[1]", ""},
	}
	for name, rows := range map[string][]bad{
		"log": append([]bad{
			{map[string]any{"boat": ""}, "boat", ""},
			{map[string]any{"boat": long(65)}, "boat", ""},
			{map[string]any{"name": " "}, "name", ""},
			{map[string]any{"name": long(61)}, "name", ""},
			{map[string]any{"taking": "theft"}, "taking", ""},
			{map[string]any{"giver": ""}, "giver", ""},
			{map[string]any{"new_giver": nil, "consent": ""}, "giver", ""},
			{map[string]any{"giver": "seller", "new_giver": nil}, "consent", ""},
			{map[string]any{"giver": "seller"}, "new_giver", ""},
			{giver("name", ""), "new_giver.name", ""},
			{giver("mail", "nowhere"), "new_giver.mail", ""},
			{giver("phone", long(121)), "new_giver.phone", ""},
			{giver("address", long(2001)), "new_giver.address", ""},
			{giver("address", "zero \x00 byte"), "new_giver.address", ""},
			{giver("language", "la"), "new_giver.language", ""},
			{map[string]any{"consent": ""}, "consent", ""},
			{map[string]any{"asked": usd(1)}, "asked", ""},
			{map[string]any{"taking": "purchase", "asked": usd(-1)}, "asked", ""},
			{map[string]any{"taking": "purchase", "asked": usd(1_000_000_001)}, "asked", ""},
			{map[string]any{"taking": "purchase", "asked": map[string]any{"minor": 5, "currency": "EUR"}}, "asked", ""},
			{map[string]any{"right": "mine"}, "right", ""},
			{map[string]any{"shown": map[string]any{"paper": "hearsay", "on": "2026-04-01"}}, "shown.paper", ""},
			{map[string]any{"shown": map[string]any{"paper": "court paper", "on": "2026-04-01"}}, "shown.paper", ""},
			{map[string]any{"shown": map[string]any{"paper": "bill of sale", "on": "2026-04-02"}}, "shown.on", ""},
			{map[string]any{"intent": map[string]any{"on": ""}}, "intent.on", ""},
			{map[string]any{"intent": map[string]any{"on": "2026-04-01", "restriction": long(2001)}}, "intent.restriction", ""},
			{map[string]any{"taking": "purchase", "intent": map[string]any{"on": "2026-04-01"}}, "intent.on", fault.Conflict},
			{map[string]any{"registration": map[string]any{"state": ""}}, "registration.state", ""},
			{map[string]any{"registration": map[string]any{"state": "Amberland"}}, "registration.number", ""},
			{map[string]any{"registration": map[string]any{"state": "Amberland", "title": long(41)}}, "registration.title", ""},
			{map[string]any{"doubts": []string{"ugly"}}, "doubts[0]", ""},
			{map[string]any{"doubts": []string{"number of another boat"}}, "doubts[0]", ""},
			{map[string]any{"again": "nowhere"}, "again", ""},
			{map[string]any{"again": "a/b"}, "again", ""},
		}, factFields...),
		"correct": slices.Concat(boatFields, factFields, []bad{{map[string]any{"why": ""}, "why", ""}, {map[string]any{"why": long(2001)}, "why", ""}}),
		"begin":   append([]bad{{map[string]any{"look": ""}, "look", ""}, {map[string]any{"look": "a b"}, "look", ""}}, boatFields...),
		"note": append([]bad{
			{map[string]any{"look": "l9"}, "look", fault.Unknown},
			{map[string]any{"finding": ""}, "finding", ""},
			{place("zone", "middle"), "place.zone", ""},
			{place("side", "left"), "place.side", ""},
			{place("face", "under"), "place.face", ""},
			{place("part", "engine"), "place.part", ""},
			{map[string]any{"defect": "cursed"}, "defect", ""},
			{map[string]any{"defect": "rot"}, "defect", ""},
			{map[string]any{"length_mm": -1}, "length_mm", ""},
			{map[string]any{"length_mm": "long"}, "length_mm", ""},
			{map[string]any{"severity": "bad"}, "severity", ""},
			{map[string]any{"words": long(2001)}, "words", ""},
		}, boatFields...),
		"withdraw": append([]bad{
			{map[string]any{"finding": "f9"}, "finding", fault.Unknown}, {map[string]any{"why": "\n"}, "why", ""},
		}, boatFields...),
		"finish": append([]bad{
			{map[string]any{"look": "l9"}, "look", fault.Unknown},
			{map[string]any{"water_ml": -1}, "water_ml", ""},
			{map[string]any{"could_not_see": []string{"soul"}}, "could_not_see[0]", ""},
			{map[string]any{"could_not_see": []string{"hull", "hull"}}, "could_not_see[1]", ""},
			{map[string]any{"hampered": []string{"late"}}, "hampered[0]", ""},
			{map[string]any{"lay": "under a tree"}, "lay", ""},
			{map[string]any{"weighs_g": 25_000}, "lay", ""},
			{map[string]any{"lay": "not known", "weighs_g": 25}, "weighs_g", ""},
			{map[string]any{"lay": "not known", "feels": "odd"}, "feels", ""},
			{map[string]any{"grade": 0}, "grade", ""},
			{map[string]any{"grade": 6}, "grade", ""},
		}, boatFields...),
		"answer": append([]bad{
			{map[string]any{"look": "l9"}, "look", fault.Unknown},
			{map[string]any{"answers": []any{map[string]any{"point": "rivets", "answer": "seen"}}}, "answers[0].point", ""},
			{map[string]any{"answers": []any{map[string]any{"point": "lift", "answer": "perhaps"}}}, "answers[0].answer", ""},
		}, boatFields...),
		"match": append([]bad{
			{map[string]any{"look": "l9"}, "look", fault.Unknown},
			{map[string]any{"pairs": []any{map[string]any{"finding": "f1", "same_as": "g1"}}}, "pairs[0].finding", ""},
			{map[string]any{"pairs": []any{map[string]any{"finding": "g1", "same_as": "f9"}}}, "pairs[0].same_as", ""},
		}, boatFields...),
		"hold": append([]bad{
			{map[string]any{"why": ""}, "why", ""},
			{map[string]any{"look_again": ""}, "look_again", ""},
			{map[string]any{"look_again": "2026-03-31"}, "look_again", ""},
		}, boatFields...),
		"quarantine": append([]bad{
			{map[string]any{"last_water": ""}, "last_water", ""},
			{map[string]any{"last_water": long(121)}, "last_water", ""},
			{map[string]any{"out_of_water": ""}, "out_of_water", ""},
			{map[string]any{"out_of_water": "2026-04-02"}, "out_of_water", ""},
			{map[string]any{"rule": "guess"}, "rule", ""},
			{map[string]any{"days": 366}, "days", ""},
			{map[string]any{"rule": "utah"}, "days", ""},
		}, boatFields...),
		"offer price": append([]bad{
			{map[string]any{"stake": "a little"}, "stake", ""}, {map[string]any{"price": usd(-1)}, "price", ""}, {map[string]any{"price": usd(0)}, "price", ""}, {map[string]any{"words": long(2001)}, "words", ""},
		}, boatFields...),
		"accept": append([]bad{
			{map[string]any{"stake": ""}, "stake", ""},
			{map[string]any{"price": usd(0)}, "price", ""}, {map[string]any{"words": long(2001)}, "words", ""},
		}, boatFields...),
		"decline": append([]bad{
			{map[string]any{"stake": ""}, "stake", ""}, {map[string]any{"way": "into the lake"}, "way", ""},
			{map[string]any{"reason": ""}, "reason", ""}, {map[string]any{"disposal": long(2001)}, "disposal", ""},
		}, boatFields...),
		"receive": append([]bad{
			{map[string]any{"possession": ""}, "possession", ""},
			{map[string]any{"possession": "2026-04-02"}, "possession", ""},
			{map[string]any{"signed": "2026-04-02"}, "signed", ""},
			{map[string]any{"signed": "1926-04-01"}, "signed", ""},
			{map[string]any{"signed": "2026-02-30"}, "", ""},
		}, boatFields...),
		"show right": append([]bad{
			{map[string]any{"right": "mine"}, "right", ""},
			{map[string]any{"right": "organisation"}, "paper", ""},
			{map[string]any{"on": "2026-04-02"}, "on", ""},
			{map[string]any{"words": long(2001)}, "words", ""},
		}, boatFields...),
		"intent": append([]bad{{map[string]any{"on": ""}, "on", ""}, {map[string]any{"restriction": long(2001)}, "restriction", ""}}, boatFields...),
		"registration": append([]bad{
			{map[string]any{"state": " "}, "state", ""}, {map[string]any{"number": ""}, "number", ""}, {map[string]any{"number": "two\nlines"}, "number", ""},
		}, boatFields...),
		"doubt": append([]bad{
			{map[string]any{"doubt": ""}, "doubt", ""}, {map[string]any{"about": "rumour"}, "about", ""}, {map[string]any{"words": ""}, "words", ""},
		}, boatFields...),
		"settle": append([]bad{
			{map[string]any{"doubt": "d9"}, "doubt", fault.Unknown}, {map[string]any{"words": "\t"}, "words", ""},
		}, boatFields...),
		"possession": append([]bad{{map[string]any{"on": "2026-04-02"}, "on", ""}, {map[string]any{"on": ""}, "on", ""}}, boatFields...),
		"jacket": append([]bad{
			{map[string]any{"jacket": ""}, "jacket", ""},
			{map[string]any{"sort": "cork"}, "sort", ""},
			{map[string]any{"marked": "two\nlines"}, "marked", ""},
			{map[string]any{"words": long(2001)}, "words", ""},
			{map[string]any{"sort": "inflatable"}, "answers[0].check", ""},
			{map[string]any{"answers": []any{map[string]any{"check": "foam", "answer": "perhaps"}}}, "answers[0].answer", ""},
			{map[string]any{"answers": []any{map[string]any{"check": "foam", "answer": "fails"}, map[string]any{"check": "foam", "answer": "fails"}}}, "answers[1].check", ""},
		}, boatFields...),
		"jacket gone": append([]bad{
			{map[string]any{"jacket": "j9"}, "jacket", fault.Unknown},
			{map[string]any{"way": "into the lake"}, "way", ""},
			{map[string]any{"words": long(2001)}, "words", ""},
		}, boatFields...),
		"transfer": append([]bad{{map[string]any{"on": "2026-04-02"}, "on", ""}, {map[string]any{"on": ""}, "on", ""}}, boatFields...),
	} {
		t.Run(name, func(t *testing.T) {
			c := start(t)
			c.Say("people.person/seller", "", message.PersonRegistered{Person: "seller", Sort: message.DonorSort})
			steward := c.Member(people.Steward, people.Administrator)
			order := orders("seller")[name]
			order.before(c, steward)
			c.WritesNothing(func() {
				for _, row := range rows {
					if row.kind == "" {
						row.kind = fault.Invalid
					}
					err := c.TryChanged(steward, order.good, row.change)
					faulttest.Want(t, err, row.kind, row.field, row.change)
				}
			})
			c.Do(steward, order.good) // the order is good when nothing is wrong with it
		})
	}
}
