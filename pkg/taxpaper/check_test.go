package taxpaper

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"refloat.example/pkg/clock"
)

func TestGiftsThatContradictThemselvesAreRefused(t *testing.T) {
	boat := func(changes ...change) Gift { return of(US, Boat, "2026-03-28", changes...) }
	set := func(f func(*Gift)) Gift { return boat(fair(100), f) }
	for _, c := range []struct {
		field string
		gift  Gift
	}{
		{"country", of("FR", Boat, "2026-03-28")},
		{"what", of(US, "car", "2026-03-28")},
		{"gift_date", Gift{Country: US, What: Boat}},
		{"certified", boat(certified("7"))},
		{"benefit.kind", boat(benefit("dinner", 1))},
		{"improvement.paid_by", boat(workBy("city", true, "deck"))},
		{"history[1].serial", boat(earlier("a", "2026-04-01"), earlier("", "2026-04-02"))},
		{"amount", boat(pays(-1))},
		{"fair_value", boat(fair(-1))},
		{"fair_value", boat(fair(maxAmount + 1))},
		{"paid", boat(paid(-1))},
		{"claims", boat(claims(-1))},
		{"similar_this_year", boat(similar(-1))},
		{"cost", boat(bought("2026-01-01", -1))},
		{"appraisal.value", boat(appraised(-1))},
		{"sold.gross", boat(sold("2026-04-18", -1))},
		{"needy.price", boat(needy("T. Reed", true, -1))},
		{"benefit.value", boat(benefit(Token, -1))},
		{"benefit.cost", boat(token(1, -1))},
		{"sold.date", boat(sold("2026-03-27", 1))},
		{"sold.date", set(func(g *Gift) { g.Sold = &Sale{} })},
		{"acknowledged", boat(acknowledged("2026-03-27"))},
		{"acquired", boat(bought("2026-03-29", 1))},
		{"use.from", boat(use("2026-03-27", "2026-05-01", "R. Alder"))},
		{"use.to", boat(use("2026-05-02", "2026-05-01", "R. Alder"))},
		{"use.to", set(func(g *Gift) { g.Use = &Use{To: clock.MustDate("2026-03-27")} })},
		{"acquired", of(CA, Boat, "2026-03-28", func(g *Gift) { g.Cost = ptr(int64(1)) })},
	} {
		_, err := Decide(c.gift)
		var misfit *Misfit
		require.ErrorAs(t, err, &misfit, c.field)
		assert.Equal(t, c.field, misfit.Field)
		assert.NotEmpty(t, misfit.Reason)
	}
}

func TestSameDayIsInOrder(t *testing.T) {
	_, err := Decide(of(US, Boat, "2026-03-28", fair(1), sold("2026-03-28", 1), acknowledged("2026-03-28"), bought("2026-03-28", 1), use("2026-03-28", "2026-03-28", "R. Alder")))
	assert.NoError(t, err)
}

// Whatever is given: a no says why, a donor never gets a cap above the value,
// and what is kept is kept past the year of the gift.
func TestAnyGift(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := of(rapid.SampledFrom([]string{US, CA, UK}).Draw(t, "country"), rapid.SampledFrom([]string{Boat, Goods, Cash}).Draw(t, "what"), "2026-03-28")
		amount := rapid.Int64Range(0, maxAmount)
		g.Amount, g.Paid, g.SimilarThisYear = amount.Draw(t, "amount"), amount.Draw(t, "paid"), amount.Draw(t, "similar")
		g.FairValue, g.Claims = rapid.Ptr(amount, true).Draw(t, "fair"), rapid.Ptr(amount, true).Draw(t, "claims")
		if rapid.Bool().Draw(t, "sold") {
			sold(clock.MustDate("2026-03-28").AddDays(rapid.IntRange(0, 2000).Draw(t, "days")).String(), amount.Draw(t, "gross"))(&g)
		}
		if rapid.Bool().Draw(t, "benefit") {
			benefit(Thing, amount.Draw(t, "benefit value"))(&g)
		}
		l, err := Decide(g)
		require.NoError(t, err)
		assert.Equal(t, l.Receipt == "no", l.WhyNot != nil)
		if l.Cap != nil {
			assert.LessOrEqual(t, *l.Cap, *g.FairValue)
			assert.GreaterOrEqual(t, *l.Cap, int64(0))
		}
		if l.Eligible != nil {
			assert.GreaterOrEqual(t, *l.Eligible, int64(0))
		}
		assert.GreaterOrEqual(t, l.KeepUntil, "2033-12-31")
		for _, p := range l.Papers {
			assert.NotNil(t, p.Copies)
			assert.NotNil(t, p.Boxes)
		}
	})
}
