package ledger

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"golang.org/x/mod/sumdb/tlog"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/lifecycle"
	"refloat.example/pkg/proof"
	"refloat.example/pkg/watch"
)

const (
	// sealerLock is the session lock that elects the one sealer.
	sealerLock = 0x5245464c4f415403
	// sealLock is held by each transaction that makes a checkpoint or changes keys.
	sealLock = 0x5245464c4f415404
	// sealEvery is how far a checkpoint lags behind the book at most, while the
	// sealer keeps up.
	sealEvery = time.Second
	// lastFor bounds the sealing at the stop of a process.
	lastFor = 3 * time.Second
	// sealMost bounds the events that one transaction adds to the tree.
	sealMost = 10_000
)

// A sealer adds what was written to the Merkle tree, signs checkpoints, and puts
// them into a folder outside the database. It never signs what does not chain: a
// book that was changed is sealed no further.
type sealer struct {
	pool      *pgxpool.Pool
	keys      string // folder of the signing key
	published string // folder of the published checkpoints
	connect   func(context.Context) (*pgx.Conn, error)
	clock     clock.Clock
	most      int64 // events that one transaction adds
	figures   *watch.Figures
}

// Sealer gives what has to run in a process for checkpoints to be made: the
// candidate for sealing. keys is the folder of the signing key, published the
// folder that checkpoints go to.
func (l *Log) Sealer(keys, published string) lifecycle.Part {
	s := &sealer{pool: l.pool, keys: keys, published: published, connect: l.writer.connect, clock: l.writer.clock, most: sealMost, figures: l.figures}
	return lifecycle.NewLoop("sealer of the book", l.log, s.lead)
}

// lead waits for the sealer's lock and seals until ctx ends or something fails.
func (s *sealer) lead(ctx context.Context) error {
	lock, err := s.connect(ctx)
	if err != nil {
		return ignoreEnd(ctx, fmt.Errorf("connecting to the book: %w", err))
	}
	defer hangUp(lock)
	if err := waitForLock(ctx, lock, sealerLock); err != nil {
		return ignoreEnd(ctx, fmt.Errorf("waiting for the sealer's lock: %w", err))
	}
	folder, err := proof.OpenFolder(s.published)
	if err != nil {
		return ignoreEnd(ctx, err)
	}
	published, err := publishedNumber(ctx, s.pool, folder.Last())
	if err != nil {
		return ignoreEnd(ctx, err)
	}
	for {
		if published, err = s.catchUp(ctx, folder, published); err != nil {
			return ignoreEnd(ctx, err)
		}
		select {
		case <-time.After(sealEvery):
		case <-ctx.Done():
			return s.last(ctx, folder, published)
		}
		if err := lock.Ping(ctx); err != nil {
			return ignoreEnd(ctx, fmt.Errorf("the sealer lost its lock: %w", err))
		}
	}
}

// last seals what was written up to the stop of the process, so that nothing waits
// for its next start.
func (s *sealer) last(ctx context.Context, folder *proof.Folder, published int64) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), lastFor)
	defer cancel()
	_, err := s.catchUp(ctx, folder, published)
	return err
}

// catchUp seals what was written, and publishes what is not in the folder yet.
func (s *sealer) catchUp(ctx context.Context, folder *proof.Folder, published int64) (int64, error) {
	for more := true; more; {
		err := sealing(ctx, s.pool, func(tx pgx.Tx) (err error) {
			more, err = s.seal(ctx, tx)
			return err
		})
		if err != nil {
			return published, err
		}
	}
	published, err := publish(ctx, s.pool, folder, published)
	s.figures.Sealed(published)
	return published, err
}

// sealing runs a transaction in which nobody else seals or changes keys.
func sealing(ctx context.Context, pool *pgxpool.Pool, f func(tx pgx.Tx) error) error {
	return pgx.BeginFunc(ctx, pool, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock($1)`, int64(sealLock)); err != nil {
			return fmt.Errorf("waiting to seal: %w", err)
		}
		return f(tx)
	})
}

// ErrUnsound says that the book cannot be sealed, because it is not as it was
// written.
var ErrUnsound = errors.New("the book is not as it was written, and is not sealed any further: run refloat verify, and compare with the newest backup")

// seal adds events to the tree, and signs a checkpoint when it has come to the
// head. more says that it has not yet.
func (s *sealer) seal(ctx context.Context, tx pgx.Tx) (more bool, err error) {
	head, err := readHead(ctx, tx)
	if err != nil {
		return false, err
	}
	tree, err := readTree(ctx, tx)
	if err != nil {
		return false, err
	}
	last, err := readLast(ctx, tx)
	if err != nil || tree.Size() == head.Position && last.size == head.Position {
		return false, err
	}
	if tree.Size() > head.Position {
		return false, fmt.Errorf("the tree has %d events and the book %d: %w", tree.Size(), head.Position, ErrUnsound)
	}
	at, err := grow(ctx, tx, tree, min(head.Position, tree.Size()+s.most))
	if err != nil || tree.Size() < head.Position {
		return err == nil, err
	}
	signer, err := loadSigner(ctx, tx, s.keys, s.clock.Now())
	if err != nil {
		return false, err
	}
	_, err = addCheckpoint(ctx, tx, proof.Checkpoint{
		Book: signer.Public().Book(), Size: tree.Size(), Root: tree.Root(), Head: tlog.Hash(at), At: s.clock.Now().UTC().Truncate(time.Second),
	}, signer)
	return false, err
}

// grow adds the events up to a position to the tree, if each is as it was written
// and chains to the one before, and gives the last one's hash.
func grow(ctx context.Context, tx pgx.Tx, tree *proof.Tree, to int64) (last []byte, err error) {
	last, err = sealedHash(ctx, tx, tree.Size())
	if err != nil || tree.Size() == to {
		return last, err
	}
	g, chain, next := growth{tree: tree}, newChainer(), tree.Size()+1
	err = eachIn(ctx, tx, next, func(r *Row) error {
		if next > to {
			return errEnough
		}
		if r.Position != next || !bytes.Equal(r.PrevHash, last) || !chain.fits(r) {
			return fmt.Errorf("event %d: %w", next, ErrUnsound)
		}
		g.add(r.Hash)
		last = bytes.Clone(r.Hash)
		next++
		return nil
	})
	if err != nil && !errors.Is(err, errEnough) {
		return nil, err
	}
	if next <= to {
		return nil, fmt.Errorf("event %d is missing: %w", next, ErrUnsound)
	}
	return last, g.store(ctx, tx)
}

// sealedHash gives the hash of the event that was sealed last, after comparing it
// with its leaf.
func sealedHash(ctx context.Context, tx pgx.Tx, size int64) ([]byte, error) {
	if size == 0 {
		return Genesis[:], nil
	}
	var hash, leaf []byte
	err := tx.QueryRow(ctx, `SELECT e.hash, t.hash FROM ledger.event e, ledger.tree_hash t WHERE e.position = $1 AND t.level = 0 AND t.n = $1 - 1`, size).
		Scan(&hash, &leaf)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, fmt.Errorf("event %d, which was sealed, is missing: %w", size, ErrUnsound)
	}
	if err != nil {
		return nil, fmt.Errorf("reading the book: %w", err)
	}
	if want := tlog.RecordHash(hash); !bytes.Equal(want[:], leaf) {
		return nil, fmt.Errorf("event %d is not the one that was sealed: %w", size, ErrUnsound)
	}
	return hash, nil
}

// ErrForked says that a checkpoint was published of a book that this one does not
// begin with: the book was restored from an older copy, or rewritten.
var ErrForked = errors.New("the newest published checkpoint is not one of this book's: the book was restored from a copy older than the checkpoint, or was changed; " +
	"run refloat verify --checkpoints with the folder of the published checkpoints; if the loss is known and wanted, keep that folder where it cannot be lost, " +
	"set an empty one, and tell the auditors")

// publish appends to the folder the checkpoints behind a number, and gives the
// number of the last one there.
func publish(ctx context.Context, db querier, folder *proof.Folder, after int64) (int64, error) {
	rows, err := db.Query(ctx, `SELECT number, note FROM ledger.checkpoint WHERE number > $1 ORDER BY number`, after)
	if err != nil {
		return after, fmt.Errorf("reading the checkpoints: %w", err)
	}
	type numbered struct {
		Number int64
		Note   string
	}
	fresh, err := pgx.CollectRows(rows, pgx.RowToStructByPos[numbered])
	if err != nil || len(fresh) == 0 {
		return after, err
	}
	keys, err := signingKeys(ctx, db)
	if err != nil {
		return after, err
	}
	if err := folder.AddKeys(Keys(keys)); err != nil {
		return after, err
	}
	for _, c := range fresh {
		if err := folder.Add(c.Note); err != nil {
			return after, err
		}
		after = c.Number
	}
	return after, nil
}

// publishedNumber gives the number of a published note in the database, 0 for
// none.
func publishedNumber(ctx context.Context, db querier, published []byte) (number int64, err error) {
	if published == nil {
		return 0, nil
	}
	c, err := proof.Read(published)
	if err != nil {
		return 0, err
	}
	err = db.QueryRow(ctx, `SELECT number FROM ledger.checkpoint WHERE size = $1 AND note = $2`, c.Size, string(published)).Scan(&number)
	if errors.Is(err, pgx.ErrNoRows) {
		return 0, fmt.Errorf("a checkpoint of %d events, made %s: %w", c.Size, c.At.Format(time.RFC3339), ErrForked)
	}
	return number, err
}

// CheckPublished gives ErrForked unless the newest checkpoint in the folder is one
// of this book's. A folder without checkpoints is fine.
func (r *Reader) CheckPublished(ctx context.Context, published string) error {
	folder, err := proof.OpenFolder(published)
	if err == nil {
		_, err = publishedNumber(ctx, r.pool, folder.Last())
	}
	return err
}
