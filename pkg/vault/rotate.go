package vault

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/jackc/pgx/v5"
)

// A Rotation replaces the master key. It may be ended at any moment, in any way,
// and run again: in between both keys lie on disk, each person's key is wrapped
// with one of them, and every vault that can read both works on.
//
// What is derived from the master key does not change with it: blinded texts, the
// ids that an import makes, and private links go on as they were, because what
// they are derived from is kept, wrapped with the new key. EndTokens changes that
// for tokens: whoever held the old master key could make them.
type Rotation struct {
	// Path is the master key's file.
	Path string
	// EndTokens lets tokens (private links, links to sign in) end.
	EndTokens bool
	// Progress is told how many keys are wrapped anew; it may be nil.
	Progress func(done int)

	step func(name string) error // lets a test end it anywhere
}

// atOnce is how many keys one transaction wraps anew.
const atOnce = 200

// rotationLock keeps rotations and copies of the keys apart.
const rotationLock = 0x5245464c4f415440

// ErrHeld says that somebody else holds the keys for a while.
var ErrHeld = errors.New("a rotation of the master key or a copy of the keys is under way; try again when it is over")

// Hold runs f while no rotation moves: a copy of the keys then fits together.
func Hold(ctx context.Context, owner *pgx.Conn, f func() error) error {
	var mine bool
	if err := owner.QueryRow(ctx, `SELECT pg_try_advisory_lock($1)`, rotationLock).Scan(&mine); err != nil {
		return err
	}
	if !mine {
		return ErrHeld
	}
	err := f()
	_, unlockErr := owner.Exec(context.WithoutCancel(ctx), `SELECT pg_advisory_unlock($1)`, rotationLock)
	return errors.Join(err, unlockErr)
}

// Prepare makes the next master key and changes nothing else: with processes on
// several machines each needs its file before the rotation begins.
func (r Rotation) Prepare() (file string, err error) {
	_, err = makeMaster(r.Path + NextKey)
	return r.Path + NextKey, err
}

// Run rotates, or carries on with a rotation that was ended in the middle. owner
// is a connection of the role that owns the vault's tables.
func (r Rotation) Run(ctx context.Context, owner *pgx.Conn) error {
	return Hold(ctx, owner, func() error {
		known, err := loadFingerprint(ctx, owner)
		if err != nil {
			return err
		}
		next, err := r.next(known)
		if err != nil {
			return err
		}
		if next.fingerprint() != known {
			if err := r.rewrap(ctx, owner, next); err != nil {
				return err
			}
		}
		if err := r.at("committed"); err != nil {
			return err
		}
		return r.takeOver()
	})
}

// next gives the key that comes, and makes it if there is none yet.
func (r Rotation) next(known string) (masterKey, error) {
	next, err := readMaster(r.Path + NextKey)
	if err == nil && next.fingerprint() == known {
		return next, nil // all but the file's name was done
	}
	present, presentErr := readMaster(r.Path)
	if presentErr != nil {
		return nil, fmt.Errorf("read the master key: %w", presentErr)
	}
	if present.fingerprint() != known {
		return nil, fmt.Errorf("the master key in %s is not the one that this database's keys were wrapped with", r.Path)
	}
	if errors.Is(err, fs.ErrNotExist) {
		if _, err = r.Prepare(); err == nil {
			next, err = readMaster(r.Path + NextKey)
		}
	}
	if err != nil {
		return nil, fmt.Errorf("the next master key: %w", err)
	}
	return next, nil
}

// rewrap wraps everything with the next key: the bulk piece by piece, the rest,
// and the change of the fingerprint, in one transaction that lets nobody in. The
// bulk is as many keys as there were at the start: who makes keys quickly could
// otherwise be followed without an end.
func (r Rotation) rewrap(ctx context.Context, owner *pgx.Conn, next masterKey) error {
	old, err := openRing(ctx, owner, r.Path)
	if err != nil {
		return err
	}
	var bulk int
	if err := owner.QueryRow(ctx, `SELECT count(*) FROM vault.person_key WHERE wrapped_by <> $1`, next.fingerprint()).Scan(&bulk); err != nil {
		return fmt.Errorf("count the persons' keys: %w", err)
	}
	for done := 0; ; {
		var n int
		err := pgx.BeginFunc(ctx, owner, func(tx pgx.Tx) (err error) {
			n, err = rewrapSome(ctx, tx, old, next)
			return err
		})
		if err != nil {
			return err
		}
		if done += n; r.Progress != nil {
			r.Progress(done)
		}
		if err := r.at("some"); err != nil {
			return err
		}
		if n < atOnce || done >= bulk {
			return pgx.BeginFunc(ctx, owner, func(tx pgx.Tx) error { return r.finish(ctx, tx, old, next) })
		}
	}
}

// rewrapSome wraps some keys anew that the next master key does not wrap yet. A
// key that is destroyed meanwhile stays so.
func rewrapSome(ctx context.Context, tx pgx.Tx, old *ring, next masterKey) (int, error) {
	rows, err := tx.Query(ctx, `
		SELECT person, wrapped FROM vault.person_key WHERE wrapped IS NOT NULL AND wrapped_by <> $1
		ORDER BY person LIMIT $2 FOR UPDATE`, next.fingerprint(), atOnce)
	if err != nil {
		return 0, fmt.Errorf("read the persons' keys: %w", err)
	}
	type key struct {
		Person  string
		Wrapped []byte
	}
	keys, err := pgx.CollectRows(rows, pgx.RowToStructByPos[key])
	if err != nil {
		return 0, fmt.Errorf("read the persons' keys: %w", err)
	}
	wrapper := next.wrapper()
	for _, k := range keys {
		plain, err := old.open(k.Wrapped, "key", k.Person)
		if err != nil {
			return 0, fmt.Errorf("the key of person %s does not open: %w", k.Person, err)
		}
		_, err = tx.Exec(ctx, `UPDATE vault.person_key SET wrapped = $2, wrapped_by = $3 WHERE person = $1 AND wrapped IS NOT NULL`,
			k.Person, wrapper.Seal(nil, nil, plain, bound("key", k.Person)), next.fingerprint())
		if err != nil {
			return 0, fmt.Errorf("wrap the key of person %s: %w", k.Person, err)
		}
	}
	return len(keys), nil
}

// finish wraps what was made meanwhile, then the roots, and puts the next key's
// fingerprint in the place of the old one's. Whoever makes a key waits for it.
func (r Rotation) finish(ctx context.Context, tx pgx.Tx, old *ring, next masterKey) error {
	if _, err := tx.Exec(ctx, `LOCK TABLE vault.person_key IN SHARE ROW EXCLUSIVE MODE`); err != nil {
		return err
	}
	for n := atOnce; n == atOnce; {
		var err error
		if n, err = rewrapSome(ctx, tx, old, next); err != nil {
			return err
		}
	}
	token := old.token
	if r.EndTokens {
		token = make([]byte, keyBytes)
		_, _ = rand.Read(token) // never fails: it ends the program instead
	}
	for name, root := range map[string]masterKey{blindRoot: old.blind, tokenRoot: token} {
		_, err := tx.Exec(ctx, `
			INSERT INTO vault.root (name, wrapped, wrapped_by) VALUES ($1, $2, $3)
			ON CONFLICT (name) DO UPDATE SET wrapped = excluded.wrapped, wrapped_by = excluded.wrapped_by`,
			name, next.wrapper().Seal(nil, nil, root, bound("root", name)), next.fingerprint())
		if err != nil {
			return fmt.Errorf("wrap the key of blinded texts %q: %w", name, err)
		}
	}
	_, err := tx.Exec(ctx, `INSERT INTO vault.past_master_key (fingerprint) VALUES ($1) ON CONFLICT DO NOTHING`, old.now.fingerprint())
	if err == nil {
		_, err = tx.Exec(ctx, `UPDATE vault.master_key SET fingerprint = $1`, next.fingerprint())
	}
	return err
}

// takeOver gives the next key the present one's name. What the old one wrapped
// stands nowhere any more.
func (r Rotation) takeOver() error {
	if err := os.Rename(r.Path+NextKey, r.Path); err != nil {
		return err
	}
	return SyncFolder(filepath.Dir(r.Path))
}

func (r Rotation) at(step string) error {
	if r.step == nil {
		return nil
	}
	return r.step(step)
}

// Fingerprint tells the master key in a file apart from others.
func Fingerprint(file string) (string, error) {
	key, err := readMaster(file)
	if err != nil {
		return "", err
	}
	return key.fingerprint(), nil
}
