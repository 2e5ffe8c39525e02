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
	one chan struct{}
}

// NewStore gives the store of a database.
func NewStore(pool *pgxpool.Pool) *Store { return &Store{pool, make(chan struct{}, 1)} }

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
		INSERT INTO photo.picture (hash, width, height, large, small) VALUES ($1, $2, $3, $4, $5) ON CONFLICT (hash) DO NOTHING`,
		p.Hash, p.Width, p.Height, p.Large, p.Small)
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
	err := s.pool.QueryRow(ctx, `SELECT width, height, octet_length(large) FROM photo.picture WHERE hash = $1`, hash).Scan(&k.Width, &k.Height, &k.Bytes)
	return k, unknown(err)
}

// Large gives a picture's large form, a JPEG.
func (s *Store) Large(ctx context.Context, hash string) ([]byte, error) {
	return s.read(ctx, `SELECT large FROM photo.picture WHERE hash = $1`, hash)
}

// Small gives a picture's small form, a JPEG.
func (s *Store) Small(ctx context.Context, hash string) ([]byte, error) {
	return s.read(ctx, `SELECT small FROM photo.picture WHERE hash = $1`, hash)
}

func (s *Store) read(ctx context.Context, query, hash string) ([]byte, error) {
	var data []byte
	err := s.pool.QueryRow(ctx, query, hash).Scan(&data)
	return data, unknown(err)
}

// Drop forgets a picture.
func (s *Store) Drop(ctx context.Context, hash string) error {
	_, err := s.pool.Exec(ctx, `DELETE FROM photo.picture WHERE hash = $1`, hash)
	return err
}

func unknown(err error) error {
	if errors.Is(err, pgx.ErrNoRows) {
		return fault.New(fault.Unknown, "this photo is not kept here")
	}
	return err
}
