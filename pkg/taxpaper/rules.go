package taxpaper

import (
	"embed"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"refloat.example/pkg/clock"
)

// A Rule is one dated row of a country's table.
type Rule struct {
	ID string
	// From and To are the first and last day of gifts that it governs; a zero
	// To is open.
	From, To clock.Date
	// Value is an amount in minor units, a count, a day of the year (MM-DD) or
	// a list with ";": the ID says which.
	Value string
	// Source names the law or publication.
	Source string
	// Mark says how sure the source is: V read in the official text, S in a
	// secondary source, M from memory, D derived here.
	Mark string
}

func (r Rule) governs(id string, on clock.Date) bool {
	return r.ID == id && !on.Before(r.From) && (r.To.IsZero() || !on.After(r.To))
}

// FromMemory says that some of the row was not read in any text: its start, a
// number, or the name of its source.
func (r Rule) FromMemory() bool { return r.Mark == "M" || strings.Contains(r.Source, "from memory") }

// List gives the parts of a value that is a list.
func (r Rule) List() []string { return strings.Split(r.Value, ";") }

// numbers gives the parts of a value that is a list of whole numbers. The
// tables are part of the program, so a word among them is our own mistake.
func (r Rule) numbers() []int64 {
	var numbers []int64
	for _, part := range r.List() {
		n, err := strconv.ParseInt(part, 10, 64)
		if err != nil {
			panic(fmt.Sprintf("rule %s: %v", r.ID, err))
		}
		numbers = append(numbers, n)
	}
	return numbers
}

// book is a set of rules; the tests take rules out of it.
type book []Rule

//go:embed rules/*.txt
var tables embed.FS

var published = mustReadBook()

// Rules gives every row of the tables, for showing what a decision rests on.
func Rules() []Rule { return slices.Clone(published) }

// Excluded lists, in lower case, the works on a boat that are never by
// themselves a material improvement.
func Excluded() []string {
	var items []string
	for _, r := range published {
		if r.ID == "US-VEH-MI-EXCLUDED" {
			items = append(items, r.List()...)
		}
	}
	return items
}

// mustReadBook panics on a malformed table: it is compiled in, and a program
// with a broken one must not start.
func mustReadBook() book {
	var rules book
	for _, country := range []string{"us", "ca", "uk"} {
		raw, err := tables.ReadFile("rules/" + country + ".txt")
		if err != nil {
			panic(err)
		}
		for line := range strings.Lines(string(raw)) {
			if !strings.HasPrefix(line, "#") {
				rules = append(rules, mustReadRule(strings.TrimSpace(line)))
			}
		}
	}
	return rules
}

func mustReadRule(line string) Rule {
	cells := strings.Split(line, "|")
	if len(cells) != 6 {
		panic(fmt.Sprintf("rule %q has not six columns", line))
	}
	r := Rule{ID: cells[0], From: clock.MustDate(cells[1]), Value: cells[3], Source: cells[4], Mark: cells[5]}
	if cells[2] != "" {
		r.To = clock.MustDate(cells[2])
	}
	return r
}

func (b book) find(id string, on clock.Date) (Rule, bool) {
	i := slices.IndexFunc(b, func(r Rule) bool { return r.governs(id, on) })
	if i < 0 {
		return Rule{}, false
	}
	return b[i], true
}

func (b book) all(id string, on clock.Date) []Rule {
	var rules []Rule
	for _, r := range b {
		if r.governs(id, on) {
			rules = append(rules, r)
		}
	}
	return rules
}
