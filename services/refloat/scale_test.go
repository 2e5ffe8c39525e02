package main

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/postgrestest"
)

// nodes is the size of the cluster: the event stream has a copy on each.
const nodes = 3

// A clustered installation has a PostgreSQL, three NATS servers and several
// processes that each run every room.
type clustered struct {
	*installation
	nats   [nodes]*exec.Cmd
	config [nodes]string
	access bus.Access // the operator's
}

func newClustered(t *testing.T) *clustered {
	t.Helper()
	access, err := postgrestest.NewCluster(t).Prepare(t.Context())
	require.NoError(t, err)
	c := &clustered{}
	folder := t.TempDir()
	var clients, routes [nodes]string
	for n := range nodes {
		clients[n] = fmt.Sprintf("nats://127.0.0.1:%d", freePort(t))
		routes[n] = fmt.Sprintf("nats://127.0.0.1:%d", freePort(t))
	}
	users := filepath.Join(folder, "users.json")
	passwords, err := busPasswords(users)
	require.NoError(t, err)
	for n := range nodes {
		c.config[n] = nodeConfig(t, folder, n, clients[n], routes, passwords)
	}
	c.access = bus.Access{URL: strings.Join(clients[:], ","), User: bus.Operator, Password: passwords[bus.Operator]}
	c.installation = newInstallation(t, "REFLOAT_DATABASE_URL="+access.AppURL, "REFLOAT_DATABASE_OWNER_URL="+access.OwnerURL,
		"REFLOAT_NATS_URL="+c.access.URL, "REFLOAT_NATS_USERS="+users, "REFLOAT_NATS_REPLICAS=3")
	for n := range nodes {
		c.startNode(n)
	}
	t.Cleanup(func() {
		for n := range nodes {
			c.killNode(n)
		}
	})
	return c
}

func nodeConfig(t *testing.T, folder string, n int, client string, routes [nodes]string, passwords map[string]string) string {
	t.Helper()
	var users strings.Builder
	for _, name := range busNames() {
		fmt.Fprintln(&users, bus.UserConfig(name, passwords[name]))
	}
	list, err := json.Marshal(routes)
	require.NoError(t, err)
	name := fmt.Sprintf("node-%d", n)
	text := fmt.Sprintf("server_name: %s\nlisten: %q\nmax_payload: %d\njetstream { store_dir: %q }\ncluster { name: club, listen: %q, routes: %s }\nauthorization { users: [\n%s] }\n",
		name, strings.TrimPrefix(client, "nats://"), bus.MaxPayload, filepath.Join(folder, name), strings.TrimPrefix(routes[n], "nats://"), list, users.String())
	config := filepath.Join(folder, name+".conf")
	require.NoError(t, os.WriteFile(config, []byte(text), 0o600))
	return config
}

func (c *clustered) startNode(n int) {
	c.t.Helper()
	folder, err := programs()
	require.NoError(c.t, err)
	c.nats[n] = exec.Command(filepath.Join(folder, "nats-server"), "--config", c.config[n])
	require.NoError(c.t, c.nats[n].Start())
}

func (c *clustered) killNode(n int) {
	_ = c.nats[n].Process.Kill()
	_ = c.nats[n].Wait()
}

// stream gives the node that leads the event stream, and whether every copy is
// complete.
func (c *clustered) stream(conn *bus.Conn) (leader int, whole bool) {
	ctx, cancel := context.WithTimeout(c.t.Context(), 5*time.Second)
	defer cancel()
	stream, err := conn.JetStream().Stream(ctx, bus.BookStream)
	if err != nil || stream.CachedInfo().Cluster == nil {
		return 0, false
	}
	cluster := stream.CachedInfo().Cluster
	whole = len(cluster.Replicas) == nodes-1
	for _, r := range cluster.Replicas {
		whole = whole && r.Current && !r.Offline
	}
	_, err = fmt.Sscanf(cluster.Leader, "node-%d", &leader)
	return leader, whole && err == nil
}

// A crowd gives orders all the time, several at once, each reading what the one
// before wrote, and trying again until it is answered.
type crowd struct {
	client desk.Client
	next   atomic.Int64
	done   atomic.Int64

	mu     sync.Mutex
	pauses []time.Duration
	worst  time.Duration
	faults map[fault.Kind]int
	acked  map[int]int64 // position that the order was answered with
}

func (c *crowd) work(t *testing.T, workers int, stop <-chan struct{}) *sync.WaitGroup {
	var all sync.WaitGroup
	for range workers {
		all.Go(func() {
			seen := int64(0)
			for {
				select {
				case <-stop:
					return
				default:
					seen = c.insist(t, int(c.next.Add(1)), seen)
				}
			}
		})
	}
	return &all
}

// insist gives one order until it is taken, and notes how long that took.
func (c *crowd) insist(t *testing.T, number int, seen int64) int64 {
	begin := time.Now()
	for {
		reply, err := c.client.Do(t.Context(), desk.Asking{By: people.Service(desk.AtMachine), Key: fmt.Sprintf("newcomer/%d", number), Seen: seen}, message.RegisterPerson{
			Person: newcomer(number), Sort: message.DonorSort, Consent: "paper", Details: message.PersonDetails{Name: fmt.Sprintf("Newcomer Number %d", number)},
		})
		c.mu.Lock()
		if err == nil {
			c.pauses = append(c.pauses, time.Since(begin))
			c.worst = max(c.worst, time.Since(begin))
			c.acked[number] = reply.Position
			c.mu.Unlock()
			c.done.Add(1)
			return reply.Position
		}
		c.faults[fault.Of(err).Kind]++
		c.mu.Unlock()
		if !fault.Is(err, fault.Unavailable) && !fault.Is(err, fault.Busy) || time.Since(begin) > 90*time.Second {
			t.Errorf("order %d: %v", number, err)
			return seen
		}
		select {
		case <-time.After(20 * time.Millisecond):
		case <-t.Context().Done():
		}
	}
}

// longest gives the longest pause since the last call.
func (c *crowd) longest() (pause time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, p := range c.pauses {
		pause = max(pause, p)
	}
	c.pauses = nil
	return pause
}

// more waits until so many further orders are answered.
func (c *crowd) more(t *testing.T, n int64) {
	t.Helper()
	from := c.done.Load()
	require.Eventually(t, func() bool { return c.done.Load() >= from+n }, 90*time.Second, 5*time.Millisecond, "only %d of %d further orders were answered", c.done.Load()-from, n)
}

// Three NATS nodes, two processes with every room each. In the middle of a load the
// node that leads the event stream is killed, then each process in turn; each comes
// back. Nothing that was answered is lost or doubled, and nobody waits for long: the
// pauses stand in the test's log.
func TestLosingANodeOrAProcessLosesNothing(t *testing.T) {
	t.Parallel()
	c := newClustered(t)
	instances := make([]*process, rounds(2, 3))
	for n := range instances {
		instances[n] = c.start("serve")
		instances[n].awaitReady()
	}
	conn, err := bus.Connect(t.Context(), bus.Operator, c.access, quietLog())
	require.NoError(t, err)
	t.Cleanup(conn.Close)
	crowd := &crowd{client: desk.Client{Conn: conn}, faults: map[fault.Kind]int{}, acked: map[int]int64{}}
	stop := make(chan struct{})
	working := crowd.work(t, 8, stop)
	crowd.more(t, 50)
	t.Logf("undisturbed: longest pause %v", crowd.longest())

	for range rounds(1, 10) {
		var leader int
		require.Eventually(t, func() (whole bool) { leader, whole = c.stream(conn); return whole }, 60*time.Second, 100*time.Millisecond, "the cluster is not whole")
		crowd.longest()
		c.killNode(leader)
		crowd.more(t, 100)
		t.Logf("node %d, which led the stream, was killed: longest pause %v", leader, crowd.longest())
		c.startNode(leader)
		for n := range instances {
			crowd.more(t, int64(20+rand.IntN(30)))
			crowd.longest()
			instances[n].kill()
			crowd.more(t, 100)
			t.Logf("process %d was killed: longest pause %v", n, crowd.longest())
			instances[n] = c.start("serve")
			instances[n].awaitReady()
		}
	}
	close(stop)
	working.Wait()
	t.Logf("%d orders were answered, the slowest after %v; on the way there were %v", crowd.done.Load(), crowd.worst, crowd.faults)
	assert.Less(t, crowd.worst, time.Minute, "somebody was left waiting")
	c.nothingIsLost(crowd)
}

// nothingIsLost holds what was answered against the book, and the rooms' tables.
func (c *clustered) nothingIsLost(crowd *crowd) {
	c.t.Helper()
	c.settle()
	_, problems, code := c.run("verify")
	require.Equal(c.t, exitOK, code, problems)
	cfg, _, err := readConfig("test", nil, c.setting, nil, nil)
	require.NoError(c.t, err)
	b, err := openBook(c.t.Context(), cfg, quietLog())
	require.NoError(c.t, err)
	defer b.close()
	registered, positions := 0, map[string]int64{}
	require.NoError(c.t, b.reader().Each(c.t.Context(), 0, 0, func(e message.Event) error {
		if e.Kind == (message.PersonRegistered{}).Kind() {
			registered++
		}
		positions[e.RequestKey] = max(positions[e.RequestKey], e.Position)
		return nil
	}))
	for number, position := range crowd.acked {
		assert.Equal(c.t, position, positions[fmt.Sprintf("newcomer/%d", number)], "order %d", number)
	}
	assert.Equal(c.t, int(crowd.done.Load()), registered, "none is lost, none is there twice")
	var rows int
	require.NoError(c.t, b.pool.QueryRow(c.t.Context(), `SELECT count(*) FROM people.person`).Scan(&rows))
	assert.Equal(c.t, registered, rows)
}
