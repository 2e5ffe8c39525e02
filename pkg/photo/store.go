package photo

import (
	"context"
	"embed"
	"errors"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"refloat.example/pkg/fault"
)

// Schema is the name of the photos' schema, for postgres.Migrate.
const Schema = "photo"

// Migrations make the photos' schema, for postgres.Migrate.
//
//go:embed migrations/*.sql
var Migrations embed.FS

// A Store keeps photos.
type Store struct {
	pool *pgxpool.Pool
	// one lets one photo at a time be unpacked: a few at once could take all of a
	// small machine's memory.
	one  chan struct{}
	kind string // what it keeps: ofBoats or ofReceipts
}

const (
	ofBoats    = "boat"
	ofReceipts = "receipt"
)

// NewStore gives the store of a database, for photos of boats.
func NewStore(pool *pgxpool.Pool) *Store { return &Store{pool, make(chan struct{}, 1), ofBoats} }

// Receipts gives the store of the same database for photos of receipts. Neither
// store reads, knows or drops what the other one keeps.
func (s *Store) Receipts() *Store { return &Store{s.pool, s.one, ofReceipts} }

// Take cleans a file and saves the picture.
func (s *Store) Take(ctx context.Context, file []byte) (Picture, error) {
	select {
	case s.one <- struct{}{}:
	case <-ctx.Done():
		return Picture{}, fault.Because(fault.Busy, ctx.Err(), "too many photos at once; send it again")
	}
	p, err := Clean(file)
	<-s.one
	if err != nil {
		return p, err
	}
	return p, s.Save(ctx, p)
}

// Save keeps a picture. It is durable when Save returns; saving it again changes
// nothing.
func (s *Store) Save(ctx context.Context, p Picture) error {
	_, err := s.pool.Exec(ctx, `
		INSERT INTO photo.picture (hash, kind, width, height, large, small) VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT (hash, kind) DO NOTHING`,
		p.Hash, s.kind, p.Width, p.Height, p.Large, p.Small)
	return err
}

// Kept is what is known of a picture without its pixels.
type Kept struct {
	Width, Height, Bytes int
}

// Has says whether a picture is kept, and how large it is. One that is not is a
// fault of kind Unknown.
func (s *Store) Has(ctx context.Context, hash string) (Kept, error) {
	var k Kept
	err := s.pool.QueryRow(ctx, `SELECT width, height, octet_length(large) FROM photo.picture WHERE hash = $1 AND kind = $2`, hash, s.kind).Scan(&k.Width, &k.Height, &k.Bytes)
	return k, unknown(err)
}

// Large gives a picture's large form, a JPEG.
func (s *Store) Large(ctx context.Context, hash string) ([]byte, error) {
	return s.read(ctx, `SELECT large FROM photo.picture WHERE hash = $1 AND kind = $2`, hash)
}

// Small gives a picture's small form, a JPEG.
func (s *Store) Small(ctx context.Context, hash string) ([]byte, error) {
	return s.read(ctx, `SELECT small FROM photo.picture WHERE hash = $1 AND kind = $2`, hash)
}

func (s *Store) read(ctx context.Context, query, hash string) ([]byte, error) {
	var data []byte
	err := s.pool.QueryRow(ctx, query, hash, s.kind).Scan(&data)
	return data, unknown(err)
}

// Drop forgets a picture.
func (s *Store) Drop(ctx context.Context, hash string) error {
	_, err := s.pool.Exec(ctx, `DELETE FROM photo.picture WHERE hash = $1 AND kind = $2`, hash, s.kind)
	return err
}

func unknown(err error) error {
	if errors.Is(err, pgx.ErrNoRows) {
		return fault.New(fault.Unknown, "this photo is not kept here")
	}
	return err
}
