package message

import (
	"encoding/json"
	"strconv"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// PriceKind tells a price that was paid from one that was only asked.
type PriceKind string

// The kinds of price.
const (
	Sold   PriceKind = "sold"
	Asking PriceKind = "asking"
)

// Market says who sold, because the same boat fetches different prices in
// different hands. What the law calls fair market value is asked of the market in
// which such things are mostly sold to the public: from private hand to private
// hand (26 CFR 20.2031-1(b); Publication 561).
type Market string

// The markets.
const (
	PrivateSale Market = "private hand"
	DealerSale  Market = "dealer"
	OwnSale     Market = "the club itself" // said by the room alone, of a boat that the club sold
	ForcedSale  Market = "forced"          // an auction, a lien, a clearance: never at arm's length
)

// Markets lists the markets that somebody may write down.
var Markets = []Market{PrivateSale, DealerSale, ForcedSale}

// Comparable is a price that somebody paid or asked for a boat like ours.
type Comparable struct {
	Comparable string       `json:"comparable"`
	Price      money.Amount `json:"price"`
	On         clock.Date   `json:"on"`
	PriceKind  PriceKind    `json:"price_kind"`
	ArmsLength bool         `json:"arms_length"`
	Type       boat.Type    `json:"type"`
	LengthMM   int          `json:"length_mm,omitempty"`
	Seats      int          `json:"seats"`
	Material   string       `json:"material,omitempty"`
	AgeYears   int          `json:"age_years"`
	// AgeUnknown says that nobody knows how old the boat was; AgeYears is then 0
	// and means nothing.
	AgeUnknown bool       `json:"age_unknown,omitempty"`
	Grade      boat.Grade `json:"grade"`
	Area       string     `json:"area,omitempty"`
	Source     string     `json:"source"`
	// OwnBoat is set when the sale was the club's own.
	OwnBoat boat.ID `json:"own_boat,omitempty"`
	// Market is who sold; in an order, empty means a private hand.
	Market Market `json:"market"`
	// Accessories went with the boat for this price: paddles, spray deck, trolley …
	Accessories []string `json:"accessories,omitempty"`
	// Mended says that the buyer was told of a repair to the hull.
	Mended bool `json:"mended,omitempty"`
}

// ComparableRecorded is said when a price comes into the club's collection.
type ComparableRecorded struct {
	v1
	Comparable
}

// Schema is 2 since it is said who sold. Of those before, nobody had asked: they
// count as from private hand, as they did then, unless the club itself sold.
func (ComparableRecorded) Schema() int { return 2 }

func comparableSays(market json.RawMessage) Upcast {
	return func(data json.RawMessage) (json.RawMessage, error) {
		var fields map[string]json.RawMessage
		if err := json.Unmarshal(data, &fields); err != nil {
			return nil, err
		}
		fields["market"] = market
		if own := string(fields["own_boat"]); own != "" && own != `""` {
			fields["market"] = json.RawMessage(strconv.Quote(string(OwnSale)))
		}
		return json.Marshal(fields)
	}
}

// Kind is constant.
func (ComparableRecorded) Kind() Kind { return "valuation.comparable-recorded" }

// ComparableRefused is said when a price turns out not to be usable; values that
// used it stay as they were given.
type ComparableRefused struct {
	v1
	Comparable string `json:"comparable"`
	Why        string `json:"why"`
}

// Kind is constant.
func (ComparableRefused) Kind() Kind { return "valuation.comparable-refused" }

// SaleSeen is said together with ComparableRecorded. It stands in the stream of
// the sale itself (same day, price, type, length and source), so that two
// members who write the same sale down at one moment do not count it twice. It
// concerns the valuation room alone.
type SaleSeen struct {
	v1
	Comparable string `json:"comparable"`
}

// ValuationSale is the stream of a sale, by the digest of what tells it from
// others.
func ValuationSale(digest string) string { return "valuation.sale/" + digest }

// Kind is constant.
func (SaleSeen) Kind() Kind { return "valuation.sale-seen" }

// Worth is one of the figures of a valuation; zero amounts with Status refused
// mean that nothing can be said.
type Worth struct {
	Status string       `json:"status"` // ok, weak, indication, refused
	Value  money.Amount `json:"value"`
	Low    money.Amount `json:"low"`
	High   money.Amount `json:"high"`
	Reason string       `json:"reason,omitempty"`
}

// Ranged says whether the worth has a range.
func (w Worth) Ranged() bool { return !w.High.IsZero() }

// BoatValued is said when a member valued a boat for a day. The whole
// computation stands in it: recomputing from Input gives the same cents.
type BoatValued struct {
	v1
	Boat     boat.ID    `json:"boat"`
	Value    string     `json:"value"` // id of this valuation record
	On       clock.Date `json:"on"`    // the day valued for
	Valuer   people.ID  `json:"valuer"`
	Purpose  string     `json:"purpose"` // book, purchase, receipt
	Method   string     `json:"method"`
	AsItLies Worth      `json:"as_it_lies"`
	Repaired Worth      `json:"repaired"`
	Used     []string   `json:"used"` // comparables
	// LeftOut names the comparables that were not used, with the reason.
	LeftOut []LeftOut `json:"left_out,omitempty"`
	// Input and Output are the calculator's own JSON texts, kept as text because
	// they hold decimals.
	Input  string `json:"input"`
	Output string `json:"output"`
	// Conflict is the valuer's answer to whether they or their household give,
	// buy or will receive the boat.
	Conflict   string `json:"conflict"`
	Supersedes string `json:"supersedes,omitempty"`
	// ForParts is what it would fetch as parts only, and Second what a model says
	// that keeps wild prices out; both refused where nothing can be said.
	ForParts Worth `json:"for_parts"`
	Second   Worth `json:"second"`
	// Model is the version of the way of valuing (ModelChanged).
	Model string `json:"model"`
}

// Schema is 2 since parts, the second opinion and the model are said.
func (BoatValued) Schema() int { return 2 }

// valuedWithoutParts brings a value up that said nothing of parts.
func valuedWithoutParts(data json.RawMessage) (json.RawMessage, error) {
	var fields map[string]json.RawMessage
	if err := json.Unmarshal(data, &fields); err != nil {
		return nil, err
	}
	nothing, err := json.Marshal(Worth{Status: RefusedWorth, Reason: "it was not asked then"})
	fields["for_parts"], fields["second"], fields["model"] = nothing, nothing, json.RawMessage(`"1"`)
	if err != nil {
		return nil, err
	}
	return json.Marshal(fields)
}

// ModelChanged is said together with the first value that is worked out in another
// way than the one before: by another version of the arithmetic or by other
// settings of the club. The way of valuing never changes in silence.
type ModelChanged struct {
	v1
	Model string `json:"model"` // "2.3": version of the arithmetic, count of the club's settings
	// Rules are the effects and bounds in force, as JSON text.
	Rules  string `json:"rules"`
	Before string `json:"before,omitempty"` // the model that this one takes the place of
}

// Kind is constant.
func (ModelChanged) Kind() Kind { return "valuation.model-changed" }

// ValuationModel is the stream of the way of valuing.
const ValuationModel = "valuation.model/club"

// LeftOut is a comparable that a valuation did not use.
type LeftOut struct {
	Comparable string `json:"comparable"`
	Reason     string `json:"reason"`
}

// Kind is constant.
func (BoatValued) Kind() Kind { return "valuation.boat-valued" }

// CeilingSet is said when the most that may be offered for a boat was computed.
type CeilingSet struct {
	v1
	Boat    boat.ID      `json:"boat"`
	Ceiling money.Amount `json:"ceiling"`
	Status  string       `json:"status"` // ok, do_not_buy
	Input   string       `json:"input"`
	Output  string       `json:"output"`
	// Value is the valuation that it rests on, By the member who set it.
	Value string    `json:"value"`
	By    people.ID `json:"by"`
	// Upper is what the ceiling would be if as much was missed as is unlikely: the
	// bound beside the expectation.
	Upper money.Amount `json:"upper"`
	// Provisional says that something could not be seen when the boat was looked
	// over, so that the allowance is the larger one.
	Provisional bool `json:"provisional,omitempty"`
	// CostsFrom says in words where the cost of a missed defect was taken from.
	CostsFrom string `json:"costs_from"`
	// Sentence says it all in one sentence.
	Sentence string `json:"sentence"`
}

// Schema is 2 since the bound, the source of costs and the sentence are said.
func (CeilingSet) Schema() int { return 2 }

// ceilingWithoutBound brings a ceiling up that said no bound.
func ceilingWithoutBound(data json.RawMessage) (json.RawMessage, error) {
	var fields map[string]json.RawMessage
	if err := json.Unmarshal(data, &fields); err != nil {
		return nil, err
	}
	fields["value"], fields["by"], fields["costs_from"], fields["sentence"] = json.RawMessage(`""`), json.RawMessage(`""`), json.RawMessage(`""`), json.RawMessage(`""`)
	fields["upper"] = fields["ceiling"]
	return json.Marshal(fields)
}

// Kind is constant.
func (CeilingSet) Kind() Kind { return "valuation.ceiling-set" }

var (
	_ = declare[ComparableRecorded](comparableSays(json.RawMessage(strconv.Quote(string(PrivateSale)))))
	_ = declare[ComparableRefused]()
	_ = declare[SaleSeen]()
	_ = declare[BoatValued](valuedWithoutParts)
	_ = declare[CeilingSet](ceilingWithoutBound)
	_ = declare[ModelChanged]()
)

// Purposes of a value, as ValueBoat.Purpose and BoatValued.Purpose.
const (
	ForBook     = "book"     // the club's own books
	ForPurchase = "purchase" // what to offer
	ForReceipt  = "receipt"  // a donor's paper
)

// ValuePurposes lists the purposes.
var ValuePurposes = []string{ForBook, ForPurchase, ForReceipt}

// RefusedWorth is the status of a worth that says nothing.
const RefusedWorth = "refused"

// The commands of the valuation room. All are a treasurer's or a steward's.
type (
	// RecordComparable adds a price to the collection.
	RecordComparable struct {
		Comparable
	}
	// RefuseComparable takes a price out of use.
	RefuseComparable struct {
		Comparable string `json:"comparable"`
		Why        string `json:"why"`
	}
	// ValueBoat values a boat for a day, as it lies and as repaired.
	ValueBoat struct {
		Boat    boat.ID    `json:"boat"`
		Value   string     `json:"value"`
		On      clock.Date `json:"on"`
		Purpose string     `json:"purpose"`
		// AsItLies and Repaired are the grades of the two states.
		AsItLies boat.Grade `json:"as_it_lies"`
		Repaired boat.Grade `json:"repaired"`
		// Accessories is how many go with the boat.
		Accessories int    `json:"accessories,omitempty"`
		Conflict    string `json:"conflict"`
	}
	// SetCeiling computes the most that may be offered, from the newest value.
	SetCeiling struct {
		Boat    boat.ID        `json:"boat"`
		Repairs []ExpectedWork `json:"repairs"`
	}
	// ExpectedWork is a repair that a ceiling reckons with.
	ExpectedWork struct {
		What           string       `json:"what"`
		Cost           money.Amount `json:"cost"`
		PercentLikely  int          `json:"percent_likely"`
		MinutesOfHands int          `json:"minutes"`
	}
)

// Verb is constant.
func (RecordComparable) Verb() string { return "valuation.record-comparable" }

// Verb is constant.
func (RefuseComparable) Verb() string { return "valuation.refuse-comparable" }

// Verb is constant.
func (ValueBoat) Verb() string { return "valuation.value-boat" }

// Verb is constant.
func (SetCeiling) Verb() string { return "valuation.set-ceiling" }
