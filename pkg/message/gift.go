package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/money"
)

// Return is what a donor got for a gift, other than money.
type Return string

// What donors can get.
const (
	NoReturn      Return = "nothing"
	TokenReturn   Return = "token"
	GoodsReturn   Return = "goods"
	ServiceReturn Return = "service"
)

// Returns lists them.
var Returns = []Return{TokenReturn, GoodsReturn, ServiceReturn, NoReturn}

// BenefitStated is said when it is written down what the club gave a donor in return,
// or that it gave nothing after all. It takes the place of what was stated before. Not
// said of money that the club paid for the boat.
type BenefitStated struct {
	v1
	Boat  boat.ID      `json:"boat"`
	On    clock.Date   `json:"on"`
	What  Return       `json:"what"`
	Words string       `json:"words,omitempty"` // stands on the paper
	Value money.Amount `json:"value,omitzero"`  // what it is worth, estimated in good faith
	Cost  money.Amount `json:"cost,omitzero"`   // what it cost the club; missing: not known
	Logo  bool         `json:"logo,omitempty"`  // the club's name or emblem is on it
}

// Kind is constant.
func (BenefitStated) Kind() Kind { return "treasury.benefit-stated" }

// AppraisalStated is said when an independent appraisal of a gift is written down, or
// taken back: it then has no value.
type AppraisalStated struct {
	v1
	Boat   boat.ID      `json:"boat"`
	On     clock.Date   `json:"on"`
	Value  money.Amount `json:"value,omitzero"`
	Sealed string       `json:"sealed,omitempty"` // Appraiser, under the donor's key
}

// Kind is constant.
func (AppraisalStated) Kind() Kind { return "treasury.appraisal-stated" }

// Appraiser is who appraised a gift. It is sealed.
type Appraiser struct {
	By      string `json:"by"`
	Address string `json:"address"`
}

// SealAppraiser is the purpose under which an Appraiser is sealed.
const SealAppraiser = "treasury.appraiser"

// SimilarStated is said when a donor has told what they claim for similar items given
// elsewhere in the year of the gift: the forms of the United States go by their sum.
type SimilarStated struct {
	v1
	Boat   boat.ID      `json:"boat"`
	On     clock.Date   `json:"on"`
	Amount money.Amount `json:"amount"`
}

// Kind is constant.
func (SimilarStated) Kind() Kind { return "treasury.similar-stated" }

// PaperRead is said when somebody was shown what a donor's paper says: once a day for
// each paper and reader. Who it was is the event's actor.
type PaperRead struct {
	v1
	Paper  string `json:"paper"`
	Serial string `json:"serial"`
	Link   bool   `json:"link,omitempty"` // by the donor's private link
}

// Kind is constant.
func (PaperRead) Kind() Kind { return "treasury.paper-read" }

var (
	_ = declare[BenefitStated]()
	_ = declare[AppraisalStated]()
	_ = declare[SimilarStated]()
	_ = declare[PaperRead]()
)

type (
	// StateBenefit writes down what the club gave a donor in return for a gift.
	StateBenefit struct {
		Boat  boat.ID      `json:"boat"`
		On    clock.Date   `json:"on"`
		What  Return       `json:"what"`
		Words string       `json:"words,omitempty"`
		Value money.Amount `json:"value,omitzero"`
		Cost  money.Amount `json:"cost,omitzero"`
		Logo  bool         `json:"logo,omitempty"`
	}
	// StateAppraisal writes an independent appraisal down; a value of nothing takes one
	// back.
	StateAppraisal struct {
		Boat    boat.ID      `json:"boat"`
		On      clock.Date   `json:"on"`
		Value   money.Amount `json:"value,omitzero"`
		By      string       `json:"by,omitempty"`
		Address string       `json:"address,omitempty"`
	}
	// StateSimilar writes down what a donor claims for similar items elsewhere.
	StateSimilar struct {
		Boat   boat.ID      `json:"boat"`
		On     clock.Date   `json:"on"`
		Amount money.Amount `json:"amount"`
	}
)

// Verb is constant.
func (StateBenefit) Verb() string { return "treasury.state-benefit" }

// Verb is constant.
func (StateAppraisal) Verb() string { return "treasury.state-appraisal" }

// Verb is constant.
func (StateSimilar) Verb() string { return "treasury.state-similar" }
