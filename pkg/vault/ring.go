package vault

import (
	"context"
	"crypto/cipher"
	"errors"
	"fmt"
	"io/fs"
	"time"

	"github.com/jackc/pgx/v5"
)

// NextKey is what a master key's file is called, behind the name, that a rotation
// brings in. While it lies beside the present one, keys are wrapped with either.
const NextKey = ".next"

// ring is the keys that a vault works with. It is replaced as a whole.
type ring struct {
	now    masterKey   // the one whose fingerprint stands in the database: it wraps what is new
	others []masterKey // that may wrap what is old
	// blind and token are what texts are blinded with and tokens made from: the
	// first master key that the database had, or what a rotation put there.
	blind, token masterKey
}

// querier is a pool, a connection or a transaction.
type querier interface {
	Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error)
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
}

// openRing reads the master keys that are there and holds them against the
// database.
func openRing(ctx context.Context, db querier, path string) (*ring, error) {
	known, err := loadFingerprint(ctx, db)
	if err != nil {
		return nil, err
	}
	keys, err := readMasters(path)
	if err != nil {
		return nil, fmt.Errorf("read the master key: %w", err)
	}
	r := &ring{}
	for _, key := range keys {
		if key.fingerprint() == known {
			r.now = key
		} else {
			r.others = append(r.others, key)
		}
	}
	if r.now == nil {
		return nil, fmt.Errorf("the master key in %s is not the one that this database's keys were wrapped with", path)
	}
	r.blind, r.token = r.now, r.now
	return r, r.readRoots(ctx, db)
}

// readMasters reads the master key and, while there is one, the next.
func readMasters(path string) ([]masterKey, error) {
	var keys []masterKey
	for _, file := range []string{path, path + NextKey} {
		key, err := readMaster(file)
		switch {
		case err == nil:
			keys = append(keys, key)
		case !errors.Is(err, fs.ErrNotExist):
			return nil, err
		}
	}
	if keys == nil {
		return nil, fmt.Errorf("%s: %w", path, fs.ErrNotExist)
	}
	return keys, nil
}

// readRoots takes over what blinded texts and tokens are made from, if it is not
// the master key.
func (r *ring) readRoots(ctx context.Context, db querier) error {
	rows, err := db.Query(ctx, `SELECT name, wrapped FROM vault.root`)
	if err != nil {
		return fmt.Errorf("read the keys of blinded texts: %w", err)
	}
	var name string
	var wrapped []byte
	_, err = pgx.ForEachRow(rows, []any{&name, &wrapped}, func() error {
		root, err := r.open(wrapped, "root", name)
		switch {
		case err != nil:
			return fmt.Errorf("open the key of blinded texts %q: %w", name, err)
		case name == blindRoot:
			r.blind = root
		case name == tokenRoot:
			r.token = root
		}
		return nil
	})
	return err
}

// The names of roots in the database.
const (
	blindRoot = "blind"
	tokenRoot = "token"
)

// open unwraps with whichever master key fits.
func (r *ring) open(wrapped []byte, boundTo ...string) (masterKey, error) {
	key, err := r.now.wrapper().Open(nil, nil, wrapped, bound(boundTo...))
	for _, other := range r.others {
		if err == nil {
			break
		}
		key, err = other.wrapper().Open(nil, nil, wrapped, bound(boundTo...))
	}
	return key, err
}

// unwrap gives the cipher of a person's key.
func (r *ring) unwrap(person string, wrapped []byte) (cipher.AEAD, error) {
	key, err := r.open(wrapped, "key", person)
	if err != nil {
		return nil, errBroken(err)
	}
	return newCipher(key), nil
}

// Refresh reads the keys anew: another process may have replaced the master key.
func (v *Vault) Refresh(ctx context.Context) error {
	r, err := openRing(ctx, v.pool, v.path)
	if err != nil {
		return err
	}
	v.ring.Store(r)
	return nil
}

// Follow refreshes the keys now and then, until ctx ends: tokens that were ended
// together with a master key must not be taken for long.
func (v *Vault) Follow(ctx context.Context) error {
	tick := time.NewTicker(keyLife)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
		}
		if err := v.Refresh(ctx); err != nil && ctx.Err() == nil {
			return fmt.Errorf("reading the keys anew: %w", err)
		}
	}
}

// Check unwraps the key of every person, so that a vault which was put together
// from copies is known to be whole. It gives how many there are.
func (v *Vault) Check(ctx context.Context) (int, error) {
	rows, err := v.pool.Query(ctx, `SELECT person, wrapped FROM vault.person_key WHERE wrapped IS NOT NULL`)
	if err != nil {
		return 0, fmt.Errorf("read the persons' keys: %w", err)
	}
	keys := 0
	var person string
	var wrapped []byte
	_, err = pgx.ForEachRow(rows, []any{&person, &wrapped}, func() error {
		keys++
		if _, err := v.ring.Load().unwrap(person, wrapped); err != nil {
			return fmt.Errorf("the key of person %s does not open: %w", person, err)
		}
		return nil
	})
	return keys, err
}
