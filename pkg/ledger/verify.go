package ledger

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"
)

// Finding is the first thing that Verify found to be wrong.
type Finding struct {
	Position int64  `json:"position"`
	What     string `json:"what"`
}

// Verified is the outcome of reading the whole book.
type Verified struct {
	OK      bool     `json:"ok"`
	Events  int64    `json:"events"` // read and found right
	Head    string   `json:"head"`   // hexadecimal hash of the last event
	Finding *Finding `json:"finding,omitempty"`
	// Limit says what this check alone cannot tell.
	Limit string `json:"limit"`
}

// limit is said with every outcome, because it is true of every chain.
const limit = "a book that was rewritten or cut off from some point to its end, head row included, can only be told by comparing with a head that was kept outside"

// Known is a head that was noted earlier, outside the database.
type Known struct {
	Position int64
	Hash     []byte
}

// Verify reads every event in order and checks numbering, chain, times, stream
// versions and the head row, and that the events known from outside still stand
// where they stood. It holds one snapshot, so that writing may go on meanwhile.
func (r *Reader) Verify(ctx context.Context, known ...Known) (Verified, error) {
	tx, err := r.pool.BeginTx(ctx, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly})
	if err != nil {
		return Verified{}, fmt.Errorf("reading the book: %w", err)
	}
	defer func() { _ = tx.Rollback(context.WithoutCancel(ctx)) }()
	head, err := readHead(ctx, tx)
	if err != nil && !errors.Is(err, pgx.ErrNoRows) {
		return Verified{}, err
	}
	v := newVerifier(known)
	if err := eachIn(ctx, tx, math.MinInt64, v.row); err != nil && !v.unreadable(err) {
		return Verified{}, err
	}
	if v.finding == nil {
		v.finding = v.end(head)
	}
	return Verified{OK: v.finding == nil, Events: v.position, Head: hex.EncodeToString(v.hash), Finding: v.finding, Limit: limit}, nil
}

// verifier checks rows in order; it remembers only what the next row needs, and
// each stream's version.
type verifier struct {
	chain    *chainer
	position int64
	hash     []byte
	recorded time.Time // when the row before was
	versions map[string]int64
	known    map[int64][]byte
	finding  *Finding
}

func newVerifier(known []Known) *verifier {
	v := &verifier{chain: newChainer(), hash: Genesis[:], recorded: time.Unix(0, 0), versions: map[string]int64{}, known: map[int64][]byte{}}
	for _, k := range known {
		v.known[k.Position] = k.Hash
	}
	return v
}

// row checks one row and gives errEnough at the first thing that is wrong.
func (v *verifier) row(r *Row) error {
	if what := v.wrong(r); what != "" {
		v.finding = &Finding{v.position + 1, what}
		return errEnough
	}
	v.position = r.Position
	v.hash = bytes.Clone(r.Hash)
	v.recorded = r.RecordedAt
	v.versions[r.Stream] = r.Version
	return nil
}

func (v *verifier) wrong(r *Row) string {
	switch want := v.position + 1; {
	case r.Position > want:
		return fmt.Sprintf("event %d is missing: the next one is %d", want, r.Position)
	case r.Position < want:
		return fmt.Sprintf("an event numbered %d stands where %d is expected", r.Position, want)
	case !bytes.Equal(r.PrevHash, v.hash):
		return "it does not chain to the event before: that one or this one was replaced, moved or inserted"
	case !bytes.Equal(v.chain.hash(r), r.Hash):
		return "it was changed after it was written: its hash does not fit its content"
	case r.RecordedAt.Before(v.recorded):
		return "it was recorded earlier than the event before"
	case r.Version != v.versions[r.Stream]+1:
		return fmt.Sprintf("it is version %d of %s, which was at %d", r.Version, r.Stream, v.versions[r.Stream])
	}
	if outside, ok := v.known[r.Position]; ok && !bytes.Equal(outside, r.Hash) {
		return "its hash is not the one that was noted outside: the book was rewritten before here"
	}
	return ""
}

// unreadable makes a finding of a walk that ended early, when the row at which it
// ended is to blame and not the way to it.
func (v *verifier) unreadable(err error) bool {
	var row *rowError
	if v.finding == nil && errors.As(err, &row) {
		v.finding = &Finding{v.position + 1, "it cannot be read: " + row.Error()}
	}
	return v.finding != nil
}

// end checks that the book ends where its head row says, and no earlier than any
// head known from outside.
func (v *verifier) end(head Head) *Finding {
	for _, position := range slices.Sorted(maps.Keys(v.known)) {
		if position > v.position {
			return &Finding{v.position + 1, fmt.Sprintf("the end of the book was cut off: event %d was noted outside", position)}
		}
	}
	switch {
	case head.Hash == nil:
		return &Finding{v.position, "the head row is missing"}
	case head.Position != v.position:
		return &Finding{v.position + 1, fmt.Sprintf("the head row says that the book ends at %d", head.Position)}
	case !bytes.Equal(head.Hash, v.hash):
		return &Finding{v.position, "the head row carries another hash than the last event"}
	case !head.RecordedAt.Equal(v.recorded):
		return &Finding{v.position, "the head row carries another time than the last event"}
	}
	return nil
}
