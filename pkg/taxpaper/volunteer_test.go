package taxpaper

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

type expensesExample struct {
	name, source string
	expenses     Expenses
	want         string
}

// 26 CFR 1.170A-13(f)(10) and (f)(2), from memory; 26 CFR 1.170A-1(g); IRC 170(f)(8)(C) for
// the day; CRA policy CPC-025 and HMRC's guidance on Gift Aid, from memory.
var volunteers = []expensesExample{
	{"250 USD", "(f)(10): 250 USD or more", Expenses{Country: US, Year: 2026, Amount: 25_000},
		"yes | letter on a volunteer's expenses {} 2027-04-15 | keep 2034-12-31"},
	{"a cent less", "(f)(10)", Expenses{Country: US, Year: 2026, Amount: 24_999},
		"no | why: below 250 USD of unreimbursed expenses no acknowledgment is required: the member's own records do | keep 2033-12-31"},
	{"nothing", "(f)(10)", Expenses{Country: US, Year: 2026},
		"no | why: below 250 USD of unreimbursed expenses no acknowledgment is required: the member's own records do | keep 2033-12-31"},
	{"before the rule", "from 16 December 1996 (from memory)", Expenses{Country: US, Year: 1995, Amount: 90_000},
		"no | why: the tables have no rule for this date | keep 2002-12-31 | ! table-year-missing"},
	{"Canada", "CPC-025", Expenses{Country: CA, Year: 2026, Amount: 90_000},
		"no | why: " + caExpenses + " (CRA policy CPC-025, from memory) | keep 2033-12-31"},
	{"the United Kingdom", "ITA 2007 s. 416", Expenses{Country: UK, Year: 2026, Amount: 90_000},
		"no | why: " + ukExpenses + " (ITA 2007 s. 416: a payment of a sum of money; that costs are none, from memory) | keep 2033-12-31"},
}

func TestWhatVolunteersLayOut(t *testing.T) {
	for _, e := range volunteers {
		l, err := DecideExpenses(e.expenses)
		require.NoError(t, err, e.name)
		assert.Equal(t, e.want, summary(l), "%s (%s)", e.name, e.source)
	}
}

// 26 CFR 1.170A-13(f)(2)(iii) and (iv), from memory: what was given in return, and a
// good-faith estimate of it. Its amount is the only one on the letter.
func TestTheLetterOnExpensesSaysWhatWasGivenInReturn(t *testing.T) {
	for want, given := range map[string]*Benefit{
		"The club gave no goods or services in return for these unreimbursed expenses.":        nil,
		"In return the club gave goods; in good faith it estimates the value at 25.00 USD.":    {Kind: Thing, Value: 2_500},
		"In return the club gave services; in good faith it estimates the value at 90.00 USD.": {Kind: Service, Value: 9_000},
	} {
		l, err := DecideExpenses(Expenses{Country: US, Year: 2026, Amount: 31_234, Benefit: given})
		require.NoError(t, err)
		require.Len(t, l.Papers, 1)
		assert.Contains(t, l.Papers[0].Says, want)
		assert.Empty(t, l.Papers[0].Boxes)
		for _, says := range l.Papers[0].Says {
			assert.NotContains(t, says, "312.34")
		}
	}
}

func TestExpensesThatContradictThemselvesAreRefused(t *testing.T) {
	for field, e := range map[string]Expenses{
		"country": {Country: "FR", Year: 2026}, "amount": {Country: US, Year: 2026, Amount: -1},
		"benefit.kind": {Country: US, Year: 2026, Benefit: &Benefit{Kind: "praise"}},
	} {
		_, err := DecideExpenses(e)
		var misfit *Misfit
		require.ErrorAs(t, err, &misfit, field)
		assert.Equal(t, field, misfit.Field)
	}
}

func TestAmountsOfMoneyAreFound(t *testing.T) {
	for _, words := range []string{"fuel for 40 USD", "bought $5 of tape", "cost USD 12", "12,50 euros of paint", "£3 ferry", "paid 20 dollars"} {
		assert.NotEmpty(t, SaysMoney(words), words)
	}
	for _, words := range []string{"carried 40 pounds of sand", "centred 3 keels", "boat 12 and boat 13"} {
		assert.Empty(t, SaysMoney(words), words)
	}
}

// Which words speak of time is ours; that a paper must not is 26 CFR 1.170A-1(g).
func TestWordsThatCountTimeAreFound(t *testing.T) {
	for _, words := range []string{
		"fetched boats, 3 hours", "Hours worked on the trailer", "helped for an hour", "20 minutes of welding", "1.5 hrs at the slip", "2h in the yard", "2 h 30", "45 min", "1:30 at the lathe",
		"two days at the regatta", "a day of sanding", "half a day of sanding", "3-day course", "a weekend in the workshop", "five evenings of teaching", "work at an hourly rate", "overtime", "wages of a helper", "4 man-days",
	} {
		assert.NotEmpty(t, SaysTime(words), words)
	}
	for _, words := range []string{
		"fetched donated boats with the club's trailer", "safety boat at the open day", "taught beginners on Saturdays", "repaired hull no. 2 with 4 m of cord", "drove to the 24-foot canoe's giver", "minding the stores", "today's stand at the market", "sanding and welding",
		"drove 12 km", "mending 3 boats",
	} {
		assert.Empty(t, SaysTime(words), words)
	}
}
