package main

import (
	"encoding/json"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/postgrestest"
)

// rounds gives how often something is done: a small dose, or many in the long run.
func rounds(short, long int) int {
	if os.Getenv("REFLOAT_LONG") != "" {
		return long
	}
	return short
}

// The whole program is killed again and again while it plays, and started again,
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
			case <-time.After(time.Second + time.Duration(kills*300+rand.IntN(500))*time.Millisecond):
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

// One process after the other, of rooms, database and bus, is killed again and again
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
		deadline := time.After(10 * time.Minute)
		kills := 0
		for playing := true; playing; {
			select {
			case <-player.ended:
				playing = false
			case <-deadline:
				t.Fatalf("the play does not end: %s", player.out)
			// A little later each time, as above.
			case <-time.After(time.Second + time.Duration(kills)*100*time.Millisecond):
				// Who was starting while its database was killed has given up, and is
				// started again, as a service manager would.
				for n, one := range running {
					select {
					case <-one.ended:
						running[n] = o.installation.start("serve", "--rooms="+splitRooms[n])
					default:
					}
				}
				// Most kills wait until all have started: on a slow machine nothing would go on.
				if kills%4 != 3 && slices.ContainsFunc(running, func(one *process) bool { return !one.ready() }) {
					continue
				}
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
	for _, name := range busNames() {
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
