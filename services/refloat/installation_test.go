package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/browsertest"
	"refloat.example/pkg/postgres"
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
	_ = os.RemoveAll(played.folder)
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
	return installationIn(t, t.TempDir(), env...)
}

func installationIn(t *testing.T, folder string, env ...string) *installation {
	return &installation{t, folder, append([]string{
		"PATH=" + os.Getenv("PATH"), "HOME=" + folder, "REFLOAT_LISTEN=127.0.0.1:0", "REFLOAT_LOG_LEVEL=warn",
		"REFLOAT_DATA=" + filepath.Join(folder, "data"), "REFLOAT_KEYS=" + filepath.Join(folder, "keys"), "REFLOAT_MAIL=" + filepath.Join(folder, "mail"),
		"REFLOAT_CHECKPOINTS=" + filepath.Join(folder, "checkpoints"),
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
	ctx, cancel := context.WithTimeout(i.t.Context(), 10*time.Minute)
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

// played is an installation in which the demonstration club was played, undisturbed,
// once for all tests of this package: a play takes longer than most of them.
var played struct {
	sync.Once
	folder string
	summary
}

func undisturbedSummary(t *testing.T) summary {
	t.Helper()
	played.Do(func() {
		folder, err := os.MkdirTemp("", "refloat-played-")
		require.NoError(t, err)
		played.folder = folder
		played.summary = installationIn(t, folder).play()
	})
	require.NotZero(t, played.Events, "the undisturbed play failed")
	return played.summary
}

// newPlayedInstallation gives a copy of the installation in which the club was played.
func newPlayedInstallation(t *testing.T) *installation {
	t.Helper()
	undisturbedSummary(t)
	i := newInstallation(t)
	said, err := exec.Command("cp", "--archive", "--reflink=auto", played.folder+"/.", i.folder).CombinedOutput()
	require.NoError(t, err, "%s", said)
	return i
}

// newOtherClub gives an installation of another club, which has written something
// into its book.
func newOtherClub(t *testing.T) *installation {
	t.Helper()
	i := newInstallation(t, "REFLOAT_ADMINISTRATOR=steward@otherclub.example")
	serve := i.start("serve")
	serve.awaitReady()
	i.settle()
	serve.interrupt()
	return i
}

// sameFacts checks that two plays came to the same, but for head, ids and times.
func sameFacts(t *testing.T, want, got summary) {
	t.Helper()
	want.Ledger.Head, got.Ledger.Head = "", ""
	assert.Equal(t, want, got)
}

func TestTheDemonstrationClubIsPlayedOnce(t *testing.T) {
	t.Parallel()
	first := undisturbedSummary(t)
	i := newPlayedInstallation(t)
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
	v.withAPasskey()
	s.serving.interrupt()
	again := s.start("serve", "--administrator", "other@quillwater.example")
	again.awaitReady()
	again.interrupt()
	assert.Equal(t, 1, s.administrators(), "a club that has an administrator gets no other by a setting")
}

// withAPasskey adds a passkey, signs in with it, and removes it. The device is
// Chromium's own.
func (v *visitor) withAPasskey() {
	v.t.Helper()
	v.Passkeys()
	v.open("/signing-in")
	v.See("You have none.")
	v.DoNotSee("needs JavaScript")
	v.looksRight(axeScript(v.t), "signing in")
	v.Fill("#add-passkey", "name", "my phone")
	v.Press("#add-passkey", "Add a passkey")
	v.See("You can sign in with this passkey now.")
	v.See("never used")
	v.looksRight(axeScript(v.t), "signing in, with a passkey")
	v.picture("passkeys")
	// The device has one already.
	v.Fill("#add-passkey", "name", "my phone again")
	browsertest.Eval[bool](v.Tab, `document.querySelector("#add-passkey button").click(), true`)
	require.Eventually(v.t, func() bool { return v.Holds(`document.body.innerText.includes("has a passkey of yours already")`) }, time.Minute, 20*time.Millisecond)

	v.signOut()
	v.open("/club") // leads to signing in, and back
	v.looksRight(axeScript(v.t), "sign in, by passkey")
	v.picture("sign-in-by-passkey")
	v.Press("#passkey-sign-in", "Sign in with a passkey")
	v.See("legal name")
	v.open("/signing-in")
	v.DoNotSee("never used")
	v.Press("#passkey-list", "Remove my phone")
	v.See("The passkey signs nobody in any more.")
	v.signOut()
	v.open("/sign-in")
	v.Press("#passkey-sign-in", "Sign in with a passkey")
	v.See("The club does not take this passkey; use the link by mail")
	v.DoNotSee("Sign out")

	// Without scripts there is the link by mail.
	v.Scripts(false)
	v.open("/sign-in")
	v.DoNotSee("passkey")
	v.See("Send me a link")
	v.Scripts(true)
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
