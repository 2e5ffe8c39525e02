package web

import (
	"context"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
)

// card is what a list shows of a boat. It is read without the boat's document.
type card struct {
	ID     boat.ID
	Name   string
	Type   boat.Type
	State  State
	Maker  string
	Colour string
	Open   int // findings that stand and may be told
}

func cardOf(b Boat) card {
	return card{b.ID, b.Name, b.Facts.Type, b.State, b.Facts.Maker, b.Facts.Colour, b.OpenFindings()}
}

// where gives a filter as a condition, with its arguments. Only what is asked for
// stands in it, so that an index can serve it.
func (f boatFilter) where() (string, []any) {
	conditions, args := []string{"true"}, []any{}
	add := func(condition string, arg any) {
		args = append(args, arg)
		conditions = append(conditions, fmt.Sprintf(condition, len(args)))
	}
	if f.State != "" {
		add("state = $%d", f.State)
	}
	if f.Type != "" {
		add("type = $%d", f.Type)
	}
	for _, word := range strings.Fields(strings.ToLower(f.Words)) {
		add("strpos(search, $%d) > 0", word)
	}
	return strings.Join(conditions, " AND "), args
}

// cards reads what a filter leaves, by name, so many from an offset on, and counts
// all that it leaves. Past the end it counts none.
func (s *Site) cards(ctx context.Context, f boatFilter, offset, most int) (list []card, all int, err error) {
	where, args := f.where()
	// A search goes through every boat anyway and counts on its way; anything else
	// is read in the order of an index, and counted beside that.
	counted := `(SELECT count(*) FROM web.boat WHERE ` + where + `)`
	if f.Words != "" {
		counted = `count(*) OVER ()`
	}
	rows, err := s.Pool.Query(ctx, fmt.Sprintf(`
		SELECT id, name, type, state, maker, colour, open, %s FROM web.boat WHERE %s
		ORDER BY lower(name), id OFFSET %d LIMIT %d`, counted, where, offset, most), args...)
	if err != nil {
		return nil, 0, err
	}
	list, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (c card, err error) {
		err = row.Scan(&c.ID, &c.Name, &c.Type, &c.State, &c.Maker, &c.Colour, &c.Open, &all)
		return c, err
	})
	return list, all, err
}
