package vault

import (
	"context"
	"crypto/cipher"
	"errors"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
)

const (
	// keyLife is how long an unwrapped key is believed without asking the
	// database whether it was destroyed.
	keyLife = 10 * time.Second
	// cacheSize bounds the unwrapped keys in memory.
	cacheSize = 4096
)

// missing says what to do about a person without a key.
type missing int

const (
	findKey missing = iota
	makeKey
)

// key gives the cipher of a person's key.
func (v *Vault) key(ctx context.Context, person string, m missing) (cipher.AEAD, error) {
	if key, ok := v.cache.get(person); ok {
		return key, nil
	}
	// What was destroyed while we asked must not enter the cache afterwards.
	age := v.cache.age()
	wrapped, err := v.load(ctx, person)
	if errors.Is(err, pgx.ErrNoRows) && m == makeKey {
		wrapped, err = v.make(ctx, person)
	}
	if err != nil {
		return nil, keyFault(err)
	}
	key, err := v.ring.Load().unwrap(person, wrapped)
	if errors.Is(err, ErrBroken) && v.Refresh(ctx) == nil { // the master key may have been replaced
		key, err = v.ring.Load().unwrap(person, wrapped)
	}
	if err != nil {
		return nil, err
	}
	v.cache.put(person, key, age)
	return key, nil
}

// Fetch reads the keys of many people at once, so that unsealing what is theirs
// soon afterwards asks nothing more. Who has no key, or none any more, is left out:
// Unseal says so. At most cacheSize keys are kept at a time.
func (v *Vault) Fetch(ctx context.Context, people []string) error {
	age := v.cache.age()
	rows, err := v.pool.Query(ctx, `SELECT person, wrapped FROM vault.person_key WHERE person = ANY($1) AND wrapped IS NOT NULL`, people)
	if err != nil {
		return keyFault(err)
	}
	var person string
	var wrapped []byte
	ring := v.ring.Load()
	_, err = pgx.ForEachRow(rows, []any{&person, &wrapped}, func() error {
		// What cannot be unwrapped now, because the master key was replaced, is asked for
		// again one by one.
		if key, err := ring.unwrap(person, wrapped); err == nil {
			v.cache.put(person, key, age)
		}
		return nil
	})
	if err != nil {
		return keyFault(err)
	}
	return nil
}

func keyFault(err error) error {
	switch {
	case errors.Is(err, ErrErased):
		return fault.Because(fault.Unknown, err, "these personal data were erased")
	case errors.Is(err, pgx.ErrNoRows):
		return fault.New(fault.Unknown, "there is no key for these personal data")
	}
	return fault.Because(fault.Unavailable, err, "the keys cannot be reached")
}

func (v *Vault) load(ctx context.Context, person string) ([]byte, error) {
	var wrapped []byte
	err := v.pool.QueryRow(ctx, `SELECT wrapped FROM vault.person_key WHERE person = $1`, person).Scan(&wrapped)
	if err == nil && wrapped == nil {
		return nil, ErrErased
	}
	return wrapped, err
}

// make gives a person a key. When two do it at once the first wins and both
// read the same.
func (v *Vault) make(ctx context.Context, person string) ([]byte, error) {
	wrapped, err := v.makeWith(ctx, v.ring.Load(), person)
	if errors.Is(err, pgx.ErrNoRows) { // the master key was replaced
		if err := v.Refresh(ctx); err != nil {
			return nil, err
		}
		wrapped, err = v.makeWith(ctx, v.ring.Load(), person)
	}
	return wrapped, err
}

// makeWith writes a key only as long as its master key is the database's: one that
// nobody will wrap anew must not slip in behind a rotation.
func (v *Vault) makeWith(ctx context.Context, r *ring, person string) ([]byte, error) {
	_, err := v.pool.Exec(ctx, `
		INSERT INTO vault.person_key (person, wrapped, wrapped_by)
		SELECT $1, $2, fingerprint FROM vault.master_key WHERE fingerprint = $3
		ON CONFLICT DO NOTHING`, person, r.newDataKey(person), r.now.fingerprint())
	if err != nil {
		return nil, err
	}
	return v.load(ctx, person)
}

// cache keeps unwrapped keys for keyLife.
type cache struct {
	clock clock.Clock

	mu        sync.Mutex
	keys      map[string]cached
	forgotten uint64 // counts forget
}

type cached struct {
	key   cipher.AEAD
	until time.Time
}

func newCache(c clock.Clock) *cache { return &cache{clock: c, keys: map[string]cached{}} }

func (c *cache) get(person string) (cipher.AEAD, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	found, ok := c.keys[person]
	if !ok || !c.clock.Now().Before(found.until) {
		return nil, false
	}
	return found.key, true
}

// age is a number that changes whenever a key is forgotten.
func (c *cache) age() uint64 {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.forgotten
}

// put keeps a key that was loaded when the cache had that age, unless a key
// was forgotten since.
func (c *cache) put(person string, key cipher.AEAD, age uint64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.forgotten != age {
		return
	}
	if len(c.keys) >= cacheSize {
		clear(c.keys)
	}
	c.keys[person] = cached{key, c.clock.Now().Add(keyLife)}
}

func (c *cache) forget(person string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.forgotten++
	delete(c.keys, person)
}
