package photo

import (
	"bytes"
	"context"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/fault"
)

const (
	// MaxPiece bounds a piece of a file, in bytes.
	MaxPiece = 1 << 20
	// maxUploads bounds how many files one sender has under way.
	maxUploads = 30
	// uploadFor is how long a file may take to come in.
	uploadFor = 24 * time.Hour
)

// Begin begins a file of a sender, or finds one that was begun before, and gives
// how much of it is here. id is the sender's choice; somebody else's is refused.
func (s *Store) Begin(ctx context.Context, id, owner string, size int) (int, error) {
	if size <= 0 {
		return 0, fault.New(fault.Invalid, "the file is empty")
	}
	if size > MaxFile {
		return 0, TooLarge()
	}
	var others int
	if err := s.pool.QueryRow(ctx, `SELECT count(*) FROM photo.upload WHERE owner = $1 AND id <> $2`, owner, id).Scan(&others); err != nil {
		return 0, err
	}
	if others >= maxUploads {
		return 0, fault.New(fault.Busy, "%d photos of yours are still on their way; wait until some are here", others)
	}
	_, err := s.pool.Exec(ctx, `INSERT INTO photo.upload (id, owner, size) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING`, id, owner, size)
	if err != nil {
		return 0, err
	}
	return s.Here(ctx, id, owner)
}

// Here gives how much of a sender's file is here: where the next piece begins.
func (s *Store) Here(ctx context.Context, id, owner string) (int, error) {
	here, _, err := s.state(ctx, s.pool, id, owner, "")
	return here, err
}

type querier interface {
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
}

func (s *Store) state(ctx context.Context, q querier, id, owner, lock string) (here, size int, err error) {
	err = q.QueryRow(ctx, `SELECT size FROM photo.upload WHERE id = $1 AND owner = $2`+lock, id, owner).Scan(&size)
	if errors.Is(err, pgx.ErrNoRows) {
		return 0, 0, fault.New(fault.Unknown, "this photo was not begun, or a day ago; send it again")
	}
	if err == nil {
		err = q.QueryRow(ctx, `SELECT coalesce(max(at + octet_length(data)), 0) FROM photo.piece WHERE upload = $1`, id).Scan(&here)
	}
	return here, size, err
}

// Add adds a piece that begins at a place in the file, and gives how much is
// here now. A piece that is here already changes nothing; one that leaves a gap
// is refused with how much is here.
func (s *Store) Add(ctx context.Context, id, owner string, at int, piece []byte) (here int, err error) {
	err = pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		var size int
		if here, size, err = s.state(ctx, tx, id, owner, " FOR UPDATE"); err != nil {
			return err
		}
		if at < here && at >= 0 {
			return nil // it came before, and its answer was lost
		}
		if at != here || len(piece) == 0 || len(piece) > MaxPiece || at+len(piece) > size {
			return fault.New(fault.Conflict, "this piece does not fit what is here; go on at byte %d", here)
		}
		here += len(piece)
		_, err := tx.Exec(ctx, `INSERT INTO photo.piece (upload, at, data) VALUES ($1, $2, $3)`, id, at, piece)
		return err
	})
	return here, err
}

// Finish makes a picture of a file that is here as a whole, and saves it. The
// pieces go when Forget is called: until then Finish may be repeated.
func (s *Store) Finish(ctx context.Context, id, owner string) (Picture, error) {
	here, size, err := s.state(ctx, s.pool, id, owner, "")
	if err != nil {
		return Picture{}, err
	}
	if here != size {
		return Picture{}, fault.New(fault.Conflict, "only %d of %d bytes of this photo are here; send the rest", here, size)
	}
	rows, err := s.pool.Query(ctx, `SELECT data FROM photo.piece WHERE upload = $1 ORDER BY at`, id)
	if err != nil {
		return Picture{}, err
	}
	pieces, err := pgx.CollectRows(rows, pgx.RowTo[[]byte])
	if err != nil {
		return Picture{}, err
	}
	return s.Take(ctx, bytes.Join(pieces, nil))
}

// Forget drops a sender's file.
func (s *Store) Forget(ctx context.Context, id, owner string) error {
	_, err := s.pool.Exec(ctx, `DELETE FROM photo.upload WHERE id = $1 AND owner = $2`, id, owner)
	return err
}

// ForgetOld drops files that have been coming in for a day.
func (s *Store) ForgetOld(ctx context.Context, now time.Time) error {
	_, err := s.pool.Exec(ctx, `DELETE FROM photo.upload WHERE begun_at < $1`, now.Add(-uploadFor))
	return err
}
