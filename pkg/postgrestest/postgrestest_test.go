package postgrestest

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// shelf is a schema with one table that the application may fill and read.
var shelf = Migration{Schema: "shelf", Files: fstest.MapFS{
	"migrations/0001_paddle.sql": {Data: []byte(`-- +goose Up
CREATE TABLE shelf.paddle (id int PRIMARY KEY, made_at timestamptz NOT NULL DEFAULT now());
GRANT SELECT, INSERT ON shelf.paddle TO refloat_app;
`)},
}}

func TestEachTestHasADatabaseOfItsOwn(t *testing.T) {
	ctx := context.Background()
	one, other := New(t, shelf), New(t, shelf)
	_, err := one.Pool.Exec(ctx, "INSERT INTO shelf.paddle (id) VALUES (7)")
	require.NoError(t, err)
	assert.Contains(t, one.Dump("shelf.paddle"), "(7,")
	assert.Empty(t, other.Dump("shelf.paddle"))
}

func TestADatabaseGoesWithItsTest(t *testing.T) {
	var name, super string
	t.Run("inner", func(t *testing.T) {
		db := New(t, shelf)
		name, super = db.Name, db.SuperURL
	})
	db := New(t)
	require.NotEqual(t, super, db.SuperURL)
	var there bool
	require.NoError(t, db.Pool.QueryRow(context.Background(), "SELECT EXISTS (SELECT 1 FROM pg_database WHERE datname = $1)", name).Scan(&there))
	assert.False(t, there, "%s is still there", name)
}

func TestAKilledClusterKeepsWhatWasCommitted(t *testing.T) {
	ctx := context.Background()
	cluster := NewCluster(t)
	db := cluster.NewDatabase(shelf)
	_, err := db.Pool.Exec(ctx, "INSERT INTO shelf.paddle (id) VALUES (7)")
	require.NoError(t, err)
	cluster.Kill()
	cluster.Start()
	// The same URLs hold; a pool heals by itself.
	pool := db.Open(db.AppURL)
	var id int
	require.NoError(t, pool.QueryRow(ctx, "SELECT id FROM shelf.paddle").Scan(&id))
	assert.Equal(t, 7, id)
}

func TestTheTemplateDependsOnTheFiles(t *testing.T) {
	changed := Migration{Schema: shelf.Schema, Files: fstest.MapFS{"0001_paddle.sql": {Data: []byte("-- +goose Up\nSELECT 1;\n")}}}
	one, err := templateName([]Migration{shelf})
	require.NoError(t, err)
	other, err := templateName([]Migration{changed})
	require.NoError(t, err)
	assert.NotEqual(t, one, other)
}

// hold tells this test binary, run again, to use its cluster until it is killed.
const hold = "REFLOAT_TEST_HOLD_CLUSTER"

func TestMain(m *testing.M) {
	if os.Getenv(hold) == "" {
		os.Exit(m.Run())
	}
	super, err := sharedCluster()
	fmt.Println(super, err)
	select {}
}

func TestNothingIsLeftOfAKilledTest(t *testing.T) {
	helper := exec.Command(os.Args[0])
	place, err := makeDir(quickPlace())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(place)) })
	helper.Env = append(os.Environ(), hold+"=yes", "TMPDIR="+place, Setting+"=")
	out, err := helper.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, helper.Start())
	line, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(t, err)
	require.Contains(t, line, "<nil>")
	left, err := os.ReadDir(place)
	require.NoError(t, err)
	require.Len(t, left, 1, "the cluster's folder")

	require.NoError(t, helper.Process.Kill())
	_ = helper.Wait() // killed, as ordered
	assert.Eventually(t, func() bool {
		left, err := os.ReadDir(place)
		return err == nil && len(left) == 0
	}, 30*time.Second, 20*time.Millisecond)
}
