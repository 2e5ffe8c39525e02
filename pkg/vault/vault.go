// Package vault seals personal data with a key of each person, so that
// destroying the key erases the data wherever a copy of it stands.
//
// It promises that a sealed value opens only for the person and the purpose it
// was sealed for, that nobody reads one without both the database and the
// master key file, and that after Destroy nobody reads it at all: this process
// at once, another one within keyLife. It does not hide how long a value is,
// and it reaches neither old backups nor old write-ahead log: keep those of the
// vault's schema for a short time only. What was unsealed and passed on is the
// caller's to purge.
//
// Values are encrypted with AES-256-GCM under random 96-bit nonces. One key
// must not seal more than 2^32 values that way (NIST SP 800-38D, section 8.3,
// from memory), which a person's data never come near.
package vault

import (
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"strings"
	"sync/atomic"

	"github.com/jackc/pgx/v5/pgxpool"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
)

// Schema is the name of the vault's schema, for postgres.Migrate.
const Schema = "vault"

// Migrations make the vault's schema, for postgres.Migrate.
//
//go:embed migrations/*.sql
var Migrations embed.FS

var (
	// ErrErased is in the chain of the error for everything whose key was
	// destroyed. It was meant to be so: show "erased".
	ErrErased = errors.New("the key was destroyed")
	// ErrBroken is in the chain of the error for a value that was changed, or
	// moved to another person or purpose. It was never meant to be so.
	ErrBroken = errors.New("the sealed value was changed or belongs elsewhere")
)

// version is the first part of every sealed value, so that another cipher can
// come beside this one.
const version = "v1."

// Sealed is an encrypted value as text that needs no escaping in JSON. The
// empty Sealed is "nothing stated"; Seal never gives it.
type Sealed string

// Vault seals and unseals. It is safe for concurrent use.
type Vault struct {
	pool  *pgxpool.Pool
	path  string // of the master key
	ring  atomic.Pointer[ring]
	cache *cache
}

// Open reads the master key, or makes it when neither the file nor any trace
// of an earlier key in the database is there. The file must be readable for
// this user alone. A master key that does not fit the database is refused.
func Open(ctx context.Context, pool *pgxpool.Pool, masterKeyPath string) (*Vault, error) {
	v := &Vault{pool: pool, path: masterKeyPath, cache: newCache(clock.System{})}
	if err := settleMaster(ctx, pool, masterKeyPath); err != nil {
		return nil, err
	}
	return v, v.Refresh(ctx)
}

// Seal encrypts a value, as JSON, for a person. The purpose says where it
// belongs, for instance "people.member-joined/<event id>/email/1": the same
// words are needed to unseal it. A person without a key gets one; for one whose
// key was destroyed the fault is Unknown with ErrErased.
func (v *Vault) Seal(ctx context.Context, person, purpose string, plain any) (Sealed, error) {
	text, err := json.Marshal(plain)
	if err != nil {
		return "", fault.Because(fault.Internal, err, "the value cannot be written as JSON")
	}
	key, err := v.key(ctx, person, makeKey)
	if err != nil {
		return "", err
	}
	box := key.Seal(nil, nil, text, bound("value", person, purpose))
	return Sealed(version + base64.RawURLEncoding.EncodeToString(box)), nil
}

// Unseal decrypts into out, a pointer as for json.Unmarshal. After Destroy the
// fault is Unknown with ErrErased; for a value that was tampered with or moved
// it is Internal with ErrBroken; for a person who never had a key it is Unknown
// with neither.
func (v *Vault) Unseal(ctx context.Context, person, purpose string, sealed Sealed, out any) error {
	key, err := v.key(ctx, person, findKey)
	if err != nil {
		return err
	}
	box, err := sealed.box()
	if err != nil {
		return errBroken(err)
	}
	text, err := key.Open(nil, nil, box, bound("value", person, purpose))
	if err != nil {
		return errBroken(err)
	}
	if err := json.Unmarshal(text, out); err != nil {
		return fault.New(fault.Internal, "a sealed value does not fit into %T", out) // the cause would quote it
	}
	return nil
}

// Destroy destroys a person's key for good. It may be repeated, and it works
// for a person who has no key yet: none will ever be made.
func (v *Vault) Destroy(ctx context.Context, person string) error {
	_, err := v.pool.Exec(ctx, `
		INSERT INTO vault.person_key (person, destroyed_at) VALUES ($1, now())
		ON CONFLICT (person) DO UPDATE SET wrapped = NULL, destroyed_at = excluded.destroyed_at
		WHERE person_key.destroyed_at IS NULL`, person)
	v.cache.forget(person) // also after an error: it may have been done
	if err != nil {
		return fault.Because(fault.Unavailable, err, "the key could not be destroyed")
	}
	return nil
}

// Blind turns a text into 64 hexadecimal digits that are always the same for
// the same purpose and text, and tell nothing to who lacks the master key: to
// look up an e-mail address, say, that stands nowhere in clear. Give the text
// in one spelling (trimmed, lower case). Destroy does not reach blinded texts:
// remove them where they are kept.
func (v *Vault) Blind(purpose, text string) string {
	return v.ring.Load().blind.mark(purpose, text)
}

// Token is Blind for secrets that are given away, as in private links: whoever has
// one gets in. They can be ended all at once, by a Rotation; until then nothing
// tells the two apart.
func (v *Vault) Token(purpose, text string) string {
	return v.ring.Load().token.mark(purpose, text)
}

// mark is a keyed digest of a text.
func (m masterKey) mark(purpose, text string) string {
	mac := hmac.New(sha256.New, m.derive("blind/"+purpose))
	mac.Write([]byte(text))
	return hex.EncodeToString(mac.Sum(nil))
}

func (s Sealed) box() ([]byte, error) {
	text, ok := strings.CutPrefix(string(s), version)
	if !ok {
		return nil, errors.New("unknown version of seal")
	}
	return base64.RawURLEncoding.Strict().DecodeString(text)
}

func errBroken(cause error) error {
	return fault.Because(fault.Internal, errors.Join(ErrBroken, cause), "a sealed value cannot be read")
}

// bound is what a ciphertext is bound to. Every part is preceded by its length:
// otherwise ("ab", "c") and ("a", "bc") would be the same.
func bound(parts ...string) []byte {
	text := []byte("refloat-vault-1")
	for _, part := range parts {
		text = binary.BigEndian.AppendUint64(text, uint64(len(part)))
		text = append(text, part...)
	}
	return text
}

// newDataKey draws a person's key and wraps it.
func (r *ring) newDataKey(person string) []byte {
	key := make([]byte, keyBytes)
	_, _ = rand.Read(key) // never fails: it ends the program instead
	return r.now.wrapper().Seal(nil, nil, key, bound("key", person))
}
