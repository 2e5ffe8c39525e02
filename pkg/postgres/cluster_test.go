package postgres

import (
	"bufio"
	"context"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"testing/fstest"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sync/errgroup"
)

// helperDir tells this test binary, run again, to be the process that runs a
// cluster in that folder until it is killed.
const helperDir = "REFLOAT_TEST_HELPER_DIR"

func TestMain(m *testing.M) {
	// Before anything runs: pools tell the time in goroutines of their own.
	time.Local = time.FixedZone("far", 5*3600)
	if dir := os.Getenv(helperDir); dir != "" {
		holdCluster(dir)
		return
	}
	os.Exit(m.Run())
}

// holdCluster writes one row, tells the server's process number and waits for
// its own death.
func holdCluster(dir string) {
	ctx := context.Background()
	c, err := StartCluster(ctx, ClusterConfig{Dir: dir, Durable: true, Log: quiet()})
	if err != nil {
		fmt.Println("failed:", err)
		return
	}
	conn, err := pgx.Connect(ctx, c.URL(Super, "postgres"))
	if err != nil {
		fmt.Println("failed:", err)
		return
	}
	if _, err := conn.Exec(ctx, "CREATE TABLE kept (word text); INSERT INTO kept VALUES ('thwart')"); err != nil {
		fmt.Println("failed:", err)
		return
	}
	fmt.Println(c.Pid())
	select {}
}

func quiet() *slog.Logger { return slog.New(slog.DiscardHandler) }

// newDir makes a folder that the server's user can reach, in memory if it can
// be: a cluster is a thousand small files.
func newDir(t *testing.T) string {
	t.Helper()
	place := "/dev/shm"
	if _, err := os.Stat(place); err != nil || os.Getenv("TMPDIR") != "" {
		place = ""
	}
	dir, err := os.MkdirTemp(place, "refloat-test-")
	require.NoError(t, err)
	require.NoError(t, os.Chmod(dir, 0o711))
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(dir)) })
	return dir
}

func start(t *testing.T, dir string, durable bool) *Cluster {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	c, err := StartCluster(ctx, ClusterConfig{Dir: dir, Durable: durable, Log: quiet()})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, c.Stop(context.Background())) })
	return c
}

func stop(t *testing.T, c *Cluster) {
	t.Helper()
	require.NoError(t, c.Stop(context.Background()))
}

func ask(t *testing.T, c *Cluster, query string) (answer string) {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), c.URL(Super, "postgres"))
	require.NoError(t, err)
	defer func() { _ = conn.Close(context.Background()) }()
	require.NoError(t, conn.QueryRow(t.Context(), query).Scan(&answer))
	return answer
}

// alive says whether a process exists and is not only waiting to be collected.
func alive(pid int) bool {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return false
	}
	_, state, _ := strings.Cut(string(text), ") ")
	return !strings.HasPrefix(state, "Z")
}

func TestAClusterIsPrivateAndCareful(t *testing.T) {
	t.Parallel()
	dir := newDir(t)
	c := start(t, dir, true)
	assert.Empty(t, ask(t, c, "SHOW listen_addresses"), "no TCP port")
	for _, name := range []string{"fsync", "synchronous_commit", "full_page_writes", "data_checksums"} {
		assert.Equal(t, "on", ask(t, c, "SHOW "+name), name)
	}
	assert.Equal(t, "UTF8", ask(t, c, "SHOW server_encoding"))
	assert.Equal(t, "C.UTF-8", ask(t, c, "SELECT datcollate FROM pg_database WHERE datname = 'postgres'"))
	assert.Contains(t, ask(t, c, "SELECT rolpassword FROM pg_authid WHERE rolname = 'postgres'"), "SCRAM-SHA-256$")

	wrong := strings.Replace(c.URL(Super, "postgres"), c.passwords.Super, "wrong", 1)
	_, err := pgx.Connect(t.Context(), wrong)
	assert.ErrorContains(t, err, "password authentication failed")

	info, err := os.Stat(filepath.Join(dir, "passwords.json"))
	require.NoError(t, err)
	assert.Equal(t, fs.FileMode(0o600), info.Mode().Perm())

	_, err = StartCluster(t.Context(), ClusterConfig{Dir: dir, Log: quiet()})
	assert.ErrorContains(t, err, "another process runs the database")
	assert.True(t, alive(c.Pid()), "the refused start left the server alone")
}

func TestAClusterKeepsItsDataAndPasswords(t *testing.T) {
	t.Parallel()
	dir := newDir(t)
	// What a killed initdb leaves is cleared away.
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "data.making-1", "junk"), 0o700))
	c := start(t, dir, false)
	assert.Equal(t, "off", ask(t, c, "SHOW fsync"))
	address := c.URL(Owner, Database)
	access := prepareFourTimes(t, c)
	require.NoError(t, Migrate(t.Context(), access.OwnerURL, "shelf", fstest.MapFS{"0001_paddle.sql": {Data: []byte(
		"-- +goose Up\nCREATE TABLE shelf.paddle (id int PRIMARY KEY);\nGRANT SELECT, INSERT ON shelf.paddle TO refloat_app;\n")}}))
	stop(t, c)
	assert.NoError(t, c.Err(), "an ordered stop is no error")
	assert.NoError(t, c.Stop(t.Context()), "stopping twice")
	assert.NoFileExists(t, filepath.Join(dir, "data", "postmaster.pid"))

	again := start(t, dir, true)
	assert.Equal(t, address, again.URL(Owner, Database))
	pool, err := Open(t.Context(), access.AppURL, 2)
	require.NoError(t, err)
	defer pool.Close()
	_, err = pool.Exec(t.Context(), "INSERT INTO shelf.paddle VALUES (1)")
	assert.NoError(t, err)
}

// prepareFourTimes prepares at the same time, as four processes would.
func prepareFourTimes(t *testing.T, c *Cluster) (access Access) {
	t.Helper()
	var runners errgroup.Group
	for range 4 {
		runners.Go(func() error { return Prepare(t.Context(), c.URL(Super, "postgres"), c.passwords) })
	}
	require.NoError(t, runners.Wait())
	access, err := c.Prepare(t.Context())
	require.NoError(t, err, "and once more")
	return access
}

func TestAKilledParentTakesTheServerAlong(t *testing.T) {
	t.Parallel()
	dir := newDir(t)
	helper := exec.Command(os.Args[0])
	helper.Env = append(os.Environ(), helperDir+"="+dir)
	out, err := helper.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, helper.Start())
	line, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(t, err)
	pid, err := strconv.Atoi(strings.TrimSpace(line))
	require.NoError(t, err, "the helper said: %s", line)
	require.True(t, alive(pid))

	require.NoError(t, helper.Process.Kill())
	_ = helper.Wait() // killed, as ordered
	require.Eventually(t, func() bool { return !alive(pid) }, time.Minute, 5*time.Millisecond)
	c := start(t, dir, true)
	assert.Equal(t, "thwart", ask(t, c, "SELECT word FROM kept"))
}

// orphan runs a server in the cluster's folder that does not hear of anybody's
// death, as one is whose parent could not ask for that.
func orphan(t *testing.T, c *Cluster) *exec.Cmd {
	t.Helper()
	require.NoError(t, c.folder.makeOwned(c.folder.socket))
	cmd := c.command(context.Background(), "postgres", c.folder.data(), c.settings()...)
	require.NoError(t, cmd.Start())
	go func() { _ = cmd.Wait() }()
	require.NoError(t, func() error {
		c.done = make(chan struct{})
		return c.awaitReady(t.Context())
	}())
	return cmd
}

func TestAServerThatWasLeftBehindIsStopped(t *testing.T) {
	t.Parallel()
	dir := newDir(t)
	first := start(t, dir, false)
	stop(t, first)
	left := orphan(t, &Cluster{folder: first.folder, programs: first.programs, passwords: first.passwords})
	require.Contains(t, serversIn(first.folder.data()), left.Process.Pid)

	c := start(t, dir, false)
	assert.NotEqual(t, left.Process.Pid, c.Pid())
	assert.False(t, alive(left.Process.Pid))
	assert.Equal(t, "1", ask(t, c, "SELECT '1'"))
}

func TestAStrangerWithTheOldProcessNumberIsLeftAlone(t *testing.T) {
	t.Parallel()
	dir := newDir(t)
	c := start(t, dir, false)
	stop(t, c)
	stranger := exec.Command("sleep", "60")
	stranger.SysProcAttr = &syscall.SysProcAttr{Credential: c.folder.runAs, Pdeathsig: syscall.SIGKILL}
	stranger.Dir = "/"
	require.NoError(t, stranger.Start())
	t.Cleanup(func() { _ = stranger.Process.Kill(); _ = stranger.Wait() })
	pidFile := filepath.Join(c.folder.data(), "postmaster.pid")
	require.NoError(t, os.WriteFile(pidFile, fmt.Appendf(nil, "%d\n%s\n", stranger.Process.Pid, c.folder.data()), 0o600))
	require.NoError(t, c.folder.giveAway(pidFile))

	start(t, dir, false)
	assert.True(t, alive(stranger.Process.Pid))
}

func TestAServerThatDiesIsReported(t *testing.T) {
	t.Parallel()
	dir := newDir(t)
	c := start(t, dir, true)
	ask(t, c, "SELECT 'checkpoint'")
	require.NoError(t, c.Err())
	require.NoError(t, syscall.Kill(c.Pid(), syscall.SIGKILL))
	<-c.Done()
	assert.ErrorContains(t, c.Err(), "ended by itself")
	stop(t, c)
	again := start(t, dir, true)
	ask(t, again, "SELECT 'recovered'")

	ended, cancel := context.WithCancel(t.Context())
	cancel()
	assert.ErrorIs(t, again.Stop(ended), context.Canceled, "a stop without patience cuts short")
	assert.False(t, alive(again.Pid()))
}

func TestALongFolderGetsAShortSocket(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(newDir(t), strings.Repeat("a-very-long-name-", 8))
	c := start(t, dir, false)
	socket := filepath.Join(c.folder.socket, socketName)
	assert.LessOrEqual(t, len(socket), socketLimit)
	assert.False(t, strings.HasPrefix(socket, dir))
	stop(t, c)
	assert.NoDirExists(t, c.folder.socket)

	t.Run("a trap in the shared place is refused", func(t *testing.T) {
		require.NoError(t, os.Mkdir(c.folder.socket, 0o777))
		require.NoError(t, c.folder.giveAway(c.folder.socket))
		require.NoError(t, os.Chmod(c.folder.socket, 0o777))
		defer func() { _ = os.Remove(c.folder.socket) }()
		_, err := StartCluster(t.Context(), ClusterConfig{Dir: dir, Log: quiet()})
		assert.ErrorContains(t, err, c.folder.socket)
	})
}

// The server's user cannot pass through a folder above, as in a fresh temporary
// folder of root: it is handed the data folder itself, at every start.
func TestAFolderOutOfReachIsHandedOver(t *testing.T) {
	t.Parallel()
	if os.Geteuid() != 0 {
		t.Skip("only root hands the server to another user")
	}
	closed := filepath.Join(newDir(t), "closed")
	require.NoError(t, os.Mkdir(closed, 0o700))
	dir := filepath.Join(closed, "below", "db")
	for _, statement := range []string{"CREATE TABLE kept (n int)", "INSERT INTO kept VALUES (1)"} {
		c, err := StartCluster(t.Context(), ClusterConfig{Dir: dir, Log: quiet()})
		require.NoError(t, err)
		conn, err := pgx.Connect(t.Context(), c.URL(Super, "postgres"))
		require.NoError(t, err)
		_, err = conn.Exec(t.Context(), statement)
		assert.NoError(t, err)
		require.NoError(t, conn.Close(t.Context()))
		require.NoError(t, c.Stop(t.Context()))
	}
}

func TestProgramsAreFound(t *testing.T) {
	t.Parallel()
	_, err := findInstallation(t.TempDir(), 0)
	assert.Error(t, err, "a folder without postgres")
	_, err = findInstallation("", 9)
	assert.ErrorContains(t, err, "PostgreSQL 9, which wrote the data")
	found, err := findInstallation("", 0)
	require.NoError(t, err)
	assert.GreaterOrEqual(t, found.major, oldestMajor)

	// The forms of "postgres --version": Debian's own package and two
	// pre-release forms (from memory).
	for banner, want := range map[string]int{
		"postgres (PostgreSQL) 15.18 (Debian 15.18-0+deb12u1)\n": 15,
		"postgres (PostgreSQL) 19devel\n":                        19,
		"postgres (PostgreSQL) 18beta1\n":                        18,
	} {
		major, err := parseMajor(banner)
		require.NoError(t, err)
		assert.Equal(t, want, major, banner)
	}
	for _, banner := range []string{"", "postgres", "postgres (PostgreSQL)", "postgres (PostgreSQL) x"} {
		_, err := parseMajor(banner)
		assert.Error(t, err, banner)
	}
}

func TestTheServersSeveritiesAreSorted(t *testing.T) {
	t.Parallel()
	var levels []slog.Level
	for _, line := range []string{"LOG:  x", "ERROR:  x", "WARNING:  x", "FATAL:  x", "PANIC:  x", ""} {
		levels = append(levels, level(line))
	}
	assert.True(t, slices.IsSorted(levels[:5]), "%v", levels)
	assert.Equal(t, slog.LevelDebug, levels[5])
}
