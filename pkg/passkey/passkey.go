// Package passkey checks passkeys: the credentials with which a phone, a computer
// or a security key signs somebody in (Web Authentication Level 2 and 3, W3C).
//
// It promises that an answer counts only for the challenge it was made for, only
// from pages of the club's own address, and only when the device has made sure of
// its owner (user verification) and keeps whose passkey it is (discoverable
// credentials). It keeps nothing: whoever calls keeps each challenge, and gives it
// here once.
//
// It does not ask who made the device (attestation): the club has no list of
// devices that it would refuse.
package passkey

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/url"
	"strings"

	"github.com/go-webauthn/webauthn/protocol"
	"github.com/go-webauthn/webauthn/webauthn"
)

// MaxResponse bounds what a browser may send of a ceremony, in bytes.
const MaxResponse = 16 << 10

// Errors that callers tell apart; everything else is a passkey that does not fit.
var (
	// ErrAddress says that the public address cannot have passkeys.
	ErrAddress = errors.New("passkeys need a public address with a name, over https")
	// ErrCopied says that the device's count of signatures did not grow: it may have
	// been copied (Web Authentication Level 2, §6.1.1).
	ErrCopied = errors.New("the passkey's count did not grow")
)

// Possible says whether browsers let pages at a public address use passkeys: it
// needs a name, since a number is no valid domain, and https, but on the machine
// itself (Web Authentication Level 2, §5.1.3 step 7 and §13.4.9; Secure Contexts,
// §3.1 for localhost).
func Possible(base string) bool {
	u, err := url.Parse(base)
	if err != nil || u.Hostname() == "" || net.ParseIP(u.Hostname()) != nil {
		return false
	}
	local := u.Hostname() == "localhost" || strings.HasSuffix(u.Hostname(), ".localhost")
	return u.Scheme == "https" || u.Scheme == "http" && local
}

// Party is the club as browsers know it: the relying party.
type Party struct{ rules *webauthn.WebAuthn }

// For gives the party of a public address ("https://club.example"), or ErrAddress.
func For(base string) (*Party, error) {
	if !Possible(base) {
		return nil, ErrAddress
	}
	u, err := url.Parse(base)
	if err != nil {
		return nil, err
	}
	rules, err := webauthn.New(&webauthn.Config{
		RPID: u.Hostname(), RPDisplayName: u.Hostname(), RPOrigins: []string{u.Scheme + "://" + u.Host},
		AttestationPreference: protocol.PreferNoAttestation,
		AuthenticatorSelection: protocol.AuthenticatorSelection{
			RequireResidentKey: protocol.ResidentKeyRequired(), ResidentKey: protocol.ResidentKeyRequirementRequired,
			UserVerification: protocol.VerificationRequired,
		},
	})
	if err != nil {
		return nil, fmt.Errorf("passkeys for %s: %w", base, err)
	}
	return &Party{rules}, nil
}

// Passkey is what is kept of one.
type Passkey struct {
	Credential []byte `json:"credential"` // the credential's id
	PublicKey  []byte `json:"public_key"` // COSE_Key
	// Eligible says whether the device may copy it to others of its owner's; it
	// never changes.
	Eligible bool   `json:"eligible,omitempty"`
	Count    uint32 `json:"count,omitempty"` // of signatures; 0 for devices that do not count
}

// Holder is somebody with their passkeys. ID goes to the device and comes back
// when they sign in: at most 64 bytes, and nothing personal in it.
type Holder struct {
	ID         string
	Mail, Name string // shown by the device
	Passkeys   []Passkey
}

// WebAuthnID is for the library, as are the others.
func (h Holder) WebAuthnID() []byte { return []byte(h.ID) }

// WebAuthnName is what the device shows.
func (h Holder) WebAuthnName() string { return h.Mail }

// WebAuthnDisplayName is what the device shows.
func (h Holder) WebAuthnDisplayName() string { return h.Name }

// WebAuthnCredentials are those that stand.
func (h Holder) WebAuthnCredentials() []webauthn.Credential {
	all := make([]webauthn.Credential, len(h.Passkeys))
	for i, p := range h.Passkeys {
		all[i] = webauthn.Credential{
			ID: p.Credential, PublicKey: p.PublicKey, Flags: webauthn.CredentialFlags{BackupEligible: p.Eligible},
			Authenticator: webauthn.Authenticator{SignCount: p.Count},
		}
	}
	return all
}

// Asked is what a browser is asked, and the challenge in it.
type Asked struct {
	Options   json.RawMessage // for navigator.credentials, with an outer "publicKey"
	Challenge string
}

func asked(options any, session *webauthn.SessionData) (Asked, error) {
	raw, err := json.Marshal(options)
	return Asked{raw, session.Challenge}, err
}

// AskNew asks for a new passkey of a holder's, on a device that has none yet.
func (p *Party) AskNew(h Holder) (Asked, error) {
	have := webauthn.Credentials(h.WebAuthnCredentials()).CredentialDescriptors()
	options, session, err := p.rules.BeginRegistration(h, webauthn.WithExclusions(have))
	if err != nil {
		return Asked{}, err
	}
	return asked(options, session)
}

// AskSignIn asks for any passkey that the browser has for the club.
func (p *Party) AskSignIn() (Asked, error) {
	options, session, err := p.rules.BeginDiscoverableLogin(webauthn.WithUserVerification(protocol.VerificationRequired))
	if err != nil {
		return Asked{}, err
	}
	return asked(options, session)
}

func (p *Party) session(challenge string) webauthn.SessionData {
	return webauthn.SessionData{
		Challenge: challenge, RelyingPartyID: p.rules.Config.RPID, UserVerification: protocol.VerificationRequired,
		CredParams: webauthn.CredentialParametersDefault(),
	}
}

// New checks what a browser answered to AskNew.
func (p *Party) New(h Holder, challenge string, response []byte) (Passkey, error) {
	parsed, err := protocol.ParseCredentialCreationResponseBytes(response)
	if err != nil {
		return Passkey{}, plain(err)
	}
	session := p.session(challenge)
	session.UserID = h.WebAuthnID()
	made, err := p.rules.CreateCredential(h, session, parsed)
	if err != nil {
		return Passkey{}, plain(err)
	}
	return Passkey{Credential: made.ID, PublicKey: made.PublicKey, Eligible: made.Flags.BackupEligible, Count: made.Authenticator.SignCount}, nil
}

// SignIn checks what a browser answered to AskSignIn, for the holder whom Said
// names. It gives the passkey with its new count; with ErrCopied, the one that was
// used.
func (p *Party) SignIn(h Holder, challenge string, response []byte) (Passkey, error) {
	parsed, err := protocol.ParseCredentialRequestResponseBytes(response)
	if err != nil {
		return Passkey{}, plain(err)
	}
	find := func([]byte, []byte) (webauthn.User, error) { return h, nil }
	_, used, err := p.rules.ValidatePasskeyLogin(find, p.session(challenge), parsed)
	if err != nil {
		return Passkey{}, plain(err)
	}
	key := Passkey{Credential: used.ID, PublicKey: used.PublicKey, Eligible: used.Flags.BackupEligible, Count: used.Authenticator.SignCount}
	if used.Authenticator.CloneWarning {
		return key, ErrCopied
	}
	return key, nil
}

// plain gives the library's reason as one error; its own shows little.
func plain(err error) error {
	var told *protocol.Error
	if errors.As(err, &told) {
		return fmt.Errorf("%s: %s", told.Details, told.DevInfo)
	}
	return err
}

// Said is what an answer says of itself, before anything of it is checked.
type Said struct {
	Challenge string
	Holder    string // the ID of whose passkey it is; empty in answers to AskNew
}

// Read reads what an answer says of itself.
func Read(response []byte) (Said, error) {
	if len(response) > MaxResponse {
		return Said{}, fmt.Errorf("an answer of more than %d bytes", MaxResponse)
	}
	var outer struct {
		Response struct {
			ClientData string `json:"clientDataJSON"`
			Handle     string `json:"userHandle"`
		} `json:"response"`
	}
	if err := json.Unmarshal(response, &outer); err != nil {
		return Said{}, err
	}
	raw, err := decode(outer.Response.ClientData)
	if err != nil {
		return Said{}, err
	}
	var inner struct {
		Challenge string `json:"challenge"`
	}
	if err := json.Unmarshal(raw, &inner); err != nil {
		return Said{}, err
	}
	handle, err := decode(outer.Response.Handle)
	if err == nil && inner.Challenge == "" {
		err = errors.New("an answer without a challenge")
	}
	return Said{inner.Challenge, string(handle)}, err
}

func decode(text string) ([]byte, error) {
	return base64.RawURLEncoding.DecodeString(strings.TrimRight(text, "="))
}

// Digest is what is kept of a challenge.
func Digest(challenge string) []byte {
	sum := sha256.Sum256([]byte(challenge))
	return sum[:]
}
