package proof

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"
)

// A note that another program made: the text was written and the note put together
// with Python, the key is the first test key of RFC 8032 section 7.1, and the
// signature is OpenSSL's (openssl pkeyutl -sign -rawin). The key's short hash is
// SHA-256 over name, newline, 1 and the public key (C2SP signed notes, from memory).
const (
	otherNote = `book-0123456789
1234
SBNJTRN+FjG7owHVrKtue7eqdM4RhdRWVl71HXN2d7I=
head 9f2e6d33a3717ee826353a404ba4618d1aeeb6879ad7936bce8ed5f46814924d
time 2026-04-01T12:00:00Z

— book-0123456789 lmILtnSZYGqhqDTY7iW/RrckBmA6UyLR+M1mXHOBLZFdChySU862XP5bkfBaT1FkL2xtoOt4+CrS80R4wPyGP8pmYgk=
`
	otherSecret = "PRIVATE+KEY+book-0123456789+96620bb6+AZ1hsZ3v/VpguoRK9JLsLMREScVpezJpGXA7rAMcrn9g"
	otherKey    = Key("book-0123456789+96620bb6+AddamAGCsQq31Uv+08lkBzoO4XLz2qYjJa8CGmj3B1Ea")
)

func TestACheckpointIsWrittenAsItIsDescribed(t *testing.T) {
	c, err := Open([]byte(otherNote), otherKey)
	require.NoError(t, err)
	want := Checkpoint{
		Book: "book-0123456789", Size: 1234, Root: sha256.Sum256([]byte("root")), Head: sha256.Sum256([]byte("head")),
		At: time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC),
	}
	assert.Equal(t, want, c.Checkpoint)
	assert.Equal(t, []Key{otherKey}, c.By)
	assert.Equal(t, "book-0123456789", otherKey.Book())
	assert.Equal(t, "96620bb6", otherKey.Short())

	signer, err := ParseSigner(otherSecret + "\n")
	require.NoError(t, err)
	assert.Equal(t, otherKey, signer.Public())
	ours, err := Sign(want, signer)
	require.NoError(t, err)
	assert.Equal(t, otherNote, string(ours), "Ed25519 signs the same twice (RFC 8032)")
	read, err := Read(ours)
	require.NoError(t, err)
	assert.Equal(t, want, read)
}

// signed is a key pair with the books that it signs.
type signed struct {
	signer *Signer
	key    Key
}

func newSigned(t testing.TB, book string) signed {
	secret, key, err := NewKey(book)
	require.NoError(t, err)
	signer, err := ParseSigner(secret)
	require.NoError(t, err)
	require.Equal(t, key, signer.Public())
	return signed{signer, key}
}

// at signs the checkpoint of a log's first events.
func (s signed) at(t testing.TB, size int, with ...*Signer) []byte {
	l := numbered(size)
	last := sha256.Sum256(fmt.Append(nil, size-1))
	msg, err := Sign(Checkpoint{Book: s.key.Book(), Size: int64(size), Root: l.tree.Root(), Head: last, At: time.Date(2026, 4, 1, 12, 0, size, 0, time.UTC)}, append(with, s.signer)...)
	require.NoError(t, err)
	return msg
}

func (s signed) include(t testing.TB, size int, position int64) Inclusion {
	path, err := tlog.ProveRecord(int64(size), position-1, numbered(size))
	require.NoError(t, err)
	return Inclusion{Event: `{"position":3}`, Path: path, Note: s.at(t, size)}
}

func (s signed) continues(t testing.TB, older, newer int) Consistency {
	path, err := tlog.ProveTree(int64(newer), int64(older), numbered(newer))
	require.NoError(t, err)
	return Consistency{Path: path, Older: s.at(t, older), Newer: s.at(t, newer)}
}

func recordOf(position int64) []byte {
	record := sha256.Sum256(fmt.Append(nil, position-1))
	return record[:]
}

func TestAnEventIsProvedInEveryTree(t *testing.T) {
	s := newSigned(t, "book-a")
	for size := 1; size <= 33; size++ {
		for position := int64(1); position <= int64(size); position++ {
			p := s.include(t, size, position)
			read, err := ParseInclusion(p.Marshal())
			require.NoError(t, err)
			c, err := read.Check(position, recordOf(position), s.key)
			require.NoError(t, err)
			require.EqualValues(t, size, c.Size)
			_, err = read.Check(position, recordOf(position+1), s.key)
			require.ErrorIs(t, err, ErrRefused, "another event")
			_, err = read.Check(position%int64(size)+1, recordOf(position), s.key)
			require.True(t, size == 1 || err != nil, "another place")
		}
	}
	p := s.include(t, 7, 3)
	for name, position := range map[string]int64{"before the first": 0, "behind the checkpoint": 8} {
		_, err := p.Check(position, recordOf(3), s.key)
		assert.ErrorIs(t, err, ErrRefused, name)
	}
}

func TestAnOlderCheckpointIsContinuedInEveryTree(t *testing.T) {
	s := newSigned(t, "book-a")
	for newer := 1; newer <= 33; newer++ {
		for older := 1; older <= newer; older++ {
			read, err := ParseConsistency(s.continues(t, older, newer).Marshal())
			require.NoError(t, err)
			a, b, err := read.Check(s.key)
			require.NoError(t, err, "%d to %d", older, newer)
			require.EqualValues(t, older, a.Size)
			require.EqualValues(t, newer, b.Size)
		}
	}
}

// A fork is another book that was signed with the same key: one event differs.
func TestForgedAndForkedBooksAreRefused(t *testing.T) {
	s, other, stranger := newSigned(t, "book-a"), newSigned(t, "book-b"), newSigned(t, "book-a")
	fork := func(size, at int) []byte {
		l := &log{}
		for i := range size {
			record := recordOf(int64(i + 1))
			if i == at {
				record = recordOf(9999)
			}
			l.add(record)
		}
		msg, err := Sign(Checkpoint{Book: "book-a", Size: int64(size), Root: l.tree.Root(), Head: tlog.Hash(recordOf(int64(size))), At: time.Unix(0, 0)}, s.signer)
		require.NoError(t, err)
		return msg
	}
	for name, change := range map[string]func(*Consistency){
		"the older is forked":          func(p *Consistency) { p.Older = fork(5, 2) },
		"the newer is forked before":   func(p *Consistency) { p.Newer = fork(13, 4) },
		"another book":                 func(p *Consistency) { p.Newer = other.at(t, 13) },
		"the other way round":          func(p *Consistency) { p.Older, p.Newer = p.Newer, p.Older },
		"signed by nobody known":       func(p *Consistency) { p.Newer = stranger.at(t, 13) },
		"one size, two books":          func(p *Consistency) { p.Older, p.Path = fork(13, 4), nil },
		"a hash is missing":            func(p *Consistency) { p.Path = p.Path[1:] },
		"a hash too many":              func(p *Consistency) { p.Path = append(p.Path, p.Path[0]) },
		"the proof of another pair":    func(p *Consistency) { p.Path = s.continues(t, 6, 13).Path },
		"no proof at all":              func(p *Consistency) { p.Path = nil },
		"the older one is cut off":     func(p *Consistency) { p.Older = p.Older[:40] },
		"two hashes change places":     func(p *Consistency) { p.Path[0], p.Path[1] = p.Path[1], p.Path[0] },
		"the newer is of another tree": func(p *Consistency) { p.Newer = s.at(t, 12) },
	} {
		t.Run(name, func(t *testing.T) {
			p := s.continues(t, 5, 13)
			change(&p)
			_, _, err := p.Check(s.key, other.key)
			assert.ErrorIs(t, err, ErrRefused)
		})
	}
	// The other half: a fork behind the older checkpoint is a continuation, and only
	// two newer checkpoints that are compared tell.
	p := s.continues(t, 5, 13)
	l := &log{}
	for i := range 13 {
		record := recordOf(int64(i + 1))
		if i == 9 {
			record = recordOf(9999)
		}
		l.add(record)
	}
	path, err := tlog.ProveTree(13, 5, l)
	require.NoError(t, err)
	p.Newer, p.Path = fork(13, 9), path
	_, forked, err := p.Check(s.key)
	require.NoError(t, err)
	_, straight, err := s.continues(t, 5, 13).Check(s.key)
	require.NoError(t, err)
	assert.False(t, forked.Same(straight.Checkpoint))
	assert.ErrorIs(t, Continues(forked.Checkpoint, straight.Checkpoint, nil), ErrRefused)
}

// Whatever byte of a file is changed, it is refused, the spare bits of a
// signature's last letter among them.
func TestEveryByteOfAFileCounts(t *testing.T) {
	s := newSigned(t, "book-a")
	inclusion, consistency := s.include(t, 13, 3).Marshal(), s.continues(t, 5, 13).Marshal()
	changed := func(file []byte, check func([]byte) error) {
		require.NoError(t, check(file))
		for i := range file {
			for _, bit := range []byte{1, 2, 4, 8, 16, 32, 64, 128} {
				other := bytes.Clone(file)
				other[i] ^= bit
				require.Error(t, check(other), "byte %d of %q, bit %d", i, file, bit)
			}
			require.Error(t, check(append(bytes.Clone(file[:i]), file[i+1:]...)), "byte %d taken out", i)
		}
		require.Error(t, check(append(bytes.Clone(file), '\n')))
	}
	changed(inclusion, func(file []byte) error {
		p, err := ParseInclusion(file)
		if err == nil && p.Event != `{"position":3}` {
			return ErrRefused // the book's reader compares every byte of the event by its hash
		}
		if err == nil {
			_, err = p.Check(3, recordOf(3), s.key)
		}
		return err
	})
	changed(consistency, func(file []byte) error {
		p, err := ParseConsistency(file)
		if err == nil {
			_, _, err = p.Check(s.key)
		}
		return err
	})
}

func TestAChangeOfKeysIsSignedByBoth(t *testing.T) {
	old, next := newSigned(t, "book-a"), newSigned(t, "book-a")
	both := next.at(t, 7, old.signer)
	for name, keys := range map[string][]Key{"the old key alone": {old.key}, "the new key alone": {next.key}, "both": {old.key, next.key}} {
		c, err := Open(both, keys...)
		require.NoError(t, err, name)
		assert.Len(t, c.By, len(keys), name)
	}
	_, err := Open(both, newSigned(t, "book-a").key)
	assert.ErrorIs(t, err, ErrKey)
	_, err = Open(both)
	assert.Error(t, err, "no key at all")
}

func TestWhatIsNoCheckpointIsRefused(t *testing.T) {
	signer, err := ParseSigner(otherSecret)
	require.NoError(t, err)
	good, err := Open([]byte(otherNote), otherKey)
	require.NoError(t, err)
	for name, change := range map[string]func(*Checkpoint){
		"no events":       func(c *Checkpoint) { c.Size = 0 },
		"fewer than none": func(c *Checkpoint) { c.Size = -1 },
	} {
		c := good.Checkpoint
		change(&c)
		msg, err := Sign(c, signer)
		require.NoError(t, err)
		_, err = Open(msg, otherKey)
		assert.ErrorIs(t, err, errCheckpoint, name)
	}
	_, err = Open([]byte(otherNote+strings.Repeat("— book-0123456789 lmILtnSZ\n", 200)), otherKey)
	assert.ErrorIs(t, err, errCheckpoint, "too long")
	for _, text := range []string{"", "book-a", "book-a+96620bb6+AddamAGCsQq31Uv+08lkBzoO4XLz2qYjJa8CGmj3B1Ea", string(otherKey) + strings.Repeat("A", 300), "a+b+c"} {
		_, err := ParseKey(text)
		assert.Error(t, err, text)
	}
	for _, text := range []string{"", "PRIVATE+KEY+book", otherSecret[:len(otherSecret)-1], strings.Replace(otherSecret, "96620bb6", "96620bb7", 1)} {
		_, err := ParseSigner(text)
		assert.Error(t, err, text)
	}
}

// Reading never panics, and what is read is written the same.
func FuzzReading(f *testing.F) {
	s := newSigned(f, "book-a")
	f.Add(s.include(f, 13, 3).Marshal())
	f.Add(s.include(f, 1, 1).Marshal())
	f.Add(s.continues(f, 5, 13).Marshal())
	f.Add(s.at(f, 3))
	f.Add([]byte(otherNote + "\n" + otherNote))
	f.Fuzz(func(t *testing.T, file []byte) {
		if p, err := ParseInclusion(file); err == nil {
			require.Equal(t, file, p.Marshal())
		}
		if p, err := ParseConsistency(file); err == nil {
			require.Equal(t, file, p.Marshal())
		}
		if c, err := Read(file); err == nil {
			require.True(t, strings.HasPrefix(string(file), c.Text()))
		}
		for _, n := range Notes(file) {
			_, _ = Open(n, otherKey, s.key)
		}
	})
}
