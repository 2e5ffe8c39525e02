package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/money"
)

// SaleTakenBack is said when the buyer of a boat brought it back and the club took it: the
// sale stands no more, and the boat is the club's again. What the buyer got back stands in an
// entry said together with it. It is not said of a boat that was given away, nor when the
// club buys a boat back later.
type SaleTakenBack struct {
	v1
	Boat   boat.ID      `json:"boat"`
	On     clock.Date   `json:"on"`
	Refund money.Amount `json:"refund"` // of this day; 0 where nothing was paid back
	Words  string       `json:"words"`
}

// Kind is constant.
func (SaleTakenBack) Kind() Kind { return "treasury.sale-taken-back" }

// BuyerRefunded is said when a buyer who keeps the boat got a part of the price back, or all
// of it. It is not said of what a sale cost the club.
type BuyerRefunded struct {
	v1
	Boat   boat.ID      `json:"boat"`
	On     clock.Date   `json:"on"`
	Refund money.Amount `json:"refund"`
	Words  string       `json:"words"`
}

// Kind is constant.
func (BuyerRefunded) Kind() Kind { return "treasury.buyer-refunded" }

var (
	_ = declare[SaleTakenBack]()
	_ = declare[BuyerRefunded]()
)

// The orders about a sale that did not stay as it was. Both are a treasurer's.
type (
	// TakeSaleBack takes a boat back from its buyer.
	TakeSaleBack struct {
		Boat   boat.ID      `json:"boat"`
		On     clock.Date   `json:"on"`
		Refund money.Amount `json:"refund"`
		Words  string       `json:"words"`
	}
	// RefundBuyer gives a buyer money back, who keeps the boat.
	RefundBuyer struct {
		Boat   boat.ID      `json:"boat"`
		On     clock.Date   `json:"on"`
		Refund money.Amount `json:"refund"`
		Words  string       `json:"words"`
	}
)

// Verb is constant.
func (TakeSaleBack) Verb() string { return "treasury.take-sale-back" }

// Verb is constant.
func (RefundBuyer) Verb() string { return "treasury.refund-buyer" }
