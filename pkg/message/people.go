package message

import (
	"crypto/subtle"
	"strings"
	"time"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/people"
)

// v1 is embedded by payloads that still have their first shape.
type v1 struct{}

func (v1) Schema() int { return 1 }

// v2 is embedded by payloads in their second shape.
type v2 struct{}

func (v2) Schema() int { return 2 }

// v3 is embedded by events whose payload changed twice.
type v3 struct{}

func (v3) Schema() int { return 3 }

// PersonDetails is what the club knows about a person. It never stands in an
// event in clear: events carry it sealed under the person's own key, with the
// purpose SealDetails.
type PersonDetails struct {
	Name     string `json:"name"`
	Mail     string `json:"mail,omitempty"`
	Phone    string `json:"phone,omitempty"`
	Address  string `json:"address,omitempty"`
	Language string `json:"language,omitempty"` // en, es, fr
}

// Purposes under which personal data is sealed. They are part of what is
// authenticated, so a sealed part cannot be moved to another use.
const (
	SealDetails = "person.details" // PersonDetails
	SealWish    = "request.wish"   // Wish
	SealPaper   = "paper.content"  // PaperContent, under the paper's own key
)

// Sort says in which part a person first came to the club.
type Sort string

// The sorts of person.
const (
	MemberSort    Sort = "member"
	DonorSort     Sort = "donor"
	HouseholdSort Sort = "household"
	GuardianSort  Sort = "guardian"
)

// NewPerson introduces a person inside another room's event, so that one form
// is one event. The people room hears it and registers the person.
type NewPerson struct {
	Person  people.ID `json:"person"`
	Sort    Sort      `json:"sort"`
	Sealed  string    `json:"sealed"`  // PersonDetails
	Consent string    `json:"consent"` // version of the text that was agreed to
	// Guardian is the adult who acts for this person, when the person is a minor.
	Guardian people.ID `json:"guardian,omitempty"`
}

// PersonRegistered is said when a person comes into the club's book, by a
// member's hand or because another room introduced them. Not said when details
// change.
type PersonRegistered struct {
	v1
	Person people.ID `json:"person"`
	Sort   Sort      `json:"sort"`
	Sealed string    `json:"sealed"` // PersonDetails
}

// Kind is constant.
func (PersonRegistered) Kind() Kind { return "people.person-registered" }

// PersonChanged is said when details are corrected; the old ones stay sealed in
// the earlier event.
type PersonChanged struct {
	v1
	Person people.ID `json:"person"`
	Sealed string    `json:"sealed"` // PersonDetails
}

// Kind is constant.
func (PersonChanged) Kind() Kind { return "people.person-changed" }

// RoleGiven is said when a member may do more than before.
type RoleGiven struct {
	v1
	Person people.ID   `json:"person"`
	Role   people.Role `json:"role"`
}

// Kind is constant.
func (RoleGiven) Kind() Kind { return "people.role-given" }

// RoleTaken is said when a member loses a role.
type RoleTaken struct {
	v1
	Person people.ID   `json:"person"`
	Role   people.Role `json:"role"`
}

// Kind is constant.
func (RoleTaken) Kind() Kind { return "people.role-taken" }

// ConsentGiven is said when a person, or the guardian for them, agreed to a
// text.
type ConsentGiven struct {
	v1
	Person people.ID `json:"person"`
	Text   string    `json:"text"` // which text, with its version
	How    string    `json:"how"`  // form, paper, spoken
	By     people.ID `json:"by,omitempty"`
}

// Kind is constant.
func (ConsentGiven) Kind() Kind { return "people.consent-given" }

// ConsentWithdrawn is said when a person takes an agreement back.
type ConsentWithdrawn struct {
	v1
	Person people.ID `json:"person"`
	Text   string    `json:"text"`
}

// Kind is constant.
func (ConsentWithdrawn) Kind() Kind { return "people.consent-withdrawn" }

// GuardianNamed is said when an adult acts for a person under age.
type GuardianNamed struct {
	v1
	Person   people.ID `json:"person"`
	Guardian people.ID `json:"guardian"`
}

// Kind is constant.
func (GuardianNamed) Kind() Kind { return "people.guardian-named" }

// LinkGiven is said when a private link is made for an applicant or a donor.
// The secret in the link's address is not here: it is derived from the link's
// id with a key outside the database.
type LinkGiven struct {
	v1
	Link    string         `json:"link"`
	Person  people.ID      `json:"person"`
	Purpose people.Purpose `json:"purpose"`
	Subject string         `json:"subject"` // the request's or the donor's id
	Until   time.Time      `json:"until"`
}

// Kind is constant.
func (LinkGiven) Kind() Kind { return "people.link-given" }

// LinkEnded is said when a private link stops working before its time.
type LinkEnded struct {
	v1
	Link string `json:"link"`
}

// Kind is constant.
func (LinkEnded) Kind() Kind { return "people.link-ended" }

// DoublesJudged is said when a member decided whether two entries are one
// person.
type DoublesJudged struct {
	v1
	One   people.ID `json:"one"`
	Other people.ID `json:"other"`
	Same  bool      `json:"same"`
}

// Kind is constant.
func (DoublesJudged) Kind() Kind { return "people.doubles-judged" }

// PersonErased is said when a person's key is to be destroyed. After it nobody
// can read what was sealed for them; what law obliges the club to keep is named
// with the day on which it may go.
type PersonErased struct {
	v1
	Person people.ID   `json:"person"`
	Why    string      `json:"why"` // asked, retention
	Kept   []KeptPaper `json:"kept,omitempty"`
}

// KeptPaper names an issued paper that outlives an erasure.
type KeptPaper struct {
	Serial string     `json:"serial"`
	Until  clock.Date `json:"until"`
}

// Kind is constant.
func (PersonErased) Kind() Kind { return "people.person-erased" }

// SettingChanged is said when an administrator changes a setting of the club.
type SettingChanged struct {
	v1
	Name  string `json:"name"`
	Value string `json:"value"`
}

// Kind is constant.
func (SettingChanged) Kind() Kind { return "people.setting-changed" }

var (
	_ = declare[PersonRegistered]()
	_ = declare[PersonChanged]()
	_ = declare[RoleGiven]()
	_ = declare[RoleTaken]()
	_ = declare[ConsentGiven]()
	_ = declare[ConsentWithdrawn]()
	_ = declare[GuardianNamed]()
	_ = declare[LinkGiven]()
	_ = declare[LinkEnded]()
	_ = declare[DoublesJudged]()
	_ = declare[PersonErased]()
	_ = declare[SettingChanged]()
)

// The commands of the people room. The text behind each type is its verb:
// room.verb-noun.
type (
	// RegisterPerson puts a person into the book. Administrators register
	// members; stewards donors; coordinators households.
	RegisterPerson struct {
		Person   people.ID     `json:"person"`
		Sort     Sort          `json:"sort"`
		Details  PersonDetails `json:"details"`
		Consent  string        `json:"consent"`
		Guardian people.ID     `json:"guardian,omitempty"`
		Roles    []people.Role `json:"roles,omitempty"` // members only, by an administrator
	}
	// ChangePerson corrects details.
	ChangePerson struct {
		Person  people.ID     `json:"person"`
		Details PersonDetails `json:"details"`
	}
	// GiveRole lets a member do more. Administrator.
	GiveRole struct {
		Person people.ID   `json:"person"`
		Role   people.Role `json:"role"`
	}
	// TakeRole is its opposite; the last administrator keeps the role.
	TakeRole struct {
		Person people.ID   `json:"person"`
		Role   people.Role `json:"role"`
	}
	// WithdrawConsent records that a person takes an agreement back.
	WithdrawConsent struct {
		Person people.ID `json:"person"`
		Text   string    `json:"text"`
	}
	// GiveLink makes a private link and mails it.
	GiveLink struct {
		Link    string         `json:"link"`
		Person  people.ID      `json:"person"`
		Purpose people.Purpose `json:"purpose"`
		Subject string         `json:"subject"`
	}
	// EndLink stops a private link.
	EndLink struct {
		Link string `json:"link"`
	}
	// JudgeDoubles says whether two entries are one person.
	JudgeDoubles struct {
		One   people.ID `json:"one"`
		Other people.ID `json:"other"`
		Same  bool      `json:"same"`
	}
	// ErasePerson destroys a person's key. Administrator, or the person by
	// private link.
	ErasePerson struct {
		Person people.ID `json:"person"`
		Why    string    `json:"why"`
	}
	// ChangeSetting changes a setting of the club. Administrator.
	ChangeSetting struct {
		Name  string `json:"name"`
		Value string `json:"value"`
	}
)

// Verb is constant.
func (RegisterPerson) Verb() string { return "people.register-person" }

// Verb is constant.
func (ChangePerson) Verb() string { return "people.change-person" }

// Verb is constant.
func (GiveRole) Verb() string { return "people.give-role" }

// Verb is constant.
func (TakeRole) Verb() string { return "people.take-role" }

// Verb is constant.
func (WithdrawConsent) Verb() string { return "people.withdraw-consent" }

// Verb is constant.
func (GiveLink) Verb() string { return "people.give-link" }

// Verb is constant.
func (EndLink) Verb() string { return "people.end-link" }

// Verb is constant.
func (JudgeDoubles) Verb() string { return "people.judge-doubles" }

// Verb is constant.
func (ErasePerson) Verb() string { return "people.erase-person" }

// Verb is constant.
func (ChangeSetting) Verb() string { return "people.change-setting" }

// The questions that the people room answers; a question writes no event.
type (
	// AskSignIn asks for a one-time link by mail. The answer is the same whether
	// or not the address belongs to a member. The pages ask it.
	AskSignIn struct {
		Mail string `json:"mail"`
	}
	// SignInAsked answers AskSignIn: for how long a link works, if one was sent.
	SignInAsked struct {
		Minutes int `json:"minutes"`
	}
	// RedeemSignIn trades the secret of a one-time link for the member it was
	// mailed to. It works once, so a page asks it when a button is pressed, not
	// when the link is opened: mail programs open links to look at them.
	RedeemSignIn struct {
		Token string `json:"token"`
	}
	// SignedIn answers RedeemSignIn.
	SignedIn struct {
		Person people.ID `json:"person"`
	}
	// OpenLink trades the secret of a private link for what it opens.
	OpenLink struct {
		Token string `json:"token"`
	}
	// OpenedLink answers OpenLink.
	OpenedLink struct {
		Link    string         `json:"link"`
		Person  people.ID      `json:"person"`
		Purpose people.Purpose `json:"purpose"`
		Subject string         `json:"subject"`
		Until   time.Time      `json:"until"`
	}
	// LinkAddress asks for the secret of a link, to show or print it. Coordinators
	// for own-request, treasurers for own-papers, administrators for both.
	LinkAddress struct {
		Link string `json:"link"`
	}
	// LinkToken answers LinkAddress.
	LinkToken struct {
		Token   string `json:"token"`
		Address string `json:"address"` // the whole address, for printing
	}
	// ReadPeople asks for what is known of at most 500 persons. Stewards,
	// coordinators, treasurers and administrators; a person by private link for
	// themselves. It answers with PeopleRead.
	ReadPeople struct {
		IDs []people.ID `json:"ids"`
	}
	// PeopleRead holds the persons that the club knows, in the order asked for.
	PeopleRead struct {
		People []PersonRead `json:"people"`
	}
	// PersonRead is a person in clear. An erased person has no details.
	PersonRead struct {
		Person  people.ID     `json:"person"`
		Sort    Sort          `json:"sort"`
		Details PersonDetails `json:"details"`
		Erased  bool          `json:"erased,omitempty"`
	}
	// LikelyDoubles asks for pairs of entries that may be one person and were not
	// judged yet. Coordinators and administrators. It answers with DoublesFound.
	LikelyDoubles struct{}
	// DoublesFound lists at most 200 pairs; those that share most come first.
	DoublesFound struct {
		Pairs []LikelyDouble `json:"pairs"`
	}
	// LikelyDouble is a pair and what the two share: mail, phone, name.
	LikelyDouble struct {
		One    people.ID `json:"one"`
		Other  people.ID `json:"other"`
		Shares []string  `json:"shares"`
	}
	// BlindTexts asks for texts blinded with the master key, at most 500, so that
	// an import can make ids out of names which tell nobody the names. The
	// operator at the machine. It answers with TextsBlinded.
	BlindTexts struct {
		Texts []string `json:"texts"`
	}
	// TextsBlinded holds 64 hexadecimal digits for each text, in order.
	TextsBlinded struct {
		Blinded []string `json:"blinded"`
	}
)

// Verb is constant.
func (AskSignIn) Verb() string { return "people.ask-sign-in" }

// OnlyOnce marks a question that does something: nobody asks it again by
// themselves.
func (AskSignIn) OnlyOnce() {}

// OnlyOnce is as for AskSignIn.
func (RedeemSignIn) OnlyOnce() {}

// Verb is constant.
func (RedeemSignIn) Verb() string { return "people.redeem-sign-in" }

// Verb is constant.
func (OpenLink) Verb() string { return "people.open-link" }

// Verb is constant.
func (LinkAddress) Verb() string { return "people.link-address" }

// Verb is constant.
func (ReadPeople) Verb() string { return "people.read-people" }

// Verb is constant.
func (BlindTexts) Verb() string { return "people.blind-texts" }

// Verb is constant.
func (LikelyDoubles) Verb() string { return "people.likely-doubles" }

// The paths behind the club's address at which the pages take secrets. They
// stand in letters that were sent, so they never change.
const (
	LinkPath   = "/link/"    // and a private link's token
	SignInPath = "/sign-in/" // and a one-time token
	PaperPath  = "/paper/"   // and a paper's serial, a slash, and its salt
)

// Blind is vault.Vault's Blind: the same 64 hexadecimal digits for the same
// purpose and text, which nobody can compute without the master key.
type Blind func(purpose, text string) string

// blindLink is the purpose under which links are blinded.
const blindLink = "private-link"

// LinkTokenOf gives the secret of a private link, "LINK.DIGITS". It stands
// nowhere; whoever has the master key can make it again.
func LinkTokenOf(blind Blind, link string) string { return link + "." + blind(blindLink, link) }

// LinkOf gives the link whose secret a token is. It takes the same time for
// every wrong secret of one length. Whether the link still stands is another
// question.
func LinkOf(blind Blind, token string) (link string, ok bool) {
	link = token[:max(0, strings.LastIndexByte(token, '.'))]
	ok = subtle.ConstantTimeCompare([]byte(LinkTokenOf(blind, link)), []byte(token)) == 1
	return link, ok
}
