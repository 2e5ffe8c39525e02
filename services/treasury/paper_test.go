package treasury_test

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/services/treasury"
)

func TestSerialsHaveNoGapsWhoeverIssuesAtOnce(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	const boats = 4
	for i := range boats {
		gift(t, c, boat.ID(fmt.Sprint("b", i)))
	}
	head, err := c.Log.Head(t.Context())
	require.NoError(t, err)
	var all sync.WaitGroup
	for i := range boats {
		all.Go(func() {
			order := issue(boat.ID(fmt.Sprint("b", i)), fmt.Sprint("p", i))
			order.Final = true
			_, err := c.Client.Do(t.Context(), desk.Asking{By: treasurer, Key: desktest.ID(), Seen: head.Position}, order)
			assert.NoError(t, err)
		})
	}
	all.Wait()
	var serials []string
	for _, p := range desktest.Said[message.PaperIssued](c, message.TreasurySeries("US-2026")) {
		serials = append(serials, p.Serial)
	}
	assert.Equal(t, []string{"US-2026-0001", "US-2026-0002", "US-2026-0003", "US-2026-0004"}, serials)

	// One boat, two treasurers, two papers: one of them comes too late.
	gift(t, c, "b9")
	taken := make([]error, 2)
	for i := range taken {
		all.Go(func() {
			order := issue("b9", fmt.Sprint("q", i))
			order.Final = true
			_, taken[i] = c.Client.Do(t.Context(), desk.Asking{By: treasurer, Key: desktest.ID()}, order)
		})
	}
	all.Wait()
	if taken[0] == nil {
		slices.Reverse(taken)
	}
	assert.NoError(t, taken[1])
	faulttest.Want(t, taken[0], fault.Conflict, "boat")
	c.Settle()
	c.RebuildIsTheSame(treasury.Name)
}

func TestOnePaperStandsForABoat(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	gift(t, c, "b1")
	final := issue("b1", "p1")
	final.Final = true
	c.Do(treasurer, final)
	second := final
	second.Paper = "p2"
	_, err := c.Try(treasurer, second)
	faulttest.Want(t, err, fault.Conflict, "boat")
	assert.ErrorContains(t, err, "US-2026-0001")
	c.Do(treasurer, message.CancelPaper{Paper: "p1", Why: "the name was spelled wrong"})
	_, err = c.Try(treasurer, message.CancelPaper{Paper: "p1", Why: "again"})
	faulttest.Want(t, err, fault.Conflict, "paper")
	_, err = c.Try(treasurer, final)
	faulttest.Want(t, err, fault.Conflict, "paper", "the id of the first")
	c.Do(treasurer, second)
	assert.Equal(t, "US-2026-0001", lastPaper(t, c, "US-2026").Replaces)
	c.RebuildIsTheSame(treasury.Name)
}

func TestDonorsReadTheirOwnPapersOnly(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	for _, id := range []boat.ID{"b1", "b2"} {
		gift(t, c, id)
		order := issue(id, "p-"+string(id))
		order.Final = true
		c.Do(treasurer, order)
	}
	donor := c.Link("donor-of-b1", people.OwnPapers, "donor-of-b1")
	own := desktest.Ask[message.PapersOfDonor](c, donor, message.DonorPapers{Donor: "donor-of-b1"})
	require.Len(t, own.Papers, 1)
	assert.Equal(t, "US-2026-0001", own.Papers[0].Serial)
	assert.Equal(t, "Heron b1", own.Papers[0].BoatName)
	assert.Equal(t, printed(c, treasurer, "p-b1"), printed(c, donor, "p-b1"))

	// Who was shown it stands in the book, once a day for each.
	printed(c, treasurer, "p-b1")
	assert.Equal(t, []message.PaperRead{{Paper: "p-b1", Serial: "US-2026-0001"}, {Paper: "p-b1", Serial: "US-2026-0001", Link: true}},
		desktest.Said[message.PaperRead](c, message.TreasuryPaper("p-b1")))
	c.Clock.Advance(12 * time.Hour) // into the next day
	printed(c, treasurer, "p-b1")
	assert.Len(t, desktest.Said[message.PaperRead](c, message.TreasuryPaper("p-b1")), 3)

	ask := func(by people.Actor, q desk.Commanded) error {
		_, err := desk.Ask[message.Sheet](t.Context(), c.Client, desk.Asking{By: by}, q)
		return err
	}
	faulttest.Want(t, ask(donor, message.PrintPaper{Paper: "p-b2"}), fault.Unknown, "paper", "that of somebody else")
	faulttest.Want(t, ask(donor, message.PrintPaper{Paper: "p-b9"}), fault.Unknown, "paper")
	faulttest.Want(t, ask(donor, message.DonorPapers{Donor: "donor-of-b2"}), fault.Forbidden, "")
	asApplicant := c.Link("donor-of-b1", people.OwnRequest, "donor-of-b1")
	c.Settle()
	faulttest.Want(t, ask(asApplicant, message.PrintPaper{Paper: "p-b1"}), fault.Forbidden, "")
	assert.Empty(t, desktest.Said[message.PaperRead](c, message.TreasuryPaper("p-b2")), "nobody was shown what was refused")
}

func TestDonorAndTreasurerAreTwo(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	sealed, err := c.Vault.Seal(t.Context(), string(treasurer.Person), message.SealDetails, message.PersonDetails{Name: "T. Reed"})
	require.NoError(t, err)
	c.Say(message.Person(treasurer.Person), "", message.PersonRegistered{Person: treasurer.Person, Sort: message.MemberSort, Sealed: string(sealed)})
	c.Say(message.IntakeBoat("b1"), "b1", message.BoatLogged{Boat: "b1", Name: "Heron", Taking: message.Gift, Giver: treasurer.Person, Facts: message.BoatFacts{Type: boat.Canoe}})
	receive(c, "b1")
	valued(c, "b1", "v1", 40_000, func(v *message.BoatValued) { v.Valuer = treasurer.Person })
	c.Settle()
	_, err = c.Try(treasurer, issue("b1", "p1"))
	faulttest.Want(t, err, fault.Forbidden, "")
	other := c.Member(people.Treasurer)
	_, err = c.Try(other, issue("b1", "p1"))
	faulttest.Want(t, err, fault.Forbidden, "", "on a value of the donor's own")
	valued(c, "b1", "v2", 40_000)
	c.Settle()
	c.Do(other, issue("b1", "p1"))
	_, err = c.Try(treasurer, message.CancelPaper{Paper: "p1", Why: "I want more"})
	faulttest.Want(t, err, fault.Forbidden, "")
}

func TestAPaperIsNotIssuedUnfinished(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	gift(t, c, "b1")
	order := issue("b1", "p1")
	order.Final = true
	for _, name := range []string{"legal-name", "registration-number", "address"} {
		c.Set(name, "")
		_, err := c.Try(treasurer, order)
		faulttest.Want(t, err, fault.Conflict, "", name)
		assert.ErrorContains(t, err, name)
		c.Set(name, "here again")
	}
	change := func(d message.PersonDetails) {
		sealed, err := c.Vault.Seal(t.Context(), "donor-of-b1", message.SealDetails, d)
		require.NoError(t, err)
		c.Say("people.person/donor-of-b1", "", message.PersonChanged{Person: "donor-of-b1", Sealed: string(sealed)})
	}
	change(message.PersonDetails{Name: "Odalys", Address: " "})
	_, err := c.Try(treasurer, order)
	assert.ErrorContains(t, err, "address")
	change(message.PersonDetails{Name: "Odalys 船", Address: "here"})
	_, err = c.Try(treasurer, order)
	assert.ErrorContains(t, err, "cannot be printed")
	c.Say("people.person/donor-of-b1", "", message.PersonErased{Person: "donor-of-b1", Why: "asked"})
	_, err = c.Try(treasurer, order)
	assert.ErrorContains(t, err, "erased")
	assert.Empty(t, c.Bodies(message.TreasurySeries("US-2026")))
}

func TestPapersPastKeepingAreGone(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	gift(t, c, "b1")
	order := issue("b1", "p1")
	order.Final = true
	c.Do(treasurer, order)
	// A paper of the year before, which is let go of last where both are.
	lastYear := giftOn.AddMonths(-12)
	boatOf(t, c, "b0", message.Gift, usd(0))
	c.Say(message.IntakeBoat("b0"), "b0", message.BoatReceived{Boat: "b0", Possession: lastYear, Signed: lastYear, On: lastYear})
	c.Do(treasurer, message.StateClaim{Boat: "b0", Claim: usd(100), On: lastYear})
	c.Do(treasurer, message.IssuePaper{Boat: "b0", Paper: "z", On: lastYear})

	c.Settle()
	c.Clock.Advance(lastPaper(t, c, "US-2026").KeepTo.Time().Sub(c.Clock.Now())) // its last day
	c.Restart(treasury.Name)
	isGone(t, c, treasurer, "z")
	printed(c, treasurer, "p1")
	c.Clock.Advance(24 * time.Hour)
	c.Restart(treasury.Name)
	isGone(t, c, treasurer, "p1")
}

func isGone(t *testing.T, c *desktest.Club, treasurer people.Actor, paper string) {
	t.Helper()
	require.Eventually(t, func() bool {
		_, err := desk.Ask[message.Sheet](t.Context(), c.Client, desk.Asking{By: treasurer}, message.PrintPaper{Paper: paper})
		return fault.Is(err, fault.Unknown) && strings.Contains(err.Error(), "was kept until")
	}, time.Minute, 10*time.Millisecond)
}
