package message

import (
	"encoding/json"
	"time"

	"refloat.example/pkg/people"
)

// SealPasskey is the purpose under which a passkey is sealed with its member's
// key: an erasure makes it useless, too.
const SealPasskey = "person.passkey"

// PasskeyContent is what is sealed of a passkey.
type PasskeyContent struct {
	Name string `json:"name"` // what its member calls it
	// What a sign-in is checked with: the credential's id, its public key as
	// COSE_Key, whether it may be copied to other devices of its owner's, and its
	// count of signatures when it was added.
	Credential []byte `json:"credential"`
	PublicKey  []byte `json:"public_key"`
	Eligible   bool   `json:"eligible,omitempty"`
	Count      uint32 `json:"count,omitempty"`
}

// PasskeyAdded is said when a member may sign in with a passkey as well, after it
// was checked. Not said when somebody signs in with it.
type PasskeyAdded struct {
	v1
	Person  people.ID `json:"person"`
	Passkey string    `json:"passkey"`
	Sealed  string    `json:"sealed"` // PasskeyContent
}

// Kind is constant.
func (PasskeyAdded) Kind() Kind { return "people.passkey-added" }

// PasskeyRemoved is said when a passkey signs nobody in any more. Not said when its
// member is erased or loses every role.
type PasskeyRemoved struct {
	v1
	Person  people.ID `json:"person"`
	Passkey string    `json:"passkey"`
}

// Kind is constant.
func (PasskeyRemoved) Kind() Kind { return "people.passkey-removed" }

var (
	_ = declare[PasskeyAdded]()
	_ = declare[PasskeyRemoved]()
)

type (
	// AddPasskey adds a passkey of the member's own. Response is what the browser
	// answered to what AskPasskey asks.
	AddPasskey struct {
		Passkey  string `json:"passkey"`
		Name     string `json:"name"`
		Response string `json:"response"`
	}
	// RemovePasskey ends a passkey: its member, or an administrator.
	RemovePasskey struct {
		Person  people.ID `json:"person"`
		Passkey string    `json:"passkey"`
	}
	// AskPasskey begins adding a passkey of the member's own. It answers with
	// PasskeyAsked.
	AskPasskey struct{}
	// AskPasskeySignIn begins signing in with a passkey, whoever it will be. The pages
	// ask it. It answers with PasskeyAsked.
	AskPasskeySignIn struct{}
	// PasskeyAsked is what the browser is to do, as navigator.credentials reads it.
	PasskeyAsked struct {
		Options json.RawMessage `json:"options"`
	}
	// RedeemPasskey trades what the browser answered for the member whose passkey it
	// is. It works once, and answers with SignedIn.
	RedeemPasskey struct {
		Response string `json:"response"`
	}
	// ReadPasskeys asks for a member's passkeys: the member, or an administrator. It
	// answers with PasskeysRead.
	ReadPasskeys struct {
		Person people.ID `json:"person"`
	}
	// PasskeysRead lists them in the order in which they were added.
	PasskeysRead struct {
		Passkeys []PasskeyRead `json:"passkeys"`
	}
	// PasskeyRead is a passkey as its member sees it.
	PasskeyRead struct {
		Passkey string     `json:"passkey"`
		Name    string     `json:"name"`
		Added   time.Time  `json:"added"`
		Used    *time.Time `json:"used,omitempty"`
		// Copied says since when it is refused, because its count did not grow.
		Copied *time.Time `json:"copied,omitempty"`
	}
)

// Verb is constant.
func (AddPasskey) Verb() string { return "people.add-passkey" }

// Verb is constant.
func (RemovePasskey) Verb() string { return "people.remove-passkey" }

// Verb is constant.
func (AskPasskey) Verb() string { return "people.ask-passkey" }

// Verb is constant.
func (AskPasskeySignIn) Verb() string { return "people.ask-passkey-sign-in" }

// Verb is constant.
func (RedeemPasskey) Verb() string { return "people.redeem-passkey" }

// Verb is constant.
func (ReadPasskeys) Verb() string { return "people.read-passkeys" }

// OnlyOnce is as for AskSignIn.
func (RedeemPasskey) OnlyOnce() {}
