package web

import (
	"slices"
	"time"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/guide"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// State is where a boat is on its way through the club, in plain words.
type State string

// The states, in the order in which a boat passes them. Declined, sold and
// retired are other ends.
const (
	Offered    State = "offered"
	LookedOver State = "looked over"
	Accepted   State = "accepted"
	Received   State = "received"
	InWorkshop State = "in the workshop"
	Ready      State = "ready"
	OnOffer    State = "offered to a household"
	Placed     State = "placed"
	Sold       State = "sold"
	Declined   State = "declined"
	Retired    State = "retired"
)

// States lists the states in the order in which pages show them.
var States = []State{Offered, LookedOver, Accepted, Received, InWorkshop, Ready, OnOffer, Placed, Sold, Declined, Retired}

// passage is the way of a boat that is taken and placed.
var passage = []State{Offered, LookedOver, Accepted, Received, InWorkshop, Ready, OnOffer, Placed}

// Boat is all that the pages show of one boat, folded from every room's events
// about it.
type Boat struct {
	ID     boat.ID           `json:"id"`
	Name   string            `json:"name"`
	State  State             `json:"state"`
	Taking message.Taking    `json:"taking"`
	Giver  people.ID         `json:"giver"`
	Asked  money.Amount      `json:"asked"`
	Right  string            `json:"right"`
	Facts  message.BoatFacts `json:"facts"`
	Logged time.Time         `json:"logged"`
	Logger string            `json:"logger"` // actor

	Looks      []Look                 `json:"looks,omitempty"`
	Findings   []Finding              `json:"findings,omitempty"`
	Quarantine *message.QuarantineSet `json:"quarantine,omitempty"`
	Held       *message.BoatHeld      `json:"held,omitempty"`
	Agreements []Agreement            `json:"agreements,omitempty"`
	Decision   *Decision              `json:"decision,omitempty"`
	Received   *message.BoatReceived  `json:"received,omitempty"`
	Photos     []Photo                `json:"photos,omitempty"`
	Place      string                 `json:"place,omitempty"` // where it lies
	Jackets    []Jacket               `json:"jackets,omitempty"`
	Arrival

	Work    []Work                 `json:"work,omitempty"`
	Parts   []Part                 `json:"parts,omitempty"`
	Hours   []Hours                `json:"hours,omitempty"`
	Tests   []message.TestRecorded `json:"tests,omitempty"`
	Ready   *message.BoatReady     `json:"ready,omitempty"`
	Retired *message.BoatRetired   `json:"retired,omitempty"`
	Bench

	Values   []message.BoatValued     `json:"values,omitempty"` // without the computation; see Valued
	Bargain  []BargainStep            `json:"bargain,omitempty"`
	Spent    []Spending               `json:"spent,omitempty"`
	Proposed []message.RepairProposed `json:"proposed,omitempty"`
	Ceiling  *message.CeilingSet      `json:"ceiling,omitempty"`

	Offers   []BoatOffer             `json:"offers,omitempty"`
	HandOver *message.BoatHandedOver `json:"hand_over,omitempty"`
	KeptBack string                  `json:"kept_back,omitempty"` // why it must not go out
	After    After                   `json:"after,omitzero"`

	Entries []message.EntryPosted `json:"entries,omitempty"`
	Sale    *message.BoatSold     `json:"sale,omitempty"` // that stands
	// Refunded is what the buyer got back of it; SaleBack the sale that was taken back last.
	Refunded money.Amount           `json:"refunded,omitzero"`
	SaleBack *message.SaleTakenBack `json:"sale_back,omitempty"`
	Claim    *message.ClaimStated   `json:"claim,omitempty"`
	Papers   []BoatPaper            `json:"papers,omitempty"`
	// Benefit, Appraisal (without who made it) and Similar are what is stated of the gift.
	Benefit   *message.BenefitStated   `json:"benefit,omitempty"`
	Appraisal *message.AppraisalStated `json:"appraisal,omitempty"`
	Similar   *message.SimilarStated   `json:"similar,omitempty"`
	// Programme is what the club has the boat for, in its own words.
	Programme string `json:"programme,omitempty"`
	// Prepared is a paper that waits for its second signature.
	Prepared *message.PaperPrepared `json:"prepared,omitempty"`
	// Excepted is what members attest of a US gift, at most one of each sort.
	Excepted []message.ExceptionStated `json:"excepted,omitempty"`
}

// Agreement is a sheet that giver and club sign; its words stay sealed in the
// intake room's event.
type Agreement struct {
	ID     string     `json:"id"`
	Member people.ID  `json:"member"`
	On     clock.Date `json:"on"`
}

// Look is one look-over. Inspectors work blind to each other.
type Look struct {
	ID        string                    `json:"id"`
	Inspector people.ID                 `json:"inspector"`
	Begun     time.Time                 `json:"begun"`
	Finished  *message.LookOverFinished `json:"finished,omitempty"`
	// Answers are to the points of the guide; Place is where it stands in the order
	// in which look-overs were finished, from 1.
	Answers map[string]guide.Answer  `json:"answers,omitempty"`
	Place   int                      `json:"place,omitempty"`
	Matched *message.FindingsMatched `json:"matched,omitempty"`
}

// Finding is a defect and what became of it.
type Finding struct {
	message.DefectFound
	Found     time.Time `json:"found"`
	Withdrawn string    `json:"withdrawn,omitempty"` // why
	Mended    string    `json:"mended,omitempty"`    // in which words
	Touched   bool      `json:"touched,omitempty"`   // by work, not by leaving it
	Reopened  bool      `json:"reopened,omitempty"`  // a test showed that it is not mended
}

// Open says whether the finding still stands.
func (f Finding) Open() bool { return f.Withdrawn == "" && f.Mended == "" }

// Work is planned work on findings.
type Work struct {
	message.WorkPlanned
	Done string `json:"done,omitempty"` // in which words it was finished
	// DoneLap is how often the work sheet had begun anew when it was finished.
	DoneLap int `json:"done_lap,omitempty"`
}

// Part is money spent on a boat in the workshop.
type Part struct {
	message.PartBooked
	Reversed string `json:"reversed,omitempty"` // why it was taken back
}

// Decision is whether the club took the boat.
type Decision struct {
	Taken    bool         `json:"taken"`
	Price    money.Amount `json:"price"`
	Words    string       `json:"words,omitempty"`
	Disposal string       `json:"disposal,omitempty"`
	Way      string       `json:"way,omitempty"`
	message.Dealing
	By string    `json:"by"` // actor
	At time.Time `json:"at"`
}

// BoatOffer is an offer of the boat to a household.
type BoatOffer struct {
	Offer   string    `json:"offer"`
	Round   string    `json:"round"`
	Request string    `json:"request"`
	Until   time.Time `json:"until"`
	Answer  string    `json:"answer,omitempty"`
	Broken  string    `json:"broken,omitempty"` // why the household that accepted it does not get it
	Reasons []string  `json:"reasons,omitempty"`
}

// BoatPaper is a paper that was issued for the boat.
type BoatPaper struct {
	Paper     string   `json:"paper"`
	Serial    string   `json:"serial"`
	Names     []string `json:"names"`
	Cancelled string   `json:"cancelled,omitempty"` // why
	Certified string   `json:"certified,omitempty"` // box 5a or 5b of Form 1098-C
	StatedSale
}

// StatedSale is the sale that a paper states, in boxes 4b and 4c of Form 1098-C; without a
// day it states none.
type StatedSale struct {
	SoldOn     string `json:"sold_on,omitempty"`
	GrossMinor int64  `json:"gross_minor,omitempty"`
}

// Kept is what the club keeps of the sale that stands.
func (b *Boat) Kept() money.Amount {
	kept, err := b.Sale.Gross.Add(b.Refunded.Neg())
	if err != nil { // nothing was given back
		return b.Sale.Gross
	}
	return kept
}

// StalePaper gives the standing paper that states a sale which did not stay as it says;
// nil where there is none.
func (b *Boat) StalePaper() *BoatPaper {
	p, ok := in(b.Papers, func(p *BoatPaper) bool {
		return p.Cancelled == "" && p.SoldOn != "" && (b.Sale == nil || b.Sale.On.String() != p.SoldOn || b.Kept().Minor != p.GrossMinor)
	})
	if !ok {
		return nil
	}
	return p
}

// Finding gives a finding by its id.
func (b *Boat) Finding(id string) (*Finding, bool) {
	return in(b.Findings, func(f *Finding) bool { return f.Finding == id })
}

// Look gives a look-over by its id.
func (b *Boat) Look(id string) (*Look, bool) {
	return in(b.Looks, func(l *Look) bool { return l.ID == id })
}

// OpenFindings counts findings that still stand. While a second look-over can
// come, nothing is counted: it would tell its inspector about the first.
func (b *Boat) OpenFindings() int {
	if b.Decision == nil && len(b.FinishedLooks()) < 2 {
		return 0
	}
	n := 0
	for _, f := range b.Findings {
		if l, ok := b.Look(f.Look); f.Open() && ok && l.Finished != nil {
			n++
		}
	}
	return n
}

// FinishedLooks gives the look-overs that are finished.
func (b *Boat) FinishedLooks() []Look {
	return slices.DeleteFunc(slices.Clone(b.Looks), func(l Look) bool { return l.Finished == nil })
}

// Hours is a booking of time that was worked on a boat.
type Hours struct {
	message.HoursBooked
	Reversed string `json:"reversed,omitempty"` // why it was taken back
}

// Minutes adds up the time that was worked on the boat.
func (b *Boat) Minutes() int {
	sum := 0
	for _, h := range b.Hours {
		if h.Reversed == "" {
			sum += h.Minutes
		}
	}
	return sum
}

// Value gives the newest valuation.
func (b *Boat) Value() *message.BoatValued {
	if len(b.Values) == 0 {
		return nil
	}
	return &b.Values[len(b.Values)-1]
}

// Ended says whether the boat has left the club's hands for good.
func (b *Boat) Ended() bool {
	return slices.Contains([]State{Placed, Sold, Declined, Retired}, b.State)
}

// in finds the element of a list for which is holds.
func in[E any](list []E, is func(*E) bool) (*E, bool) {
	for i := range list {
		if is(&list[i]) {
			return &list[i], true
		}
	}
	return nil, false
}
