package ledger

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"golang.org/x/mod/sumdb/tlog"

	"refloat.example/pkg/proof"
)

// begin makes the verifier stand behind the events that a trusted checkpoint
// covers, as if it had read them.
func (v *verifier) begin(ctx context.Context, tx pgx.Tx, from *proof.Signed) error {
	if from == nil {
		return nil
	}
	rows, err := collect(tx.Query(ctx, `SELECT `+columns+` FROM ledger.event WHERE position = $1`, from.Size))
	if err != nil {
		return fmt.Errorf("reading the book: %w", err)
	}
	v.position, v.hash = from.Size, bytes.Clone(from.Head[:])
	switch {
	case len(rows) == 0:
		v.position = from.Size - 1
		v.finding = &Finding{from.Size, "it is missing, and the checkpoint covers it"}
		return nil
	case !bytes.Equal(v.chain.hash(&rows[0]), from.Head[:]):
		v.position = from.Size - 1
		v.finding = &Finding{from.Size, "it is not the event that the checkpoint covers: it was changed, or the book was rewritten before here"}
		return nil
	}
	v.recorded = rows[0].RecordedAt
	v.outside = slices.DeleteFunc(v.outside, func(o proof.Signed) bool { return o.Size <= from.Size })
	whole, err := treeReader{ctx, tx}.read(proof.Places(from.Size))
	if err != nil && !errors.Is(err, errTree) {
		return err
	}
	tree := proof.TreeAt(from.Size, whole)
	if err != nil || tree.Root() != from.Root {
		v.finding = &Finding{from.Size, "the stored tree is not the one of the checkpoint: an event that it covers, or the tree, was changed; a check of the whole book says which"}
		return nil
	}
	v.tree, v.feed.last = *tree, storedNote{Size: from.Size, Number: math.MaxInt64}
	if v.sealed == from.Size {
		v.whole = v.tree.Whole()
	}
	return v.beginVersions(ctx, tx)
}

// beginVersions gives the version, at the present position, of each stream that is
// written to behind it.
func (v *verifier) beginVersions(ctx context.Context, tx pgx.Tx) error {
	rows, err := tx.Query(ctx, `
		SELECT s.stream, (SELECT e.version FROM ledger.event e WHERE e.stream = s.stream AND e.position <= $1 ORDER BY e.position DESC LIMIT 1)
		FROM (SELECT DISTINCT stream FROM ledger.event WHERE position > $1) s`, v.position)
	if err != nil {
		return fmt.Errorf("reading the streams: %w", err)
	}
	var stream string
	var version *int64
	_, err = pgx.ForEachRow(rows, []any{&stream, &version}, func() error {
		if version != nil {
			v.versions[stream] = *version
		}
		return nil
	})
	return err
}

// compare holds the book so far against the checkpoints of this many events.
func (v *verifier) compare() error {
	for len(v.outside) > 0 && v.outside[0].Size == v.position && v.finding == nil {
		v.differs(v.outside[0].Checkpoint, "that was kept outside")
		v.outside = v.outside[1:]
	}
	inside, err := v.feed.at(v.position)
	var bad *badCheckpoint
	switch {
	case errors.As(err, &bad):
		v.finding = cmp.Or(v.finding, &Finding{v.position, bad.Error()})
	case err != nil:
		return err
	}
	for _, c := range inside {
		if v.finding == nil {
			v.differs(c.Checkpoint, "in the database")
		}
	}
	if v.finding != nil {
		return errEnough
	}
	return nil
}

// differs makes a finding of a checkpoint that does not fit the book. Where in the
// book it began is found out by examineTree.
func (v *verifier) differs(c proof.Checkpoint, where string) {
	if c.Root == v.tree.Root() && bytes.Equal(c.Head[:], v.hash) {
		return
	}
	v.doubted = &c
	v.finding = &Finding{v.position, fmt.Sprintf("the first %d events are not those of the checkpoint %s: the book was rewritten at or before here", v.position, where)}
}

// checkpointFeed gives the checkpoints in the database in order, a page at a time.
// It has a connection of its own; those that came in after the snapshot lie behind
// its end.
type checkpointFeed struct {
	ctx   context.Context
	pool  *pgxpool.Pool
	keys  []proof.Key
	last  storedNote // the last one that was read
	ended bool
	page  []storedNote
	taken int
	size  int64 // of the last one that was taken
}

// storedNote is a checkpoint as its table holds it.
type storedNote struct {
	Size   int64
	Number int64
	Note   string
}

const feedPage = 500

// badCheckpoint says that a checkpoint in the database is none, or signed by none
// of the book's keys.
type badCheckpoint struct {
	size  int64
	cause error
}

func (e *badCheckpoint) Error() string {
	return fmt.Sprintf("a checkpoint of %d events in the database is not as it was signed: %s", e.size, e.cause)
}

// at gives the checkpoints of exactly this size.
func (f *checkpointFeed) at(size int64) (found []proof.Signed, err error) {
	for {
		if len(f.page) == 0 && !f.ended {
			if err := f.read(); err != nil {
				return nil, err
			}
		}
		if f.ended || f.page[0].Size > size {
			return found, nil
		}
		next := f.page[0]
		f.page = f.page[1:]
		c, err := proof.Open([]byte(next.Note), f.keys...)
		if err == nil && c.Size != next.Size {
			err = errors.New("its row tells another size than its note")
		}
		if err != nil {
			return nil, &badCheckpoint{next.Size, err}
		}
		found = append(found, c)
		f.taken++
		f.size = size
	}
}

func (f *checkpointFeed) read() error {
	if f.keys == nil {
		keys, err := signingKeys(f.ctx, f.pool)
		if err != nil {
			return err
		}
		f.keys = append([]proof.Key{}, Keys(keys)...)
	}
	rows, err := f.pool.Query(f.ctx, `SELECT size, number, note FROM ledger.checkpoint WHERE (size, number) > ($1, $2) ORDER BY size, number LIMIT $3`, f.last.Size, f.last.Number, feedPage)
	if err != nil {
		return fmt.Errorf("reading the checkpoints: %w", err)
	}
	if f.page, err = pgx.CollectRows(rows, pgx.RowToStructByPos[storedNote]); err != nil {
		return fmt.Errorf("reading the checkpoints: %w", err)
	}
	if f.ended = len(f.page) == 0; !f.ended {
		f.last = f.page[len(f.page)-1]
	}
	return nil
}

// examineTree says where the book left what a checkpoint covers, and compares the
// stored tree with the one over the events: its outer hashes always, all of it
// when asked to.
func (v *verifier) examineTree(ctx context.Context, tx pgx.Tx, all bool) error {
	if v.doubted != nil {
		at, exact, err := firstDifference(ctx, tx, v.doubted)
		if err == nil && exact {
			v.finding.Position = at
			v.finding.What = fmt.Sprintf("it is not the event that stood here when the checkpoint of %d events was made: the book was rewritten from here", v.doubted.Size)
		}
		return err
	}
	if v.finding != nil || v.sealed == 0 {
		return nil
	}
	stored, err := treeReader{ctx, tx}.read(proof.Places(v.sealed))
	if err != nil && !errors.Is(err, errTree) {
		return err
	}
	if err != nil || !slices.Equal(stored, v.whole) {
		v.finding = &Finding{v.sealed, "the stored tree is not the one over the events; the events themselves are in order"}
		return nil
	}
	if !all {
		return nil
	}
	return v.examineAll(ctx, tx)
}

// examineAll recomputes the stored tree from the events, which were found right.
func (v *verifier) examineAll(ctx context.Context, tx pgx.Tx) error {
	var at int64
	err := tx.QueryRow(ctx, `
		SELECT n + 1 FROM (
			SELECT 0 AS level, t.n FROM ledger.tree_hash t LEFT JOIN ledger.event e ON e.position = t.n + 1
			WHERE t.level = 0 AND t.hash IS DISTINCT FROM sha256('\x00'::bytea || e.hash)
			UNION ALL
			SELECT p.level, p.n << p.level FROM ledger.tree_hash p
			LEFT JOIN ledger.tree_hash l ON l.level = p.level - 1 AND l.n = 2 * p.n
			LEFT JOIN ledger.tree_hash r ON r.level = p.level - 1 AND r.n = 2 * p.n + 1
			WHERE p.level > 0 AND p.hash IS DISTINCT FROM sha256('\x01'::bytea || l.hash || r.hash)
		) AS bad ORDER BY level, n LIMIT 1`).Scan(&at)
	if err == nil {
		v.finding = &Finding{at, "the stored tree is not the one over the events, from this event on; the events themselves are in order"}
		return nil
	}
	if !errors.Is(err, pgx.ErrNoRows) {
		return fmt.Errorf("reading the tree: %w", err)
	}
	var stored int64
	if err := tx.QueryRow(ctx, `SELECT count(*) FROM ledger.tree_hash`).Scan(&stored); err != nil {
		return fmt.Errorf("reading the tree: %w", err)
	}
	if want := tlog.StoredHashCount(v.sealed); stored != want {
		v.finding = &Finding{v.sealed, fmt.Sprintf("the stored tree has %d hashes where there should be %d; the events themselves are in order", stored, want)}
	}
	return nil
}

// firstDifference finds the first event that is another one than when a checkpoint
// was made. It can do so exactly while the stored tree is still the one of the
// checkpoint, which the proof of the leaf that differs shows.
func firstDifference(ctx context.Context, tx pgx.Tx, c *proof.Checkpoint) (position int64, exact bool, err error) {
	var leaf []byte
	err = tx.QueryRow(ctx, `
		SELECT t.n + 1, t.hash FROM ledger.tree_hash t LEFT JOIN ledger.event e ON e.position = t.n + 1
		WHERE t.level = 0 AND t.n < $1 AND t.hash IS DISTINCT FROM sha256('\x00'::bytea || e.hash) ORDER BY t.n LIMIT 1`, c.Size).Scan(&position, &leaf)
	if errors.Is(err, pgx.ErrNoRows) {
		return 0, false, nil
	}
	if err != nil {
		return 0, false, fmt.Errorf("reading the tree: %w", err)
	}
	path, err := tlog.ProveRecord(c.Size, position-1, treeReader{ctx, tx})
	if errors.Is(err, errTree) {
		return 0, false, nil
	}
	if err != nil {
		return 0, false, err
	}
	return position, len(leaf) == tlog.HashSize && tlog.CheckRecord(path, c.Size, c.Root, position-1, tlog.Hash(leaf)) == nil, nil
}
