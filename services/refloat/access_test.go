package main

import (
	"encoding/pem"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/bus"
)

// A process whose bus is an outside NATS over TLS says too that it runs.
func TestTheNoticeOfAProcessWithAnOutsideBus(t *testing.T) {
	server := httptest.NewTLSServer(http.NotFoundHandler()) // for its certificate
	defer server.Close()
	dir := t.TempDir()
	c := config{Data: dir, NATSURL: "nats://bus.example:4222", NATSUsers: filepath.Join(dir, "users"), NATSCA: filepath.Join(dir, "ca.pem")}
	require.NoError(t, os.WriteFile(c.NATSUsers, []byte(`{"operator": "secret"}`), 0o600))
	require.NoError(t, os.WriteFile(c.NATSCA, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: server.Certificate().Raw}), 0o600))

	access, err := outsideBus(c, bus.Operator)
	require.NoError(t, err)
	require.NotNil(t, access.TLS)
	require.NoError(t, notice{Pid: os.Getpid(), Bus: access}.post(c))
	n, running := readNotice(c)
	assert.True(t, running)
	assert.Equal(t, "nats://bus.example:4222", n.Bus.URL)
}
