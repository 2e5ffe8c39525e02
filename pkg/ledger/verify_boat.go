package ledger

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"
	"golang.org/x/mod/sumdb/tlog"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/proof"
)

// boatLimit is said with every check of one boat.
const boatLimit = "a check of one boat reads nothing but the boat's events: one that was taken out at the end of a room's stream, or that was made to name another boat, " +
	"is found by a check of the whole book only"

// ownStreams is how the streams end, behind the room's name, that are a boat's own.
const ownStreams = ".boat/"

// boatCheck is a check of one boat on its way.
type boatCheck struct {
	chain    *chainer
	tree     treeReader
	against  *proof.Signed // the checkpoint that the events have to be covered by
	sealed   int64
	versions map[string]int64
	checked  int64
	last     []byte // the hash of the last event that was found right
	finding  *Finding
}

// VerifyBoat checks the events of one boat: that each has the hash that its content
// gives, that it stands in the tree at its position behind the event it chains to,
// that no version of its streams is left out, and that a checkpoint covers the tree.
// That is the newest in the database, or outside, one that was kept elsewhere and
// whose signature was checked. Events that no checkpoint covers yet are checked by
// their own hash alone.
func (r *Reader) VerifyBoat(ctx context.Context, id boat.ID, outside *proof.Signed) (Verified, error) {
	tx, err := r.pool.BeginTx(ctx, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly})
	if err != nil {
		return Verified{}, fmt.Errorf("reading the book: %w", err)
	}
	defer func() { _ = tx.Rollback(context.WithoutCancel(ctx)) }()
	against := outside
	if against == nil {
		newest, err := openNotes(ctx, tx, `ORDER BY number DESC LIMIT 1`)
		if err != nil {
			return Verified{}, err
		}
		if len(newest) > 0 {
			against = &newest[0]
		}
	}
	c := &boatCheck{chain: newChainer(), tree: treeReader{ctx, tx}, against: against, versions: map[string]int64{}}
	if against != nil {
		c.sealed = against.Size
	}
	rows, err := collect(tx.Query(ctx, `SELECT `+columns+` FROM ledger.event
		WHERE boat = $1 OR stream IN (SELECT DISTINCT stream FROM ledger.event WHERE boat = $1 AND right(stream, length($2)) = $2)
		ORDER BY position LIMIT $3`, string(id), ownStreams+string(id), maxStream))
	if err != nil {
		return Verified{}, fmt.Errorf("reading the book: %w", err)
	}
	for i := range rows {
		if c.finding != nil {
			break
		}
		if err := c.row(&rows[i], id); err != nil {
			return Verified{}, err
		}
	}
	out := Verified{OK: c.finding == nil, Events: c.checked, Head: hex.EncodeToString(c.last), Finding: c.finding, Sealed: c.sealed, Limit: boatLimit}
	if outside != nil {
		out.Outside = outside.Size
	}
	return out, nil
}

// row checks one event.
func (c *boatCheck) row(r *Row, id boat.ID) error {
	what, err := c.wrong(r)
	if err != nil {
		return err
	}
	if own := strings.HasSuffix(r.Stream, ownStreams+string(id)); what == "" && own {
		if r.Version != c.versions[r.Stream]+1 {
			what = fmt.Sprintf("it is version %d of %s, and the one before it is version %d: what stood between is missing", r.Version, r.Stream, c.versions[r.Stream])
		}
		c.versions[r.Stream] = r.Version
	}
	if what != "" {
		c.finding = &Finding{r.Position, what}
		return nil
	}
	c.checked++
	c.last = r.Hash
	return nil
}

func (c *boatCheck) wrong(r *Row) (string, error) {
	if !c.chain.fits(r) {
		return "it was changed after it was written: its hash does not fit its content", nil
	}
	if r.Position > c.sealed {
		return "", nil
	}
	path, err := tlog.ProveRecord(c.sealed, r.Position-1, c.tree)
	if err == nil {
		err = tlog.CheckRecord(path, c.sealed, c.against.Root, r.Position-1, tlog.RecordHash(r.Hash))
		if err != nil {
			return fmt.Sprintf("it is not the event that the checkpoint of %d events covers here, or the stored tree was changed", c.sealed), nil
		}
	}
	if errors.Is(err, errTree) {
		return fmt.Sprintf("the stored tree does not reach the checkpoint of %d events", c.sealed), nil
	}
	if err != nil || r.Position == 1 {
		return "", err
	}
	before, err := c.tree.read([]proof.Place{{Level: 0, N: r.Position - 2}})
	if err == nil && before[0] != tlog.RecordHash(r.PrevHash) {
		return "it does not chain to the event that was sealed before it", nil
	}
	return "", err
}
