package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/money"
)

// SealBank is what stands on a bank row in words, BankWords, under a key of the row's
// year: BankKey.
const SealBank = "bank.words"

// BankKey names the key under which the words of a year's bank rows are sealed.
func BankKey(on clock.Date) string { return "bank/" + on.String()[:4] }

// BankWords is what a bank writes beside an amount. It often names people.
type BankWords struct {
	Text      string `json:"text,omitempty"`
	Reference string `json:"reference,omitempty"`
}

// BankRowRead is said when a movement on the club's bank account is read from a file
// of the bank's. It is not said again of a row that was read before, whatever file it
// stands in.
type BankRowRead struct {
	v1
	Row    string       `json:"row"`
	On     clock.Date   `json:"on"`
	Amount money.Amount `json:"amount"` // that came in; what went out is negative
	Sealed string       `json:"sealed"` // BankWords
}

// Kind is constant.
func (BankRowRead) Kind() Kind { return "treasury.bank-row-read" }

// BankRowMatched is said when a treasurer confirms that a row on the bank's list is a
// posting of cash in the books. It is not said of what the program proposes.
type BankRowMatched struct {
	v1
	Row string `json:"row"`
	Posting
}

// Posting names an entry: of a boat's book, or of a bin's where there is no boat.
type Posting struct {
	Boat  boat.ID `json:"boat,omitempty"`
	Entry string  `json:"entry"`
}

// Kind is constant.
func (BankRowMatched) Kind() Kind { return "treasury.bank-row-matched" }

// BankRowSetAside is said when a row is none of these books': fees, dues, what other
// books hold.
type BankRowSetAside struct {
	v1
	Row string `json:"row"`
	Why string `json:"why"`
}

// Kind is constant.
func (BankRowSetAside) Kind() Kind { return "treasury.bank-row-set-aside" }

// BankRowFreed is said when what was confirmed of a row, or its being set aside, does
// not hold.
type BankRowFreed struct {
	v1
	Row     string   `json:"row"`
	Posting *Posting `json:"posting,omitempty"` // that it was matched with
}

// Kind is constant.
func (BankRowFreed) Kind() Kind { return "treasury.bank-row-freed" }

var (
	_ = declare[BankRowRead]()
	_ = declare[BankRowMatched]()
	_ = declare[BankRowSetAside]()
	_ = declare[BankRowFreed]()
)

// TreasuryBankRow is the stream of a row on the bank's list.
func TreasuryBankRow(id string) string { return "treasury.bank-row/" + id }

// TreasuryPosting is the stream of what an entry was matched with, so that it is never
// matched twice.
func TreasuryPosting(p Posting) string {
	return "treasury.posting/" + string(p.Boat) + "+" + p.Entry
}

// The commands about bank rows. All are the treasurer's.
type (
	// ReadBank reads a file of the bank's. Rows that were read before change nothing.
	ReadBank struct {
		File    string `json:"file"`              // comma-separated values
		Decimal string `json:"decimal,omitempty"` // comma, point; empty: as the file shows
		Order   string `json:"order,omitempty"`   // day first, month first; empty: as the file shows
	}
	// MatchBankRow confirms that a row is an entry's cash. Both are of one amount.
	MatchBankRow struct {
		Row string `json:"row"`
		Posting
	}
	// SetBankRowAside says that a row is none of these books'.
	SetBankRowAside struct {
		Row string `json:"row"`
		Why string `json:"why"`
	}
	// FreeBankRow takes back what was said of a row.
	FreeBankRow struct {
		Row string `json:"row"`
	}
)

// Verb is constant.
func (ReadBank) Verb() string { return "treasury.read-bank" }

// Verb is constant.
func (MatchBankRow) Verb() string { return "treasury.match-bank-row" }

// Verb is constant.
func (SetBankRowAside) Verb() string { return "treasury.set-bank-row-aside" }

// Verb is constant.
func (FreeBankRow) Verb() string { return "treasury.free-bank-row" }

// BankList asks for the bank's rows and the postings of cash of a span of days, with what
// is matched, what may belong together and what is left over on either side. The treasurer
// or the auditor, to whom words are not shown. It answers with BankMatches.
type BankList struct {
	From clock.Date `json:"from"`
	To   clock.Date `json:"to"`
	// Row asks for one row instead, whatever its day, with the postings of its amount in
	// the year before and the year after it; From and To are then left out.
	Row string `json:"row,omitempty"`
}

// Verb is constant.
func (BankList) Verb() string { return "treasury.bank-list" }

// BankMatches is both sides of the bank account. At most 500 of each list are given;
// More says that there are others.
type BankMatches struct {
	From     clock.Date    `json:"from"`
	To       clock.Date    `json:"to"`
	Proposed []BankPair    `json:"proposed"`
	Matched  []BankPair    `json:"matched"`
	Rows     []BankRow     `json:"rows"`     // that nothing was found for
	Postings []CashPosting `json:"postings"` // that no row was found for
	Aside    []BankRow     `json:"aside"`
	More     bool          `json:"more,omitempty"`
}

// BankPair is a row and the posting that it is, or may be.
type BankPair struct {
	Row     BankRow     `json:"row"`
	Posting CashPosting `json:"posting"`
	// Others says that another row or posting would fit as well.
	Others bool `json:"others,omitempty"`
}

// BankRow is a row on the bank's list.
type BankRow struct {
	Row    string       `json:"row"`
	On     clock.Date   `json:"on"`
	Amount money.Amount `json:"amount"`
	BankWords
	Why string `json:"why,omitempty"` // it was set aside
}

// CashPosting is what an entry moved on the account of cash.
type CashPosting struct {
	Posting
	On     clock.Date   `json:"on"`
	Amount money.Amount `json:"amount"`
	Words  string       `json:"words"`
}
