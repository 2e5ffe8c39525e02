package importer

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"refloat.example/pkg/desk"
)

// list is a kind of list: its columns, and how a row becomes an order.
type list struct {
	kind    string
	about   string // for the notes beside the template
	columns []column
	order   func(r *row) order
}

// column is a column of a list.
type column struct {
	name   string
	needed bool
	// field is what the order calls it; a room's fault that names the field is
	// shown at the column.
	field string
	// single says how two cells are compared that must not be the same; nil means
	// that they may.
	single  func(string) string
	example string
	meaning string
}

// order is what a row asks of a room.
type order struct {
	line     int
	key      string
	happened time.Time
	command  desk.Commanded
	// known is the same order about a person whom the club knows already; nil when
	// that makes no difference.
	known desk.Commanded
	// Orders of one lane are given one after the other, those that are late last.
	lane string
	late bool
	// introduces is the person whom this order brings into the book; restsOn is
	// one who must be there before.
	introduces, restsOn string
}

var lists = []*list{&boats, &people, &requests, &sales}

// match finds each column of a table by its name, "" for a cell without one.
func (l *list) match(t *table) (columns []string, problems []Problem) {
	bad := func(column, reason string) {
		problems = append(problems, Problem{Line: t.named, Column: shortened(column), Reason: reason})
	}
	columns = make([]string, len(t.header))
	for i, cell := range t.header {
		name := strings.Join(strings.Fields(cell), " ")
		j := slices.IndexFunc(l.columns, func(c column) bool { return strings.EqualFold(c.name, name) })
		switch {
		case name == "":
		case j < 0:
			bad(name, "there is no such column in a list of "+l.kind+"; the template shows those that there are")
		case slices.Contains(columns, l.columns[j].name):
			bad(name, "this column stands twice")
		default:
			columns[i] = l.columns[j].name
		}
	}
	for _, c := range l.columns {
		if c.needed && !slices.Contains(columns, c.name) {
			bad(c.name, "this column is missing")
		}
	}
	return columns, problems
}

// columnOf gives the column for a fault's field: "wish.adults[0].mass_g" is the
// column that holds wish.adults.
func (l *list) columnOf(field string) (name string, found bool) {
	i := slices.IndexFunc(l.columns, func(c column) bool {
		rest, inside := strings.CutPrefix(field, c.field)
		return c.field != "" && inside && (rest == "" || rest[0] == '.' || rest[0] == '[')
	})
	if i < 0 {
		return "", false
	}
	return l.columns[i].name, true
}

// refuseTwins notes rows that say the same where each must say its own.
func refuseTwins(l *list, rows []*row) {
	for _, c := range l.columns {
		if c.single != nil {
			refuseSame(rows, c.name, func(r *row) string { return c.single(r.cells[c.name]) }, "%q stands in line %d too")
		}
	}
	refuseSame(rows, "", func(r *row) string {
		if r.cells[reference] != "" {
			return "" // seen above
		}
		return r.name
	}, "the same row stands in line %[2]d; if they are two, give each a reference")
}

func refuseSame(rows []*row, column string, spelling func(*row) string, reason string) {
	first := map[string]int{}
	for _, r := range rows {
		text := spelling(r)
		if line, again := first[text]; again && text != "" {
			r.bad(column, reason, shortened(r.cells[column]), line)
			continue
		}
		first[text] = r.line
	}
}

// Spellings in which cells are compared.

func exactly(text string) string { return text }

func plainly(text string) string { return strings.ToLower(strings.Join(strings.Fields(text), " ")) }

func lettersOnly(text string) string {
	return strings.ToUpper(strings.Map(func(c rune) rune {
		if c == '-' || c == ' ' || c == '.' {
			return -1
		}
		return c
	}, text))
}

// reference is the column that every list has.
const reference = "Reference"

func referenceColumn(example string) column {
	return column{
		name: reference, single: exactly, example: example,
		meaning: "The club's own short name or number for this row, which stays the same for ever. Without it the row itself stands for it, and a changed row counts as a new one.",
	}
}

// consentText stands for an agreement where the list does not name its text.
const consentText = "club's own list"

func (r *row) consent() string {
	if text := r.text("Consent"); text != "" {
		return text
	}
	return consentText
}

func consentColumn() column {
	return column{
		name: "Consent", field: "consent", example: "privacy 2026-1",
		meaning: fmt.Sprintf("Which text about personal data the person agreed to, with its version; %q when empty.", consentText),
	}
}
