package main

import (
	"bytes"
	"fmt"
	"io"
	"net"
	netmail "net/mail"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-smtp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A postOffice is a mail server that counts letters by their Message-ID.
type postOffice struct {
	mu    sync.Mutex
	taken map[string]int
	// atFirst is called when the first letter is there whole, before its sender is
	// told.
	atFirst func()
	first   string
}

func (p *postOffice) NewSession(*smtp.Conn) (smtp.Session, error) { return p, nil }
func (*postOffice) Reset()                                        {}
func (*postOffice) Logout() error                                 { return nil }
func (*postOffice) Mail(string, *smtp.MailOptions) error          { return nil }
func (*postOffice) Rcpt(string, *smtp.RcptOptions) error          { return nil }

func (p *postOffice) Data(r io.Reader) error {
	raw, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	m, err := netmail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		return err
	}
	p.mu.Lock()
	id := m.Header.Get("Message-ID")
	p.taken[id]++
	first := p.first == ""
	if first {
		p.first = id
	}
	p.mu.Unlock()
	if first {
		p.atFirst()
	}
	return nil
}

func (p *postOffice) counts() (letters, most int, first int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, n := range p.taken {
		letters, most = letters+1, max(most, n)
	}
	return letters, most, p.taken[p.first]
}

// open serves on a port of its own and gives the setting that names it.
func (p *postOffice) open(t *testing.T) string {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	server := smtp.NewServer(p)
	server.Domain = "post.example"
	served := make(chan struct{})
	go func() { defer close(served); _ = server.Serve(listener) }()
	t.Cleanup(func() { _ = server.Close(); <-served })
	return fmt.Sprintf("REFLOAT_MAIL=smtp://%s", listener.Addr())
}

// The program is killed when a mail server has taken a letter and the program does
// not know it yet: between the effect and its record. Started again it sends every
// other letter, and none twice.
func TestAKillBetweenALetterAndItsRecordDoublesNothing(t *testing.T) {
	t.Parallel()
	started, killed := make(chan *process, 1), make(chan struct{})
	office := &postOffice{taken: map[string]int{}, atFirst: func() { (<-started).kill(); close(killed) }}
	i := newInstallation(t)
	i.env = append(i.env, office.open(t))
	serve := i.start("serve", "--demo", demoFolder)
	started <- serve
	select {
	case <-killed:
	case <-time.After(time.Minute):
		t.Fatalf("no letter came: %s", serve.out)
	}
	again := i.start("serve", "--demo", demoFolder)
	require.Eventually(t, func() bool { return again.ready() }, 2*time.Minute, 50*time.Millisecond, "%s", again.out)
	// Longer than an attempt is left alone for another process.
	require.Eventually(t, func() bool { return i.inDoubt() == 1 }, 2*time.Minute, 200*time.Millisecond, "the letter is in doubt, and a person is asked")
	letters, most, first := office.counts()
	assert.Greater(t, letters, 3, "the others left")
	assert.Equal(t, 1, most, "a letter came twice")
	assert.Equal(t, 1, first)
	again.interrupt()
}

// inDoubt counts the letters of which a running installation does not know whether
// they left.
func (i *installation) inDoubt() (n int) {
	i.t.Helper()
	cfg, _, err := readConfig("test", nil, i.setting, nil, nil)
	require.NoError(i.t, err)
	b, err := openBook(i.t.Context(), cfg, quietLog())
	require.NoError(i.t, err)
	defer b.close()
	require.NoError(i.t, b.pool.QueryRow(i.t.Context(), `SELECT count(*) FROM people.letter WHERE done_at IS NULL AND outcome <> ''`).Scan(&n))
	return n
}
