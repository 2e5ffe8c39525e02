package vault

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sync/errgroup"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/postgrestest"
)

// canary is a text that must be found nowhere.
const canary = "Canary Quillwater, 12 Slipway, canary@example.org"

type setup struct {
	db    *postgrestest.DB
	path  string
	vault *Vault
	clock *clock.Manual
}

func newSetup(t *testing.T) *setup {
	t.Helper()
	s := &setup{
		db:    postgrestest.New(t, postgrestest.Migration{Schema: Schema, Files: Migrations}),
		path:  filepath.Join(t.TempDir(), "keys", "master.key"),
		clock: clock.NewManual(time.Date(2026, time.April, 1, 9, 0, 0, 0, time.UTC)),
	}
	s.vault = s.open(t)
	return s
}

// open opens the vault as another process would.
func (s *setup) open(t *testing.T) *Vault {
	t.Helper()
	v, err := Open(t.Context(), s.db.Pool, s.path)
	require.NoError(t, err)
	v.cache.clock = s.clock
	return v
}

func (s *setup) seal(t *testing.T, person, purpose string, plain any) Sealed {
	t.Helper()
	sealed, err := s.vault.Seal(t.Context(), person, purpose, plain)
	require.NoError(t, err)
	return sealed
}

func unseal(v *Vault, person, purpose string, sealed Sealed) (string, error) {
	var text string
	err := v.Unseal(context.Background(), person, purpose, sealed, &text)
	return text, err
}

// Made with another library from the layout that the package describes:
// Python's cryptography 48.0.0 (AESGCM, HKDF). The master key is bytes 0 to 31,
// the data key bytes 64 to 95, the nonces bytes 100 to 111 and 200 to 211.
const (
	otherFingerprint = "ba3fe16a072b19f37297d149968201fe7a532ea93217a7eea58bc1a59844905a"
	otherWrapped     = "6465666768696a6b6c6d6e6fc3df706bb23eee67b84efa75c9ec79130d2ba1e1d192efeff783f98ef7f7732064dd459c3507f3385e7fa740412e5c0e"
	otherSealed      = "v1.yMnKy8zNzs_Q0dLTFJEG_sLHHMFa5nl2uFa4-w_IfTdnJA4GR2UXNWa3kOg_CWgIv_zmxGovHUo-xW--apja"
	// Python's hmac and hashlib: HMAC-SHA256 of "ada@example.org".
	otherBlind = "c86522dadd36c8adbdb35560c3a627eeaf3d9acb67d0c7e4087a951b2ac8b4e8"
)

func TestTheLayoutIsTheOneThatIsDescribed(t *testing.T) {
	ctx := t.Context()
	db := postgrestest.New(t, postgrestest.Migration{Schema: Schema, Files: Migrations})
	path := filepath.Join(t.TempDir(), "master.key")
	master := make([]byte, 32)
	for i := range master {
		master[i] = byte(i)
	}
	require.NoError(t, os.WriteFile(path, fmt.Appendf(nil, "%x\n", master), 0o600))
	wrapped, err := hex.DecodeString(otherWrapped)
	require.NoError(t, err)
	db.Exec("INSERT INTO vault.person_key (person, wrapped) VALUES ('person-7', $1)", wrapped)

	v, err := Open(ctx, db.Pool, path)
	require.NoError(t, err)
	var got struct {
		Name  string `json:"name"`
		Reach int    `json:"reach_cm"`
	}
	require.NoError(t, v.Unseal(ctx, "person-7", "note/1", otherSealed, &got))
	assert.Equal(t, "Ada Oxlip", got.Name)
	assert.Equal(t, 171, got.Reach)
	assert.Equal(t, otherFingerprint, v.ring.Load().now.fingerprint())
	assert.Equal(t, otherBlind, v.Blind("email", "ada@example.org"))
}

func TestASealedValueOpensInItsPlaceOnly(t *testing.T) {
	s := newSetup(t)
	sealed := s.seal(t, "ada", "email/1", canary)
	s.seal(t, "bee", "email/1", "another")
	got, err := unseal(s.open(t), "ada", "email/1", sealed)
	require.NoError(t, err)
	require.Equal(t, canary, got)

	for name, try := range map[string][2]string{
		"another person":                  {"bee", "email/1"},
		"another purpose":                 {"ada", "email/2"},
		"no purpose":                      {"ada", ""},
		"the border between both shifted": {"adae", "mail/1"},
	} {
		t.Run(name, func(t *testing.T) {
			s.seal(t, try[0], "x", "so that the person has a key")
			got, err := unseal(s.vault, try[0], try[1], sealed)
			assert.ErrorIs(t, err, ErrBroken)
			assert.True(t, fault.Is(err, fault.Internal))
			assert.Empty(t, got)
		})
	}
	assert.NotEqual(t, bound("ada", "email/1"), bound("adae", "mail/1"))
	assert.NotEqual(t, sealed, s.seal(t, "ada", "email/1", canary), "a nonce of its own each time")
}

func TestAChangedValueDoesNotOpen(t *testing.T) {
	s := newSetup(t)
	sealed := s.seal(t, "ada", "email/1", canary)
	box, err := sealed.box()
	require.NoError(t, err)
	for i := range box {
		changed := bytes.Clone(box)
		changed[i] ^= 1
		_, err := unseal(s.vault, "ada", "email/1", Sealed(version+base64.RawURLEncoding.EncodeToString(changed)))
		require.ErrorIs(t, err, ErrBroken, "byte %d", i)
	}
	for name, bad := range map[string]Sealed{
		"empty": "", "no version": sealed[3:], "another version": "v2." + sealed[3:],
		"cut": sealed[:len(sealed)-1], "shorter than a nonce": "v1.AAAA", "longer": sealed + "A", "not base64": sealed + "!",
	} {
		_, err := unseal(s.vault, "ada", "email/1", bad)
		assert.ErrorIs(t, err, ErrBroken, name)
	}
}

func TestWrappedKeysCannotBeExchanged(t *testing.T) {
	s := newSetup(t)
	sealed := s.seal(t, "ada", "email/1", canary)
	s.seal(t, "bee", "email/1", "another")
	s.db.Exec(`UPDATE vault.person_key k SET wrapped = o.wrapped FROM vault.person_key o WHERE k.person <> o.person`)
	_, err := unseal(s.open(t), "ada", "email/1", sealed)
	assert.ErrorIs(t, err, ErrBroken)
}

func TestADestroyedKeyOpensNothingAnyMore(t *testing.T) {
	ctx := t.Context()
	s := newSetup(t)
	other := s.open(t)
	first, second := s.seal(t, "ada", "email/1", canary), s.seal(t, "ada", "phone/1", "canary")
	kept := s.seal(t, "bee", "email/1", "kept")
	_, err := unseal(other, "ada", "email/1", first) // in the other's memory now
	require.NoError(t, err)

	require.NoError(t, s.vault.Destroy(ctx, "ada"))
	require.NoError(t, s.vault.Destroy(ctx, "ada"), "twice")
	s.clock.Advance(keyLife)
	for name, v := range map[string]*Vault{"this process": s.vault, "another": other, "a new one": s.open(t)} {
		for purpose, sealed := range map[string]Sealed{"email/1": first, "phone/1": second} {
			got, err := unseal(v, "ada", purpose, sealed)
			assert.ErrorIs(t, err, ErrErased, "%s, %s", name, purpose)
			assert.True(t, fault.Is(err, fault.Unknown))
			assert.Empty(t, got)
		}
		_, err := v.Seal(ctx, "ada", "email/2", "new")
		assert.ErrorIs(t, err, ErrErased, "%s gives no second key", name)
		got, err := unseal(v, "bee", "email/1", kept)
		require.NoError(t, err)
		assert.Equal(t, "kept", got)
	}
}

func TestAnErasureHoldsAtOnceInItsOwnProcess(t *testing.T) {
	s := newSetup(t)
	sealed := s.seal(t, "ada", "email/1", canary)
	require.NoError(t, s.vault.Destroy(t.Context(), "ada"))
	_, err := unseal(s.vault, "ada", "email/1", sealed) // the clock stands still
	assert.ErrorIs(t, err, ErrErased)

	// A key that was on its way while another was destroyed does not enter.
	age := s.vault.cache.age()
	s.vault.cache.forget("bee")
	s.vault.cache.put("bee", newCipher(make([]byte, keyBytes)), age)
	_, cached := s.vault.cache.get("bee")
	assert.False(t, cached)
}

func TestATombstoneStays(t *testing.T) {
	ctx := t.Context()
	s := newSetup(t)
	require.NoError(t, s.vault.Destroy(ctx, "never seen"))
	_, err := s.vault.Seal(ctx, "never seen", "email/1", canary)
	assert.ErrorIs(t, err, ErrErased)

	owner := s.db.Open(s.db.OwnerURL)
	for _, statement := range []string{
		"UPDATE vault.person_key SET wrapped = 'x', destroyed_at = NULL",
		"DELETE FROM vault.person_key",
	} {
		_, err := owner.Exec(ctx, statement)
		assert.ErrorContains(t, err, "never given again", "even the owner: %s", statement)
	}
	_, err = s.db.Pool.Exec(ctx, "DELETE FROM vault.person_key")
	assert.ErrorContains(t, err, "permission denied")
	_, err = s.db.Pool.Exec(ctx, "UPDATE vault.person_key SET person = 'x'")
	assert.ErrorContains(t, err, "permission denied")
}

func TestNothingReadableStandsInTheDatabase(t *testing.T) {
	s := newSetup(t)
	sealed := s.seal(t, canary[:6], "email/1", canary)
	master, err := os.ReadFile(s.path)
	require.NoError(t, err)
	dump := s.db.Dump("vault.person_key") + s.db.Dump("vault.master_key")
	require.Contains(t, dump, canary[:6], "the dump shows what stands there: the id")
	for name, secret := range map[string]string{
		"the value":          canary,
		"the value, in hex":  hex.EncodeToString([]byte(canary)),
		"the master key":     strings.TrimSpace(string(master)),
		"the wrapping key":   hex.EncodeToString(s.vault.ring.Load().now.derive("wrap")),
		"the sealed value":   string(sealed),
		"any word of it":     "Quillwater",
		"a word of it, hex":  hex.EncodeToString([]byte("Quillwater")),
		"the blind text key": hex.EncodeToString(s.vault.ring.Load().now.derive("blind/email")),
	} {
		assert.NotContains(t, dump, secret, name)
	}
	box, err := sealed.box()
	require.NoError(t, err)
	assert.NotContains(t, string(box), "Quillwater")
	assert.Regexp(t, `^v1\.[A-Za-z0-9_-]+$`, string(sealed), "nothing to escape in JSON")
}

func TestManySealersMakeOneKey(t *testing.T) {
	s := newSetup(t)
	sealed := make([]Sealed, 8)
	var sealers errgroup.Group
	for i := range sealed {
		v := s.open(t)
		sealers.Go(func() (err error) {
			sealed[i], err = v.Seal(t.Context(), "ada", "email/1", canary)
			return err
		})
	}
	require.NoError(t, sealers.Wait())
	for _, one := range sealed {
		got, err := unseal(s.vault, "ada", "email/1", one)
		require.NoError(t, err)
		assert.Equal(t, canary, got)
	}
}

func TestAPersonWhoNeverHadAKeyIsNotErased(t *testing.T) {
	s := newSetup(t)
	_, err := unseal(s.vault, "nobody", "email/1", s.seal(t, "ada", "email/1", canary))
	assert.True(t, fault.Is(err, fault.Unknown))
	assert.NotErrorIs(t, err, ErrErased)
	assert.NotContains(t, s.db.Dump("vault.person_key"), "nobody", "reading makes no key")
}

func TestTheFaultDoesNotQuoteTheValue(t *testing.T) {
	s := newSetup(t)
	sealed := s.seal(t, "ada", "reach/1", 171.5)
	var number int
	err := s.vault.Unseal(t.Context(), "ada", "reach/1", sealed, &number)
	require.Error(t, err)
	assert.NotContains(t, err.Error(), "171.5", "encoding/json quotes numbers")
}

func TestBlindTexts(t *testing.T) {
	s := newSetup(t)
	blind := s.vault.Blind("email", "ada@example.org")
	assert.Len(t, blind, 64)
	assert.Equal(t, blind, s.open(t).Blind("email", "ada@example.org"))
	assert.NotEqual(t, blind, s.vault.Blind("phone", "ada@example.org"))
	assert.NotEqual(t, blind, s.vault.Blind("email", "bee@example.org"))
	assert.NotEqual(t, blind, newSetup(t).vault.Blind("email", "ada@example.org"), "another master key")
}

func TestTheMasterKey(t *testing.T) {
	ctx := t.Context()
	s := newSetup(t)
	s.seal(t, "ada", "email/1", canary)
	info, err := os.Stat(s.path)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())

	t.Run("others may read it", func(t *testing.T) {
		require.NoError(t, os.Chmod(s.path, 0o640))
		defer func() { require.NoError(t, os.Chmod(s.path, 0o600)) }()
		_, err := Open(ctx, s.db.Pool, s.path)
		assert.ErrorContains(t, err, "chmod 600")
	})
	t.Run("it is another one", func(t *testing.T) {
		other := newSetup(t)
		_, err := Open(ctx, s.db.Pool, other.path)
		assert.ErrorContains(t, err, "is not the one")
	})
	t.Run("it is lost", func(t *testing.T) {
		lost := filepath.Join(t.TempDir(), "master.key")
		_, err := Open(ctx, s.db.Pool, lost)
		assert.ErrorIs(t, err, os.ErrNotExist)
		assert.NoFileExists(t, lost, "no new one in its place")
	})
	t.Run("it is damaged", func(t *testing.T) {
		damaged := filepath.Join(t.TempDir(), "master.key")
		for _, text := range []string{"", "00", strings.Repeat("0", 63), strings.Repeat("0", 66), strings.Repeat("x", 64)} {
			require.NoError(t, os.WriteFile(damaged, []byte(text), 0o600))
			_, err := Open(ctx, s.db.Pool, damaged)
			assert.ErrorContains(t, err, "hexadecimal digits", "%q", text)
		}
	})
	t.Run("another process made one meanwhile", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "master.key")
		first, err := makeMaster(path)
		require.NoError(t, err)
		second, err := makeMaster(path)
		require.NoError(t, err)
		assert.Equal(t, first, second)
	})
	t.Run("several start at once", func(t *testing.T) {
		db := postgrestest.New(t, postgrestest.Migration{Schema: Schema, Files: Migrations})
		path := filepath.Join(t.TempDir(), "keys", "master.key")
		var starts errgroup.Group
		for range 8 {
			starts.Go(func() error { _, err := Open(ctx, db.Pool, path); return err })
		}
		assert.NoError(t, starts.Wait())
		left, err := os.ReadDir(filepath.Dir(path))
		require.NoError(t, err)
		assert.Len(t, left, 1, "no draft stays behind")
	})
}

func TestTheCacheIsBounded(t *testing.T) {
	c := newCache(clock.NewManual(time.Unix(0, 0)))
	key := newCipher(make([]byte, keyBytes))
	for i := range cacheSize + 1 {
		c.put(fmt.Sprint(i), key, 0)
	}
	assert.LessOrEqual(t, len(c.keys), cacheSize)
}
