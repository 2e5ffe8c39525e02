package ledger

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/proof"
)

// SigningKey is a public key with the instant from which on it signs.
type SigningKey struct {
	Key   proof.Key
	Since time.Time
}

// SigningKeys gives every key that ever signed a checkpoint, the present one last.
func (r *Reader) SigningKeys(ctx context.Context) ([]SigningKey, error) {
	return signingKeys(ctx, r.pool)
}

func signingKeys(ctx context.Context, db querier) ([]SigningKey, error) {
	rows, err := db.Query(ctx, `SELECT verifier, since FROM ledger.signing_key ORDER BY number`)
	if err != nil {
		return nil, fmt.Errorf("reading the signing keys: %w", err)
	}
	keys, err := pgx.CollectRows(rows, pgx.RowToStructByPos[SigningKey])
	if err != nil {
		return nil, fmt.Errorf("reading the signing keys: %w", err)
	}
	for i := range keys {
		keys[i].Since = keys[i].Since.UTC()
	}
	return keys, nil
}

// Keys gives the keys alone, for proof.Open.
func Keys(of []SigningKey) []proof.Key {
	keys := make([]proof.Key, len(of))
	for i, k := range of {
		keys[i] = k.Key
	}
	return keys
}

// Checkpoints gives at most limit checkpoints that cover fewer events than before
// (0: all), the newest first.
func (r *Reader) Checkpoints(ctx context.Context, before int64, limit int) ([]proof.Signed, error) {
	return openNotes(ctx, r.pool, `WHERE $1 = 0 OR size < $1 ORDER BY number DESC LIMIT $2`, before, limit)
}

// LastCheckpoint gives the newest checkpoint; a fault of kind Unknown if there is
// none yet.
func (r *Reader) LastCheckpoint(ctx context.Context) (proof.Signed, error) {
	return one(openNotes(ctx, r.pool, `ORDER BY number DESC LIMIT 1`))
}

// FirstOver gives the first checkpoint that covers an event; a fault of kind
// Unknown if there is none yet.
func (r *Reader) FirstOver(ctx context.Context, position int64) (proof.Signed, error) {
	return one(openNotes(ctx, r.pool, `WHERE size >= $1 ORDER BY size, number LIMIT 1`, position))
}

// CheckpointsOf gives the checkpoints of exactly this many events: one, or two where
// a key was changed.
func (r *Reader) CheckpointsOf(ctx context.Context, size int64) ([]proof.Signed, error) {
	return openNotes(ctx, r.pool, `WHERE size = $1 ORDER BY number`, size)
}

func one(found []proof.Signed, err error) (proof.Signed, error) {
	if err != nil {
		return proof.Signed{}, err
	}
	if len(found) == 0 {
		return proof.Signed{}, fault.New(fault.Unknown, "no checkpoint covers it yet; one is made within seconds, try again")
	}
	return found[0], nil
}

// openNotes reads checkpoints and checks them with the keys that the book knows.
func openNotes(ctx context.Context, db querier, where string, args ...any) ([]proof.Signed, error) {
	keys, err := signingKeys(ctx, db)
	if err != nil {
		return nil, err
	}
	rows, err := db.Query(ctx, `SELECT note FROM ledger.checkpoint `+where, args...)
	if err != nil {
		return nil, fmt.Errorf("reading the checkpoints: %w", err)
	}
	notes, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return nil, fmt.Errorf("reading the checkpoints: %w", err)
	}
	all := make([]proof.Signed, len(notes))
	for i, n := range notes {
		if all[i], err = proof.Open([]byte(n), Keys(keys)...); err != nil {
			return nil, fmt.Errorf("a checkpoint in the database: %w", err)
		}
	}
	return all, nil
}

// lastCheckpoint is the newest checkpoint's number, 0 for none, and how many
// events it covers.
type lastCheckpoint struct{ number, size int64 }

func readLast(ctx context.Context, db querier) (last lastCheckpoint, err error) {
	err = db.QueryRow(ctx, `SELECT number, size FROM ledger.checkpoint ORDER BY number DESC LIMIT 1`).Scan(&last.number, &last.size)
	if err != nil && !errors.Is(err, pgx.ErrNoRows) {
		return last, fmt.Errorf("reading the last checkpoint: %w", err)
	}
	return last, nil
}

// addCheckpoint signs and stores a checkpoint behind the last one, and gives its
// note.
func addCheckpoint(ctx context.Context, tx pgx.Tx, c proof.Checkpoint, signers ...*proof.Signer) ([]byte, error) {
	msg, err := proof.Sign(c, signers...)
	if err != nil {
		return nil, err
	}
	last, err := readLast(ctx, tx)
	if err != nil {
		return nil, err
	}
	_, err = tx.Exec(ctx, `INSERT INTO ledger.checkpoint (number, size, note) VALUES ($1, $2, $3)`, last.number+1, c.Size, string(msg))
	if err != nil {
		return nil, fmt.Errorf("storing a checkpoint: %w", err)
	}
	return msg, nil
}
