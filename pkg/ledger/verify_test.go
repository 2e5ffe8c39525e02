package ledger

import (
	"encoding/hex"
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A scene is a book of ten events that can be damaged, as a superuser with the
// triggers switched off could, and put right again.
type scene struct {
	*book
	rows []Row
}

func newScene(t *testing.T) *scene {
	s := &scene{book: newBook(t)}
	s.rows = s.fill(10)
	s.db.Exec(`CREATE TABLE public.events AS TABLE ledger.event; CREATE TABLE public.head AS TABLE ledger.head;
		ALTER TABLE ledger.event DISABLE TRIGGER ALL; ALTER TABLE ledger.head DISABLE TRIGGER ALL;
		ALTER TABLE ledger.event DROP CONSTRAINT event_pkey, DROP CONSTRAINT event_stream_version, DROP CONSTRAINT event_request`)
	return s
}

func (s *scene) restore() {
	s.db.Exec(`TRUNCATE ledger.event, ledger.head;
		INSERT INTO ledger.event SELECT * FROM public.events; INSERT INTO ledger.head SELECT * FROM public.head`)
}

// rehash chains everything from a position on anew, head row included, as somebody
// would who knows the program.
func (s *scene) rehash(from int64) {
	rows := s.all()
	prev := Genesis[:]
	for i := range rows {
		r := &rows[i]
		if r.Position >= from {
			r.PrevHash = prev
			r.Hash = hashOf(r)
			s.db.Exec(`UPDATE ledger.event SET prev_hash = $2, hash = $3 WHERE position = $1`, r.Position, r.PrevHash, r.Hash)
		}
		prev = r.Hash
	}
	last := rows[len(rows)-1]
	s.db.Exec(`UPDATE ledger.head SET position = $1, hash = $2, recorded_at = $3`, last.Position, last.Hash, last.RecordedAt)
}

// Guards: each line of verifier.wrong and verifier.end; each column's line in
// chainer.hash. A damaged row is named by its position; where a row is gone or
// stands elsewhere, it is the first position at which the book is not itself.
func TestVerifyFindsWhatWasTamperedWith(t *testing.T) {
	s := newScene(t)
	found, err := s.Verify(t.Context())
	require.NoError(t, err)
	require.True(t, found.OK)
	assert.EqualValues(t, 10, found.Events)
	assert.Equal(t, hex.EncodeToString(s.rows[9].Hash), found.Head)
	assert.NotEmpty(t, found.Limit)

	for name, row := range map[string]struct {
		damage string
		at     int64
		what   string
	}{
		"position":              {`UPDATE ledger.event SET position = 50 WHERE position = 5`, 5, "missing"},
		"id":                    {`UPDATE ledger.event SET id = gen_random_uuid() WHERE position = 5`, 5, "changed"},
		"stream":                {`UPDATE ledger.event SET stream = stream || 'x' WHERE position = 5`, 5, "changed"},
		"version":               {`UPDATE ledger.event SET version = version + 1 WHERE position = 5`, 5, "changed"},
		"kind":                  {`UPDATE ledger.event SET kind = 'intake.denied' WHERE position = 5`, 5, "changed"},
		"schema":                {`UPDATE ledger.event SET schema = 2 WHERE position = 5`, 5, "changed"},
		"boat":                  {`UPDATE ledger.event SET boat = '' WHERE position = 5`, 5, "changed"},
		"happened_at":           {`UPDATE ledger.event SET happened_at = happened_at - interval '1 microsecond' WHERE position = 5`, 5, "changed"},
		"recorded_at":           {`UPDATE ledger.event SET recorded_at = recorded_at + interval '1 microsecond' WHERE position = 5`, 5, "changed"},
		"actor":                 {`UPDATE ledger.event SET actor = 'member/m2' WHERE position = 5`, 5, "changed"},
		"cause":                 {`UPDATE ledger.event SET cause = '' WHERE position = 5`, 5, "changed"},
		"correlation":           {`UPDATE ledger.event SET correlation = 'r2' WHERE position = 5`, 5, "changed"},
		"request_key":           {`UPDATE ledger.event SET request_key = 'other' WHERE position = 5`, 5, "changed"},
		"request_part":          {`UPDATE ledger.event SET request_part = 1 WHERE position = 5`, 5, "changed"},
		"request_digest":        {`UPDATE ledger.event SET request_digest = sha256('x') WHERE position = 5`, 5, "changed"},
		"data":                  {`UPDATE ledger.event SET data = replace(data, 'crack', 'crock') WHERE position = 5`, 5, "changed"},
		"data's key order":      {`UPDATE ledger.event SET data = regexp_replace(data, '^\{(.*),(.*)\}$', '{\2,\1}') WHERE position = 5`, 5, "changed"},
		"data's space":          {`UPDATE ledger.event SET data = data || ' ' WHERE position = 5`, 5, "changed"},
		"prev_hash":             {`UPDATE ledger.event SET prev_hash = sha256('x') WHERE position = 5`, 5, "does not chain"},
		"hash":                  {`UPDATE ledger.event SET hash = sha256('x') WHERE position = 5`, 5, "changed"},
		"first row":             {`UPDATE ledger.event SET data = '{}' WHERE position = 1`, 1, "changed"},
		"last row":              {`UPDATE ledger.event SET data = '{}' WHERE position = 10`, 10, "changed"},
		"time unreadable":       {`UPDATE ledger.event SET happened_at = 'infinity' WHERE position = 5`, 5, "cannot be read"},
		"field emptied":         {`ALTER TABLE ledger.event ALTER actor DROP NOT NULL; UPDATE ledger.event SET actor = NULL WHERE position = 5`, 5, "cannot be read"},
		"two swapped":           {`UPDATE ledger.event SET position = 11 - position WHERE position IN (5, 6)`, 5, "does not chain"},
		"two far apart swapped": {`UPDATE ledger.event SET position = 12 - position WHERE position IN (3, 9)`, 3, "does not chain"},
		"middle deleted":        {`DELETE FROM ledger.event WHERE position = 5`, 5, "missing"},
		"middle closed up": {`DELETE FROM ledger.event WHERE position = 5;
			UPDATE ledger.event SET position = position - 1 WHERE position > 5`, 5, "does not chain"},
		"first deleted": {`DELETE FROM ledger.event WHERE position = 1`, 1, "missing"},
		"last deleted":  {`DELETE FROM ledger.event WHERE position = 10`, 10, "head row says"},
		"all deleted":   {`DELETE FROM ledger.event`, 1, "head row says"},
		"one inserted": {`UPDATE ledger.event SET position = position + 1 WHERE position > 5;
			INSERT INTO ledger.event SELECT 6, gen_random_uuid(), stream, version, kind, schema, boat, happened_at, recorded_at, actor, cause,
			correlation, 'other', 0, request_digest, data, hash, sha256('x') FROM ledger.event WHERE position = 5`, 6, "changed"},
		"one doubled":          {`INSERT INTO ledger.event SELECT * FROM ledger.event WHERE position = 5`, 6, "numbered 5"},
		"one before the first": {`INSERT INTO ledger.event SELECT 0, id, stream, version, kind, schema, boat, happened_at, recorded_at, actor, cause, correlation, 'other', 0, request_digest, data, prev_hash, hash FROM ledger.event WHERE position = 5`, 1, "numbered 0"},
		"one far before":       {`UPDATE ledger.event SET position = -9223372036854775808 WHERE position = 10`, 1, "stands where 1"},
		"one behind the last":  {`INSERT INTO ledger.event SELECT 11, id, stream, version + 1, kind, schema, boat, happened_at, recorded_at, actor, cause, correlation, 'other', 0, request_digest, data, hash, sha256('x') FROM ledger.event WHERE position = 10`, 11, "changed"},
		"head's position":      {`UPDATE ledger.head SET position = 9`, 11, "head row says that the book ends at 9"},
		"head's hash":          {`UPDATE ledger.head SET hash = sha256('x')`, 10, "another hash"},
		"head's time":          {`UPDATE ledger.head SET recorded_at = recorded_at + interval '1 day'`, 10, "another time"},
		"head gone":            {`DELETE FROM ledger.head`, 10, "head row is missing"},
	} {
		t.Run(name, func(t *testing.T) {
			s.restore()
			s.db.Exec(row.damage)
			found, err := s.Verify(t.Context())
			require.NoError(t, err)
			assert.False(t, found.OK)
			require.NotNil(t, found.Finding)
			assert.Equal(t, row.at, found.Finding.Position, found.Finding.What)
			assert.Contains(t, found.Finding.What, row.what)
		})
	}
	s.restore()
}

// What a hash alone would let pass, when somebody re-hashes the tail.
func TestVerifyFindsWhatWasReHashedBadly(t *testing.T) {
	s := newScene(t)
	for name, row := range map[string]struct {
		damage string
		at     int64
		what   string
	}{
		"time goes back":       {`UPDATE ledger.event SET recorded_at = recorded_at - interval '1 hour' WHERE position = 5`, 5, "recorded earlier"},
		"version left out":     {`UPDATE ledger.event SET version = version + 1 WHERE position = 5`, 5, "version 3"},
		"version twice":        {`UPDATE ledger.event SET version = version - 1 WHERE position = 5`, 5, "version 1"},
		"one of a stream gone": {`DELETE FROM ledger.event WHERE position = 5; UPDATE ledger.event SET position = position - 1 WHERE position > 5`, 7, "version 3"},
	} {
		t.Run(name, func(t *testing.T) {
			s.restore()
			s.db.Exec(row.damage)
			s.rehash(5)
			found, err := s.Verify(t.Context())
			require.NoError(t, err)
			require.NotNil(t, found.Finding)
			assert.Equal(t, row.at, found.Finding.Position, found.Finding.What)
			assert.Contains(t, found.Finding.What, row.what)
		})
	}
	s.restore()
}

// A chain proves nothing against whoever can rewrite all of it, unless somebody
// noted a head outside. Both halves are shown: not found without, found with.
func TestARewrittenTailIsFoundOnlyWithAHeadFromOutside(t *testing.T) {
	s := newScene(t)
	for name, row := range map[string]struct {
		damage string
		known  int64
		at     int64
		what   string
	}{
		"rewritten before the known head": {`UPDATE ledger.event SET data = '{}' WHERE position = 5`, 10, 10, "noted outside"},
		"rewritten at the known head":     {`UPDATE ledger.event SET data = '{}' WHERE position = 5`, 5, 5, "noted outside"},
		"rewritten behind the known head": {`UPDATE ledger.event SET data = '{}' WHERE position = 5`, 4, 0, ""},
		"cut off before the known head":   {`DELETE FROM ledger.event WHERE position > 7`, 9, 8, "cut off: event 9"},
		"cut off behind the known head":   {`DELETE FROM ledger.event WHERE position > 7`, 7, 0, ""},
	} {
		t.Run(name, func(t *testing.T) {
			s.restore()
			s.db.Exec(row.damage)
			s.rehash(5)
			found, err := s.Verify(t.Context())
			require.NoError(t, err)
			require.True(t, found.OK, "nobody can tell without: %v", found.Finding)
			found, err = s.Verify(t.Context(), Known{row.known, s.rows[row.known-1].Hash})
			require.NoError(t, err)
			if row.at == 0 {
				assert.True(t, found.OK)
				return
			}
			require.NotNil(t, found.Finding)
			assert.Equal(t, row.at, found.Finding.Position, found.Finding.What)
			assert.Contains(t, found.Finding.What, row.what)
		})
	}
	s.restore()
}

func TestVerifyOfAnEmptyBook(t *testing.T) {
	b := newBook(t)
	found, err := b.Verify(t.Context())
	require.NoError(t, err)
	assert.True(t, found.OK)
	assert.Zero(t, found.Events)
	assert.Equal(t, hex.EncodeToString(Genesis[:]), found.Head)
	found, err = b.Verify(t.Context(), Known{3, Genesis[:]}, Known{2, Genesis[:]})
	require.NoError(t, err)
	require.NotNil(t, found.Finding)
	assert.Contains(t, found.Finding.What, "event 2 was noted")
}

func TestVerifyWhileTheBookIsWritten(t *testing.T) {
	b := newBook(t)
	l := b.lead()
	var writing sync.WaitGroup
	done := make(chan struct{})
	for i := range 4 {
		writing.Go(func() {
			for n := int64(0); ; n++ {
				select {
				case <-done:
					return
				default:
				}
				_, err := l.Append(t.Context(), note(fmt.Sprint("b", i), n, key(), "x"))
				assert.NoError(t, err)
			}
		})
	}
	begun := time.Now()
	for time.Since(begun) < 300*time.Millisecond {
		found, err := b.Verify(t.Context())
		require.NoError(t, err)
		require.Nil(t, found.Finding)
	}
	close(done)
	writing.Wait()
}
