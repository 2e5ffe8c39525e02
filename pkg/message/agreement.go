package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/people"
)

// SealAgreement is the purpose under which an agreement's content is sealed, with
// the giver's key.
const SealAgreement = "boat.agreement"

// AgreementContent is what stands on the sheet that giver and club sign, as it
// was said at that moment.
type AgreementContent struct {
	GiverName  string `json:"giver_name"`
	MemberName string `json:"member_name"`
	// Said is what the giver said of the boat's known faults.
	Said string `json:"said"`
	// Found are the club's findings, in words, that the giver was told.
	Found []string `json:"found,omitempty"`
	// Unseen are the points that no look-over could see.
	Unseen []string `json:"unseen,omitempty"`
	Price  string   `json:"price,omitempty"` // what was agreed; empty for a gift
}

// AgreementMade is said when giver and club have told each other what is known of
// a boat's faults. Both names and all words are sealed with the giver's key: who
// is erased takes them along, and the day stays.
type AgreementMade struct {
	v1
	Boat      boat.ID    `json:"boat"`
	Agreement string     `json:"agreement"`
	Giver     people.ID  `json:"giver"`
	Member    people.ID  `json:"member"`
	On        clock.Date `json:"on"`
	Sealed    string     `json:"sealed"` // AgreementContent
}

// Kind is constant.
func (AgreementMade) Kind() Kind { return "intake.agreement-made" }

var _ = declare[AgreementMade]()

// The commands and the question about agreements. All are a steward's.
type (
	// MakeAgreement writes down what giver and club told each other.
	MakeAgreement struct {
		Boat      boat.ID `json:"boat"`
		Agreement string  `json:"agreement"`
		Said      string  `json:"said"`
	}
	// AgreementSheet asks for the sheet to sign.
	AgreementSheet struct {
		Boat      boat.ID `json:"boat"`
		Agreement string  `json:"agreement"`
	}
)

// Verb is constant.
func (MakeAgreement) Verb() string { return "intake.make-agreement" }

// Verb is constant.
func (AgreementSheet) Verb() string { return "intake.agreement-sheet" }
