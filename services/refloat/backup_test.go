package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/photo"
	"refloat.example/services/refloat/importer"
)

// A backup is taken while everything runs. After it somebody is erased; the keys'
// newest copy, taken later, no longer holds theirs, so that the old backup does
// not bring them back.
func TestARestoredBookIsTheSameAndTheErasedStayErased(t *testing.T) {
	t.Parallel()
	whole := undisturbedSummary(t)
	i := newPlayedInstallation(t)
	picture := photo.Picture{Hash: "a hash", Large: []byte("large"), Small: []byte("small"), Width: 2, Height: 1}
	withPhotos(t, i, func(s *photo.Store) { require.NoError(t, s.Save(t.Context(), picture)) })
	backups, keys := filepath.Join(i.folder, "backups"), filepath.Join(i.folder, "keys elsewhere")

	serve := i.start("serve")
	serve.awaitReady()
	out, problems, code := i.run("backup", backups, "--keys-to", keys)
	require.Equal(t, exitOK, code, problems)
	gone := people.ID(importer.ID("person", erasedReference))
	eraseAsOperator(t, i, gone)
	_, problems, code = i.run("backup", filepath.Join(i.folder, "later"), "--keys-to", keys)
	require.Equal(t, exitOK, code, problems)
	serve.interrupt()

	restored := i.elsewhere("new")
	out, problems, code = restored.run("restore", strings.TrimSpace(out), "--keys-from", keys)
	require.Equal(t, exitOK, code, problems)
	assert.Contains(t, out, whole.Ledger.Head)
	assert.Contains(t, out, "The tables of the web room are filled anew.")

	out, _, code = restored.run("status")
	require.Equal(t, exitOK, code)
	var s standing
	require.NoError(t, json.Unmarshal([]byte(out), &s))
	assert.Equal(t, whole.Ledger.Head, s.Head)
	for _, r := range s.Rooms {
		assert.Zero(t, r.Behind, r.Room)
	}
	withPhotos(t, restored, func(s *photo.Store) {
		large, err := s.Large(t.Context(), picture.Hash)
		require.NoError(t, err, "photos are in the backup")
		assert.Equal(t, picture.Large, large)
	})
	assert.True(t, erasedIn(t, restored, gone))
	assert.False(t, erasedIn(t, restored, people.ID(importer.ID("person", keptReference))))

	_, problems, code = restored.run("restore", backups, "--keys-from", keys)
	assert.Equal(t, exitRefused, code, "a folder that is not a backup")
	assert.Contains(t, problems, "is not a backup")
}

// Two households of the demonstration club.
const (
	erasedReference = "hollis"
	keptReference   = "ruddock"
)

// elsewhere is an installation with a data and a key folder of its own beside the
// first one's.
func (i *installation) elsewhere(name string) *installation {
	return &installation{i.t, i.folder, append(append([]string{}, i.env...), "REFLOAT_DATA="+filepath.Join(i.folder, name+" data"), "REFLOAT_KEYS="+filepath.Join(i.folder, name+" keys"),
		"REFLOAT_CHECKPOINTS="+filepath.Join(i.folder, name+" checkpoints"))}
}

// eraseAsOperator erases a person through the running installation.
func eraseAsOperator(t *testing.T, i *installation, person people.ID) {
	t.Helper()
	_, err := i.client().Do(t.Context(), desk.Asking{By: people.Service(desk.AtMachine), Key: "test/erase"}, message.ErasePerson{Person: person, Why: "asked"})
	require.NoError(t, err)
}

// client gives orders to the running installation, as the operator.
func (i *installation) client() desk.Client {
	i.t.Helper()
	raw, err := os.ReadFile(filepath.Join(i.setting("REFLOAT_DATA"), "running.json"))
	require.NoError(i.t, err)
	var n notice
	require.NoError(i.t, json.Unmarshal(raw, &n))
	conn, err := bus.Connect(i.t.Context(), bus.Operator, n.Bus, quietLog())
	require.NoError(i.t, err)
	i.t.Cleanup(conn.Close)
	return desk.Client{Conn: conn}
}

// withPhotos opens the photos of an installation that does not run.
func withPhotos(t *testing.T, i *installation, do func(*photo.Store)) {
	t.Helper()
	cfg, _, err := readConfig("test", nil, i.setting, nil, nil)
	require.NoError(t, err)
	b, err := openBook(t.Context(), cfg, quietLog())
	require.NoError(t, err)
	defer b.close()
	do(photo.NewStore(b.pool))
}

// erasedIn says whether a person's key is gone in an installation that does not
// run.
func erasedIn(t *testing.T, i *installation, person people.ID) bool {
	t.Helper()
	cfg, _, err := readConfig("test", nil, i.setting, nil, nil)
	require.NoError(t, err)
	b, err := openBook(t.Context(), cfg, quietLog())
	require.NoError(t, err)
	defer b.close()
	var keys int
	require.NoError(t, b.pool.QueryRow(t.Context(), `SELECT count(*) FROM vault.person_key WHERE person = $1 AND destroyed_at IS NULL`, string(person)).Scan(&keys))
	return keys == 0
}

// setting gives a setting as the installation's environment has it; the last one
// counts.
func (i *installation) setting(name string) string {
	value := ""
	for _, entry := range i.env {
		if v, ok := strings.CutPrefix(entry, name+"="); ok {
			value = v
		}
	}
	return value
}
