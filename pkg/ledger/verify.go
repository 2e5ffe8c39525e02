package ledger

import (
	"bytes"
	"cmp"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"
	"golang.org/x/mod/sumdb/tlog"

	"refloat.example/pkg/proof"
)

// Finding is the first thing that Verify found to be wrong.
type Finding struct {
	Position int64  `json:"position"`
	What     string `json:"what"`
}

// Verified is the outcome of reading the book.
type Verified struct {
	OK      bool     `json:"ok"`
	Events  int64    `json:"events"` // read and found right, or vouched for by the checkpoint behind which the reading began
	Head    string   `json:"head"`   // hexadecimal hash of the last event
	Finding *Finding `json:"finding,omitempty"`
	// Checkpoints counts those in the database that were compared; Sealed is how
	// many events the newest of them covers.
	Checkpoints int   `json:"checkpoints,omitempty"`
	Sealed      int64 `json:"sealed,omitempty"`
	// Outside is how many events the newest checkpoint or head covers that was kept
	// outside and compared.
	Outside int64 `json:"outside,omitempty"`
	// From is how many events were not read, because a checkpoint answers for them.
	From int64 `json:"from,omitempty"`
	// Limit says what this check alone cannot tell.
	Limit string `json:"limit"`
}

// limit is said where nothing from outside was compared.
const limit = "a book that was rewritten or cut off from some point to its end, head row included, can only be told by comparing with a head that was kept outside"

// Known is a head that was noted earlier, outside the database.
type Known struct {
	Position int64
	Hash     []byte
}

// Check says what to read, and what to compare it with.
type Check struct {
	Known []Known
	// Outside are checkpoints that were kept outside the database and whose
	// signatures were checked.
	Outside []proof.Signed
	// From, if set, is a checkpoint that is trusted: reading begins behind the events
	// that it covers.
	From *proof.Signed
	// Tree compares each stored hash of the Merkle tree, too.
	Tree bool
}

// Verify reads every event; see VerifyBy.
func (r *Reader) Verify(ctx context.Context, known ...Known) (Verified, error) {
	return r.VerifyBy(ctx, Check{Known: known})
}

// VerifyBy reads events in order and checks numbering, chain, times, stream
// versions and the head row, that every checkpoint fits, in the database and from
// outside, and that the events known from outside still stand where they stood. It
// holds one snapshot, so that writing may go on meanwhile.
func (r *Reader) VerifyBy(ctx context.Context, c Check) (Verified, error) {
	tx, err := r.snapshot(ctx)
	if err != nil {
		return Verified{}, err
	}
	defer func() { _ = tx.Rollback(context.WithoutCancel(ctx)) }()
	head, err := readHead(ctx, tx)
	if err != nil && !errors.Is(err, pgx.ErrNoRows) {
		return Verified{}, err
	}
	v := newVerifier(c)
	v.feed = &checkpointFeed{ctx: ctx, pool: r.pool}
	if v.sealed, err = treeSize(ctx, tx); err != nil {
		return Verified{}, err
	}
	if err := v.begin(ctx, tx, c.From); err != nil {
		return Verified{}, err
	}
	if v.finding == nil {
		if err := eachAhead(ctx, tx, v.first(), v.row); err != nil && !v.unreadable(err) {
			return Verified{}, err
		}
	}
	if v.finding == nil {
		v.finding = v.end(head)
	}
	if err := v.examineTree(ctx, tx, c.Tree); err != nil {
		return Verified{}, err
	}
	return v.outcome(c), nil
}

func (v *verifier) outcome(c Check) Verified {
	out := Verified{
		OK: v.finding == nil, Events: v.position, Head: hex.EncodeToString(v.hash), Finding: v.finding,
		Checkpoints: v.feed.taken, Sealed: v.feed.size, Outside: v.newest, Limit: limit,
	}
	if c.From != nil {
		out.From = c.From.Size
	}
	if outside := max(out.Outside, out.From); outside > 0 {
		out.Limit = fmt.Sprintf("what stands behind event %d could be rewritten or cut off, head row included, without this check noticing: nothing newer from outside was compared", outside)
	}
	if out.From > 0 {
		out.Limit += fmt.Sprintf("; events 1 to %d were not read, the checkpoint answers for what they were", out.From)
	}
	return out
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

	tree    proof.Tree
	final   []tlog.Hash
	sealed  int64             // leaves of the stored tree
	whole   []tlog.Hash       // of the tree over the events, at that size
	feed    *checkpointFeed   // from the database
	outside []proof.Signed    // still to be compared, the smallest first
	newest  int64             // how far what was kept outside reaches
	doubted *proof.Checkpoint // the first that does not fit
}

func newVerifier(c Check) *verifier {
	v := &verifier{chain: newChainer(), hash: bytes.Clone(Genesis[:]), recorded: time.Unix(0, 0), versions: map[string]int64{}, known: map[int64][]byte{}}
	for _, k := range c.Known {
		v.known[k.Position] = k.Hash
		v.newest = max(v.newest, k.Position)
	}
	for _, o := range c.Outside {
		v.newest = max(v.newest, o.Size)
	}
	v.outside = slices.SortedStableFunc(slices.Values(c.Outside), func(a, b proof.Signed) int { return cmp.Compare(a.Size, b.Size) })
	return v
}

// first is the position from which rows are read; the first row must be the one
// behind v.position.
func (v *verifier) first() int64 {
	if v.position == 0 {
		return math.MinInt64
	}
	return v.position + 1
}

// row checks one row and gives errEnough at the first thing that is wrong.
func (v *verifier) row(r *Row) error {
	if what := v.wrong(r); what != "" {
		v.finding = &Finding{v.position + 1, what}
		return errEnough
	}
	v.position = r.Position
	v.hash = append(v.hash[:0], r.Hash...)
	v.recorded = r.RecordedAt
	v.versions[r.Stream] = r.Version
	v.final = v.tree.Add(v.hash, v.final[:0])
	if v.position == v.sealed {
		v.whole = v.tree.Whole()
	}
	return v.compare()
}

func (v *verifier) wrong(r *Row) string {
	switch want := v.position + 1; {
	case r.Position > want:
		return fmt.Sprintf("event %d is missing: the next one is %d", want, r.Position)
	case r.Position < want:
		return fmt.Sprintf("an event numbered %d stands where %d is expected", r.Position, want)
	case !bytes.Equal(r.PrevHash, v.hash):
		return "it does not chain to the event before: that one or this one was replaced, moved or inserted"
	case !v.chain.fits(r):
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
	if n := len(v.outside); n > 0 && v.outside[n-1].Size > v.position {
		return &Finding{v.position + 1, fmt.Sprintf("the end of the book was cut off: a checkpoint of %d events was kept outside", v.outside[n-1].Size)}
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
	case v.sealed > v.position:
		return &Finding{v.position + 1, fmt.Sprintf("the end of the book was cut off: the tree of its checkpoints has %d events", v.sealed)}
	}
	return nil
}
