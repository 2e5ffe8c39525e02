package matching_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// Every field of a form, just outside what it may hold.
func TestAFormSaysWhichFieldIsWrong(t *testing.T) {
	c := start(t)
	for field, spoil := range map[string]func(*message.MakeRequest){
		"request":                 func(m *message.MakeRequest) { m.Request = "" },
		"household":               func(m *message.MakeRequest) { m.Household = "a/b" },
		"link":                    func(m *message.MakeRequest) { m.Link = "" },
		"consent":                 func(m *message.MakeRequest) { m.Consent = " " },
		"boats":                   func(m *message.MakeRequest) { m.Boats = 51 },
		"details":                 func(m *message.MakeRequest) { m.Details = nil },
		"details.name":            func(m *message.MakeRequest) { m.Details.Name = strings.Repeat("o", 121) },
		"details.mail":            func(m *message.MakeRequest) { m.Details.Mail = "odalys at example.org" },
		"details.phone":           func(m *message.MakeRequest) { m.Details.Phone = strings.Repeat("5", 41) },
		"details.address":         func(m *message.MakeRequest) { m.Details.Address = strings.Repeat("x", 301) },
		"details.language":        func(m *message.MakeRequest) { m.Details.Language = "tlh" },
		"wish.types":              func(m *message.MakeRequest) { m.Wish.Types = nil },
		"wish.types[0]":           func(m *message.MakeRequest) { m.Wish.Types = []boat.Type{"submarine"} },
		"wish.types[1]":           func(m *message.MakeRequest) { m.Wish.Types = []boat.Type{boat.Canoe, boat.Canoe} },
		"wish.adults":             func(m *message.MakeRequest) { m.Wish.Adults = nil },
		"wish.adults[0].mass_g":   func(m *message.MakeRequest) { m.Wish.Adults[0].MassG = 81 },
		"wish.adults[0].years":    func(m *message.MakeRequest) { m.Wish.Adults[0].Years = 17 },
		"wish.children":           func(m *message.MakeRequest) { m.Wish.Children = make([]message.Paddler, 13) },
		"wish.children[0].years":  func(m *message.MakeRequest) { m.Wish.Children[0].Years = 18 },
		"wish.children[0].mass_g": func(m *message.MakeRequest) { m.Wish.Children[0].MassG = -1 },
		"wish.animals_g":          func(m *message.MakeRequest) { m.Wish.AnimalsG = make([]int, 7) },
		"wish.animals_g[0]":       func(m *message.MakeRequest) { m.Wish.AnimalsG = []int{30} },
		"wish.gear_g":             func(m *message.MakeRequest) { m.Wish.GearG = 300_001 },
		"wish.water":              func(m *message.MakeRequest) { m.Wish.Water = "" },
		"wish.experience":         func(m *message.MakeRequest) { m.Wish.Experience = "heaps" },
		"wish.needs[0]":           func(m *message.MakeRequest) { m.Wish.Needs = []boat.Feature{"a sail"} },
		"wish.carriers":           func(m *message.MakeRequest) { m.Wish.Carriers = 13 },
		"wish.each_lifts_g":       func(m *message.MakeRequest) { m.Wish.EachLiftsG = 20 },
		"wish.transport":          func(m *message.MakeRequest) { m.Wish.Transport = "" },
		"wish.roof_load_g":        func(m *message.MakeRequest) { m.Wish.RoofLoadG = 75 },
		"wish.rack_g":             func(m *message.MakeRequest) { m.Wish.RackG = 100_001 },
		"wish.vehicle_mm":         func(m *message.MakeRequest) { m.Wish.VehicleMM = 12_001 },
		"wish.storage_mm":         func(m *message.MakeRequest) { m.Wish.StorageMM = 5 },
		"wish.two_singles":        func(m *message.MakeRequest) { m.Wish.TwoSingles = true }, // a child comes along
		"wish.words":              func(m *message.MakeRequest) { m.Wish.Words = strings.Repeat("x", 2001) },
	} {
		m := form("r1", wish())
		spoil(&m)
		_, err := c.Try(visitor, m)
		f := fault.Of(err)
		if assert.NotNil(t, f, field) {
			assert.Equal(t, fault.Invalid, f.Kind, "%s: %v", field, err)
			assert.Equal(t, field, f.Field, "%v", err)
		}
	}
	m := form("r1", wish())
	m.Details.Mail = ""
	_, err := c.Try(visitor, m)
	assert.Equal(t, "details.mail", fault.Of(err).Field, "nobody could answer")
	assert.Empty(t, c.Bodies(message.MatchingRequest("r1")), "nothing was written")
	c.Do(visitor, form("r1", wish()))
}

// The bad field of every other command.
func TestOrdersNameTheirBadField(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	applicant := c.asks("r1", wish())
	c.offers("round1")
	offer := c.made("b1").Offer
	c.Do(applicant, message.AnswerOffer{Offer: offer, Boat: "b1", Answer: "accepted"})
	c.commits("round2")
	list := desktest.Ask[message.CheckLines](c.Club, c.coordinator, message.CheckList{Boat: "b1"})
	good := message.HandOver{Boat: "b1", On: today, Checks: list.Lines, Release: list.Release}
	handOver := func(spoil func(*message.HandOver)) message.HandOver {
		h := good
		spoil(&h)
		return h
	}
	noTypes := wish()
	noTypes.Types = nil
	written := len(c.Bodies(message.MatchingBoat("b1"))) + len(c.Bodies(message.MatchingRequest("r1"))) + len(c.Bodies(message.MatchingRound("round1")))

	for _, row := range []struct {
		field   string
		command desk.Commanded
	}{
		{"request", message.ChangeRequest{Request: "r9", Wish: wish()}},
		{"wish.types", message.ChangeRequest{Request: "r1", Wish: noTypes}},
		{"request", message.SetTier{Request: "r9", Tier: 1, Why: "x"}},
		{"tier", message.SetTier{Request: "r1", Tier: 0, Why: "x"}},
		{"tier", message.SetTier{Request: "r1", Tier: 10, Why: "x"}},
		{"why", message.SetTier{Request: "r1", Tier: 1}},
		{"request", message.EndRequest{Request: "r9", How: "declined", Why: "x"}},
		{"how", message.EndRequest{Request: "r1", How: "placed", Why: "x"}},
		{"why", message.EndRequest{Request: "r1", How: "declined"}},
		{"boat", message.KeepBack{Boat: "b9", Why: "x"}},
		{"why", message.KeepBack{Boat: "b1"}},
		{"boat", message.LetOut{Boat: "b1", Why: "it is not kept back"}},
		{"why", message.LetOut{Boat: "b1"}},
		{"round", message.CommitSecret{Secret: "as long as it has to be"}},
		{"secret", message.CommitSecret{Round: "round3", Secret: "nineteen characters"}},
		{"secret", message.CommitSecret{Round: "round3", Secret: strings.Repeat("x", 201)}},
		{"secret", message.CommitSecret{Round: "round3", Secret: "a line of its own\nand another"}},
		{"round", message.CommitSecret{Round: "round1", Secret: "as long as it has to be"}},
		{"round", message.CommitSecret{Round: "round2", Secret: "as long as it has to be"}},
		{"boat", message.CommitSecret{Round: "round3", Secret: "as long as it has to be", Boat: "b9"}},
		{"boat", message.CommitSecret{Round: "round3", Secret: "as long as it has to be", Boat: "b1"}},
		{"round", message.RulePair{Round: "round3", Boat: "b1", Request: "r1", How: "pin", Why: "x"}},
		{"round", message.RulePair{Round: "round1", Boat: "b1", Request: "r1", How: "pin", Why: "x"}},
		{"boat", message.RulePair{Round: "round2", Boat: "b9", Request: "r1", How: "pin", Why: "x"}},
		{"request", message.RulePair{Round: "round2", Boat: "b1", Request: "r9", How: "pin", Why: "x"}},
		{"how", message.RulePair{Round: "round2", Boat: "b1", Request: "r1", How: "maybe", Why: "x"}},
		{"why", message.RulePair{Round: "round2", Boat: "b1", Request: "r1", How: "pin"}},
		{"round", message.OpenRound{Round: "round3"}},
		{"round", message.OpenRound{Round: "round1"}},
		{"round", message.OpenRound{Round: ""}},
		{"boats[0]", message.OpenRound{Round: "round2", Boats: []boat.ID{"b9"}}},
		{"boats[0]", message.OpenRound{Round: "round2", Boats: []boat.ID{"b1"}}},
		{"boats[1]", message.OpenRound{Round: "round2", Boats: []boat.ID{"b2", "b2"}}},
		{"boats", message.OpenRound{Round: "round2"}},
		{"round", message.SolveRound{Round: "round9"}},
		{"round", message.SolveRound{Round: "round1"}},
		{"round", message.ApproveRound{Round: "round9"}},
		{"round", message.ApproveRound{Round: "round1"}},
		{"round", message.SendOffers{Round: "round9", Days: 7}},
		{"round", message.SendOffers{Round: "round1", Days: 7}},
		{"days", message.SendOffers{Round: "round1", Days: 91}},
		{"offer", message.AnswerOffer{Offer: "none", Boat: "b1", Answer: "accepted"}},
		{"offer", message.AnswerOffer{Offer: offer, Boat: "b1", Answer: "declined"}},
		{"boat", message.AnswerOffer{Offer: offer, Boat: "", Answer: "declined"}},
		{"round", message.CloseRound{Round: "round9", Why: "x"}},
		{"why", message.CloseRound{Round: "round1"}},
		{"boat", message.HandOver{Boat: "b9", On: today, Release: list.Release}},
		{"on", handOver(func(h *message.HandOver) { h.On = clock.Date{} })},
		{"on", handOver(func(h *message.HandOver) { h.On = today.AddDays(1) })},
		{"release", handOver(func(h *message.HandOver) { h.Release = "" })},
		{"release", handOver(func(h *message.HandOver) { h.Release = "2025-9" })},
		{"checks", handOver(func(h *message.HandOver) { h.Checks = nil })},
		{"checks", handOver(func(h *message.HandOver) {
			h.Checks = append(h.Checks[:len(h.Checks):len(h.Checks)], "a line of their own")
		})},
	} {
		_, err := c.Try(c.coordinator, row.command)
		if assert.Error(t, err, "%#v", row.command) {
			assert.Equal(t, row.field, fault.Of(err).Field, "%#v: %v", row.command, err)
			assert.NotEqual(t, fault.Internal, fault.Of(err).Kind, "%v", err)
		}
	}
	assert.Equal(t, written, len(c.Bodies(message.MatchingBoat("b1")))+len(c.Bodies(message.MatchingRequest("r1")))+len(c.Bodies(message.MatchingRound("round1"))), "nothing was written")
	c.Do(c.coordinator, good)
}

// Each command and question with somebody who may give it and somebody who may
// not.
func TestWhoMayDoWhat(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	applicant, other := c.asks("r1", wish()), c.Link("household-r2", people.OwnRequest, "r2")
	donor := c.Link("household-r1", people.OwnPapers, "household-r1")
	steward := c.Member(people.Steward)
	auditor, administrator := c.Member(people.Auditor), c.Member(people.Administrator)
	c.offers("round1")
	offer := c.made("b1").Offer

	nobody := people.Actor{}
	for _, row := range []struct {
		command desk.Commanded
		may     []people.Actor
		mayNot  []people.Actor
	}{
		{message.MakeRequest{}, []people.Actor{visitor, c.coordinator}, []people.Actor{nobody, applicant}},
		{message.ChangeRequest{Request: "r1"}, []people.Actor{applicant, c.coordinator}, []people.Actor{nobody, visitor, donor, steward, auditor}},
		{message.ChangeRequest{Request: "r1", Wish: wish()}, []people.Actor{applicant}, []people.Actor{other}},
		{message.SetTier{Request: "r1"}, []people.Actor{c.coordinator}, []people.Actor{nobody, visitor, applicant, steward}},
		{message.EndRequest{Request: "r1"}, []people.Actor{applicant, c.coordinator}, []people.Actor{nobody, visitor, donor, steward}},
		{message.EndRequest{Request: "r1", How: "withdrawn"}, nil, []people.Actor{other}},
		{message.CommitSecret{}, []people.Actor{c.coordinator, steward}, []people.Actor{nobody, visitor, applicant, auditor}},
		{message.RulePair{}, []people.Actor{c.coordinator}, []people.Actor{nobody, visitor, applicant, steward, administrator}},
		{message.SetRelease{}, []people.Actor{administrator}, []people.Actor{nobody, visitor, applicant, steward, c.coordinator}},
		{message.OpenRound{}, []people.Actor{c.coordinator}, []people.Actor{nobody, visitor, applicant, steward}},
		{message.SolveRound{}, []people.Actor{c.coordinator}, []people.Actor{nobody, visitor, applicant, steward}},
		{message.ApproveRound{}, []people.Actor{c.coordinator, c.Member(people.Administrator)}, []people.Actor{nobody, visitor, applicant, steward}},
		{message.SendOffers{}, []people.Actor{c.coordinator}, []people.Actor{nobody, visitor, applicant, steward}},
		{message.AnswerOffer{Offer: offer, Boat: "b1"}, []people.Actor{applicant, c.coordinator}, []people.Actor{nobody, visitor, donor, steward, other}},
		{message.CloseRound{}, []people.Actor{c.coordinator}, []people.Actor{nobody, visitor, applicant, steward}},
		{message.HandOver{}, []people.Actor{c.coordinator}, []people.Actor{nobody, visitor, applicant, steward}},
	} {
		for _, by := range row.may {
			_, err := c.Try(by, row.command)
			assert.NotContains(t, []fault.Kind{fault.SignIn, fault.Forbidden}, kindOf(err), "%s by %s: %v", row.command.Verb(), by, err)
		}
		for _, by := range row.mayNot {
			_, err := c.Try(by, row.command)
			assert.Contains(t, []fault.Kind{fault.SignIn, fault.Forbidden}, kindOf(err), "%s by %s: %v", row.command.Verb(), by, err)
		}
	}
	for _, row := range []struct {
		question desk.Commanded
		may      []people.Actor
		mayNot   []people.Actor
	}{
		{message.ReadWish{Request: "r1"}, []people.Actor{applicant, c.coordinator}, []people.Actor{nobody, visitor, other, donor, steward, auditor}},
		{message.ExplainRequest{Request: "r1"}, []people.Actor{applicant, c.coordinator}, []people.Actor{nobody, visitor, other, donor, steward, auditor}},
		{message.WhatIf{Round: "round1"}, []people.Actor{c.coordinator}, []people.Actor{nobody, visitor, applicant, steward, auditor}},
		{message.JacketsPromised{}, []people.Actor{c.coordinator}, []people.Actor{nobody, visitor, applicant, steward, administrator}},
		{message.ReadReleases{}, []people.Actor{c.coordinator, steward, auditor}, []people.Actor{nobody, visitor, applicant}},
		{message.WhoWasServed{}, []people.Actor{c.coordinator, auditor, administrator}, []people.Actor{nobody, visitor, applicant, steward}},
		{message.CheckList{Boat: "b1"}, []people.Actor{c.coordinator}, []people.Actor{nobody, visitor, applicant, steward}},
		{message.HandOverSheet{Boat: "b1"}, []people.Actor{c.coordinator}, []people.Actor{nobody, visitor, applicant, steward}},
	} {
		for _, by := range row.may {
			_, err := desk.Ask[any](t.Context(), c.Client, desk.Asking{By: by}, row.question)
			assert.NotContains(t, []fault.Kind{fault.SignIn, fault.Forbidden}, kindOf(err), "%s by %s: %v", row.question.Verb(), by, err)
		}
		for _, by := range row.mayNot {
			_, err := desk.Ask[any](t.Context(), c.Client, desk.Asking{By: by}, row.question)
			assert.Contains(t, []fault.Kind{fault.SignIn, fault.Forbidden}, kindOf(err), "%s by %s: %v", row.question.Verb(), by, err)
		}
	}
}

// An applicant cannot do what is the club's, though the command is open to them.
func TestAnApplicantsShareOfTheCommands(t *testing.T) {
	c := start(t)
	c.ready("b1", "Heron", canoe())
	applicant := c.asks("r1", wish())
	c.offers("round1")
	_, err := c.Try(applicant, message.AnswerOffer{Offer: c.made("b1").Offer, Boat: "b1", Answer: "withdrawn", Why: "x"})
	assert.Equal(t, "answer", fault.Of(err).Field, "only the club withdraws: %v", err)
	_, err = c.Try(applicant, message.EndRequest{Request: "r1", How: "declined", Why: "x"})
	assert.Equal(t, "how", fault.Of(err).Field, "only the club declines: %v", err)
	require.NotEmpty(t, c.Bodies(message.MatchingRequest("r1")))
}
