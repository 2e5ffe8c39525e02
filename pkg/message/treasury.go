package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// EntryPosted is said when money moved for a boat. Lines balance to zero in
// every currency; a mistake is mended by the opposite entry and a right one.
type EntryPosted struct {
	v2
	Boat  boat.ID    `json:"boat"`
	Entry string     `json:"entry"`
	On    clock.Date `json:"on"`
	// Happened is the day of what it is about, where the books of that day were
	// closed and it is posted later; otherwise missing. Schema 1 had none.
	Happened clock.Date  `json:"happened,omitzero"`
	Words    string      `json:"words"`
	Lines    []EntryLine `json:"lines"`
	// Reverses is the entry that this one takes back.
	Reverses string `json:"reverses,omitempty"`
}

// EntryLine is one account's share of an entry; debits are positive.
type EntryLine struct {
	Account string       `json:"account"`
	Amount  money.Amount `json:"amount"`
}

// Kind is constant.
func (EntryPosted) Kind() Kind { return "treasury.entry-posted" }

// BoatSold is said when the club sells a boat instead of placing it.
type BoatSold struct {
	v1
	Boat       boat.ID      `json:"boat"`
	On         clock.Date   `json:"on"`
	Gross      money.Amount `json:"gross"`
	ArmsLength bool         `json:"arms_length"`
	Auction    bool         `json:"auction"`
}

// Kind is constant.
func (BoatSold) Kind() Kind { return "treasury.boat-sold" }

// ClaimStated is said when a donor answered what they mean to claim for a gift
// and, where the country asks for it, how they came by the boat.
type ClaimStated struct {
	v1
	Boat  boat.ID      `json:"boat"`
	Claim money.Amount `json:"claim"`
	On    clock.Date   `json:"on"`
	DonorsCost
}

// DonorsCost is what a donor paid for the boat, and when. In Canada it bounds
// the value on a receipt when that was not long before the gift. Without a day
// nothing is known.
type DonorsCost struct {
	Cost     money.Amount `json:"cost,omitzero"`
	Acquired clock.Date   `json:"acquired,omitzero"`
	// ToGive says that giving it away was a main reason to acquire it.
	ToGive bool `json:"acquired_to_give,omitempty"`
}

// Kind is constant.
func (ClaimStated) Kind() Kind { return "treasury.claim-stated" }

// Exception says by what the value of a US boat counts instead of the price that
// it fetched (IRC 170(f)(12)(B)(iv)).
type Exception string

// The exceptions, as a member attests them.
const (
	Improved Exception = "material improvement"
	Used     Exception = "significant use"
	Placed   Exception = "placement with a person in need"
)

// Exceptions lists them.
var Exceptions = []Exception{Improved, Used, Placed}

// ExceptionStated is said when a member attests one. It takes the place of what
// was stated of the same sort before.
type ExceptionStated struct {
	v1
	Boat boat.ID    `json:"boat"`
	Sort Exception  `json:"sort"`
	By   people.ID  `json:"by,omitempty"` // who attests; none: at the machine
	On   clock.Date `json:"on"`
	// Work is what an improvement consists of. It is major, and the club's money.
	Work []string `json:"work,omitempty"`
	// Use, From and To: what the club uses the boat for. It furthers what the club
	// does regularly, and is significant.
	Use  string     `json:"use,omitempty"`
	From clock.Date `json:"from,omitzero"`
	To   clock.Date `json:"to,omitzero"`
	// Price is what a person in need of a means of transportation pays.
	Price money.Amount `json:"price,omitzero"`
}

// Kind is constant.
func (ExceptionStated) Kind() Kind { return "treasury.exception-stated" }

// ExceptionWithdrawn is said when an exception that was stated does not hold.
type ExceptionWithdrawn struct {
	v1
	Boat boat.ID   `json:"boat"`
	Sort Exception `json:"sort"`
	Why  string    `json:"why"`
}

// Kind is constant.
func (ExceptionWithdrawn) Kind() Kind { return "treasury.exception-withdrawn" }

// PaperIssued is said when a donor's paper gets its serial. The event stands in
// the stream of its series, whose version is the serial's number: that is why
// the series has no gaps.
type PaperIssued struct {
	v2
	Paper  string  `json:"paper"`
	Serial string  `json:"serial"`
	Boat   boat.ID `json:"boat"`
	// CostsOf is the year of a volunteer's costs, where the paper is about those: then there
	// is no boat. Schema 1 had none.
	CostsOf int       `json:"costs_of,omitempty"`
	Donor   people.ID `json:"donor"`
	Country string    `json:"country"`
	Names   []string  `json:"names"` // which papers: 1098-C, 170(f)(8) letter …
	// Sealed is PaperContent under the paper's own key, so that the paper can be
	// printed again for as long as it must be kept, and no longer.
	Sealed string     `json:"sealed"`
	Salt   string     `json:"salt"`    // printed on the paper
	Digest string     `json:"digest"`  // SHA-256 over salt and content, in hexadecimal
	Due    clock.Date `json:"due"`     // when the donor must have it
	KeepTo clock.Date `json:"keep_to"` // the last day on which it must be kept
	// Template is the version of the layout; a printed paper never changes.
	Template int        `json:"template"`
	On       clock.Date `json:"on"`
	// Decision is the letter calculator's output as text.
	Decision string `json:"decision"`
	// Replaces is the serial of a cancelled paper.
	Replaces string `json:"replaces,omitempty"`
}

// PaperNoted is said together with PaperIssued, in the boat's stream and in the
// paper's own, so that one boat cannot get two papers at one moment, nor one id
// stand for two papers. It concerns the treasury room alone.
type PaperNoted struct {
	v1
	Boat   boat.ID   `json:"boat"`
	Paper  string    `json:"paper"`
	Serial string    `json:"serial"`
	Donor  people.ID `json:"donor"`
}

// Kind is constant.
func (PaperNoted) Kind() Kind { return "treasury.paper-noted" }

// Kind is constant.
func (PaperIssued) Kind() Kind { return "treasury.paper-issued" }

// PaperLodged is said together with PaperIssued, in the paper's own stream: it is
// what whoever holds the paper can hold it against. It names nobody, and is small,
// so that a proof of it can be handed out. Papers of the first layout have none.
type PaperLodged struct {
	v1
	Serial string     `json:"serial"`
	On     clock.Date `json:"on"`
	Digest string     `json:"digest"`      // as in PaperIssued
	File   string     `json:"file_digest"` // SHA-256 of the PDF as it was issued, in hexadecimal; the salt stands in it
}

// Kind is constant.
func (PaperLodged) Kind() Kind { return "treasury.paper-lodged" }

// PaperCancelled is said when an issued paper is void; its serial stays used.
type PaperCancelled struct {
	v1
	Paper  string  `json:"paper"`
	Serial string  `json:"serial"`
	Boat   boat.ID `json:"boat"`
	Why    string  `json:"why"`
}

// Kind is constant.
func (PaperCancelled) Kind() Kind { return "treasury.paper-cancelled" }

// PeriodClosed is said when the treasurer closes the books up to a day. No entry is
// posted on that day or before any more: what is learned later is posted on the
// first day that is open, and says of which day it is.
type PeriodClosed struct {
	v1
	Upto  clock.Date `json:"upto"`
	Words string     `json:"words,omitempty"`
}

// Kind is constant.
func (PeriodClosed) Kind() Kind { return "treasury.period-closed" }

// PaperContent is what a paper says, word for word. It is sealed.
type PaperContent struct {
	Title      string      `json:"title"`
	Issuer     []string    `json:"issuer"`
	Donor      []string    `json:"donor"`
	Date       clock.Date  `json:"date"`
	Lines      []PaperLine `json:"lines"`
	Statements []string    `json:"statements"`
	Signatory  string      `json:"signatory"`
	// Second is who signed second, where the club wants two signatures.
	Second   string `json:"second,omitempty"`
	Language string `json:"language"`
	Format   string `json:"format"` // letter, A4
	// CheckAt is the address of the public page about the paper, empty on papers of
	// the first layout.
	CheckAt string `json:"check_at,omitempty"`
	// Book is what the club's book was when the paper was written, where it had a
	// checkpoint.
	Book *BookThen `json:"book,omitempty"`
}

// BookThen is a checkpoint of the book as a paper bears it.
type BookThen struct {
	Events int64  `json:"events"`
	Root   string `json:"root"` // in base64
	Key    string `json:"key"`  // the public key, as proof.Key
}

// PaperLine is a labelled line of a paper.
type PaperLine struct {
	Label string `json:"label"`
	Value string `json:"value"`
}

var (
	_ = declare[EntryPosted](onlyMore)
	_ = declare[BoatSold]()
	_ = declare[ClaimStated]()
	_ = declare[PaperIssued](onlyMore)
	_ = declare[PaperNoted]()
	_ = declare[PaperLodged]()
	_ = declare[PaperCancelled]()
	_ = declare[PeriodClosed]()
	_ = declare[ExceptionStated]()
	_ = declare[ExceptionWithdrawn]()
)

// The commands of the treasury room. All are a treasurer's.
type (
	// SellBoat records a sale.
	SellBoat struct {
		Boat       boat.ID      `json:"boat"`
		On         clock.Date   `json:"on"`
		Gross      money.Amount `json:"gross"`
		ArmsLength bool         `json:"arms_length"`
		Auction    bool         `json:"auction"`
		// CertifiedKnown says that whoever sells knows that a standing paper certifies box
		// 5a or 5b, and what that means. Without it such a sale is refused.
		CertifiedKnown bool `json:"certified_known,omitempty"`
	}
	// StateClaim records what a donor means to claim and, where they said so, what
	// they paid for the boat and when.
	StateClaim struct {
		Boat     boat.ID      `json:"boat"`
		Claim    money.Amount `json:"claim"`
		On       clock.Date   `json:"on"`
		Cost     money.Amount `json:"cost,omitzero"`
		Acquired clock.Date   `json:"acquired,omitzero"`
		ToGive   bool         `json:"acquired_to_give,omitempty"`
	}
	// StateImprovement attests a material improvement of a US boat. Work lists what was
	// or will be done, parted by semicolons.
	StateImprovement struct {
		Boat   boat.ID    `json:"boat"`
		On     clock.Date `json:"on"`
		Work   string     `json:"work"`
		PaidBy Payer      `json:"paid_by"`
		Major  bool       `json:"major"` // it raises the value significantly
	}
	// StateUse attests a significant use of a US boat by the club.
	StateUse struct {
		Boat        boat.ID    `json:"boat"`
		On          clock.Date `json:"on"`
		Use         string     `json:"use"`
		From        clock.Date `json:"from"`
		To          clock.Date `json:"to"`
		Regular     bool       `json:"regular"`     // it furthers what the club does regularly
		Significant bool       `json:"significant"` // by nature, extent, frequency and duration, and meant so at the gift
	}
	// StatePlacement attests that a US boat goes to a person in need of a means of
	// transportation, for nothing or for significantly less than its value.
	StatePlacement struct {
		Boat          boat.ID      `json:"boat"`
		On            clock.Date   `json:"on"`
		Price         money.Amount `json:"price"`
		TransportNeed bool         `json:"transport_need"`
	}
	// WithdrawException takes back what was attested.
	WithdrawException struct {
		Boat boat.ID   `json:"boat"`
		Sort Exception `json:"sort"`
		Why  string    `json:"why"`
	}
	// IssuePaper decides which paper the gift of a boat gets, numbers and writes
	// it. It is refused, and nothing is numbered, when the rules say that no
	// paper can be given yet. Of a gift for which the club wants two signatures it is
	// the first, and prepares the paper.
	IssuePaper struct {
		Boat  boat.ID    `json:"boat"`
		Paper string     `json:"paper"`
		On    clock.Date `json:"on"`
		// Final says that the club has decided not to sell, improve, use or place
		// the boat in a way that the paper could certify.
		Final bool `json:"final,omitempty"`
	}
	// SettlePocket ends a debt to a member who paid for something: in a boat's book,
	// or in a bin's. Entry is the entry that owes it.
	SettlePocket struct {
		Boat  boat.ID    `json:"boat,omitempty"`
		Bin   string     `json:"bin,omitempty"`
		Entry string     `json:"entry"`
		How   Settling   `json:"how"`
		On    clock.Date `json:"on"`
	}
	// ClosePeriod closes the books up to and including the last day of a month.
	ClosePeriod struct {
		Upto  clock.Date `json:"upto"`
		Words string     `json:"words,omitempty"`
	}
	// CancelPaper voids an issued paper.
	CancelPaper struct {
		Paper string `json:"paper"`
		Why   string `json:"why"`
	}
)

// Verb is constant.
func (SellBoat) Verb() string { return "treasury.sell-boat" }

// Verb is constant.
func (StateClaim) Verb() string { return "treasury.state-claim" }

// Verb is constant.
func (StateImprovement) Verb() string { return "treasury.state-improvement" }

// Verb is constant.
func (StateUse) Verb() string { return "treasury.state-use" }

// Verb is constant.
func (StatePlacement) Verb() string { return "treasury.state-placement" }

// Verb is constant.
func (WithdrawException) Verb() string { return "treasury.withdraw-exception" }

// Verb is constant.
func (IssuePaper) Verb() string { return "treasury.issue-paper" }

// Settling says how a debt to a member ends.
type Settling string

// How debts to members end.
const (
	PaidBack Settling = "paid back"
	Given    Settling = "given to the club"
)

// Settlings lists how debts end.
var Settlings = []Settling{PaidBack, Given}

// Verb is constant.
func (SettlePocket) Verb() string { return "treasury.settle-pocket" }

// Verb is constant.
func (CancelPaper) Verb() string { return "treasury.cancel-paper" }

// Verb is constant.
func (ClosePeriod) Verb() string { return "treasury.close-period" }

// The questions that the treasury room answers.
type (
	// PrintPaper asks for an issued paper as PDF. The treasurer, or the donor by
	// private link. It answers with a Sheet.
	PrintPaper struct {
		Paper string `json:"paper"`
	}
	// ExportYear asks for a year's boats with what each cost and fetched. It
	// answers with an Export.
	ExportYear struct {
		Year   int    `json:"year"`
		Format string `json:"format"` // csv, xlsx; journal: every entry, as text
	}
	// Export is a file.
	Export struct {
		Name string `json:"name"`
		File []byte `json:"file"`
	}
	// YearTotals asks for the same as figures. It answers with Totals.
	YearTotals struct {
		Year int `json:"year"`
	}
	// Totals holds what each boat of a year cost and fetched.
	Totals struct {
		Year  int         `json:"year"`
		Boats []BoatTotal `json:"boats"`
		Sum   BoatTotal   `json:"sum"`
	}
	// BoatTotal is one boat's money in a year, in one currency.
	BoatTotal struct {
		Boat     boat.ID      `json:"boat,omitempty"`
		Name     string       `json:"name"`
		Paid     money.Amount `json:"paid"`  // for the boat itself
		Parts    money.Amount `json:"parts"` // parts, consumables, outside work
		Cost     money.Amount `json:"cost"`  // both
		Fetched  money.Amount `json:"fetched"`
		GiftedAt money.Amount `json:"gifted_at"` // value on the gift's date, when a gift
		Minutes  int          `json:"minutes"`   // volunteers' time, as time
		State    string       `json:"state"`
	}
	// Statement asks what the accounts came to on a day and moved since another, as
	// it was known on a third: only what had been written down by then counts. A
	// zero Known is now. The treasurer or the auditor. It answers with Accounts.
	Statement struct {
		From  clock.Date `json:"from"`
		To    clock.Date `json:"to"`
		Known clock.Date `json:"known,omitzero"`
	}
	// Accounts is a statement.
	Accounts struct {
		From   clock.Date    `json:"from"`
		To     clock.Date    `json:"to"`
		Known  clock.Date    `json:"known,omitzero"`
		Closed clock.Date    `json:"closed,omitzero"` // the books are closed up to here
		Lines  []AccountLine `json:"lines"`
		Gifts  []GiftsOfSort `json:"gifts"`
		// Corrected is what these days bring for gifts of other days, a line a currency.
		Corrected []ValuesCorrected `json:"corrected"`
		// Costs is what boats cost in these days, by what they were for.
		Costs []CostOfUse `json:"costs"`
		// Programmes is the same cost, by the club's programmes.
		Programmes []CostOfProgramme `json:"programmes"`
		// Volunteers is what members laid out in these days, a line a currency.
		Volunteers []LaidOut `json:"volunteers"`
		// Counted is how boats were found that were counted in these days.
		Counted BoatsCounted   `json:"counted"`
		Papers  []PapersStated `json:"papers"`
	}
	// AccountLine is one account in one currency; debits are positive.
	AccountLine struct {
		Account string       `json:"account"`
		Opening money.Amount `json:"opening"`
		Change  money.Amount `json:"change"`
		Closing money.Amount `json:"closing"`
	}
	// GiftsOfSort is what was given in kind of one type of boat in the period, how it was
	// valued, and what became of these boats, as it was known on the statement's day.
	GiftsOfSort struct {
		Type    boat.Type    `json:"type"`
		Boats   int          `json:"boats"`
		Value   money.Amount `json:"value"`
		Placed  int          `json:"placed"`
		Sold    int          `json:"sold"`
		Retired int          `json:"retired"`
		Held    int          `json:"held"`
		// Technique and Level are the valuation's, in the words of ASC 820.
		Technique string `json:"technique"`
		Level     int    `json:"level"`
		// Restricted is how many of them their givers bound to something, Restrictions to
		// what.
		Restricted   int      `json:"restricted"`
		Restrictions []string `json:"restrictions"`
	}
	// CostOfUse is what boats of one use cost in the period, less what came back for them:
	// for boats passed on to households, for boats sold, for what was given up, for what is
	// held. The use is as it was known on the statement's day. Gifts in kind are not cost.
	CostOfUse struct {
		Use   string       `json:"use"` // passed on, sold, given up, held
		Boats int          `json:"boats"`
		Cost  money.Amount `json:"cost"`
	}
	// CostOfProgramme is what the boats of one programme cost in the period, less what came
	// back for them. The programme is as it was known on the statement's day.
	CostOfProgramme struct {
		Programme string       `json:"programme"` // in the club's words; "" for none
		Boats     int          `json:"boats"`
		Cost      money.Amount `json:"cost"`
	}
	// LaidOut is what members laid out in the period, were paid back and gave, by the days of the
	// entries, and what they are owed at its end. None of it is time, nor a value of time.
	LaidOut struct {
		LaidOut  money.Amount `json:"laid_out"`
		PaidBack money.Amount `json:"paid_back"`
		Given    money.Amount `json:"given"`
		Owed     money.Amount `json:"owed"`
	}
	// ValuesCorrected is by how much the values of gifts in kind changed that were
	// made on days whose books are closed; it may be negative.
	ValuesCorrected struct {
		Boats int          `json:"boats"`
		Value money.Amount `json:"value"`
	}
	// PapersStated is what the papers of one country say that were issued in the
	// period and stood at its end.
	PapersStated struct {
		Country   string       `json:"country"`
		Issued    int          `json:"issued"`
		Cancelled int          `json:"cancelled"` // of these
		Eligible  money.Amount `json:"eligible"`  // of those that stand: eligible amounts (CA)
		Proceeds  money.Amount `json:"proceeds"`  // of those that stand: gross proceeds (US, box 4c)
	}
	// PaperOutlook asks what the rules say of a boat's gift today, and by which rows of
	// their tables. The treasurer or the auditor. It answers with Outlook.
	PaperOutlook struct {
		Boat boat.ID `json:"boat"`
	}
	// Outlook is what a paper would be if it were issued now.
	Outlook struct {
		Country  string      `json:"country"`
		WhyNot   string      `json:"why_not,omitempty"` // empty: a paper can be issued
		Papers   []string    `json:"papers"`
		Forms    []string    `json:"forms"` // the donor's own
		Clocks   []Clock     `json:"clocks"`
		Warnings []string    `json:"warnings"`
		Rules    []RuleShown `json:"rules"`
		// Holidays are those off which the filings of these years are moved.
		Holidays []HolidayShown `json:"holidays"`
	}
	// HolidayShown is a holiday on the day on which it is kept.
	HolidayShown struct {
		On     clock.Date `json:"on"`
		Source string     `json:"source"`
	}
	// RuleShown is a row of the tables that decided something.
	RuleShown struct {
		ID         string     `json:"id"`
		From       clock.Date `json:"from"`
		To         clock.Date `json:"to,omitzero"`
		Value      string     `json:"value"`
		Source     string     `json:"source"`
		Mark       string     `json:"mark"`        // V, S, M or D
		FromMemory bool       `json:"from_memory"` // some of it was not read in any text
	}
	// Clocks asks what falls due. The treasurer or the auditor. It answers with
	// ClockList.
	Clocks struct{}
	// ClockList is what falls due from a month ago on, the next first.
	ClockList struct {
		Clocks []Clock `json:"clocks"`
	}
	// Clock is one thing that falls due, with the arithmetic of its day.
	Clock struct {
		Due      clock.Date `json:"due"`
		What     string     `json:"what"`
		Reckoned string     `json:"reckoned"`
		Boat     boat.ID    `json:"boat"`
		BoatName string     `json:"boat_name"`
		Serial   string     `json:"serial,omitempty"` // of the paper, where one stands
	}
	// DonorPapers asks for the papers that a donor got. The treasurer, or the
	// donor by private link. It answers with PapersOfDonor.
	DonorPapers struct {
		Donor people.ID `json:"donor"`
	}
	// PapersOfDonor lists papers, the oldest first.
	PapersOfDonor struct {
		Papers []DonorPaper `json:"papers"`
	}
	// DonorPaper is a paper without what it says; PrintPaper gives that.
	DonorPaper struct {
		Paper     string     `json:"paper"`
		Serial    string     `json:"serial"`
		Boat      boat.ID    `json:"boat"`
		BoatName  string     `json:"boat_name"`
		Names     []string   `json:"names"`
		On        clock.Date `json:"on"`
		Due       clock.Date `json:"due"`
		KeepTo    clock.Date `json:"keep_to"`
		Replaces  string     `json:"replaces,omitempty"`
		Cancelled string     `json:"cancelled,omitempty"` // why
		// CostsOf is the year of the costs of which the paper speaks, in place of a boat.
		CostsOf int `json:"costs_of,omitempty"`
	}
	// CostBook asks for a page of a boat's entries: Page counts from 1, the oldest
	// entries; 0 is the newest page. The treasurer or the auditor. It answers with
	// BoatBook.
	CostBook struct {
		Boat boat.ID `json:"boat"`
		Page int     `json:"page,omitempty"`
	}
	// BinBook asks for a page of a bin's entries. The treasurer or the auditor. It
	// answers with BoatBook, of no boat.
	BinBook struct {
		Bin  string `json:"bin"`
		Page int    `json:"page,omitempty"`
	}
	// BoatBook is a page of a boat's cost book: what was posted, in order, with what
	// the accounts came to before it, and come to in all. Debits are positive.
	BoatBook struct {
		Boat     boat.ID       `json:"boat"`
		Name     string        `json:"name"`
		Count    int           `json:"count"` // entries of the whole book
		Page     int           `json:"page"`
		Pages    int           `json:"pages"`
		Brought  []EntryLine   `json:"brought"` // forward, from the pages before; empty on the first
		Entries  []EntryPosted `json:"entries"`
		Balances []EntryLine   `json:"balances"` // of the whole book
		Owed     []OwedEntry   `json:"owed"`     // the oldest hundred
	}
	// OwedEntry is an entry for which a member is still out of money.
	OwedEntry struct {
		Entry  string       `json:"entry"`
		Words  string       `json:"words"`
		Amount money.Amount `json:"amount"`
		// Member is whose cost it is, where it was written down as one.
		Member people.ID `json:"member,omitempty"`
	}
)

// Verb is constant.
func (PrintPaper) Verb() string { return "treasury.print-paper" }

// Verb is constant.
func (ExportYear) Verb() string { return "treasury.export-year" }

// Verb is constant.
func (PaperOutlook) Verb() string { return "treasury.paper-outlook" }

// Verb is constant.
func (Clocks) Verb() string { return "treasury.clocks" }

// Verb is constant.
func (Statement) Verb() string { return "treasury.statement" }

// Verb is constant.
func (YearTotals) Verb() string { return "treasury.year-totals" }

// Verb is constant.
func (DonorPapers) Verb() string { return "treasury.donor-papers" }

// Verb is constant.
func (BinBook) Verb() string { return "treasury.bin-book" }

// Verb is constant.
func (CostBook) Verb() string { return "treasury.cost-book" }

// ThankYou names the paper that a donor gets where no receipt can be given.
const ThankYou = "thank-you letter"
