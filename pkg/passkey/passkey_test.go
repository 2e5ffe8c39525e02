package passkey_test

import (
	"encoding/base64"
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/passkey"
)

// vector is a test vector of Web Authentication Level 3, §16; testdata/vectors.json
// names its source.
type vector struct {
	Name, Kind, Credential, Challenge, Attestation, Signature string
	ClientData                                                string `json:"client_data"`
	AuthenticatorData                                         string `json:"authenticator_data"`
	PublicKey                                                 string `json:"public_key"`
	Eligible                                                  bool
}

func vectorOf(t *testing.T, kind, name string) vector {
	t.Helper()
	raw, err := os.ReadFile("testdata/vectors.json")
	require.NoError(t, err)
	var all struct{ Vectors []vector }
	require.NoError(t, json.Unmarshal(raw, &all))
	for _, v := range all.Vectors {
		if v.Kind == kind && v.Name == name {
			return v
		}
	}
	t.Fatalf("no vector %s %s", kind, name)
	return vector{}
}

// response is the vector as a browser sends it. The handle is not signed.
func (v vector) response(handle string) []byte {
	answer := map[string]any{"clientDataJSON": v.ClientData}
	if v.Kind == "create" {
		answer["attestationObject"] = v.Attestation
	} else {
		answer["authenticatorData"], answer["signature"] = v.AuthenticatorData, v.Signature
		answer["userHandle"] = base64.RawURLEncoding.EncodeToString([]byte(handle))
	}
	raw, _ := json.Marshal(map[string]any{"id": v.Credential, "rawId": v.Credential, "type": "public-key", "clientExtensionResults": map[string]any{}, "response": answer})
	return raw
}

func (v vector) holder(t *testing.T) passkey.Holder {
	t.Helper()
	id, err := base64.RawURLEncoding.DecodeString(v.Credential)
	require.NoError(t, err)
	key, err := base64.RawURLEncoding.DecodeString(v.PublicKey)
	require.NoError(t, err)
	return passkey.Holder{ID: "ada", Passkeys: []passkey.Passkey{{Credential: id, PublicKey: key, Eligible: v.Eligible}}}
}

func party(t *testing.T, base string) *passkey.Party {
	t.Helper()
	p, err := passkey.For(base)
	require.NoError(t, err)
	return p
}

const home = "https://example.org"

func TestANewPasskeyIsChecked(t *testing.T) {
	good := vectorOf(t, "create", "PackedSelfES256")
	h := passkey.Holder{ID: "ada", Mail: "ada@example.org", Name: "Ada"}
	key, err := party(t, home).New(h, good.Challenge, good.response(""))
	require.NoError(t, err)
	assert.Equal(t, good.Credential, base64.RawURLEncoding.EncodeToString(key.Credential))
	assert.NotEmpty(t, key.PublicKey)
	assert.True(t, key.Eligible, "flag BE of the vector")

	other := vectorOf(t, "create", "NoneES256")
	crossing := vectorOf(t, "create", "NoneES256CrossOriginNotAllowed")
	for name, row := range map[string]struct {
		base      string
		challenge string
		response  []byte
	}{
		"another challenge":             {home, other.Challenge, good.response("")},
		"another origin of the domain":  {"https://example.org:8443", good.Challenge, good.response("")},
		"another domain":                {"https://example.com", good.Challenge, good.response("")},
		"the owner was not made sure":   {home, other.Challenge, other.response("")},
		"inside another site's page":    {home, crossing.Challenge, crossing.response("")},
		"an answer to sign in":          {home, good.Challenge, vectorOf(t, "get", "NoneES256LongCredentialID").response("ada")},
		"no challenge at all was asked": {home, "", good.response("")},
	} {
		_, err := party(t, row.base).New(h, row.challenge, row.response)
		assert.Error(t, err, name)
	}
}

func TestSigningInIsChecked(t *testing.T) {
	good := vectorOf(t, "get", "NoneES256LongCredentialID")
	h := good.holder(t)
	said, err := passkey.Read(good.response("ada"))
	require.NoError(t, err)
	assert.Equal(t, passkey.Said{Challenge: good.Challenge, Holder: "ada"}, said)
	key, err := party(t, home).SignIn(h, good.Challenge, good.response("ada"))
	require.NoError(t, err)
	assert.Equal(t, h.Passkeys[0].Credential, key.Credential)

	counted := good.holder(t)
	counted.Passkeys[0].Count = 5
	_, err = party(t, home).SignIn(counted, good.Challenge, good.response("ada"))
	assert.ErrorIs(t, err, passkey.ErrCopied, "the vector's count is 0, which is not more than 5")

	weak := vectorOf(t, "get", "NoneES256")
	crossing := vectorOf(t, "get", "NoneES256CrossOriginNotAllowed")
	forged := good
	forged.Signature = weak.Signature
	grown := good.holder(t)
	grown.Passkeys[0].Eligible = false
	for name, row := range map[string]struct {
		holder    passkey.Holder
		base      string
		challenge string
		response  []byte
	}{
		"another challenge":            {h, home, weak.Challenge, good.response("ada")},
		"another origin of the domain": {h, "https://example.org:8443", good.Challenge, good.response("ada")},
		"another domain":               {h, "https://example.com", good.Challenge, good.response("ada")},
		"a removed passkey":            {passkey.Holder{ID: "ada"}, home, good.Challenge, good.response("ada")},
		"somebody else's":              {h, home, good.Challenge, good.response("bee")},
		"nobody's":                     {h, home, good.Challenge, good.response("")},
		"the owner was not made sure":  {weak.holder(t), home, weak.Challenge, weak.response("ada")},
		"inside another site's page":   {crossing.holder(t), home, crossing.Challenge, crossing.response("ada")},
		"a forged signature":           {h, home, good.Challenge, forged.response("ada")},
		"one that became another sort": {grown, home, good.Challenge, good.response("ada")},
	} {
		_, err := party(t, row.base).SignIn(row.holder, row.challenge, row.response)
		assert.Error(t, err, name)
		assert.NotErrorIs(t, err, passkey.ErrCopied, name)
	}
}

// What the browser is asked, by Web Authentication Level 2, §5.4 and §5.5.
func TestWhatBrowsersAreAsked(t *testing.T) {
	p := party(t, "https://club.example/")
	h := passkey.Holder{ID: "ada", Mail: "ada@example.org", Name: "Ada", Passkeys: []passkey.Passkey{{Credential: []byte("old")}}}
	asked, err := p.AskNew(h)
	require.NoError(t, err)
	var new struct {
		PublicKey struct {
			RP                     struct{ ID string }
			Challenge, Attestation string
			ExcludeCredentials     []struct{ ID string }
			AuthenticatorSelection struct{ ResidentKey, UserVerification string }
		}
	}
	require.NoError(t, json.Unmarshal(asked.Options, &new))
	assert.Equal(t, "club.example", new.PublicKey.RP.ID)
	assert.Equal(t, asked.Challenge, new.PublicKey.Challenge)
	assert.Equal(t, "required", new.PublicKey.AuthenticatorSelection.ResidentKey)
	assert.Equal(t, "required", new.PublicKey.AuthenticatorSelection.UserVerification)
	assert.Len(t, new.PublicKey.ExcludeCredentials, 1, "a device that has one makes no second")

	first, err := p.AskSignIn()
	require.NoError(t, err)
	second, err := p.AskSignIn()
	require.NoError(t, err)
	assert.NotEqual(t, first.Challenge, second.Challenge)
	assert.GreaterOrEqual(t, len(first.Challenge), 22, "at least 16 random bytes (§13.4.3)")
	assert.Contains(t, string(first.Options), `"userVerification":"required"`)
	assert.NotContains(t, string(first.Options), "allowCredentials", "whoever has a passkey")
}

func TestWhereThereArePasskeys(t *testing.T) {
	for base, want := range map[string]bool{
		"https://club.example": true, "https://club.example:8443": true, "http://localhost:8480": true,
		"http://club.example": false, "http://127.0.0.1:8480": false, "https://[2001:db8::1]": false, "": false, "ftp://club.example": false,
	} {
		assert.Equal(t, want, passkey.Possible(base), base)
		_, err := passkey.For(base)
		assert.Equal(t, want, err == nil, base)
	}
}

func TestWhatIsNoAnswerIsRefused(t *testing.T) {
	for _, text := range []string{"", "{}", "[]", `{"response":{"clientDataJSON":"e30"}}`, `{"response":{"clientDataJSON":"%"}}`, string(make([]byte, passkey.MaxResponse+1))} {
		_, err := passkey.Read([]byte(text))
		assert.Error(t, err, "%.40q", text)
	}
}
