package web

import (
	"context"
	"errors"
	"maps"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
)

// directory gives the names of people to those who may read them. Names stay
// sealed in the tables and are opened only for the page that shows them.
type directory struct {
	site *Site
	ctx  context.Context
	who  Who
	open map[people.ID]string // what was opened for this page
}

func (v *visit) directory() directory {
	return directory{v.Site, v.ctx, v.Who, map[people.ID]string{}}
}

// Name gives somebody's name, or words in its place: when there is nobody, when
// the viewer may not read it, and after an erasure.
func (d directory) Name(id people.ID) string {
	switch {
	case id == "":
		return "nobody"
	case !d.who.seesNames(id):
		return "name not shown"
	}
	if name, ok := d.open[id]; ok {
		return name
	}
	details, err := d.site.details(d.ctx, id)
	name := details.Name
	switch {
	case errors.Is(err, vault.ErrErased):
		name = "erased"
	case errors.Is(err, pgx.ErrNoRows) || err == nil && name == "":
		name = "not in the book yet"
	case err != nil:
		d.site.Slog.Error("a name could not be read", "person", id, "err", err)
		name = "name not readable"
	}
	d.open[id] = name
	return name
}

// learn opens the names of many people at once, from the documents that a page has
// read. Names that cannot be opened are left to Name, which says why.
func (d directory) learn(list []Person) error {
	opened, err := d.site.openNames(d.ctx, slices.DeleteFunc(slices.Clone(list), func(p Person) bool { return !d.who.seesNames(p.ID) }))
	maps.Copy(d.open, opened)
	return err
}

// keysAtOnce is for how many people keys are read at once; the vault keeps more than
// that in memory.
const keysAtOnce = 1000

// openNames opens the names of people whose documents were read, without those that
// cannot be opened.
func (s *Site) openNames(ctx context.Context, list []Person) (map[people.ID]string, error) {
	opened := map[people.ID]string{}
	list = slices.DeleteFunc(slices.Clone(list), func(p Person) bool { return p.Sealed == "" || p.Erased != nil })
	for some := range slices.Chunk(list, keysAtOnce) {
		ids := make([]string, len(some))
		for i, p := range some {
			ids[i] = string(p.ID)
		}
		if err := s.Vault.Fetch(ctx, ids); err != nil {
			return nil, err
		}
		for _, p := range some {
			var details message.PersonDetails
			if err := s.Vault.Unseal(ctx, string(p.ID), message.SealDetails, vault.Sealed(p.Sealed), &details); err == nil && details.Name != "" {
				opened[p.ID] = details.Name
			}
		}
	}
	return opened, nil
}

// learnOf is learn for people whose documents the page has not read.
func (d directory) learnOf(ids []people.ID) error {
	list, err := findAll[Person](d.ctx, d.site, `SELECT doc FROM web.person WHERE id = ANY($1)`, ids)
	if err != nil {
		return err
	}
	return d.learn(list)
}

// Actor says who did something, from the text that stands in the book.
func (d directory) Actor(actor string) string {
	kind, id, _ := strings.Cut(actor, "/")
	switch {
	case kind == "member":
		return d.Name(people.ID(id))
	case kind == "link":
		return "somebody with a private link"
	case id == "web":
		return "somebody through the pages"
	case id == "operator":
		return "the operator at the machine"
	}
	return "the service itself"
}

// details opens what the club knows about somebody. After an erasure the error
// has vault.ErrErased in its chain; pgx.ErrNoRows means that the book does not
// have them.
func (s *Site) details(ctx context.Context, id people.ID) (message.PersonDetails, error) {
	var details message.PersonDetails
	var p Person
	err := s.Pool.QueryRow(ctx, `SELECT doc FROM web.person WHERE id = $1`, id).Scan(&p)
	switch {
	case err != nil:
		return details, err
	case p.Erased != nil:
		return details, vault.ErrErased
	case p.Sealed == "":
		return details, nil
	}
	err = s.Vault.Unseal(ctx, string(id), message.SealDetails, vault.Sealed(p.Sealed), &details)
	return details, err
}
