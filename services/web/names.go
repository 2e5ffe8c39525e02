package web

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode"

	"github.com/jackc/pgx/v5"
	"golang.org/x/text/unicode/norm"

	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// names is what people are called, opened once and kept in memory, so that a search
// opens only the names that are new since the search before. They are kept in memory
// and not as blinded words in a table: whoever got hold of a table of blinded
// beginnings of words could tell the common names by how often they stand there.
//
// Who was erased is dropped before anything is found, and all names are forgotten an
// hour after they were read first.
type names struct {
	mu    sync.Mutex
	seen  int64 // position of the newest person that was read
	since time.Time
	known map[people.ID]named
}

// named is somebody with their name.
type named struct {
	ID   people.ID
	Sort message.Sort
	Name string
	low  string // the name as it is compared; see plainLetters
}

// namesKept is how long names stay in memory.
const namesKept = time.Hour

// called gives everybody whose name has all the words, by name. It opens no names for
// somebody who may not read them: that is for the caller to ask (Who.seesNames).
func (s *Site) called(ctx context.Context, words string) ([]named, error) {
	s.names.mu.Lock()
	defer s.names.mu.Unlock()
	if err := s.names.catchUp(ctx, s, s.Clock.Now()); err != nil {
		return nil, err
	}
	wanted := strings.Fields(plainLetters(words))
	var found []named
	for _, n := range s.names.known {
		if hasWords(n.low, wanted) {
			found = append(found, n)
		}
	}
	slices.SortFunc(found, func(a, b named) int { return cmp.Or(cmp.Compare(a.low, b.low), cmp.Compare(a.ID, b.ID)) })
	return found, nil
}

// catchUp reads who was added, changed or erased since the last time.
func (n *names) catchUp(ctx context.Context, s *Site, now time.Time) error {
	if n.known == nil || len(n.known) > 2*maxPeople || now.Sub(n.since) > namesKept {
		n.known, n.seen, n.since = map[people.ID]named{}, -1, now
	}
	rows, err := s.Pool.Query(ctx, `
		SELECT id, sort, position, CASE WHEN erased THEN '' ELSE coalesce(doc ->> 'sealed', '') END
		FROM web.person WHERE position > $1 ORDER BY position DESC LIMIT $2`, n.seen, maxPeople)
	if err != nil {
		return err
	}
	type row struct {
		person   Person
		position int64
	}
	list, err := pgx.CollectRows(rows, func(r pgx.CollectableRow) (p row, err error) {
		err = r.Scan(&p.person.ID, &p.person.Sort, &p.position, &p.person.Sealed)
		return p, err
	})
	if err != nil {
		return err
	}
	changed := make([]Person, len(list))
	for i, r := range list {
		changed[i] = r.person
		delete(n.known, r.person.ID)
	}
	opened, err := s.openNames(ctx, changed)
	if err != nil {
		n.known = nil // what was read is not all
		return err
	}
	for _, p := range changed {
		// Who cannot be opened is not found by name; their own page says why.
		if name, ok := opened[p.ID]; ok {
			n.known[p.ID] = named{p.ID, p.Sort, name, plainLetters(name)}
		}
	}
	if len(list) > 0 {
		n.seen = list[0].position
	}
	return nil
}

// plainLetters writes a text as it is compared: in small letters, without the marks above
// and below letters, so that "ines" finds Inés.
func plainLetters(text string) string {
	return strings.ToLower(strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return r
	}, norm.NFD.String(text)))
}

// hasWords says whether a text in plain letters has all the words.
func hasWords(text string, words []string) bool {
	return !slices.ContainsFunc(words, func(word string) bool { return !strings.Contains(text, word) })
}
