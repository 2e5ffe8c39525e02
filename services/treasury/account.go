package treasury

import (
	"fmt"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// The accounts. Their names stand in the book for ever.
const (
	cash           = "cash"
	costAccount    = "boat:cost"         // paid for boats themselves
	parts          = "boat:parts"        // parts and consumables
	outside        = "boat:outside work" // what others did for money
	fees           = "boat:fees"
	recovered      = "boat:recovered"        // what came back: refunds, parts sold on or kept
	stock          = "stock"                 // what lies in the bins
	losses         = "stock losses"          // spoiled, lost, counted wrong
	pockets        = "gifts of volunteers"   // what members did not want back
	volunteerCosts = "volunteer costs"       // what members laid out, for no boat
	boatVolunteer  = "boat:volunteer costs"  // what members laid out for a boat outside the workshop
	giftAccount    = "boat:gift in kind"     // gifts, at their value on the day
	contributed    = "contributions in kind" // the other side of it
	partsGiven     = "gift of parts"         // parts that donors paid for
	owed           = "owed to volunteers"
	sales          = "sales"
	boatLosses     = "boat losses"       // boats that are missing or worth less
	writtenDown    = "boat:written down" // the other side of it
)

// settledMark begins the id of the entry that ends a debt to a member; the id of the
// entry that made the debt follows.
const settledMark = "settled-"

// paidFrom gives the account from which a part is paid. A payer that is not
// known here owes nobody anything and is taken for the club.
func paidFrom(p message.Payer) string {
	switch p {
	case message.DonorPays:
		return partsGiven
	case message.OwnPocket:
		return owed
	}
	return cash
}

// workshopAccounts are what a boat cost in the workshop and outside it, beside its price, less
// what came back.
var workshopAccounts = []string{parts, outside, fees, boatVolunteer, recovered}

// spentOn gives the account on which spending on a boat is kept. What is not known
// here is taken for a part.
func spentOn(what message.Spending) string {
	switch what {
	case message.ForOutside:
		return outside
	case message.ForFee:
		return fees
	}
	return parts
}

// entry makes an entry of two lines.
func entry(of boat.ID, id string, on clock.Date, words, debit, credit string, amount money.Amount) message.EntryPosted {
	return message.EntryPosted{Boat: of, Entry: id, On: on, Words: words, Lines: []message.EntryLine{
		{Account: debit, Amount: amount}, {Account: credit, Amount: amount.Neg()},
	}}
}

// opposite makes the entry that takes another one back.
func opposite(e message.EntryPosted, on clock.Date, words string) message.EntryPosted {
	back := message.EntryPosted{Boat: e.Boat, Entry: e.Entry + "-back", On: on, Words: words, Reverses: e.Entry}
	for _, l := range e.Lines {
		back.Lines = append(back.Lines, message.EntryLine{Account: l.Account, Amount: l.Amount.Neg()})
	}
	return back
}

// balanced refuses an entry that does not come to zero in every currency, or
// that moves nothing.
func balanced(e message.EntryPosted) error {
	sums := map[money.Currency]money.Amount{}
	for _, l := range e.Lines {
		if l.Amount.IsZero() || l.Account == "" {
			return fault.New(fault.Internal, "the entry %s has a line without an account or an amount", e.Entry)
		}
		sum, err := sums[l.Amount.Currency].Add(l.Amount)
		if err != nil {
			return fmt.Errorf("the entry %s: %w", e.Entry, err)
		}
		sums[l.Amount.Currency] = sum
	}
	for _, sum := range sums {
		if !sum.IsZero() {
			return fault.New(fault.Internal, "the entry %s does not balance: %s is left over", e.Entry, sum)
		}
	}
	if len(e.Lines) < 2 {
		return fault.New(fault.Internal, "the entry %s has fewer than two lines", e.Entry)
	}
	return nil
}
