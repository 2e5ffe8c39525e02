package intake

import (
	"context"
	"errors"
	"slices"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// maxPhotos bounds the photos of one boat.
const maxPhotos = 60

// shot is a photo of a boat.
type shot struct {
	id, hash string
	removed  bool
}

// foldPhotos adds an event.
func (b *Boat) foldPhotos(body message.Body) {
	switch e := body.(type) {
	case message.PhotoAdded:
		b.photos = append(b.photos, shot{id: e.Photo, hash: e.Hash})
	case message.PhotoRemoved:
		if p := b.photo(e.Photo); p != nil {
			p.removed = true
		}
	}
}

// photo gives a photo of the boat, or nil.
func (b *Boat) photo(id string) *shot {
	i := slices.IndexFunc(b.photos, func(p shot) bool { return p.id == id })
	if i < 0 {
		return nil
	}
	return &b.photos[i]
}

// addPhoto decides that a photo, which is kept already, belongs to the boat.
func (b *Boat) addPhoto(c message.AddPhoto, by people.ID) (message.PhotoAdded, error) {
	said := message.PhotoAdded{Boat: c.Boat, Photo: c.Photo, Hash: c.Hash, Place: c.Place, Finding: c.Finding, Words: c.Words}
	err := desk.First(desk.GoodID("photo", c.Photo), desk.NotLonger("words", c.Words, desk.MaxWords))
	switch {
	case err != nil:
		return said, err
	case b.photo(c.Photo) != nil:
		return said, desk.Conflict("photo", "a photo under this id stands in the book already")
	case len(b.photos) >= maxPhotos:
		return said, desk.Conflict("photo", "%s has %d photos; no more can be kept of one boat", b.name, maxPhotos)
	}
	if c.Finding == "" {
		if c.Place != nil {
			err = goodPlace(*c.Place)
		}
		return said, err
	}
	f := b.finding(c.Finding)
	if f == nil {
		return said, desk.Unknown("finding", "%s has no such finding", b.name)
	}
	if l := b.look(f.Look); l != nil && l.finished == 0 && l.inspector != by {
		return said, fault.New(fault.Forbidden, "this look-over is somebody else's and still open")
	}
	said.Place = &f.Place
	return said, nil
}

func (s *service) addPhoto(ctx context.Context, o desk.Order[message.AddPhoto]) (desk.Decision, error) {
	c := o.Command
	b, at, err := s.load(ctx, c.Boat)
	if err != nil {
		return desk.Decision{}, err
	}
	said, err := b.addPhoto(c, o.Actor.Person)
	if err != nil {
		return desk.Decision{}, err
	}
	kept, err := s.photos.Has(ctx, c.Hash)
	if fault.Is(err, fault.Unknown) {
		err = fault.Field("hash", "no photo is kept under this hash; send the photo first")
	}
	if err != nil {
		return desk.Decision{}, err
	}
	said.Width, said.Height, said.Bytes = kept.Width, kept.Height, kept.Bytes
	return desk.SayAt(at, c.Boat, said)
}

func (s *service) removePhoto(ctx context.Context, o desk.Order[message.RemovePhoto]) (desk.Decision, error) {
	c := o.Command
	return s.on(ctx, c.Boat, func(b *Boat) (message.Body, error) {
		p := b.photo(c.Photo)
		if p == nil {
			return nil, desk.Unknown("photo", "%s has no such photo", b.name)
		}
		if err := desk.Needed("why", c.Why, "say why the photo goes, and name nobody"); err != nil || p.removed {
			return nil, err
		}
		return message.PhotoRemoved{Boat: c.Boat, Photo: c.Photo, Hash: p.hash, Why: c.Why}, nil
	})
}

// keepPhoto counts which photos use what is kept under a hash.
func keepPhoto(ctx context.Context, tx pgx.Tx, body message.Body) error {
	exec := desk.Exec(ctx, tx)
	switch b := body.(type) {
	case message.PhotoAdded:
		return exec(`INSERT INTO intake.photo (photo, hash) VALUES ($1, $2) ON CONFLICT DO NOTHING`, b.Photo, b.Hash)
	case message.PhotoRemoved:
		return exec(`DELETE FROM intake.photo WHERE photo = $1`, b.Photo)
	}
	return nil
}

// destroy destroys what is kept of a photo that was removed.
func (s *service) destroy(ctx context.Context, removed message.PhotoRemoved) error {
	var other string
	err := s.Pool.QueryRow(ctx, `SELECT photo FROM intake.photo WHERE hash = $1 AND photo <> $2 LIMIT 1`, removed.Hash, removed.Photo).Scan(&other)
	if errors.Is(err, pgx.ErrNoRows) {
		return s.photos.Drop(ctx, removed.Hash)
	}
	return err
}
