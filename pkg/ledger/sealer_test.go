package ledger

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/postgrestest"
	"refloat.example/pkg/proof"
)

// sealed is a sealer that a test drives by hand, over a book of its own.
type sealed struct {
	*book
	*sealer
	folder *proof.Folder
	number int64 // of the last published checkpoint
}

func newSealed(b *book) *sealed {
	b.t.Helper()
	dir := b.t.TempDir()
	s := &sealed{book: b, sealer: &sealer{pool: b.db.Pool, keys: filepath.Join(dir, "keys"), published: filepath.Join(dir, "published"), connect: b.dial, clock: b.clock, most: sealMost}}
	var err error
	s.folder, err = proof.OpenFolder(s.published)
	require.NoError(b.t, err)
	return s
}

// seal does one round: seal what was written, publish what is new.
func (s *sealed) seal() error {
	s.t.Helper()
	number, err := s.catchUp(s.t.Context(), s.folder, s.number)
	s.number = number
	return err
}

// must seals and gives the newest checkpoint.
func (s *sealed) must() proof.Signed {
	s.t.Helper()
	require.NoError(s.t, s.seal())
	c, err := s.LastCheckpoint(s.t.Context())
	require.NoError(s.t, err)
	return c
}

func (s *sealed) key() proof.Key {
	s.t.Helper()
	keys, err := s.SigningKeys(s.t.Context())
	require.NoError(s.t, err)
	return keys[len(keys)-1].Key
}

// superuser lifts everything that keeps a book from being changed.
func superuser(db *postgrestest.DB) {
	db.Exec(`ALTER TABLE ledger.event DISABLE TRIGGER ALL; ALTER TABLE ledger.head DISABLE TRIGGER ALL; ALTER TABLE ledger.tree_hash DISABLE TRIGGER ALL;
		ALTER TABLE ledger.checkpoint DISABLE TRIGGER ALL; ALTER TABLE ledger.signing_key DISABLE TRIGGER ALL;
		ALTER TABLE ledger.event DROP CONSTRAINT event_pkey, DROP CONSTRAINT event_stream_version, DROP CONSTRAINT event_request`)
}

// rootOf gives the root of the tree over some events, computed by tlog from all of
// them.
func rootOf(t testing.TB, rows []Row) tlog.Hash {
	var hashes []tlog.Hash
	reader := tlog.HashReaderFunc(func(indexes []int64) (found []tlog.Hash, _ error) {
		for _, i := range indexes {
			found = append(found, hashes[i])
		}
		return found, nil
	})
	for i := range rows {
		more, err := tlog.StoredHashes(int64(i), rows[i].Hash, reader)
		require.NoError(t, err)
		hashes = append(hashes, more...)
	}
	root, err := tlog.TreeHash(int64(len(rows)), reader)
	require.NoError(t, err)
	return root
}

func TestACheckpointSaysWhatTheBookIs(t *testing.T) {
	s := newSealed(newBook(t))
	require.NoError(t, s.seal(), "an empty book is not sealed")
	_, err := s.LastCheckpoint(t.Context())
	assert.True(t, fault.Is(err, fault.Unknown))

	rows := s.fill(7)
	c := s.must()
	assert.EqualValues(t, 7, c.Size)
	assert.Equal(t, tlog.Hash(rows[6].Hash), c.Head)
	assert.Equal(t, rootOf(t, rows), c.Root)
	assert.Equal(t, noon.Add(7*time.Second), c.At)
	assert.Equal(t, c.Note, s.folder.Last(), "it is published")
	require.NoError(t, s.seal())
	again, err := s.Checkpoints(t.Context(), 0, 10)
	require.NoError(t, err)
	assert.Len(t, again, 1, "nothing new, no new checkpoint")

	more := s.fill(5)
	assert.Equal(t, rootOf(t, more), s.must().Root)
	first, err := s.FirstOver(t.Context(), 7)
	require.NoError(t, err)
	assert.EqualValues(t, 7, first.Size)
	first, err = s.FirstOver(t.Context(), 8)
	require.NoError(t, err)
	assert.EqualValues(t, 12, first.Size)
	_, err = s.FirstOver(t.Context(), 13)
	assert.True(t, fault.Is(err, fault.Unknown))
	earlier, err := s.Checkpoints(t.Context(), 12, 10)
	require.NoError(t, err)
	require.Len(t, earlier, 1)
	assert.EqualValues(t, 7, earlier[0].Size)

	verified, err := s.VerifyBy(t.Context(), Check{Tree: true})
	require.NoError(t, err)
	require.Nil(t, verified.Finding)
	assert.Equal(t, 2, verified.Checkpoints)
	assert.EqualValues(t, 12, verified.Sealed)
}

// More events than one transaction takes are sealed in several, with one checkpoint.
func TestALongBookIsSealedInParts(t *testing.T) {
	s := newSealed(newBook(t))
	s.fill(150)
	s.most = 40
	assert.EqualValues(t, 150, s.must().Size)
	all, err := s.Checkpoints(t.Context(), 0, 10)
	require.NoError(t, err)
	assert.Len(t, all, 1)
	verified, err := s.VerifyBy(t.Context(), Check{Tree: true})
	require.NoError(t, err)
	assert.Nil(t, verified.Finding)
}

// What was changed is sealed no further: each damage to what lies behind the last
// checkpoint, and to the event that it ends with.
func TestAChangedBookIsNotSealed(t *testing.T) {
	for name, damage := range map[string]string{
		"an event behind it was changed":   `UPDATE ledger.event SET data = '{}' WHERE position = 8`,
		"an event behind it is missing":    `DELETE FROM ledger.event WHERE position = 8`,
		"two behind it were swapped":       `UPDATE ledger.event SET position = 17 - position WHERE position IN (8, 9)`,
		"the last ones are missing":        `DELETE FROM ledger.event WHERE position > 8`,
		"the sealed one was changed":       `UPDATE ledger.event SET hash = sha256('x') WHERE position = 6`,
		"the sealed one is missing":        `DELETE FROM ledger.event WHERE position = 6`,
		"the book was cut off before it":   `UPDATE ledger.head SET position = 5`,
		"the tree lacks what it grows on":  `DELETE FROM ledger.tree_hash WHERE level = 2`,
		"a key that signs was put in":      `INSERT INTO ledger.signing_key VALUES (2, 'book-x+96620bb6+AddamAGCsQq31Uv+08lkBzoO4XLz2qYjJa8CGmj3B1Ea', now())`,
		"the newest checkpoint was erased": `DELETE FROM ledger.checkpoint; UPDATE ledger.event SET data = '{}' WHERE position = 8`,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			b := openBook(t, postgrestest.New(t, schema))
			s := newSealed(b)
			s.fill(6)
			s.must()
			s.fill(4)
			superuser(s.db)
			s.db.Exec(damage)
			require.Error(t, s.seal())
			var sealedTo int64
			require.NoError(t, s.db.Pool.QueryRow(t.Context(), `SELECT coalesce(max(size), 0) FROM ledger.checkpoint`).Scan(&sealedTo))
			assert.LessOrEqual(t, sealedTo, int64(6))
		})
	}
}

func TestTheDatabaseKeepsCheckpointsFromBeingChanged(t *testing.T) {
	s := newSealed(newBook(t))
	s.fill(3)
	s.must()
	owner := s.db.Open(s.db.OwnerURL)
	for _, table := range []string{"tree_hash", "checkpoint", "signing_key"} {
		for _, statement := range []string{"DELETE FROM ledger." + table, "TRUNCATE ledger." + table} {
			_, err := owner.Exec(t.Context(), statement)
			assert.ErrorContains(t, err, "never changed", "even the owner: %s", statement)
			_, err = s.db.Pool.Exec(t.Context(), statement)
			assert.ErrorContains(t, err, "permission denied", statement)
		}
	}
	for _, statement := range []string{"UPDATE ledger.tree_hash SET hash = ''", "UPDATE ledger.checkpoint SET note = ''", "UPDATE ledger.signing_key SET verifier = ''"} {
		_, err := owner.Exec(t.Context(), statement)
		assert.ErrorContains(t, err, "never changed", statement)
	}
}

// Two sealers at one moment, as after a lock was lost: each event is sealed once.
func TestSealersAtOneMomentSealEachEventOnce(t *testing.T) {
	s := newSealed(newBook(t))
	s.fill(50)
	other := &sealer{pool: s.pool, keys: s.keys, published: s.published, connect: s.dial, clock: s.book.clock, most: sealMost}
	done := make(chan error, 8)
	for i := range 8 {
		one := []*sealer{s.sealer, other}[i%2]
		go func() {
			done <- sealing(t.Context(), one.pool, func(tx pgx.Tx) error { _, err := one.seal(t.Context(), tx); return err })
		}()
	}
	for range 8 {
		require.NoError(t, <-done)
	}
	all, err := s.Checkpoints(t.Context(), 0, 10)
	require.NoError(t, err)
	assert.Len(t, all, 1)
}

// The part of a process: it takes the lock, seals while events come, and seals the
// rest when it is stopped; a second one waits.
func TestOneSealerIsElectedAndSealsToTheEnd(t *testing.T) {
	b := newBook(t)
	s := newSealed(b)
	b.fill(3)
	lead := func(one *sealer) (stop func() error) {
		ctx, cancel := context.WithCancel(context.Background())
		ended := make(chan error, 1)
		go func() { ended <- one.lead(ctx) }()
		return func() error { cancel(); return <-ended }
	}
	stop := lead(s.sealer)
	sizeOf := func() int64 { last, _ := readLast(t.Context(), b.pool); return last.size }
	require.Eventually(t, func() bool { return sizeOf() == 3 }, time.Minute, 5*time.Millisecond)
	second := lead(&sealer{pool: b.pool, keys: s.keys, published: filepath.Join(t.TempDir(), "second"), connect: b.dial, clock: b.clock, most: sealMost})
	b.fill(4)
	require.Eventually(t, func() bool { return sizeOf() == 7 }, time.Minute, 5*time.Millisecond)
	b.fill(2)
	require.NoError(t, stop())
	require.EqualValues(t, 9, sizeOf(), "what was written just before the stop")
	b.fill(1)
	require.Eventually(t, func() bool { return sizeOf() == 10 }, time.Minute, 5*time.Millisecond, "the second takes over")
	require.NoError(t, second())
}

func TestAForkedFolderStopsThePublishing(t *testing.T) {
	s, other := newSealed(newBook(t)), newSealed(newBook(t))
	s.fill(5)
	other.fill(6)
	s.must()
	other.must()
	require.NoError(t, s.CheckPublished(t.Context(), s.published))
	assert.ErrorIs(t, s.CheckPublished(t.Context(), other.published), ErrForked)
	require.NoError(t, s.CheckPublished(t.Context(), filepath.Join(t.TempDir(), "new")))
	foreign := &sealer{pool: s.pool, keys: s.keys, published: other.published, connect: s.dial, clock: s.book.clock, most: sealMost}
	assert.ErrorIs(t, foreign.lead(t.Context()), ErrForked)

	// A crash between the commit and the folder: the next sealer publishes the rest.
	s.fill(2)
	require.NoError(t, sealing(t.Context(), s.pool, func(tx pgx.Tx) error { _, err := s.sealer.seal(t.Context(), tx); return err }))
	s.fill(2)
	require.NoError(t, sealing(t.Context(), s.pool, func(tx pgx.Tx) error { _, err := s.sealer.seal(t.Context(), tx); return err }))
	s.must()
	notes, err := proof.ReadPublished(s.published)
	require.NoError(t, err)
	assert.Len(t, notes, 3)
}

// Old public keys are kept for ever, the change itself is signed by both, and what
// an interrupted change left is put right.
func TestSigningKeysAreReplacedInView(t *testing.T) {
	s := newSealed(newBook(t))
	s.fill(3)
	first := s.must()
	oldKey := s.key()
	replaced, err := s.ReplaceSigningKey(t.Context(), s.keys, noon, false)
	require.NoError(t, err)
	assert.Equal(t, oldKey, replaced.Old)
	both, err := proof.Open(replaced.Checkpoint, replaced.Old, replaced.New)
	require.NoError(t, err)
	assert.Equal(t, []proof.Key{replaced.Old, replaced.New}, both.By)
	assert.True(t, both.Same(first.Checkpoint), "it says the same of the book")
	assert.Equal(t, replaced.New, s.key())
	s.fill(2)
	after := s.must()
	assert.Equal(t, []proof.Key{replaced.New}, after.By)
	published, err := os.ReadFile(filepath.Join(s.published, "keys.txt"))
	require.NoError(t, err)
	assert.Equal(t, string(oldKey)+"\n"+string(replaced.New)+"\n", string(published))
	verified, err := s.VerifyBy(t.Context(), Check{Outside: []proof.Signed{first, both, after}, Tree: true})
	require.NoError(t, err)
	require.Nil(t, verified.Finding)
	assert.Equal(t, 3, verified.Checkpoints)

	t.Run("a change that was interrupted is ended", func(t *testing.T) {
		require.NoError(t, os.Rename(filepath.Join(s.keys, SigningKeyFile), filepath.Join(s.keys, nextKeyFile)))
		s.fill(1)
		s.must()
		assert.FileExists(t, filepath.Join(s.keys, SigningKeyFile))
		assert.NoFileExists(t, filepath.Join(s.keys, nextKeyFile))
	})
	t.Run("a lost key stops the sealing and can be replaced", func(t *testing.T) {
		require.NoError(t, os.Remove(filepath.Join(s.keys, SigningKeyFile)))
		s.fill(1)
		require.ErrorIs(t, s.seal(), ErrNoSigningKey)
		_, err := s.ReplaceSigningKey(t.Context(), s.keys, noon, false)
		require.ErrorIs(t, err, ErrNoSigningKey)
		anew, err := s.ReplaceSigningKey(t.Context(), s.keys, noon, true)
		require.NoError(t, err)
		_, err = proof.Open(anew.Checkpoint, oldKey, replaced.New)
		assert.ErrorIs(t, err, proof.ErrKey, "nobody who has the old keys can follow")
		assert.Equal(t, []proof.Key{anew.New}, s.must().By)
		keys, err := s.SigningKeys(t.Context())
		require.NoError(t, err)
		assert.Equal(t, []proof.Key{oldKey, replaced.New, anew.New}, Keys(keys))
	})
	t.Run("nobody else may read the key", func(t *testing.T) {
		info, err := os.Stat(filepath.Join(s.keys, SigningKeyFile))
		require.NoError(t, err)
		assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
		dump := s.db.Dump("ledger.signing_key") + s.db.Dump("ledger.checkpoint")
		secret, err := os.ReadFile(filepath.Join(s.keys, SigningKeyFile))
		require.NoError(t, err)
		assert.NotContains(t, dump, strings.TrimSpace(string(secret))[40:])
	})
	_, err = newSealed(newBook(t)).ReplaceSigningKey(t.Context(), t.TempDir(), noon, false)
	assert.ErrorContains(t, err, "no signing key yet")
}

// Over a real book every older checkpoint is continued by the newest, at sizes
// around the powers of two; a file of each is checked without the book.
func TestEveryPublishedCheckpointIsContinuedByTheNewest(t *testing.T) {
	s := newSealed(newBook(t))
	written := 0
	for _, size := range []int{1, 2, 3, 4, 5, 7, 8, 9, 15, 16, 17, 31, 32, 33, 63, 64, 65, 127, 128, 129} {
		s.fill(size - written)
		written = size
		assert.EqualValues(t, size, s.must().Size)
	}
	notes, err := proof.ReadPublished(s.published)
	require.NoError(t, err)
	require.Len(t, notes, 20)
	for _, n := range notes {
		older, err := proof.Open(n, s.key())
		require.NoError(t, err)
		file, err := s.ProveContinues(t.Context(), older)
		require.NoError(t, err)
		p, err := proof.ParseConsistency(file)
		require.NoError(t, err)
		a, b, err := p.Check(s.key())
		require.NoError(t, err)
		assert.Equal(t, older.Size, a.Size)
		assert.EqualValues(t, 129, b.Size)
	}
	for position := int64(1); position <= 129; position++ {
		file, err := s.Prove(t.Context(), position)
		require.NoError(t, err)
		p, err := CheckProof(file, s.key())
		require.NoError(t, err)
		require.Equal(t, position, p.Event.Position)
	}
	other := newSealed(newBook(t))
	other.fill(64)
	_, err = s.ProveContinues(t.Context(), other.must())
	assert.True(t, fault.Is(err, fault.Conflict), "another book's: %v", err)
	other.fill(100)
	_, err = s.ProveContinues(t.Context(), other.must())
	assert.True(t, fault.Is(err, fault.Conflict), "more events than there are: %v", err)
}

// A proof is read back as it was written, and whatever is changed in the event is
// refused: the leaf is its hash.
func TestAProofShowsTheEvent(t *testing.T) {
	s := newSealed(newBook(t))
	rows := s.fill(20)
	_, err := s.Prove(t.Context(), 5)
	assert.True(t, fault.Is(err, fault.Unknown), "no checkpoint yet: %v", err)
	s.must()
	_, err = s.Prove(t.Context(), 21)
	assert.True(t, fault.Is(err, fault.Unknown))
	file, err := s.Prove(t.Context(), 5)
	require.NoError(t, err)
	p, err := CheckProof(file, s.key())
	require.NoError(t, err)
	assert.Equal(t, rows[4].Event, p.Event)
	for i := range file {
		changed := []byte(string(file))
		changed[i] ^= 1
		_, err := CheckProof(changed, s.key())
		require.Error(t, err, "byte %d: %q", i, changed[max(0, i-20):min(len(changed), i+20)])
	}
	s.fill(1)
	_, err = s.Prove(t.Context(), 21)
	assert.True(t, fault.Is(err, fault.Unknown), "written, not sealed: %v", err)
}

func TestADamagedTreeProvesNothing(t *testing.T) {
	for name, damage := range map[string]string{
		"a hash changed":    `UPDATE ledger.tree_hash SET hash = sha256('x') WHERE level = 1 AND n = 1`,
		"a hash missing":    `DELETE FROM ledger.tree_hash WHERE level = 1 AND n = 1`,
		"a hash cut":        `UPDATE ledger.tree_hash SET hash = substring(hash for 31) WHERE level = 1 AND n = 1`,
		"the event changed": `UPDATE ledger.event SET data = '{}' WHERE position = 1`,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := newSealed(openBook(t, postgrestest.New(t, schema)))
			s.fill(9)
			s.must()
			superuser(s.db)
			s.db.Exec(damage)
			_, err := s.Prove(t.Context(), 1)
			require.Error(t, err)
			assert.False(t, fault.Is(err, fault.Unknown))
		})
	}
}
