package treasury

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

func mandate(id string, who people.ID, from, to string) message.MandateGiven {
	g := message.MandateGiven{Mandate: id, Person: who, Office: "treasurer", From: clock.MustDate(from)}
	if to != "" {
		g.To = clock.MustDate(to)
	}
	return g
}

// Income Tax Regulations (Canada) s. 3501(1)(i) wants the signature of a person whom
// the organisation has authorised; from which day to which, and that it takes one on
// both days, are the club's own rules.
func TestWhoSignsNeedsAMandateOfTheDay(t *testing.T) {
	of2026 := mandates{mandate("m1", "ada", "2026-03-01", "2026-06-30"), mandate("m2", "ben", "2026-07-01", "")}
	for name, row := range map[string]struct {
		m            mandates
		who          people.ID
		paper, today string
		office       bool
		refused      bool
	}{
		"before the club's first mandate treasurers sign":      {of2026, "cy", "2026-02-28", "2026-02-28", false, false},
		"from its first day on they do not":                    {of2026, "cy", "2026-03-01", "2026-03-01", false, true},
		"nobody was ever appointed":                            {nil, "cy", "2026-03-01", "2026-03-01", false, false},
		"at the machine, without mandates":                     {nil, "", "2026-03-01", "2026-03-01", false, false},
		"at the machine nobody has one":                        {of2026, "", "2026-03-01", "2026-03-01", false, true},
		"the first day":                                        {of2026, "ada", "2026-03-01", "2026-03-01", true, false},
		"the last day":                                         {of2026, "ada", "2026-06-30", "2026-06-30", true, false},
		"the day after it":                                     {of2026, "ada", "2026-07-01", "2026-07-01", false, true},
		"the day before the first":                             {of2026, "ben", "2026-06-30", "2026-06-30", false, true},
		"a paper dated back into a mandate that has ended":     {of2026, "ada", "2026-06-30", "2026-07-01", false, true},
		"a paper dated before one's own mandate":               {of2026, "ben", "2026-06-30", "2026-07-01", false, true},
		"dated back to before all mandates, without one today": {of2026, "cy", "2026-02-28", "2026-07-01", false, true},
		"dated back to before all mandates, with one today":    {of2026, "ben", "2026-02-28", "2026-07-01", false, false},
		"without a last day it goes on":                        {of2026, "ben", "2031-01-01", "2031-01-01", true, false},
		"one that was ended before it began binds nobody":      {mandates{mandate("m1", "ada", "2026-03-01", "2026-02-28")}, "cy", "2026-03-01", "2026-03-01", false, false},
	} {
		given, err := row.m.sign(row.who, clock.MustDate(row.paper), clock.MustDate(row.today))
		assert.Equal(t, row.office, given != nil, name)
		if row.refused {
			faulttest.Want(t, err, fault.Forbidden, "", name)
			assert.ErrorContains(t, err, "no mandate to sign papers on", name)
		} else {
			assert.NoError(t, err, name)
		}
	}
}

func TestMandatesAreGivenAndEnded(t *testing.T) {
	m := mandates{mandate("m1", "ada", "2026-03-01", "2026-06-30"), mandate("m2", "ben", "2026-07-01", "")}
	give := func(who people.ID, from, to string) error {
		g := mandate("m3", who, from, to)
		_, err := m.give(message.GiveMandate{Mandate: g.Mandate, Person: who, Office: g.Office, From: g.From, To: g.To})
		return err
	}
	assert.NoError(t, give("ada", "2026-07-01", ""), "the day after the last")
	assert.NoError(t, give("ada", "2026-01-01", "2026-02-28"))
	assert.NoError(t, give("cy", "2026-03-01", "2026-03-01"), "of one day")
	faulttest.Want(t, give("ada", "2026-06-30", ""), fault.Conflict, "from")
	faulttest.Want(t, give("ada", "2026-01-01", "2026-03-01"), fault.Conflict, "from")
	faulttest.Want(t, give("ben", "2031-01-01", ""), fault.Conflict, "from")
	faulttest.Want(t, give("cy", "2026-03-02", "2026-03-01"), fault.Invalid, "to")
	faulttest.Want(t, give("cy", "1949-12-31", ""), fault.Invalid, "from")

	end := func(id, to, today string) error {
		_, err := m.end(message.EndMandate{Mandate: id, To: clock.MustDate(to), Why: "moved away"}, clock.MustDate(today))
		return err
	}
	assert.NoError(t, end("m1", "2026-06-29", "2026-04-01"))
	assert.NoError(t, end("m2", "2026-07-31", "2026-08-01"), "yesterday")
	assert.NoError(t, end("m2", "2026-06-30", "2026-06-01"), "before it begins")
	faulttest.Want(t, end("m2", "2026-07-30", "2026-08-01"), fault.Invalid, "to", "the day before yesterday")
	faulttest.Want(t, end("m1", "2026-06-30", "2026-04-01"), fault.Invalid, "to", "the same day")
	faulttest.Want(t, end("m1", "2026-06-30", "2026-07-01"), fault.Conflict, "to", "it has ended")
	faulttest.Want(t, end("m9", "2026-06-30", "2026-04-01"), fault.Unknown, "mandate")
}

// How many sign above which amount is the club's own rule; no law of the covered
// countries sets it.
func TestTwoSignAboveTheClubsAmount(t *testing.T) {
	limit := money.Of(100_000, "USD")
	valued := func(minor int64, c money.Currency) gift { return gift{worth: &worth{amount: money.Of(minor, c)}} }
	for name, row := range map[string]struct {
		g    gift
		want bool
	}{
		"at the amount":                   {valued(100_000, "USD"), false},
		"a cent above":                    {valued(100_001, "USD"), true},
		"nothing is known":                {gift{}, false},
		"the claim alone, at it":          {gift{claim: &message.ClaimStated{Claim: limit}}, false},
		"the claim alone, a cent above":   {gift{claim: &message.ClaimStated{Claim: money.Of(100_001, "USD")}}, true},
		"the price, at it":                {gift{sold: &message.BoatSold{Gross: limit}}, false},
		"the price, a cent above":         {gift{sold: &message.BoatSold{Gross: money.Of(100_001, "USD")}}, true},
		"the appraisal, at it":            {gift{appraised: &appraised{value: limit}}, false},
		"the appraisal, a cent above":     {gift{appraised: &appraised{value: money.Of(100_001, "USD")}}, true},
		"a small value in other currency": {valued(1, "CAD"), true},
	} {
		assert.Equal(t, row.want, row.g.above(limit), name)
	}
}
