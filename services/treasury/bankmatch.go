package treasury

import (
	"cmp"
	"slices"

	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// bankDays is how many days a bank may take until it shows what the books say, or the
// books until they say what the bank shows (common practice, no source).
const bankDays = 10

// propose pairs rows with postings of the same amount that lie at most so many days
// apart, the nearest first. Each is in one pair at most; what could be in another as
// well is marked, and a person decides.
func propose(rows []message.BankRow, postings []message.CashPosting) (pairs []message.BankPair, restRows []message.BankRow, restPostings []message.CashPosting) {
	byAmount := map[money.Amount][]int{}
	for i, p := range postings {
		byAmount[p.Amount] = append(byAmount[p.Amount], i)
	}
	type near struct{ row, posting, days int }
	var all []near
	fitsRow, fitsPosting := map[int]int{}, map[int]int{}
	for r, row := range rows {
		for _, p := range byAmount[row.Amount] {
			days := row.On.DaysSince(postings[p].On)
			if days = max(days, -days); days <= bankDays {
				all = append(all, near{r, p, days})
				fitsRow[r]++
				fitsPosting[p]++
			}
		}
	}
	slices.SortStableFunc(all, func(a, b near) int {
		return cmp.Or(cmp.Compare(a.days, b.days), cmp.Compare(a.row, b.row), cmp.Compare(a.posting, b.posting))
	})
	rowTaken, postingTaken := map[int]bool{}, map[int]bool{}
	for _, n := range all {
		if rowTaken[n.row] || postingTaken[n.posting] {
			continue
		}
		rowTaken[n.row], postingTaken[n.posting] = true, true
		pairs = append(pairs, message.BankPair{Row: rows[n.row], Posting: postings[n.posting], Others: fitsRow[n.row] > 1 || fitsPosting[n.posting] > 1})
	}
	slices.SortStableFunc(pairs, func(a, b message.BankPair) int { return a.Row.On.Compare(b.Row.On) })
	for i, r := range rows {
		if !rowTaken[i] {
			restRows = append(restRows, r)
		}
	}
	for i, p := range postings {
		if !postingTaken[i] {
			restPostings = append(restPostings, p)
		}
	}
	return pairs, restRows, restPostings
}
