package web

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/guide"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// noon is when everything in these tests was so.
var noon = time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC)

// folded folds bodies into a document.
func folded[D any, P document[D]](bodies ...message.Body) D {
	var d D
	for i, body := range bodies {
		P(&d).Fold(message.Event{Position: int64(i + 1), Kind: body.Kind(), Actor: "member/m", HappenedAt: noon}, body)
	}
	return d
}

// What the states are called, and what leads to them, is the club's own plan of
// a boat's way; that a failed test or new work takes a ready boat back to the
// bench is the repair room's.
func TestTheStateOfABoat(t *testing.T) {
	logged := message.BoatLogged{Boat: "b"}
	finished := message.LookOverFinished{Look: "l"}
	accepted, received := message.BoatAccepted{}, message.BoatReceived{}
	planned, ready := message.WorkPlanned{Work: "w"}, message.BoatReady{}
	made := message.OfferMade{Offer: "o"}
	for name, row := range map[string]struct {
		want State
		said []message.Body
	}{
		"logged":                     {Offered, []message.Body{logged}},
		"a look-over only begun":     {Offered, []message.Body{logged, message.LookOverBegun{Look: "l"}}},
		"looked over":                {LookedOver, []message.Body{logged, finished}},
		"a price alone":              {LookedOver, []message.Body{logged, finished, message.PriceOffered{}}},
		"accepted":                   {Accepted, []message.Body{logged, finished, accepted}},
		"looked over once more":      {Accepted, []message.Body{logged, finished, accepted, finished}},
		"declined":                   {Declined, []message.Body{logged, finished, message.BoatDeclined{}}},
		"declined after all":         {Declined, []message.Body{logged, accepted, message.BoatDeclined{}}},
		"received":                   {Received, []message.Body{logged, accepted, received}},
		"work planned":               {InWorkshop, []message.Body{logged, accepted, received, planned}},
		"worked on before it came":   {InWorkshop, []message.Body{logged, accepted, planned, received}},
		"accepted and worked on":     {Accepted, []message.Body{logged, accepted, planned}},
		"ready":                      {Ready, []message.Body{logged, received, planned, ready}},
		"a late bill":                {Ready, []message.Body{logged, received, planned, ready, message.PartBooked{}, message.HoursBooked{}}},
		"a test passed when ready":   {Ready, []message.Body{logged, received, ready, message.TestRecorded{Passed: true}}},
		"a test failed when ready":   {InWorkshop, []message.Body{logged, received, ready, message.TestRecorded{}}},
		"work when ready":            {InWorkshop, []message.Body{logged, received, ready, planned}},
		"offered to a household":     {OnOffer, []message.Body{logged, received, ready, made}},
		"the household says yes":     {OnOffer, []message.Body{logged, received, ready, made, message.OfferAnswered{Offer: "o", Answer: "accepted"}}},
		"the household says no":      {Ready, []message.Body{logged, received, ready, made, message.OfferAnswered{Offer: "o", Answer: "declined"}}},
		"nobody answered":            {Ready, []message.Body{logged, received, ready, made, message.OfferAnswered{Offer: "o", Answer: "lapsed"}}},
		"handed over":                {Placed, []message.Body{logged, received, ready, made, message.BoatHandedOver{}}},
		"sold":                       {Sold, []message.Body{logged, received, ready, message.BoatSold{}}},
		"brought back by its buyer":  {Ready, []message.Body{logged, received, ready, message.BoatSold{}, message.SaleTakenBack{}}},
		"brought back unready":       {Received, []message.Body{logged, received, message.BoatSold{}, message.SaleTakenBack{}}},
		"retired":                    {Retired, []message.Body{logged, received, planned, message.BoatRetired{}}},
		"a bill after it was placed": {Placed, []message.Body{logged, received, ready, message.BoatHandedOver{}, message.PartBooked{}}},
	} {
		assert.Equal(t, row.want, folded[Boat](row.said...).State, name)
	}
}

func TestWhatBecomesOfAFinding(t *testing.T) {
	found := message.DefectFound{Finding: "f", Look: "l"}
	done := message.WorkFinished{Work: "w", Findings: []string{"f"}, Words: "welded"}
	begun, finished := message.LookOverBegun{Look: "l"}, message.LookOverFinished{Look: "l"}
	for name, row := range map[string]struct {
		open bool
		said []message.Body
	}{
		"noted":          {true, []message.Body{begun, found, finished}},
		"withdrawn":      {false, []message.Body{begun, found, message.DefectWithdrawn{Finding: "f", Why: "a shadow"}}},
		"mended":         {false, []message.Body{begun, found, done}},
		"mended and not": {true, []message.Body{begun, found, done, message.FindingReopened{Finding: "f"}}},
		"mended anew":    {false, []message.Body{begun, found, done, message.FindingReopened{Finding: "f"}, done}},
		"another's work": {true, []message.Body{begun, found, message.WorkFinished{Findings: []string{"g"}, Words: "filled"}}},
	} {
		b := folded[Boat](row.said...)
		assert.Equal(t, row.open, b.Findings[0].Open(), name)
	}
}

func TestWhatStandsForABoat(t *testing.T) {
	part := func(entry string, minor int64, currency money.Currency) message.PartBooked {
		return message.PartBooked{Entry: entry, Cost: money.Of(minor, currency)}
	}
	b := folded[Boat](part("a", 1250, "USD"), part("b", 999, "USD"), part("c", 500, "CAD"), part("d", 1, "USD"),
		message.PartReversed{Entry: "b", Why: "twice"}, message.HoursBooked{Minutes: 45}, message.HoursBooked{Minutes: 30},
		message.HoursBooked{Entry: "h", Minutes: 600}, message.HoursReversed{Entry: "h", Why: "60, not 600"})
	assert.Equal(t, []money.Amount{money.Of(1251, "USD"), money.Of(500, "CAD")}, b.spent())
	assert.Equal(t, 75, b.Minutes())
}

func TestARequestARoundAndAnOffer(t *testing.T) {
	request := message.RequestMade{Request: "r", Household: "h", Boats: 1}
	assert.Equal(t, "open", folded[Request](request).State())
	assert.Equal(t, "withdrawn", folded[Request](request, message.RequestEnded{How: "withdrawn"}).State())
	assert.Equal(t, 2, folded[Request](request, message.TierSet{Tier: 2}).Tier)

	opened := message.RoundOpened{Round: "o"}
	assert.Equal(t, "not frozen", folded[Round](message.SecretCommitted{Round: "o", Member: "p"}).State())
	assert.Equal(t, "opened", folded[Round](opened).State())
	assert.Equal(t, "solved", folded[Round](opened, message.RoundSolved{}).State())
	assert.Equal(t, "approved", folded[Round](opened, message.RoundSolved{}, message.RoundApproved{}).State())
	assert.Equal(t, "offers out", folded[Round](opened, message.RoundSolved{}, message.RoundApproved{}, message.OfferMade{Offer: "x"}).State())
	assert.Equal(t, "solved", folded[Round](opened, message.RoundSolved{}, message.RoundApproved{}, message.OfferMade{Offer: "x"}, message.OffersSent{}, message.RoundSolved{}).State(), "anew")
	assert.Equal(t, "closed", folded[Round](opened, message.RoundClosed{}).State())

	made := message.OfferMade{Offer: "x", Boat: "b"}
	assert.Equal(t, "open", folded[Offer](made).State())
	assert.Equal(t, "accepted", folded[Offer](made, message.OfferAnswered{Offer: "x", Answer: "accepted"}).State())
}

func TestAPaperAndAPrice(t *testing.T) {
	issued := message.PaperIssued{Paper: "p", Serial: "2026-1", Sealed: "v1.secret", Salt: "salt"}
	p := folded[Paper](issued)
	assert.Equal(t, "issued", p.State())
	assert.Empty(t, p.Sealed+p.Salt, "what the pages do not need they do not keep")
	assert.Equal(t, "cancelled", folded[Paper](issued, message.PaperCancelled{Paper: "p", Why: "wrong day"}).State())

	recorded := message.ComparableRecorded{Comparable: message.Comparable{Comparable: "c"}}
	assert.Equal(t, "used", folded[Price](recorded).State())
	assert.Equal(t, "refused", folded[Price](recorded, message.ComparableRefused{Comparable: "c", Why: "a favour"}).State())
}

func TestAPersonInTheBookAndOutOfIt(t *testing.T) {
	registered := message.PersonRegistered{Person: "p", Sort: message.DonorSort, Sealed: "v1.a"}
	agreed := message.ConsentGiven{Person: "p", Text: "t1"}
	p := folded[Person](registered, agreed, message.LinkGiven{Link: "l", Person: "p"}, message.PersonChanged{Person: "p", Sealed: "v1.b"})
	assert.Equal(t, "v1.b", p.Sealed)
	assert.Len(t, p.Links, 1)
	p = folded[Person](registered, agreed, message.ConsentWithdrawn{Person: "p", Text: "t1"})
	assert.True(t, p.Consents[0].Withdrawn)
	p = folded[Person](registered, agreed, message.PersonErased{Person: "p", Why: "asked"}, registered)
	raw, err := json.Marshal(p)
	require.NoError(t, err)
	assert.NotContains(t, string(raw), "v1.a", "after an erasure nothing comes back")
	assert.Equal(t, message.DonorSort, p.Sort)
}

// TestEveryKindIsToldInPlainWords goes through all kinds that there are, each
// with everything in it set: the line has words of its own, and no id, seal or
// amount of personal data in it.
func TestEveryKindIsToldInPlainWords(t *testing.T) {
	for _, kind := range message.Kinds() {
		body, err := message.Decode(message.Event{Kind: kind, Schema: message.SchemaOf(kind), Data: json.RawMessage(`{}`)})
		require.NoError(t, err)
		filled := full(reflect.TypeOf(body), 0).Interface().(message.Body)
		line := summary(filled)
		fallback := capital(strings.ReplaceAll(strings.TrimPrefix(string(kind), kind.Room()+"."), "-", " "))
		assert.NotEqual(t, fallback, line, "%s has no sentence", kind)
		assert.NotContains(t, line, "{", "%s: %s", kind, line)
		assert.NotContains(t, line, "%!", "%s: %s", kind, line)
	}
}

func TestALineOfHistoryNamesNobody(t *testing.T) {
	for _, body := range []message.Body{
		message.PersonRegistered{Person: "0197-person", Sort: message.DonorSort, Sealed: "v1.sealed"},
		message.BoatLogged{Name: "Heron", Giver: "0197-person", NewGiver: &message.NewPerson{Person: "0197-person", Sealed: "v1.sealed"}},
		message.RequestMade{Household: "0197-person", Sealed: "v1.sealed"},
		message.BoatHandedOver{Household: "0197-person"},
		message.HoursBooked{Who: "0197-person"},
		message.ClaimStated{Claim: money.Of(77777, "USD")},
		message.SettingChanged{Name: "signatory", Value: "Marigold Finch"},
		message.TierSet{Why: "their circumstances"},
		message.RequestEnded{How: "withdrawn", Why: "their circumstances"},
	} {
		line := summary(body)
		for _, private := range []string{"0197-person", "sealed", "777", "Marigold", "circumstances"} {
			assert.NotContains(t, line, private, fmt.Sprintf("%T", body))
		}
	}
}

func TestMarksOnADrawing(t *testing.T) {
	at := func(part boat.Part, zone boat.Zone, side boat.Side, face boat.Face) Finding {
		return Finding{DefectFound: message.DefectFound{Place: message.Place{Zone: zone, Side: side, Face: face, Part: part}, Severity: boat.DoNotUse}}
	}
	gone := at("deck", "bow", "port", "outside")
	gone.Withdrawn = "a shadow"
	views := drawings(boat.Canoe, numbered([]Finding{
		at("deck", "bow", "port", "outside"), gone, at("hull", "bow", "port", "inside"), at("gunwale", "stern", "starboard", "outside"),
		at("hull", "bow", "port", "outside"), at("keel line", "stern", "starboard", "outside"),
	}))
	d, below := views[0], views[1]
	require.Len(t, d.Marks, 3, "what was withdrawn has no mark")
	first, second, last := d.Marks[0], d.Marks[1], d.Marks[2]
	assert.Equal(t, []int{1, 3, 4}, []int{first.Number, second.Number, last.Number}, "but keeps its number")
	assert.GreaterOrEqual(t, second.X-first.X, 40, "marks of one place stand beside each other")
	assert.Less(t, first.X, last.X, "the bow is on the left")
	assert.Greater(t, first.Y, last.Y, "and so port is below")
	assert.True(t, second.Inside && !first.Inside)
	assert.True(t, first.Grave())

	// Turned over, the bow stays on the left, and so port is above.
	require.Len(t, below.Marks, 2, "the outside of the hull is seen from below, its inside from above")
	assert.Less(t, below.Marks[0].X, below.Marks[1].X)
	assert.Less(t, below.Marks[0].Y, below.Marks[1].Y)
	assert.Equal(t, []boat.Side{"starboard", "port", "port", "starboard"}, []boat.Side{d.Top(), d.Bottom(), below.Top(), below.Bottom()})
	for _, b := range boat.Types {
		assert.NotEmpty(t, outline(b))
		assert.NotEmpty(t, fittings(b))
		assert.NotEmpty(t, keel(b))
		assert.NotEmpty(t, profile(b))
	}
}

func TestAPointIsShownWhereItIs(t *testing.T) {
	p, ok := guide.For(boat.SitOnTop, boat.Rotomoulded).Point("pe-edges")
	require.True(t, ok)
	s := spotOf(boat.SitOnTop, p)
	assert.Len(t, s.Dots, 2*len(p.Zones), "what is beside the centreline is on both sides")
	assert.Contains(t, s.Title, "chine")
}

// The limit is computed here by hand from the equation in the Applications
// Manual for the Revised NIOSH Lifting Equation (DHHS (NIOSH) publication
// 94-110, revised 2021): 23 × 25/40 × (1 − 0.003·45) × (0.82 + 4.5/70) × 1 × 1 ×
// 0.95 = 10.4 kg. The team factors are those of the HSE's guidance: two lift two
// thirds of the sum, three a half.
func TestLiftingIsWarnedOfWithNumbers(t *testing.T) {
	said := func(grams int) string {
		b := Boat{Facts: message.BoatFacts{MassG: grams}}
		return strings.Join(lifting(&b)[0].Words, " ")
	}
	assert.Contains(t, said(20_000), "Lifting one end alone is about 10.0 kg")
	assert.Contains(t, said(20_000), "at most 10.4 kg; this one is 1.0 times that")
	assert.Contains(t, said(10_000), "One person may carry it by this reckoning")
	assert.Contains(t, said(13_900), "it takes 2 people", "2 × 10.4457 × 2/3 = 13.93 kg")
	assert.Contains(t, said(15_600), "it takes 3 people", "3 × 10.4457 / 2 = 15.67 kg")
	assert.Contains(t, said(15_700), "three people are too few")
	assert.Contains(t, said(0), "The mass of this boat is not known")
	assert.NotContains(t, said(0), "kg")
}

func TestWhoSeesALookOver(t *testing.T) {
	looks := []Look{{ID: "a", Inspector: "one"}, {ID: "b", Inspector: "two", Finished: &message.LookOverFinished{}}}
	b := &Boat{Looks: looks}
	for name, row := range map[string]struct {
		who  people.ID
		look string
		want bool
	}{
		"one's own open one":                 {"one", "a", false},
		"somebody else's open one":           {"three", "a", true},
		"a finished one":                     {"three", "b", false},
		"a finished one with one's own open": {"one", "b", true},
		"one's own finished one":             {"two", "b", false},
		"nobody known, an open one":          {"", "a", true},
	} {
		v := &visit{Who: Who{Person: row.who}}
		assert.Equal(t, row.want, v.hides(b, row.look), name)
	}
}

// Who was shown a paper is kept with it, the last first, and no more than pages show.
func TestReadingsOfAPaper(t *testing.T) {
	bodies := []message.Body{message.PaperIssued{Paper: "p", Serial: "US-2026-0001"}, message.PaperRead{Paper: "p", Link: true}}
	for range keptReadings {
		bodies = append(bodies, message.PaperRead{Paper: "p"})
	}
	p := folded[Paper](message.PaperIssued{Paper: "p", Sealed: "sealed", Salt: "00112233"})
	assert.Empty(t, p.Sealed+p.Salt, "the pages have no use for what opens or proves a paper")
	p = folded[Paper](bodies...)
	assert.Len(t, p.Reads, keptReadings)
	assert.False(t, p.Reads[0].Link)
	p = folded[Paper](bodies[:3]...)
	assert.Equal(t, []bool{false, true}, []bool{p.Reads[0].Link, p.Reads[1].Link})
	p = folded[Paper](append(bodies[:3:3], message.CopyAOpened{Paper: "p", Serial: "US-2026-0001"})...)
	assert.Len(t, p.Reads, 3)
	assert.Equal(t, []bool{true, false}, []bool{p.Reads[0].CopyA, p.Reads[1].CopyA}, "copy A holds the donor's whole number")
}

// IRC 170(f)(12)(B)(iv): what box 5a or 5b certifies a sale may make untrue.
func TestABoatKnowsWhatItsPaperCertifies(t *testing.T) {
	issued := message.PaperIssued{Paper: "p", Serial: "US-2026-0001", Decision: `{"papers":[{"boxes":{"5b":true}}]}`}
	b := folded[Boat](message.BoatLogged{Boat: "b"}, issued)
	require.NotNil(t, b.certificate())
	assert.Contains(t, certificateWarning(b.certificate()), "box 5b")
	b = folded[Boat](message.BoatLogged{Boat: "b"}, issued, message.PaperCancelled{Paper: "p", Why: "wrong"})
	assert.Nil(t, b.certificate())
	issued.Decision = `{"papers":[{"boxes":{"4a":true}}]}`
	assert.Nil(t, func() *BoatPaper { b := folded[Boat](issued); return b.certificate() }())
	waits := folded[Boat](message.PaperPrepared{Paper: "q"})
	assert.NotNil(t, waits.Prepared)
	waits = folded[Boat](message.PaperPrepared{Paper: "q"}, issued)
	assert.Nil(t, waits.Prepared)
	waits = folded[Boat](message.PaperPrepared{Paper: "q"}, message.PreparationWithdrawn{Paper: "q", Why: "the donor asked to wait"})
	assert.Nil(t, waits.Prepared, "dropped, it waits no more")
}

// IRC 170(f)(12)(B)(iii): a paper states the gross proceeds; where the sale did not stay as it
// states, the boat's page says so.
func TestABoatKnowsThatItsPaperStatesAnotherSale(t *testing.T) {
	before := []message.Body{
		message.BoatLogged{Boat: "b"}, message.BoatSold{Boat: "b", On: clock.MustDate("2026-04-18"), Gross: usd(56_000)},
		message.PaperIssued{Paper: "p", Serial: "US-2026-0001", Decision: `{"papers":[{"boxes":{"4a":true,"4b":"2026-04-18","4c":56000}}]}`},
	}
	again := message.BoatSold{Boat: "b", On: clock.MustDate("2026-04-18"), Gross: usd(56_000)}
	later := again
	later.On = clock.MustDate("2026-04-19")
	for name, row := range map[string]struct {
		after []message.Body
		stale bool
	}{
		"as it states":                         {nil, false},
		"a cent back":                          {[]message.Body{message.BuyerRefunded{Refund: usd(1)}}, true},
		"brought back":                         {[]message.Body{message.SaleTakenBack{}}, true},
		"sold again, the same":                 {[]message.Body{message.SaleTakenBack{}, again}, false},
		"sold again later":                     {[]message.Body{message.SaleTakenBack{}, later}, true},
		"money back, brought back, sold again": {[]message.Body{message.BuyerRefunded{Refund: usd(1)}, message.SaleTakenBack{}, again}, false},
		"cancelled":                            {[]message.Body{message.SaleTakenBack{}, message.PaperCancelled{Paper: "p", Why: "wrong"}}, false},
	} {
		b := folded[Boat](append(before[:3:3], row.after...)...)
		assert.Equal(t, row.stale, b.StalePaper() != nil, name)
	}
	b := folded[Boat](append(before[:3:3], message.BuyerRefunded{Refund: usd(1_000)}, message.BuyerRefunded{Refund: usd(2_000)})...)
	assert.Equal(t, usd(53_000), b.Kept(), "money given back twice")
}
