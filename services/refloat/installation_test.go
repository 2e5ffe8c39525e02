package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/postgres"
	"refloat.example/pkg/postgrestest"
)

// These tests run the program as an operator does: the real binary, in processes
// of its own, in folders of its own.

// demoFolder is the demonstration club, seen from this package.
const demoFolder = "../../testdata/demo"

// programs builds refloat and, for the tests past one machine, a NATS server, once.
var programs = sync.OnceValues(func() (folder string, err error) {
	if folder, err = os.MkdirTemp("", "refloat-programs-"); err != nil {
		return "", err
	}
	for name, pkg := range map[string]string{"refloat": ".", "nats-server": "github.com/nats-io/nats-server/v2"} {
		if out, err := exec.Command("go", "build", "-o", filepath.Join(folder, name), pkg).CombinedOutput(); err != nil {
			return "", fmt.Errorf("building %s: %w: %s", name, err, out)
		}
	}
	return folder, nil
})

func TestMain(m *testing.M) {
	code := m.Run()
	if folder, err := programs(); err == nil {
		_ = os.RemoveAll(folder)
	}
	os.Exit(code)
}

// An installation is a data folder with the settings to run refloat on it.
type installation struct {
	t      *testing.T
	folder string
	env    []string
}

func newInstallation(t *testing.T, env ...string) *installation {
	t.Helper()
	folder := t.TempDir()
	return &installation{t, folder, append([]string{
		"PATH=" + os.Getenv("PATH"), "HOME=" + folder, "REFLOAT_LISTEN=127.0.0.1:0", "REFLOAT_LOG_LEVEL=warn",
		"REFLOAT_DATA=" + filepath.Join(folder, "data"), "REFLOAT_KEYS=" + filepath.Join(folder, "keys"), "REFLOAT_MAIL=" + filepath.Join(folder, "mail"),
	}, env...)}
}

func (i *installation) data() string { return filepath.Join(i.folder, "data") }

func (i *installation) command(ctx context.Context, args ...string) *exec.Cmd {
	i.t.Helper()
	folder, err := programs()
	require.NoError(i.t, err)
	cmd := exec.CommandContext(ctx, filepath.Join(folder, "refloat"), args...)
	cmd.Env = i.env
	return cmd
}

// run runs refloat to its end and gives what it printed and its exit code.
func (i *installation) run(args ...string) (out, problems string, code int) {
	i.t.Helper()
	ctx, cancel := context.WithTimeout(i.t.Context(), 3*time.Minute)
	defer cancel()
	cmd := i.command(ctx, args...)
	var stdout, stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	err := cmd.Run()
	var exit *exec.ExitError
	if !errors.As(err, &exit) {
		require.NoError(i.t, err, "%s", stderr.String())
	}
	return stdout.String(), stderr.String(), cmd.ProcessState.ExitCode()
}

// play plays the demonstration club to its end and gives the summary.
func (i *installation) play() summary {
	i.t.Helper()
	out, problems, code := i.run("serve", "--demo", demoFolder, "--once")
	require.Equal(i.t, exitOK, code, problems)
	return summaryFrom(i.t, out)
}

func summaryFrom(t *testing.T, out string) summary {
	t.Helper()
	var s summary
	require.NoError(t, json.Unmarshal([]byte(out), &s), out)
	return s
}

// undisturbed is the summary of a play that nothing disturbed; it is made once.
var undisturbed struct {
	sync.Once
	summary
}

func undisturbedSummary(t *testing.T) summary {
	t.Helper()
	undisturbed.Do(func() { undisturbed.summary = newInstallation(t).play() })
	require.NotZero(t, undisturbed.Events, "the undisturbed play failed")
	return undisturbed.summary
}

// sameFacts checks that two plays came to the same, but for head, ids and times.
func sameFacts(t *testing.T, want, got summary) {
	t.Helper()
	want.Ledger.Head, got.Ledger.Head = "", ""
	assert.Equal(t, want, got)
}

func TestTheDemonstrationClubIsPlayedOnce(t *testing.T) {
	t.Parallel()
	i := newInstallation(t)
	first := i.play()
	assert.True(t, first.Ledger.OK)
	assert.Positive(t, first.Placed)
	assert.Positive(t, first.Papers)
	assert.Positive(t, first.Declined)
	assert.Equal(t, first, i.play(), "the second time doubles nothing")
	assert.Empty(t, processesIn(i.data()), "nothing is left running")

	t.Run("and nobody's name stands in the data folder", func(t *testing.T) { noNameInClear(t, i) })
	t.Run("and verify finds a changed byte", func(t *testing.T) { tamperIsFound(t, i, first) })
}

// noNameInClear looks for personal data of the demonstration club in every file
// of the data folder and in a dump.
func noNameInClear(t *testing.T, i *installation) {
	canaries := personalWords(t)
	require.NotEmpty(t, canaries)
	dump := filepath.Join(i.folder, "backups")
	out, problems, code := i.run("backup", dump)
	require.Equal(t, exitOK, code, problems)
	bin, err := postgres.Programs("")
	require.NoError(t, err)
	sql, err := exec.Command(filepath.Join(bin, "pg_restore"), "-f", "-", filepath.Join(strings.TrimSpace(out), dumpFile)).Output()
	require.NoError(t, err)
	require.Contains(t, string(sql), "intake.boat-logged", "the dump holds the book")
	for _, canary := range canaries {
		assert.NotContains(t, string(sql), canary, "in the dump")
	}
	err = filepath.WalkDir(i.data(), func(path string, entry fs.DirEntry, err error) error {
		if err != nil || !entry.Type().IsRegular() {
			return err
		}
		content, err := os.ReadFile(path)
		for _, canary := range canaries {
			assert.False(t, bytes.Contains(content, []byte(canary)), "%q stands in %s", canary, path)
		}
		return err
	})
	require.NoError(t, err)
}

// tamperIsFound changes one byte of one event as the superuser.
func tamperIsFound(t *testing.T, i *installation, s summary) {
	out, _, code := i.run("verify")
	require.Equal(t, exitOK, code)
	assert.Contains(t, out, fmt.Sprintf(`"events":%d`, s.Events))
	assert.Contains(t, out, s.Ledger.Head)

	cluster, err := postgres.StartCluster(t.Context(), postgres.ClusterConfig{Dir: filepath.Join(i.data(), "postgres"), Durable: true})
	require.NoError(t, err)
	conn, err := pgx.Connect(t.Context(), cluster.URL(postgres.Super, postgres.Database))
	require.NoError(t, err)
	_, err = conn.Exec(t.Context(), `SET session_replication_role = replica`)
	require.NoError(t, err)
	_, err = conn.Exec(t.Context(), `UPDATE ledger.event SET data = overlay(data placing '~' from length(data) - 1 for 1) WHERE position = 7`)
	require.NoError(t, err)
	require.NoError(t, conn.Close(t.Context()))
	require.NoError(t, cluster.Stop(t.Context()))

	out, problems, code := i.run("verify")
	assert.Equal(t, exitRefused, code)
	assert.Contains(t, out, `"position":7`)
	assert.Contains(t, problems, "position 7")
}

// personalWords gives names and mail addresses of the demonstration club's people.
func personalWords(t *testing.T) []string {
	t.Helper()
	var words []string
	for _, file := range []string{"people.csv", "boats.csv", "requests.csv"} {
		raw, err := os.ReadFile(filepath.Join(demoFolder, file))
		require.NoError(t, err)
		for _, field := range strings.FieldsFunc(string(raw), func(r rune) bool { return r == ',' || r == ';' || r == '\n' || r == '"' }) {
			if name, isMail := strings.CutSuffix(field, ".example"); isMail && strings.Contains(name, "@") {
				words = append(words, field)
			}
		}
	}
	return append(words, canaryNames...)
}

// canaryNames are people of the demonstration club whose names are like no word
// of the trade.
var canaryNames = []string{"Rosalind Umberfield", "Umberfield"}

// processesIn gives the processes whose command line names a folder.
func processesIn(folder string) []string {
	var found []string
	lines, _ := filepath.Glob("/proc/[0-9]*/cmdline")
	for _, file := range lines {
		if raw, err := os.ReadFile(file); err == nil && bytes.Contains(raw, []byte(folder)) {
			found = append(found, strings.ReplaceAll(string(raw), "\x00", " "))
		}
	}
	return found
}

func TestCtrlCLeavesNothingBehindAndAKilledServerIsRecovered(t *testing.T) {
	t.Parallel()
	i := newInstallation(t)
	serve := i.start("serve")
	serve.awaitReady()
	serve.kill()
	again := i.start("serve")
	again.awaitReady()
	again.interrupt()
	assert.Empty(t, processesIn(i.data()))
	_, err := os.Stat(filepath.Join(i.data(), "running.json"))
	assert.ErrorIs(t, err, os.ErrNotExist)
}

func TestTheFirstAdministratorIsLetInOnce(t *testing.T) {
	t.Parallel()
	s := serveSite(t, "--administrator", "first@quillwater.example")
	v := s.visit(t, 360, 740)
	v.signIn("first@quillwater.example")
	v.open("/club")
	v.See("legal name")
	s.serving.interrupt()
	again := s.start("serve", "--administrator", "other@quillwater.example")
	again.awaitReady()
	again.interrupt()
	assert.Equal(t, 1, s.administrators(), "a club that has an administrator gets no other by a setting")
}

// administrators counts them in an installation that does not run.
func (i *installation) administrators() (n int) {
	i.t.Helper()
	cfg, _, err := readConfig("test", nil, i.setting, nil, nil)
	require.NoError(i.t, err)
	b, err := openBook(i.t.Context(), cfg, quietLog())
	require.NoError(i.t, err)
	defer b.close()
	require.NoError(i.t, b.pool.QueryRow(i.t.Context(), `SELECT count(*) FROM people.roster_role WHERE role = 'administrator'`).Scan(&n))
	return n
}

// A process is a refloat that keeps running.
type process struct {
	t     *testing.T
	cmd   *exec.Cmd
	out   *watched
	ended chan struct{}
}

func (i *installation) start(args ...string) *process {
	i.t.Helper()
	p := &process{t: i.t, cmd: i.command(context.Background(), args...), out: &watched{}, ended: make(chan struct{})}
	p.cmd.Stdout, p.cmd.Stderr = p.out, p.out
	require.NoError(i.t, p.cmd.Start())
	go func() { _ = p.cmd.Wait(); close(p.ended) }()
	i.t.Cleanup(func() {
		p.kill()
		if i.t.Failed() {
			i.t.Logf("refloat %s said:\n%s", strings.Join(args, " "), p.out)
		}
	})
	return p
}

func (p *process) awaitReady() {
	p.t.Helper()
	require.Eventually(p.t, func() bool { return strings.Contains(p.out.String(), "Refloat is ready") }, 30*time.Second, 20*time.Millisecond, "%s", p.out)
}

func (p *process) kill() { _ = p.cmd.Process.Signal(syscall.SIGKILL); <-p.ended }

func (p *process) interrupt() {
	p.t.Helper()
	require.NoError(p.t, p.cmd.Process.Signal(syscall.SIGINT))
	select {
	case <-p.ended:
	case <-time.After(20 * time.Second):
		p.t.Fatalf("it does not stop: %s", p.out)
	}
	assert.Zero(p.t, p.cmd.ProcessState.ExitCode(), "%s", p.out)
}

// watched is output that can be read while it is written.
type watched struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (w *watched) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.text.Write(p)
}

func (w *watched) String() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.text.String()
}

// rounds gives how often something is done: a small dose, or many in the long run.
func rounds(short, long int) int {
	if os.Getenv("REFLOAT_LONG") != "" {
		return long
	}
	return short
}

// The whole program is killed every second while it plays, and started again,
// until it gets to the end.
func TestKillingTheProgramChangesNothing(t *testing.T) {
	t.Parallel()
	want := undisturbedSummary(t)
	for range rounds(1, 8) {
		i := newInstallation(t)
		kills := 0
		for done := false; !done && kills < 200; {
			p := i.start("serve", "--demo", demoFolder, "--once")
			select {
			case <-p.ended:
				require.Zero(t, p.cmd.ProcessState.ExitCode(), "%s", p.out)
				done = true
			// A little longer each time, so that a slow machine gets to the end too.
			case <-time.After(time.Second + time.Duration(kills*100+rand.IntN(500))*time.Millisecond):
				p.kill()
				kills++
			}
		}
		require.Positive(t, kills, "the play was over before anything was killed")
		sameFacts(t, want, i.play())
	}
}

// Three processes share the rooms, with a PostgreSQL and a NATS of their own.
func TestSplitRoomsComeToTheSame(t *testing.T) {
	t.Parallel()
	want := undisturbedSummary(t)
	o := newOutside(t)
	for _, rooms := range splitRooms {
		o.start("serve", "--rooms="+rooms)
	}
	out, problems, code := o.run("play", demoFolder)
	require.Equal(t, exitOK, code, problems)
	sameFacts(t, want, summaryFrom(t, out))
}

var splitRooms = []string{"people,intake,repair", "valuation,matching,treasury", "web"}

// One process after the other, of rooms, database and bus, is killed every second
// while the club is played, and started again.
func TestKillingAnyProcessChangesNothing(t *testing.T) {
	t.Parallel()
	want := undisturbedSummary(t)
	for range rounds(1, 5) {
		o := newOutside(t)
		running := make([]*process, len(splitRooms))
		for n, rooms := range splitRooms {
			running[n] = o.installation.start("serve", "--rooms="+rooms)
		}
		player := o.installation.start("play", demoFolder)
		deadline := time.After(3 * time.Minute)
		kills := 0
		for playing := true; playing; {
			select {
			case <-player.ended:
				playing = false
			case <-deadline:
				t.Fatalf("the play does not end: %s", player.out)
			case <-time.After(time.Second):
				kills++
				switch n := rand.IntN(len(splitRooms) + 2); n {
				case len(splitRooms):
					o.cluster.Kill()
					o.cluster.Start()
				case len(splitRooms) + 1:
					o.restartNATS()
				default:
					running[n].kill()
					running[n] = o.installation.start("serve", "--rooms="+splitRooms[n])
				}
			}
		}
		require.Zero(t, player.cmd.ProcessState.ExitCode(), "%s", player.out)
		lines := strings.Split(strings.TrimSpace(player.out.String()), "\n")
		sameFacts(t, want, summaryFrom(t, lines[len(lines)-1]))
		t.Logf("%d kills", kills)
	}
}

// outside is a PostgreSQL cluster and a NATS server of their own, as an operator
// would run them, and the settings to use them.
type outside struct {
	*installation
	cluster *postgrestest.Cluster
	nats    *exec.Cmd
	config  string
}

func newOutside(t *testing.T) *outside {
	t.Helper()
	cluster := postgrestest.NewCluster(t)
	access, err := cluster.Prepare(t.Context())
	require.NoError(t, err)
	o := &outside{cluster: cluster}
	folder := t.TempDir()
	port := freePort(t)
	users := filepath.Join(folder, "users.json")
	o.config = natsConfig(t, folder, port, users)
	o.installation = newInstallation(t,
		"REFLOAT_DATABASE_URL="+access.AppURL, "REFLOAT_DATABASE_OWNER_URL="+access.OwnerURL,
		fmt.Sprintf("REFLOAT_NATS_URL=nats://127.0.0.1:%d", port), "REFLOAT_NATS_USERS="+users)
	o.startNATS()
	t.Cleanup(o.stopNATS)
	return o
}

func (o *outside) startNATS() {
	o.t.Helper()
	folder, err := programs()
	require.NoError(o.t, err)
	o.nats = exec.Command(filepath.Join(folder, "nats-server"), "--config", o.config)
	require.NoError(o.t, o.nats.Start())
}

func (o *outside) stopNATS() {
	_ = o.nats.Process.Kill()
	_ = o.nats.Wait()
}

func (o *outside) restartNATS() {
	o.t.Helper()
	o.stopNATS()
	o.startNATS()
}

func freePort(t *testing.T) int {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer func() { _ = listener.Close() }()
	return listener.Addr().(*net.TCPAddr).Port
}

// natsConfig writes the configuration of an outside NATS with the permissions
// that each room needs, and the file with their passwords.
func natsConfig(t *testing.T, folder string, port int, usersFile string) string {
	t.Helper()
	passwords := map[string]string{}
	var users strings.Builder
	for _, name := range append(append([]string{}, allRooms...), bus.Relay, bus.Operator) {
		passwords[name] = "test-" + name
		fmt.Fprintln(&users, bus.UserConfig(name, passwords[name]))
	}
	raw, err := json.Marshal(passwords)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(usersFile, raw, 0o600))
	config := filepath.Join(folder, "nats.conf")
	text := fmt.Sprintf("listen: \"127.0.0.1:%d\"\nmax_payload: %d\njetstream { store_dir: %q }\nauthorization { users: [\n%s] }\n",
		port, bus.MaxPayload, filepath.Join(folder, "jetstream"), users.String())
	require.NoError(t, os.WriteFile(config, []byte(text), 0o600))
	return config
}

func quietLog() *slog.Logger { return slog.New(slog.DiscardHandler) }
