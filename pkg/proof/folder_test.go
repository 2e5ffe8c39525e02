package proof

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// monthly signs a small checkpoint of a day.
func (s signed) monthly(t *testing.T, size int64, day string) string {
	at, err := time.Parse(time.DateOnly, day)
	require.NoError(t, err)
	msg, err := Sign(Checkpoint{Book: s.key.Book(), Size: size, At: at}, s.signer)
	require.NoError(t, err)
	return string(msg)
}

func TestAFolderIsOnlyEverAddedTo(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a", "checkpoints")
	s, next := newSigned(t, "book-a"), newSigned(t, "book-a")
	f, err := OpenFolder(path)
	require.NoError(t, err)
	assert.Nil(t, f.Last())
	notes := []string{s.monthly(t, 1, "2026-03-31"), s.monthly(t, 2, "2026-04-01"), s.monthly(t, 3, "2026-04-02")}
	before := ""
	for _, n := range notes {
		require.NoError(t, f.Add(n))
		assert.Equal(t, n, string(f.Last()))
	}
	require.NoError(t, f.AddKeys([]Key{s.key}))
	require.NoError(t, f.AddKeys([]Key{s.key, next.key}))
	april, err := os.ReadFile(filepath.Join(path, "checkpoints-2026-04.txt"))
	require.NoError(t, err)
	assert.Equal(t, notes[1]+"\n"+notes[2]+"\n", string(april), before)
	keys, err := os.ReadFile(filepath.Join(path, "keys.txt"))
	require.NoError(t, err)
	assert.Equal(t, string(s.key)+"\n"+string(next.key)+"\n", string(keys))

	again, err := OpenFolder(path)
	require.NoError(t, err)
	assert.Equal(t, notes[2], string(again.Last()))
	found, err := ReadPublished(path)
	require.NoError(t, err)
	require.Len(t, found, 3)
	for i := range notes {
		assert.Equal(t, notes[i], string(found[i]))
	}
	assert.Error(t, again.Add("no note"))
}

// A crash in the middle of an append leaves a torn note behind. It is passed over,
// and what is appended after it can be read.
func TestATornNoteIsPassedOver(t *testing.T) {
	s := newSigned(t, "book-a")
	whole, torn, after := s.monthly(t, 1, "2026-04-01"), s.monthly(t, 2, "2026-04-02"), s.monthly(t, 3, "2026-04-03")
	for cut := 1; cut < len(torn)-1; cut += 7 {
		path := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(path, "checkpoints-2026-04.txt"), []byte(whole+"\n"+torn[:cut]), 0o600))
		f, err := OpenFolder(path)
		require.NoError(t, err)
		require.Equal(t, whole, string(f.Last()), "cut at %d", cut)
		require.NoError(t, f.Add(torn))
		require.NoError(t, f.Add(after))
		found, err := ReadPublished(path)
		require.NoError(t, err)
		var good []string
		for _, n := range found {
			if _, err := Open(n, s.key); err == nil {
				good = append(good, string(n))
			}
		}
		require.Equal(t, []string{whole, torn, after}, good, "cut at %d", cut)
	}
}

// Auditors keep mails: with other words around the note, with the line ends of
// other systems, and as mail programs save them (RFC 2045 section 6.7).
func TestNotesAreFoundInWhatPeopleKeep(t *testing.T) {
	one, two := newSigned(t, "book-a").monthly(t, 1, "2026-04-01"), newSigned(t, "book-b").monthly(t, 2, "2026-04-02")
	for name, text := range map[string]string{
		"words around":      "Dear auditor,\n\n" + one + "\nPlease keep this.\n\n" + two + "It says more.\n",
		"no empty line":     "Here it is:\n" + one + "\n" + two,
		"another system's":  strings.ReplaceAll("Hello\n\n"+one+"\n"+two, "\n", "\r\n"),
		"as a mail is kept": "Subject: =?UTF-8?q?x?=\r\nContent-Transfer-Encoding: quoted-printable\r\n\r\n" + quoted(one+"\n"+two),
	} {
		path := filepath.Join(t.TempDir(), "kept")
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		found, err := ReadPublished(path)
		require.NoError(t, err)
		require.Len(t, found, 2, name)
		assert.Equal(t, []string{one, two}, []string{string(found[0]), string(found[1])}, name)
	}
	_, err := ReadPublished(filepath.Join(t.TempDir(), "none"))
	assert.ErrorIs(t, err, os.ErrNotExist)
}

// quoted writes a text in quoted-printable, by hand.
func quoted(text string) string {
	return strings.NewReplacer("=", "=3D", "—", "=E2=80=94", "\n", "\r\n").Replace(text)
}
