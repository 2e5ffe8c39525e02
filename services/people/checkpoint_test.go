package people_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/mail"
	"refloat.example/pkg/proof"
	"refloat.example/services/people"
)

// The auditor's mail holds the newest checkpoint, comes once a day at most, and can
// be saved and used as it is.
func TestTheAuditorGetsACheckpointADay(t *testing.T) {
	c := start(t)
	office := people.CheckpointOffice(c.Rooms[people.Name], c.post)
	post := func() int {
		t.Helper()
		require.NoError(t, office(t.Context()))
		return len(c.post.all())
	}
	sealer := c.Log.Sealer(t.TempDir(), t.TempDir())
	require.NoError(t, sealer.Start(t.Context()))
	t.Cleanup(func() { _ = sealer.Stop(context.Background()) })
	newest := func(than int64) (found proof.Signed) {
		t.Helper()
		require.Eventually(t, func() bool {
			var err error
			found, err = c.Log.LastCheckpoint(t.Context())
			return err == nil && found.Size > than
		}, time.Minute, 10*time.Millisecond)
		return found
	}
	c.Set("place", "Amberjay")
	first := newest(0)
	c.Settle()
	assert.Zero(t, post(), "nobody asked for it")
	c.Set("auditor-mail", "books@auditor.example")
	first = newest(first.Size)
	c.Settle()
	require.Equal(t, 1, post())
	assert.Equal(t, 1, post(), "once a day")
	letter := c.post.all()[0]
	assert.Equal(t, "books@auditor.example", letter.To)
	assert.Contains(t, letter.Text, string(first.By[0]))

	c.Clock.Advance(24 * time.Hour)
	assert.Equal(t, 1, post(), "nothing new")
	c.Set("place", "Lake Amberjay")
	second := newest(first.Size)
	c.post.refuses(context.DeadlineExceeded)
	assert.Error(t, office(t.Context()), "the mail server is away")
	c.post.refuses(nil)
	require.Equal(t, 2, post(), "it is tried again")

	folder := t.TempDir()
	kept, err := mail.NewFolder(folder, "book@quillwater.example")
	require.NoError(t, err)
	for i, want := range []proof.Signed{first, second} {
		l := c.post.all()[i]
		require.NoError(t, kept.Send(t.Context(), l))
		file := filepath.Join(folder, l.Key+".eml")
		raw, err := os.ReadFile(file)
		require.NoError(t, err)
		require.Contains(t, string(raw), "quoted-printable")
		notes, err := proof.ReadPublished(file)
		require.NoError(t, err)
		require.Len(t, notes, 1)
		got, err := proof.Open(notes[0], first.By[0])
		require.NoError(t, err)
		assert.Equal(t, want.Checkpoint, got.Checkpoint)
	}
}
