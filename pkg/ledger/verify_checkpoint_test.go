package ledger

import (
	"encoding/hex"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/proof"
)

// A witness is a scene with checkpoints of 4, 7 and 10 events, of which copies are
// kept outside, and three more events that no checkpoint covers.
type witness struct {
	*scene
	sealed  *sealed
	outside []proof.Signed
}

func newWitness(t *testing.T) *witness {
	w := &witness{scene: &scene{book: newBook(t)}}
	w.sealed = newSealed(w.book)
	for _, n := range []int{4, 3, 3} {
		w.fill(n)
		w.outside = append(w.outside, w.sealed.must())
	}
	w.rows = w.fill(3)
	w.db.Exec(`CREATE TABLE public.events AS TABLE ledger.event; CREATE TABLE public.head AS TABLE ledger.head; CREATE TABLE public.trees AS TABLE ledger.tree_hash;
		CREATE TABLE public.checkpoints AS TABLE ledger.checkpoint; CREATE TABLE public.keys AS TABLE ledger.signing_key`)
	superuser(w.db)
	t.Cleanup(w.restore) // before the book is read a last time
	return w
}

func (w *witness) restore() {
	w.scene.restore()
	w.db.Exec(`TRUNCATE ledger.tree_hash, ledger.checkpoint, ledger.signing_key; INSERT INTO ledger.tree_hash SELECT * FROM public.trees;
		INSERT INTO ledger.checkpoint SELECT * FROM public.checkpoints; INSERT INTO ledger.signing_key SELECT * FROM public.keys`)
}

// coverUp does what is left to do for somebody who has the whole database and knows
// the program, but not the signing key: hash the tail anew, make the tree anew, and
// take out the checkpoints that would show it.
func (w *witness) coverUp(from int64) {
	w.rehash(from)
	w.db.Exec(`TRUNCATE ledger.tree_hash`)
	var tree proof.Tree
	for n, row := range w.all() {
		for level, h := range tree.Add(row.Hash, nil) {
			if n < 10 {
				w.db.Exec(`INSERT INTO ledger.tree_hash VALUES ($1, $2, $3)`, level, n>>level, h[:])
			}
		}
	}
	w.db.Exec(`DELETE FROM ledger.checkpoint WHERE size >= $1`, from)
}

func (w *witness) verify(c Check) *Finding {
	w.t.Helper()
	found, err := w.VerifyBy(w.t.Context(), c)
	require.NoError(w.t, err)
	assert.Equal(w.t, found.Finding == nil, found.OK)
	return found.Finding
}

// rewrites are the damages after which the tail can be hashed anew; at is where the
// book is first another one.
var rewrites = map[string]struct {
	damage string
	at     int64
}{
	"a byte":         {`UPDATE ledger.event SET data = replace(data, 'crack', 'crock') WHERE position = 5`, 5},
	"the key order":  {`UPDATE ledger.event SET data = regexp_replace(data, '^\{(.*),(.*)\}$', '{\2,\1}') WHERE position = 5`, 5},
	"the kind":       {`UPDATE ledger.event SET kind = 'intake.denied' WHERE position = 5`, 5},
	"the schema":     {`UPDATE ledger.event SET schema = 2 WHERE position = 5`, 5},
	"when it was so": {`UPDATE ledger.event SET happened_at = happened_at - interval '1 day' WHERE position = 5`, 5},
	"when written":   {`UPDATE ledger.event SET recorded_at = recorded_at + interval '1 microsecond' WHERE position = 5`, 5},
	"who":            {`UPDATE ledger.event SET actor = 'member/m2' WHERE position = 5`, 5},
	"the boat":       {`UPDATE ledger.event SET boat = '' WHERE position = 5`, 5},
	"the id":         {`UPDATE ledger.event SET id = gen_random_uuid() WHERE position = 5`, 5},
	"the cause":      {`UPDATE ledger.event SET cause = '' WHERE position = 5`, 5},
	"the request":    {`UPDATE ledger.event SET request_key = 'other' WHERE position = 5`, 5},
	"two swapped": {`UPDATE ledger.event a SET id = b.id, stream = b.stream, version = b.version, data = b.data, request_key = b.request_key
		FROM ledger.event b WHERE (a.position, b.position) IN ((5, 6), (6, 5))`, 5},
	"one in the middle taken out": {`DELETE FROM ledger.event WHERE position = 5; UPDATE ledger.event SET position = position - 1 WHERE position > 5;
		UPDATE ledger.event SET version = version - 1 WHERE stream = (SELECT stream FROM public.events WHERE position = 5) AND position > 4`, 5},
	"one put in": {`UPDATE ledger.event SET position = position + 1 WHERE position > 5;
		INSERT INTO ledger.event SELECT 6, gen_random_uuid(), 'intake.boat/new', 1, kind, schema, boat, happened_at, recorded_at, actor, cause,
		correlation, 'other', 0, request_digest, data, hash, hash FROM ledger.event WHERE position = 5`, 6},
	"the first": {`UPDATE ledger.event SET data = '{}' WHERE position = 1`, 1},
}

// Guards: differs, firstDifference. The tail is hashed anew, and nothing else: the
// checkpoints in the database tell it, and the tree says where exactly.
func TestAReHashedTailIsLocated(t *testing.T) {
	w := newWitness(t)
	require.Nil(t, w.verify(Check{Outside: w.outside, Tree: true}))
	for name, row := range rewrites {
		t.Run(name, func(t *testing.T) {
			w.restore()
			w.db.Exec(row.damage)
			w.rehash(row.at)
			for with, check := range map[string]Check{"from inside": {}, "and outside": {Outside: w.outside}, "with the last alone": {Outside: w.outside[2:]}} {
				finding := w.verify(check)
				require.NotNil(t, finding, with)
				assert.Equal(t, row.at, finding.Position, "%s: %s", with, finding.What)
			}
		})
	}
}

// Whoever covers everything up can be told only from outside. With one checkpoint
// it is known that something before it was changed; with all of them, between which
// two.
func TestACoveredUpRewriteIsToldOnlyFromOutside(t *testing.T) {
	w := newWitness(t)
	for name, row := range rewrites {
		t.Run(name, func(t *testing.T) {
			w.restore()
			w.db.Exec(row.damage)
			w.coverUp(row.at)
			require.Nil(t, w.verify(Check{Tree: true}), "nobody can tell without")
			last := w.verify(Check{Outside: w.outside[2:]})
			require.NotNil(t, last)
			assert.EqualValues(t, 10, last.Position, "somewhere up to there")
			assert.Contains(t, last.What, "kept outside")
			all := w.verify(Check{Outside: w.outside})
			require.NotNil(t, all)
			want := int64(7)
			if row.at <= 4 {
				want = 4
			}
			assert.Equal(t, want, all.Position, "the first that does not fit")
			head := w.verify(Check{Known: []Known{{10, w.rows[9].Hash}}})
			require.NotNil(t, head)
		})
	}
}

func TestWhatACheckpointTellsOfTheEnd(t *testing.T) {
	w := newWitness(t)
	for name, row := range map[string]struct {
		damage  string
		outside []proof.Signed
		at      int64
		what    string
	}{
		"cut off, the tree left":             {`DELETE FROM ledger.event WHERE position > 8`, nil, 9, "cut off: the tree"},
		"cut off, tree and all":              {`DELETE FROM ledger.event WHERE position > 8; TRUNCATE ledger.tree_hash; DELETE FROM ledger.checkpoint`, nil, 0, ""},
		"the same, with one from outside":    {`DELETE FROM ledger.event WHERE position > 8; TRUNCATE ledger.tree_hash; DELETE FROM ledger.checkpoint`, w.outside, 9, "a checkpoint of 10 events was kept outside"},
		"cut off behind the last one":        {`DELETE FROM ledger.event WHERE position > 10`, w.outside, 0, ""},
		"the last one changed":               {`UPDATE ledger.event SET data = '{}' WHERE position = 13`, w.outside, 13, "changed"},
		"a checkpoint changed":               {`UPDATE ledger.checkpoint SET note = replace(note, 'time 2026', 'time 2025') WHERE size = 7`, nil, 7, "not as it was signed"},
		"a checkpoint moved":                 {`UPDATE ledger.checkpoint SET size = 8 WHERE size = 7`, nil, 8, "another size"},
		"the key exchanged":                  {`UPDATE ledger.signing_key SET verifier = 'book-x+96620bb6+AddamAGCsQq31Uv+08lkBzoO4XLz2qYjJa8CGmj3B1Ea'`, nil, 4, "not as it was signed"},
		"the tree's edge changed":            {`UPDATE ledger.tree_hash SET hash = sha256('x') WHERE level = 3`, nil, 10, "stored tree"},
		"the tree's edge gone":               {`DELETE FROM ledger.tree_hash WHERE level = 3`, nil, 10, "stored tree"},
		"a checkpoint of another book":       {``, []proof.Signed{foreign(t)}, 5, "kept outside"},
		"a longer checkpoint of another":     {``, []proof.Signed{foreignOf(t, 40)}, 14, "cut off"},
		"checkpoints in the database erased": {`DELETE FROM ledger.checkpoint`, w.outside, 0, ""},
	} {
		t.Run(name, func(t *testing.T) {
			w.restore()
			if row.damage != "" {
				w.db.Exec(row.damage)
			}
			if rows := w.all(); rows[len(rows)-1].Position < 13 {
				last := rows[len(rows)-1]
				w.db.Exec(`UPDATE ledger.head SET position = $1, hash = $2, recorded_at = $3`, last.Position, last.Hash, last.RecordedAt)
			}
			finding := w.verify(Check{Outside: row.outside})
			if row.at == 0 {
				require.Nil(t, finding)
				return
			}
			require.NotNil(t, finding)
			assert.Equal(t, row.at, finding.Position, finding.What)
			assert.Contains(t, finding.What, row.what)
		})
	}
}

// foreign gives a checkpoint of another book of five events.
func foreign(t *testing.T) proof.Signed { return foreignOf(t, 5) }

func foreignOf(t *testing.T, size int) proof.Signed {
	s := newSealed(newBook(t))
	s.fill(size)
	return s.must()
}

// An inner hash of the stored tree does not touch the book; --tree finds it.
func TestTheWholeTreeIsComparedWhenAsked(t *testing.T) {
	w := newWitness(t)
	for name, row := range map[string]struct {
		damage string
		at     int64
	}{
		"a leaf":            {`UPDATE ledger.tree_hash SET hash = sha256('x') WHERE level = 0 AND n = 2`, 3},
		"a leaf missing":    {`DELETE FROM ledger.tree_hash WHERE level = 0 AND n = 2`, 3},
		"an inner hash":     {`UPDATE ledger.tree_hash SET hash = sha256('x') WHERE level = 1 AND n = 1`, 3},
		"an inner one gone": {`DELETE FROM ledger.tree_hash WHERE level = 1 AND n = 1`, 1},
		"one too many":      {`INSERT INTO ledger.tree_hash SELECT 2, 1, hash FROM ledger.tree_hash WHERE level = 2 AND n = 0 ON CONFLICT DO NOTHING; INSERT INTO ledger.tree_hash VALUES (5, 0, sha256('x'))`, 1},
	} {
		t.Run(name, func(t *testing.T) {
			w.restore()
			w.db.Exec(row.damage)
			finding := w.verify(Check{Tree: true})
			require.NotNil(t, finding)
			assert.Equal(t, row.at, finding.Position, finding.What)
			assert.Contains(t, finding.What, "the events themselves are in order")
		})
	}
}

func TestReadingFromACheckpoint(t *testing.T) {
	w := newWitness(t)
	from := w.outside[1]
	check := Check{From: &from, Outside: w.outside}
	found, err := w.VerifyBy(t.Context(), check)
	require.NoError(t, err)
	require.Nil(t, found.Finding)
	assert.EqualValues(t, 13, found.Events)
	assert.EqualValues(t, 7, found.From)
	assert.Equal(t, hex.EncodeToString(w.rows[12].Hash), found.Head)
	assert.Equal(t, 1, found.Checkpoints, "the one of 10 events")
	assert.Contains(t, found.Limit, "events 1 to 7 were not read")
	newest := w.outside[2]
	require.Nil(t, w.verify(Check{From: &newest}), "the tree ends where reading begins")

	for name, row := range map[string]struct {
		damage string
		at     int64
		what   string
	}{
		"changed before it":      {`UPDATE ledger.event SET data = '{}' WHERE position = 3`, 0, ""},
		"changed at it":          {`UPDATE ledger.event SET data = '{}' WHERE position = 7`, 7, "not the event"},
		"missing at it":          {`DELETE FROM ledger.event WHERE position = 7`, 7, "missing"},
		"changed behind it":      {`UPDATE ledger.event SET data = '{}' WHERE position = 8`, 8, "changed"},
		"missing behind it":      {`DELETE FROM ledger.event WHERE position = 8`, 8, "missing"},
		"a version left out":     {`UPDATE ledger.event SET version = version + 1 WHERE position = 9`, 9, "changed"},
		"the tree before it":     {`UPDATE ledger.tree_hash SET hash = sha256('x') WHERE level = 1 AND n = 2`, 7, "stored tree"},
		"the tree gone":          {`TRUNCATE ledger.tree_hash`, 7, "stored tree"},
		"the head row":           {`UPDATE ledger.head SET hash = sha256('x')`, 13, "another hash"},
		"a checkpoint behind it": {`UPDATE ledger.checkpoint SET note = (SELECT note FROM ledger.checkpoint WHERE size = 7) WHERE size = 10`, 10, "another size"},
	} {
		t.Run(name, func(t *testing.T) {
			w.restore()
			w.db.Exec(row.damage)
			finding := w.verify(check)
			if row.at == 0 {
				require.Nil(t, finding, "the limit says so")
				return
			}
			require.NotNil(t, finding)
			assert.Equal(t, row.at, finding.Position, finding.What)
			assert.Contains(t, finding.What, row.what)
		})
	}
	w.restore()
	w.db.Exec(`UPDATE ledger.event SET version = version + 5 WHERE position = 9`)
	w.rehash(9)
	w.db.Exec(`DELETE FROM ledger.checkpoint WHERE size = 10`)
	finding := w.verify(Check{From: &from})
	require.NotNil(t, finding)
	assert.EqualValues(t, 9, finding.Position)
	assert.Contains(t, finding.What, "version", "streams go on from where they stood")
}

// All events of the scene name one boat, in three streams that are not the boat's
// own by their names; two more streams are.
func TestOneBoatIsChecked(t *testing.T) {
	b := newBook(t)
	s := newSealed(b)
	h := b.hand()
	say := func(stream, of, words string) {
		a := note("x", AnyVersion, key(), words)
		a.Events[0].Stream, a.Events[0].Boat = stream, boat.ID(of)
		h.one(a)
	}
	for i := range 4 {
		say("intake.boat/heron", "heron", fmt.Sprint("one ", i))
		say("intake.boat/wren", "wren", fmt.Sprint("two ", i))
		say("intake.series/2026", "heron", fmt.Sprint("three ", i))
		say("intake.series/2026", "wren", fmt.Sprint("four ", i))
	}
	c := s.must()
	say("intake.boat/heron", "heron", "not sealed yet")
	h.leave()
	b.db.Exec(`CREATE TABLE public.events AS TABLE ledger.event; CREATE TABLE public.head AS TABLE ledger.head; CREATE TABLE public.trees AS TABLE ledger.tree_hash`)
	superuser(b.db)
	sc := &scene{book: b}
	restore := func() {
		sc.restore()
		b.db.Exec(`TRUNCATE ledger.tree_hash; INSERT INTO ledger.tree_hash SELECT * FROM public.trees`)
	}
	t.Cleanup(restore)
	for name, row := range map[string]struct {
		damage string
		at     int64
		what   string
	}{
		"nothing":                        {`SELECT 1`, 0, ""},
		"another boat's event":           {`UPDATE ledger.event SET data = '{}' WHERE position = 2`, 0, ""},
		"the last of a stream taken out": {`DELETE FROM ledger.event WHERE position = 17`, 0, ""},
		"a byte":                         {`UPDATE ledger.event SET data = '{}' WHERE position = 5`, 5, "changed"},
		"a byte, not sealed yet":         {`UPDATE ledger.event SET data = '{}' WHERE position = 17`, 17, "changed"},
		"a time":                         {`UPDATE ledger.event SET happened_at = happened_at + interval '1 hour' WHERE position = 5`, 5, "changed"},
		"one in the middle taken out":    {`DELETE FROM ledger.event WHERE position = 5`, 9, "version 3"},
		"one made to name another":       {`UPDATE ledger.event SET boat = 'wren' WHERE position = 5`, 5, "changed"},
		"the leaf beside one":            {`UPDATE ledger.tree_hash SET hash = sha256('x') WHERE level = 0 AND n = 5`, 5, "checkpoint"},
		"the tree gone":                  {`TRUNCATE ledger.tree_hash`, 1, "stored tree"},
	} {
		t.Run(name, func(t *testing.T) {
			for _, outside := range []*proof.Signed{nil, &c} {
				restore()
				b.db.Exec(row.damage)
				found, err := b.VerifyBoat(t.Context(), "heron", outside)
				require.NoError(t, err)
				assert.Contains(t, found.Limit, "whole book only")
				if row.at == 0 {
					require.Nil(t, found.Finding)
					assert.GreaterOrEqual(t, found.Events, int64(8))
					continue
				}
				require.NotNil(t, found.Finding)
				assert.Equal(t, row.at, found.Finding.Position, found.Finding.What)
				assert.Contains(t, found.Finding.What, row.what)
			}
		})
	}
	restore()
	b.db.Exec(`UPDATE ledger.event SET data = '{}' WHERE position = 5`)
	sc.rehash(5)
	found, err := b.VerifyBoat(t.Context(), "heron", nil)
	require.NoError(t, err)
	require.NotNil(t, found.Finding, "re-hashed: the tree tells")
	assert.EqualValues(t, 5, found.Finding.Position)
}

func TestWhatWasKnownOfABoatOnADay(t *testing.T) {
	b := newBook(t)
	h := b.hand()
	for i, row := range []struct{ written, so int }{{1, 1}, {2, 5}, {3, 1}, {40, 3}, {41, 41}} {
		b.clock.Advance(noon.AddDate(0, 0, row.written).Sub(b.clock.Now()))
		a := note("x", AnyVersion, key(), fmt.Sprint(i))
		a.HappenedAt = noon.AddDate(0, 0, row.so)
		h.one(a)
	}
	h.leave()
	for name, row := range map[string]struct {
		known, about int // days after the first of April; -1 sets no limit
		want         []int64
	}{
		"all":                            {-1, -1, []int64{1, 2, 3, 4, 5}},
		"known on the second":            {2, -1, []int64{1, 2}},
		"known then about the first":     {2, 1, []int64{1}},
		"known later about the first":    {39, 1, []int64{1, 3}},
		"written long after, about then": {40, 4, []int64{1, 3, 4}},
		"about a day before all":         {-1, 0, nil},
		"known before all":               {0, -1, nil},
		"to the very instant":            {3, 5, []int64{1, 2, 3}},
	} {
		known, about := noon.AddDate(0, 0, row.known), noon.AddDate(0, 0, row.about)
		if row.known < 0 {
			known = time.Time{}
		}
		if row.about < 0 {
			about = time.Time{}
		}
		events, err := b.BoatAsOf(t.Context(), "b-1", known, about)
		require.NoError(t, err)
		var got []int64
		for _, e := range events {
			got = append(got, e.Position)
		}
		assert.Equal(t, row.want, got, name)
	}
}
