package people_test

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	who "refloat.example/pkg/people"
)

// device makes and uses one passkey, by Web Authentication Level 2, §6.1 (the
// authenticator's data) and §6.5.1 (the attested credential), and RFC 8152 §13.1.1
// (the key).
type device struct {
	origin string
	key    *ecdsa.PrivateKey
	id     []byte
	handle string
	count  uint32
}

func encoded(raw []byte) string { return base64.RawURLEncoding.EncodeToString(raw) }

func (d *device) clientData(sort, challenge string) []byte {
	raw, _ := json.Marshal(map[string]any{"type": "webauthn." + sort, "challenge": challenge, "origin": d.origin, "crossOrigin": false})
	return raw
}

func (d *device) data(flags byte) []byte {
	d.count++
	party := sha256.Sum256([]byte("quillwater.example"))
	return binary.BigEndian.AppendUint32(append(party[:], flags), d.count)
}

func (d *device) answer(response map[string]any) string {
	raw, _ := json.Marshal(map[string]any{"id": encoded(d.id), "rawId": encoded(d.id), "type": "public-key", "clientExtensionResults": map[string]any{}, "response": response})
	return string(raw)
}

// askedOf is what is asked, as far as a device reads it.
type askedOf struct {
	PublicKey struct {
		Challenge string
		User      struct{ ID string }
	}
}

func (c *club) askedOf(a message.PasskeyAsked) askedOf {
	c.t.Helper()
	var o askedOf
	require.NoError(c.t, json.Unmarshal(a.Options, &o))
	return o
}

// make answers AskPasskey.
func (c *club) make(d *device, a message.PasskeyAsked) string {
	c.t.Helper()
	var err error
	d.key, err = ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(c.t, err)
	o := c.askedOf(a)
	handle, err := base64.RawURLEncoding.DecodeString(o.PublicKey.User.ID)
	require.NoError(c.t, err)
	d.id, d.handle = []byte(rand.Text()), string(handle)
	point, err := d.key.PublicKey.Bytes() // 4, x, y
	require.NoError(c.t, err)
	cose := append(append(append([]byte{0xa5, 1, 2, 3, 0x26, 0x20, 1, 0x21, 0x58, 32}, point[1:33]...), 0x22, 0x58, 32), point[33:]...)
	data := append(d.data(0x45), make([]byte, 16)...) // present, verified, attested
	data = append(binary.BigEndian.AppendUint16(data, uint16(len(d.id))), d.id...)
	data = append(data, cose...)
	object := []byte("\xa3cfmtdnonegattStmt\xa0hauthDataX") // CBOR: a text of n bytes begins with 0x60+n
	object = append(object, byte(len(data)))
	return d.answer(map[string]any{"clientDataJSON": encoded(d.clientData("create", o.PublicKey.Challenge)), "attestationObject": encoded(append(object, data...))})
}

// sign answers AskPasskeySignIn.
func (c *club) sign(d *device, a message.PasskeyAsked) message.RedeemPasskey {
	c.t.Helper()
	client, data := d.clientData("get", c.askedOf(a).PublicKey.Challenge), d.data(0x05)
	hash := sha256.Sum256(client)
	digest := sha256.Sum256(append(append([]byte{}, data...), hash[:]...))
	signature, err := ecdsa.SignASN1(rand.Reader, d.key, digest[:])
	require.NoError(c.t, err)
	return message.RedeemPasskey{Response: d.answer(map[string]any{
		"clientDataJSON": encoded(client), "authenticatorData": encoded(data), "signature": encoded(signature), "userHandle": encoded([]byte(d.handle)),
	})}
}

func (c *club) askToSignIn() message.PasskeyAsked {
	c.t.Helper()
	return desktest.Ask[message.PasskeyAsked](c.Club, pages, message.AskPasskeySignIn{})
}

func (c *club) refused(q message.RedeemPasskey, words string) {
	c.t.Helper()
	f := questionFault[message.SignedIn](c, pages, q)
	assert.Equal(c.t, fault.Invalid, f.Kind)
	assert.Contains(c.t, f.Text, words)
}

func TestAPasskeySignsItsMemberIn(t *testing.T) {
	c := start(t)
	ada := c.register(message.MemberSort, "Ada Oxlip", "ada@example.org", who.Steward)
	bee := c.register(message.MemberSort, "Bee Rush", "bee@example.org", who.Steward)
	admin := c.register(message.MemberSort, "Lin Alder", "lin@example.org", who.Administrator)
	c.Settle()
	d := &device{origin: base}
	add := func(a message.PasskeyAsked) message.AddPasskey {
		return message.AddPasskey{Passkey: desktest.ID(), Name: "my phone", Response: c.make(d, a)}
	}
	ask := func(by who.ID) message.PasskeyAsked {
		return desktest.Ask[message.PasskeyAsked](c.Club, who.Member(by), message.AskPasskey{})
	}

	// What was asked of one member adds nothing for another, and nothing twice.
	stolen := add(ask(ada))
	assert.Equal(t, fault.Invalid, c.fault(who.Member(bee), stolen).Kind)
	added := add(ask(ada))
	_, err := c.Client.Do(t.Context(), desk.Asking{By: who.Member(ada), Key: desktest.ID(), Check: true}, added)
	require.NoError(t, err)
	c.Do(who.Member(ada), added) // decided a second time, as after a conflict
	c.Do(who.Member(ada), added) // sent again by one who has not heard
	other := add(ask(ada))
	other.Passkey = added.Passkey
	assert.Contains(t, c.fault(who.Member(ada), other).Text, "in the book already")
	again := added
	again.Passkey = desktest.ID()
	assert.Contains(t, c.fault(who.Member(ada), again).Text, "used already")
	late := add(ask(ada))
	kept := *d
	c.Clock.Advance(6 * time.Minute)
	assert.Contains(t, c.fault(who.Member(ada), late).Text, "too long")
	for field, bad := range map[string]message.AddPasskey{
		"name": {Passkey: desktest.ID(), Name: " "}, "passkey": {Passkey: "", Name: "x"}, "": {Passkey: desktest.ID(), Name: "x", Response: "{"},
	} {
		assert.Equal(t, field, c.fault(who.Member(ada), bad).Field)
	}
	second := add(ask(ada))
	second.Name = "the desk"
	c.Do(who.Member(ada), second)
	c.Settle()
	for _, word := range []string{"my phone", encoded(d.id), encoded(kept.id)} {
		assert.NotContains(t, c.DB.Dump("ledger.event")+c.DB.Dump("people.passkey_challenge"), word, "sealed")
	}

	// It signs in, once for each challenge, from the club's own pages.
	asked := c.askToSignIn()
	answer := c.sign(d, asked)
	assert.Equal(t, ada, desktest.Ask[message.SignedIn](c.Club, pages, answer).Person)
	c.refused(answer, "used already")
	d.origin = "https://elsewhere.example"
	c.refused(c.sign(d, c.askToSignIn()), "does not take this passkey")
	d.origin = base
	forged := c.sign(d, asked)
	c.refused(forged, "used already")
	slow := c.sign(d, c.askToSignIn())
	c.Clock.Advance(6 * time.Minute)
	c.refused(slow, "too long")
	d.handle = string(bee)
	c.refused(c.sign(d, c.askToSignIn()), "does not take this passkey")
	d.handle = string(ada)
	list := func(by who.ID) []message.PasskeyRead {
		return desktest.Ask[message.PasskeysRead](c.Club, who.Member(by), message.ReadPasskeys{Person: ada}).Passkeys
	}
	require.Len(t, list(ada), 2)
	assert.Equal(t, "my phone", list(ada)[0].Name)
	assert.Nil(t, list(ada)[0].Used)
	assert.NotNil(t, list(admin)[1].Used)
	assert.Equal(t, fault.Forbidden, questionFault[message.PasskeysRead](c, who.Member(bee), message.ReadPasskeys{Person: ada}).Kind)

	// A count that does not grow: from now on it is refused, whatever it says.
	d.count = 0
	c.refused(c.sign(d, c.askToSignIn()), "copied")
	d.count += 100
	c.refused(c.sign(d, c.askToSignIn()), "copied")
	assert.NotNil(t, list(ada)[1].Copied)

	// Removed, by its member or an administrator.
	remove := message.RemovePasskey{Person: ada, Passkey: second.Passkey}
	assert.Equal(t, fault.Forbidden, c.fault(who.Member(bee), remove).Kind)
	c.Do(who.Member(admin), remove)
	c.refused(c.sign(d, c.askToSignIn()), "does not take this passkey")
	c.Do(who.Member(admin), remove)

	third := add(ask(ada))
	c.Do(who.Member(ada), third)
	assert.Equal(t, ada, desktest.Ask[message.SignedIn](c.Club, pages, c.sign(d, c.askToSignIn())).Person)
	c.Do(desktest.Operator, message.ErasePerson{Person: ada, Why: "asked"})
	c.Settle()
	c.refused(c.sign(d, c.askToSignIn()), "does not take this passkey")
	assert.NotContains(t, c.DB.Dump("people.passkey_use"), string(ada))
}

func TestWhoMayHavePasskeys(t *testing.T) {
	c := start(t)
	made := c.ask(c.introduced(message.HouseholdSort, "Cam Sedge", ""))
	c.Settle()
	for name, by := range map[string]who.Actor{"a private link": {Link: made.Link}, "the pages": pages, "nobody": {}} {
		for _, q := range []desk.Commanded{message.AskPasskey{}, message.ReadPasskeys{Person: made.Household}} {
			_, err := desk.Ask[message.PasskeyAsked](t.Context(), c.Client, desk.Asking{By: by}, q)
			assert.Error(t, err, name)
		}
		for _, order := range []desk.Commanded{message.AddPasskey{Passkey: "k", Name: "x"}, message.RemovePasskey{Person: made.Household, Passkey: "k"}} {
			assert.Contains(t, []fault.Kind{fault.Forbidden, fault.SignIn}, c.fault(by, order).Kind, name)
		}
	}
}
