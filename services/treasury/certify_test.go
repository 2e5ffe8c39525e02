package treasury

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// The instructions of Form 1098-C presume a certificate false when the boat is sold
// within six months of the gift without what it certifies; IRC 6720 is shown in both
// readings, with 37 percent for gifts from 2018 on and 5,000 USD at least.
func TestASaleUnderACertificateIsWarnedOf(t *testing.T) {
	sale := func(on string) *message.BoatSold {
		return &message.BoatSold{On: clock.MustDate(on), Gross: money.Of(130_000, "USD"), ArmsLength: true}
	}
	used := func(to string) map[message.Exception]message.ExceptionStated {
		return map[message.Exception]message.ExceptionStated{message.Used: {Sort: message.Used, Use: "the fleet", By: "m1", From: clock.MustDate("2026-03-28"), To: clock.MustDate(to)}}
	}
	base := gift{record: record{boat: "b1", name: "Heron", taking: message.Gift, received: clock.MustDate("2026-03-28"), facts: message.BoatFacts{Type: boat.Canoe}},
		worth: &worth{amount: money.Of(160_000, "USD")}, claim: &message.ClaimStated{Claim: money.Of(160_000, "USD")}}
	const presumed, penalty = "presumed false", "IRC 6720"
	for name, row := range map[string]struct {
		box      string
		on       string
		excepted map[message.Exception]message.ExceptionStated
		says     []string
		not      []string
	}{
		"no certificate":                   {"", "2026-04-18", nil, nil, nil},
		"of the sale itself":               {"4a", "2026-04-18", nil, nil, nil},
		"5a, the last day of six months":   {"5a", "2026-09-28", nil, []string{presumed, penalty, "(1300.00 USD)", "(5000.00 USD)", "box 4a within 30 days"}, nil},
		"5a, the day after":                {"5a", "2026-09-29", nil, []string{penalty}, []string{presumed}},
		"5b, never placed":                 {"5b", "2026-04-18", nil, []string{presumed, penalty, "person in need"}, nil},
		"5a, sold before the use was over": {"5a", "2026-09-01", used("2026-09-02"), []string{presumed, penalty}, nil},
		"5a, sold on the last day of use":  {"5a", "2026-09-02", used("2026-09-02"), []string{"make sure that it is completed"}, []string{presumed, penalty}},
	} {
		g := base
		g.certified, g.sold, g.excepted = row.box, sale(row.on), row.excepted
		words := certificateWords(g, "US-2026-0007")
		assert.Equal(t, row.says == nil, words == "", name)
		for _, part := range row.says {
			assert.Contains(t, words, part, name)
		}
		for _, part := range row.not {
			assert.NotContains(t, words, part, name)
		}
	}
}

func TestWhichBoxAPaperCertifies(t *testing.T) {
	for decision, want := range map[string]string{
		`{"papers":[{"boxes":{"4a":true}}]}`:           "4a",
		`{"papers":[{"boxes":{"5a":true,"5b":true}}]}`: "5a",
		`{"papers":[{"boxes":{"5b":true}}]}`:           "5b",
		`{"papers":[{"boxes":{"6a":false,"7":true}}]}`: "",
		`{"papers":[]}`: "",
	} {
		box, err := certifiedBox(decision)
		require.NoError(t, err)
		assert.Equal(t, want, box, decision)
	}
}
