package web

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/fault"
)

// find reads a document by its id; one that is not there is a fault of kind
// Unknown.
func find[D any](ctx context.Context, s *Site, table, id, what string) (D, error) {
	var doc D
	err := s.Pool.QueryRow(ctx, `SELECT doc FROM web.`+table+` WHERE id = $1`, id).Scan(&doc)
	if errors.Is(err, pgx.ErrNoRows) {
		return doc, fault.New(fault.Unknown, "The club's book does not have this %s.", what)
	}
	return doc, err
}

// findAll reads the documents that a query selects; it selects the column doc.
func findAll[D any](ctx context.Context, s *Site, query string, args ...any) ([]D, error) {
	rows, err := s.Pool.Query(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[D])
}

func (v *visit) findBoat(id string) (Boat, error) {
	return find[Boat](v.ctx, v.Site, "boat", id, "boat")
}
