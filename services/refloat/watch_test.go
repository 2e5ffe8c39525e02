package main

import (
	"encoding/json"
	"net/http"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/postgrestest"
	"refloat.example/pkg/watch"
)

// A running process says how it does, to programs and to whoever asks for status.
func TestAProcessTellsHowItDoes(t *testing.T) {
	t.Parallel()
	i := newPlayedInstallation(t)
	quiet := i.status()
	assert.Nil(t, quiet.Process, "nothing runs")
	serve := i.start("serve")
	serve.awaitReady()
	(&newcomers{client: i.client()}).register(t, 1)
	i.settle()
	s := i.status()
	require.NotNil(t, s.Process)
	assert.Empty(t, s.Process.Problem)
	require.NotNil(t, s.Process.Health)
	assert.True(t, s.Process.Health.Ready)
	assert.Equal(t, s.Events, s.Process.Health.Head)
	assert.Len(t, s.Process.Health.Rooms, len(allRooms))
	found := map[string]float64{}
	for _, f := range s.Process.Figures {
		found[f.Name+" "+f.About] = f.Value
	}
	assert.InDelta(t, 1, found["refloat_appends_total outcome=written"], 0)
	assert.InDelta(t, 1, found["refloat_writer_leads "], 0)
	assert.InDelta(t, 1, found["refloat_order_seconds outcome=answered room=people sort=do"], 0)
	assert.InDelta(t, float64(s.Events), found["refloat_relay_position "], 0)
	out, problems, code := i.run("status", "--table")
	require.Equal(t, exitOK, code, problems)
	for _, part := range []string{"the book ends at", "people", "ready", "refloat_append_seconds", "half below"} {
		assert.Contains(t, out, part)
	}
	serve.interrupt()
}

// Without its database a process is alive and not ready; afterwards it is again.
func TestAProcessWithoutItsDatabaseIsNotReady(t *testing.T) {
	t.Parallel()
	cluster := postgrestest.NewCluster(t)
	access, err := cluster.Prepare(t.Context())
	require.NoError(t, err)
	i := newInstallation(t, "REFLOAT_DATABASE_URL="+access.AppURL, "REFLOAT_DATABASE_OWNER_URL="+access.OwnerURL)
	serve := i.start("serve")
	serve.awaitReady()
	cfg, _, err := readConfig("test", nil, i.setting, nil, nil)
	require.NoError(t, err)
	n, running := readNotice(cfg)
	require.True(t, running, filepath.Join(i.data(), "running.json"))

	awaitStatus(t, n.Watch+"/health/ready", http.StatusOK)
	cluster.Kill()
	h := awaitStatus(t, n.Watch+"/health/ready", http.StatusServiceUnavailable)
	assert.Equal(t, "the database does not answer", h.Why)
	awaitStatus(t, n.Watch+"/health/ready/people", http.StatusServiceUnavailable)
	alive, err := http.Get(n.Watch + "/health/live")
	require.NoError(t, err)
	require.NoError(t, alive.Body.Close())
	assert.Equal(t, http.StatusOK, alive.StatusCode)
	cluster.Start()
	awaitStatus(t, n.Watch+"/health/ready", http.StatusOK)
}

// awaitStatus asks until the answer has a status.
func awaitStatus(t *testing.T, address string, want int) (h watch.Health) {
	t.Helper()
	require.Eventually(t, func() bool {
		answer, err := http.Get(address)
		if err != nil {
			return false
		}
		defer func() { _ = answer.Body.Close() }()
		return json.NewDecoder(answer.Body).Decode(&h) == nil && answer.StatusCode == want
	}, 40*time.Second, 50*time.Millisecond, "%+v", &h)
	return h
}
