package message

import (
	"fmt"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// Unit is what a bin counts in.
type Unit string

// The units.
const (
	Pieces      Unit = "pieces"
	Metres      Unit = "metres"
	Millilitres Unit = "millilitres"
	Grams       Unit = "grams"
)

// Units lists the units.
var Units = []Unit{Pieces, Metres, Millilitres, Grams}

// Quantity is an amount of what a bin holds, in thousandths of its unit: 2500 are
// two and a half metres of cord, or two pieces and a half, which there are not.
type Quantity int64

// Whole is one unit.
const Whole Quantity = 1000

// In writes a quantity for people: "2.5 metres", "1 piece".
func (q Quantity) In(unit Unit) string {
	sign := ""
	if q < 0 {
		sign, q = "-", -q
	}
	text := strings.TrimRight(strings.TrimRight(fmt.Sprintf("%d.%03d", q/Whole, q%Whole), "0"), ".")
	word := string(unit)
	if q == Whole {
		word = strings.TrimSuffix(word, "s")
	}
	return sign + text + " " + word
}

// RepairBin is a bin's stream: what went in and out of it. A piece can leave only
// once, because every taking rests on this stream's version.
func RepairBin(id string) string { return "repair.bin/" + id }

// BinOpened is said when the workshop begins to keep something in stock.
type BinOpened struct {
	v1
	Bin   string   `json:"bin"`
	Name  string   `json:"name"`
	Unit  Unit     `json:"unit"`
	Where string   `json:"where,omitempty"`
	Low   Quantity `json:"low"` // below this somebody should buy
}

// Kind is constant.
func (BinOpened) Kind() Kind { return "repair.bin-opened" }

// BinChanged is said when name, place or low mark of a bin change; its unit never
// does.
type BinChanged struct {
	v1
	Bin   string   `json:"bin"`
	Name  string   `json:"name"`
	Where string   `json:"where,omitempty"`
	Low   Quantity `json:"low"`
}

// Kind is constant.
func (BinChanged) Kind() Kind { return "repair.bin-changed" }

// StockBought is said when something was bought for the stock. What a donor pays
// for is booked on the boat that they gave, never here.
type StockBought struct {
	v1
	Bin      string       `json:"bin"`
	Entry    string       `json:"entry"`
	Quantity Quantity     `json:"quantity"`
	Cost     money.Amount `json:"cost"` // of all of it
	PaidBy   Payer        `json:"paid_by"`
	Pocket   people.ID    `json:"pocket,omitempty"` // the member, when it was their own
	// Receipt is the SHA-256 of the receipt's photo, in hexadecimal.
	Receipt string     `json:"receipt,omitempty"`
	Words   string     `json:"words,omitempty"`
	On      clock.Date `json:"on"`
}

// Kind is constant.
func (StockBought) Kind() Kind { return "repair.stock-bought" }

// StockReserved is said when a part of a bin is kept for a boat.
type StockReserved struct {
	v1
	Bin      string   `json:"bin"`
	Boat     boat.ID  `json:"boat"`
	Quantity Quantity `json:"quantity"` // all that is kept for the boat now; 0 ends it
}

// Kind is constant.
func (StockReserved) Kind() Kind { return "repair.stock-reserved" }

// StockTaken is said when something leaves a bin for a boat, at the moving average
// of what the bin holds.
type StockTaken struct {
	v1
	Bin      string       `json:"bin"`
	Boat     boat.ID      `json:"boat"`
	Entry    string       `json:"entry"`
	Name     string       `json:"name"` // of the bin at that time
	Unit     Unit         `json:"unit"`
	Quantity Quantity     `json:"quantity"`
	Cost     money.Amount `json:"cost"`
	On       clock.Date   `json:"on"`
}

// Kind is constant.
func (StockTaken) Kind() Kind { return "repair.stock-taken" }

// StockReturned is said when something that was taken comes back unused, at the
// cost at which it had left.
type StockReturned struct {
	v1
	Bin      string       `json:"bin"`
	Boat     boat.ID      `json:"boat"`
	Entry    string       `json:"entry"`
	Of       string       `json:"of"` // the entry by which it had left
	Quantity Quantity     `json:"quantity"`
	Cost     money.Amount `json:"cost"`
	On       clock.Date   `json:"on"`
	Why      string       `json:"why"`
}

// Kind is constant.
func (StockReturned) Kind() Kind { return "repair.stock-returned" }

// StockWrittenOff is said when something in a bin is spoiled, lost or was counted
// wrong.
type StockWrittenOff struct {
	v1
	Bin      string       `json:"bin"`
	Entry    string       `json:"entry"`
	Quantity Quantity     `json:"quantity"`
	Cost     money.Amount `json:"cost"`
	On       clock.Date   `json:"on"`
	Why      string       `json:"why"`
}

// Kind is constant.
func (StockWrittenOff) Kind() Kind { return "repair.stock-written-off" }

// StockSalvaged is said when a part of a retired boat goes into a bin, at a value
// that a person put on it.
type StockSalvaged struct {
	v1
	Bin      string       `json:"bin"`
	Boat     boat.ID      `json:"boat"`
	Entry    string       `json:"entry"`
	Quantity Quantity     `json:"quantity"`
	Value    money.Amount `json:"value"`
	On       clock.Date   `json:"on"`
	Words    string       `json:"words"`
}

// Kind is constant.
func (StockSalvaged) Kind() Kind { return "repair.stock-salvaged" }

var (
	_ = declare[BinOpened]()
	_ = declare[BinChanged]()
	_ = declare[StockBought]()
	_ = declare[StockReserved]()
	_ = declare[StockTaken]()
	_ = declare[StockReturned]()
	_ = declare[StockWrittenOff]()
	_ = declare[StockSalvaged]()
)

// The commands of the repair room about its stock. All are a repairer's.
type (
	// OpenBin begins to keep something in stock.
	OpenBin struct {
		Bin   string   `json:"bin"`
		Name  string   `json:"name"`
		Unit  Unit     `json:"unit"`
		Where string   `json:"where,omitempty"`
		Low   Quantity `json:"low"`
	}
	// ChangeBin puts name, place and low mark right.
	ChangeBin struct {
		Bin   string   `json:"bin"`
		Name  string   `json:"name"`
		Where string   `json:"where,omitempty"`
		Low   Quantity `json:"low"`
	}
	// BuyStock books a purchase. Without Pocket, out of the pocket of whoever books
	// it.
	BuyStock struct {
		Bin      string       `json:"bin"`
		Entry    string       `json:"entry"`
		Quantity Quantity     `json:"quantity"`
		Cost     money.Amount `json:"cost"`
		PaidBy   Payer        `json:"paid_by"`
		Pocket   people.ID    `json:"pocket,omitempty"`
		Receipt  string       `json:"receipt,omitempty"`
		Words    string       `json:"words,omitempty"`
		On       clock.Date   `json:"on"`
	}
	// ReserveStock keeps so much of a bin for a boat, and no more; 0 ends it.
	ReserveStock struct {
		Bin      string   `json:"bin"`
		Boat     boat.ID  `json:"boat"`
		Quantity Quantity `json:"quantity"`
	}
	// TakeStock takes something for a boat.
	TakeStock struct {
		Bin      string     `json:"bin"`
		Boat     boat.ID    `json:"boat"`
		Entry    string     `json:"entry"`
		Quantity Quantity   `json:"quantity"`
		On       clock.Date `json:"on"`
	}
	// ReturnStock brings back what was taken.
	ReturnStock struct {
		Bin      string     `json:"bin"`
		Entry    string     `json:"entry"`
		Of       string     `json:"of"`
		Quantity Quantity   `json:"quantity"`
		On       clock.Date `json:"on"`
		Why      string     `json:"why"`
	}
	// WriteOffStock takes out what is spoiled or lost.
	WriteOffStock struct {
		Bin      string     `json:"bin"`
		Entry    string     `json:"entry"`
		Quantity Quantity   `json:"quantity"`
		On       clock.Date `json:"on"`
		Why      string     `json:"why"`
	}
	// SalvagePart puts a part of a retired boat into a bin, at a value.
	SalvagePart struct {
		Bin      string       `json:"bin"`
		Boat     boat.ID      `json:"boat"`
		Entry    string       `json:"entry"`
		Quantity Quantity     `json:"quantity"`
		Value    money.Amount `json:"value"`
		On       clock.Date   `json:"on"`
		Words    string       `json:"words"`
	}
)

// Verb is constant.
func (OpenBin) Verb() string { return "repair.open-bin" }

// Verb is constant.
func (ChangeBin) Verb() string { return "repair.change-bin" }

// Verb is constant.
func (BuyStock) Verb() string { return "repair.buy-stock" }

// Verb is constant.
func (ReserveStock) Verb() string { return "repair.reserve-stock" }

// Verb is constant.
func (TakeStock) Verb() string { return "repair.take-stock" }

// Verb is constant.
func (ReturnStock) Verb() string { return "repair.return-stock" }

// Verb is constant.
func (WriteOffStock) Verb() string { return "repair.write-off-stock" }

// Verb is constant.
func (SalvagePart) Verb() string { return "repair.salvage-part" }
