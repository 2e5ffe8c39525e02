package taxpaper

import (
	"fmt"

	"refloat.example/pkg/clock"
)

// A Misfit is a gift that contradicts itself. Field is the path of what is to
// blame, in the words of the calculator's input ("sold.date").
type Misfit struct{ Field, Reason string }

func (m *Misfit) Error() string { return m.Field + ": " + m.Reason }

// maxAmount bounds every amount, in minor units, so that no percentage of it
// overflows.
const maxAmount = 1_000_000_000_000_000

func (g Gift) check() error {
	for _, find := range []func() *Misfit{g.checkWords, g.checkAmounts, g.checkDates, g.checkTogether} {
		if m := find(); m != nil {
			return m
		}
	}
	return nil
}

func (g Gift) checkWords() *Misfit {
	switch {
	case g.Country != US && g.Country != CA && g.Country != UK:
		return &Misfit{"country", "must be one of US, CA, UK"}
	case g.What != Boat && g.What != Goods && g.What != Cash:
		return &Misfit{"what", "must be one of boat, goods, cash"}
	case g.Date.IsZero():
		return &Misfit{"gift_date", "missing"}
	case g.Certified != "" && g.Certified != "4a" && g.Certified != "5a" && g.Certified != "5b":
		return &Misfit{"certified", "must be one of 4a, 5a, 5b"}
	case g.Benefit != nil && g.Benefit.Kind != Token && g.Benefit.Kind != Thing && g.Benefit.Kind != Service:
		return &Misfit{"benefit.kind", "must be one of token, goods, service"}
	case g.Improvement != nil && g.Improvement.PaidBy != "club" && g.Improvement.PaidBy != "donor":
		return &Misfit{"improvement.paid_by", "must be one of club, donor"}
	}
	for i, paper := range g.History {
		if paper.Serial == "" {
			return &Misfit{fmt.Sprintf("history[%d].serial", i), "must not be empty"}
		}
	}
	return nil
}

func (g Gift) checkAmounts() *Misfit {
	for _, a := range g.amounts() {
		if a.minor == nil {
			continue
		}
		if *a.minor < 0 {
			return &Misfit{a.field, "must not be negative"}
		}
		if *a.minor > maxAmount {
			return &Misfit{a.field, fmt.Sprintf("must not be greater than %d", int64(maxAmount))}
		}
	}
	return nil
}

type namedAmount struct {
	field string
	minor *int64
}

func (g Gift) amounts() []namedAmount {
	amounts := []namedAmount{
		{"amount", &g.Amount}, {"fair_value", g.FairValue}, {"paid", &g.Paid}, {"claims", g.Claims},
		{"similar_this_year", &g.SimilarThisYear}, {"cost", g.Cost},
	}
	if g.Appraisal != nil {
		amounts = append(amounts, namedAmount{"appraisal.value", &g.Appraisal.Value})
	}
	if g.Sold != nil {
		amounts = append(amounts, namedAmount{"sold.gross", &g.Sold.Gross})
	}
	if g.Needy != nil {
		amounts = append(amounts, namedAmount{"needy.price", &g.Needy.Price})
	}
	if g.Benefit != nil {
		amounts = append(amounts, namedAmount{"benefit.value", &g.Benefit.Value}, namedAmount{"benefit.cost", g.Benefit.Cost})
	}
	return amounts
}

func (g Gift) checkDates() *Misfit {
	before := func(d clock.Date) bool { return !d.IsZero() && d.Before(g.Date) }
	switch {
	case g.Sold != nil && g.Sold.Date.IsZero():
		return &Misfit{"sold.date", "missing"}
	case g.Sold != nil && before(g.Sold.Date):
		return &Misfit{"sold.date", "lies before the gift"}
	case before(g.Acknowledged):
		return &Misfit{"acknowledged", "lies before the gift"}
	case g.Acquired.After(g.Date):
		return &Misfit{"acquired", "lies after the gift"}
	case g.Use == nil:
		return nil
	case before(g.Use.From):
		return &Misfit{"use.from", "lies before the gift"}
	case before(g.Use.To) || !g.Use.To.IsZero() && g.Use.To.Before(g.Use.From):
		return &Misfit{"use.to", "lies before the use begins"}
	}
	return nil
}

// checkTogether refuses a Canadian cost without its date: whether it counts
// cannot be guessed. A date without a cost leaves the value unknown where the
// cost counts.
func (g Gift) checkTogether() *Misfit {
	if g.Country == CA && g.What != Cash && g.Cost != nil && g.Acquired.IsZero() {
		return &Misfit{"acquired", "is needed with cost"}
	}
	return nil
}
