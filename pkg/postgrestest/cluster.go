package postgrestest

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/exec"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"refloat.example/pkg/postgres"
)

// startOwn starts the cluster of this test process.
func startOwn(ctx context.Context) (string, error) {
	dir, err := makeDir(quickPlace())
	if err != nil {
		return "", err
	}
	if err := cleanAfter(dir); err != nil {
		return "", err
	}
	c, err := postgres.StartCluster(ctx, postgres.ClusterConfig{Dir: dir, BinDir: os.Getenv("REFLOAT_PG_BIN"), Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		return "", err
	}
	return c.URL(postgres.Super, "postgres"), nil
}

// quickPlace is the file system in memory when it has room, else the ordinary
// place (""). To make and drop databases is to make and drop a thousand small
// files each time: ten times quicker in memory. TMPDIR overrules it.
func quickPlace() string {
	const memory, room = "/dev/shm", 2 << 30
	var stat syscall.Statfs_t
	if os.Getenv("TMPDIR") != "" || syscall.Statfs(memory, &stat) != nil {
		return ""
	}
	if stat.Bavail*uint64(stat.Bsize) < room {
		return ""
	}
	return memory
}

// makeDir makes a folder that the server's user can reach, which is not so for
// t.TempDir when root runs the tests.
func makeDir(place string) (string, error) {
	dir, err := os.MkdirTemp(place, "refloat-test-")
	if err != nil {
		return "", err
	}
	return dir, os.Chmod(dir, 0o711)
}

// cleanAfter leaves a watcher behind which, when this process has ended, ends
// the server if one runs and removes the folder. Its standard input is a pipe
// from us: it closes with our death.
func cleanAfter(dir string) error {
	const script = `cat
		server=$(head -n 1 "$1/data/postmaster.pid" 2>/dev/null) && kill -INT "$server" 2>/dev/null &&
			while kill -0 "$server" 2>/dev/null; do sleep 0.05; done
		rm -rf -- "$1"`
	watcher := exec.Command("/bin/sh", "-c", script, "sh", dir)
	watcher.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	read, write, err := os.Pipe()
	if err != nil {
		return err
	}
	watcher.Stdin = read
	if err := watcher.Start(); err != nil {
		return fmt.Errorf("start the watcher of the test cluster: %w", err)
	}
	held = write
	return read.Close()
}

// held is never closed by us: the collector would close a file nobody refers to.
var held io.Closer //nolint:unused // it holds, that is all

// IgnoreCluster lets goleak pass over the goroutines that hold the test
// process's cluster.
func IgnoreCluster() []goleak.Option {
	return []goleak.Option{
		goleak.IgnoreAnyFunction("refloat.example/pkg/postgres.(*Cluster).hold"),
		goleak.IgnoreAnyFunction("refloat.example/pkg/postgres.(*saying).listen"),
	}
}

// Cluster is a durable cluster of one test's own, to be killed: it has the
// settings of the real one. What only a power cut would show, it cannot show.
type Cluster struct {
	*postgres.Cluster
	Dir string

	t testing.TB
}

// NewCluster starts a durable cluster; it is stopped and removed when the test
// ends.
func NewCluster(t testing.TB) *Cluster {
	t.Helper()
	return NewClusterIn(t, quickPlace())
}

// NewClusterIn is NewCluster in a folder below one that is there.
func NewClusterIn(t testing.TB, place string) *Cluster {
	t.Helper()
	dir, err := makeDir(place)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(dir)) })
	c := &Cluster{Dir: dir, t: t}
	c.Start()
	t.Cleanup(c.stop)
	return c
}

// Start starts the cluster's server, again after Kill. URLs stay as they were.
func (c *Cluster) Start() {
	c.t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	var err error
	c.Cluster, err = postgres.StartCluster(ctx, postgres.ClusterConfig{
		Dir: c.Dir, BinDir: os.Getenv("REFLOAT_PG_BIN"), Log: slog.New(slog.DiscardHandler), Durable: true})
	require.NoError(c.t, err)
}

// Kill ends the server as a power cut of its processes would (SIGKILL), and
// waits for its end. Start takes the data up again.
func (c *Cluster) Kill() {
	c.t.Helper()
	require.NoError(c.t, syscall.Kill(c.Pid(), syscall.SIGKILL))
	<-c.Done()
	c.stop()
}

// Cut ends the server by its own immediate shutdown (SIGQUIT), which leaves a recovery
// to the next start, and waits for its end.
func (c *Cluster) Cut() {
	c.t.Helper()
	require.NoError(c.t, syscall.Kill(c.Pid(), syscall.SIGQUIT))
	<-c.Done()
	c.stop()
}

// NewDatabase makes the roles and the database refloat with the given schemas.
func (c *Cluster) NewDatabase(schemas ...Migration) *DB {
	c.t.Helper()
	ctx := context.Background()
	access, err := c.Prepare(ctx)
	require.NoError(c.t, err)
	for _, s := range schemas {
		require.NoError(c.t, postgres.Migrate(ctx, access.OwnerURL, s.Schema, s.Files))
	}
	db := &DB{Name: postgres.Database, SuperURL: c.URL(postgres.Super, postgres.Database),
		OwnerURL: access.OwnerURL, AppURL: access.AppURL, t: c.t}
	db.Pool = db.Open(db.AppURL)
	return db
}

func (c *Cluster) stop() {
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	if err := c.Stop(ctx); err != nil {
		c.t.Errorf("stop the test's cluster: %v", err)
	}
}
