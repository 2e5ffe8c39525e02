package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/message"
	"refloat.example/services/web"
)

// A room that cannot take an event is named by status, is let go on at the terminal,
// and takes the event when its tables are filled anew by a program that can.
func TestAStoppedRoomIsLetGoOnAtTheTerminal(t *testing.T) {
	t.Parallel()
	i := newInstallation(t)
	serve := i.start("serve")
	serve.awaitReady()
	pages := func() message.Standing {
		for _, r := range i.status().Rooms {
			if r.Room == web.Name {
				return r.Standing
			}
		}
		return message.Standing{}
	}
	toy := i.ownerOf(`ALTER TABLE web.person ADD CONSTRAINT toy CHECK (sort <> 'donor')`)
	(&newcomers{client: i.client()}).register(t, 1)
	require.Eventually(t, func() bool { return len(pages().Stopped) > 0 }, time.Minute, 50*time.Millisecond)
	at := pages().Stopped[0].Position

	for problem, args := range map[string][]string{
		"name the room and the position": {"skip", "web"},
		"is no position of an event":     {"skip", "web", "last"},
		"have not stopped at event 9999": {"skip", "web", "9999", "--why", "a test"},
		"the tables of the people room":  {"skip", "people", strconv.FormatInt(at, 10), "--why", "a test"},
	} {
		_, problems, code := i.run(args...)
		assert.NotEqual(t, exitOK, code, args)
		assert.Contains(t, problems, problem)
	}
	out, problems, code := i.run("skip", "web", strconv.FormatInt(at, 10), "--why", "a toy constraint")
	require.Equal(t, exitOK, code, problems)
	assert.Contains(t, out, "The web room may go on without event")
	require.Eventually(t, func() bool { s := pages(); return len(s.Stopped) == 0 && len(s.PassedOver) == 1 }, 40*time.Second, 50*time.Millisecond)
	assert.Equal(t, at, pages().PassedOver[0].Position)

	toy(`ALTER TABLE web.person DROP CONSTRAINT toy`)
	i.must("rebuild", "web")
	assert.Empty(t, pages().PassedOver, "the event is in the tables now")
	serve.interrupt()
}

// ownerOf runs a statement as the owner of a running installation's tables, and gives
// what runs others.
func (i *installation) ownerOf(statement string) (others func(string)) {
	i.t.Helper()
	raw, err := os.ReadFile(filepath.Join(i.data(), "running.json"))
	require.NoError(i.t, err)
	var n notice
	require.NoError(i.t, json.Unmarshal(raw, &n))
	run := func(statement string) {
		i.t.Helper()
		conn, err := pgx.Connect(i.t.Context(), n.Database.OwnerURL)
		require.NoError(i.t, err)
		defer func() { _ = conn.Close(i.t.Context()) }()
		_, err = conn.Exec(i.t.Context(), statement)
		require.NoError(i.t, err)
	}
	run(statement)
	return run
}
