package mail

import (
	"bufio"
	"bytes"
	"crypto/tls"
	"errors"
	"io"
	"mime/quotedprintable"
	"net"
	"net/http/httptest"
	netmail "net/mail"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-smtp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/fault"
)

const club = "\"Quillwater Paddlers\" <book@quillwater.example>"

// Made with Python's hashlib, from the key of the letter below.
const pythonsDigest = "caefe79a023c77f086c3803b0f0f11fe"

func letter() Letter {
	return Letter{
		Key: "link-0198.a_b", To: "ada@example.org", Subject: "Ihr Boot · votre bateau · tu canoa ñ",
		Text: "Your request:\n\nhttps://quillwater.example/link/" + strings.Repeat("0123456789abcdef", 8) + "\n.\nEnd.\n",
		At:   time.Date(2026, 4, 1, 14, 0, 0, 0, time.FixedZone("", 7200)),
	}
}

// read parses a letter with the standard library, which did not write it.
func read(t *testing.T, raw []byte) (netmail.Header, string) {
	t.Helper()
	m, err := netmail.ReadMessage(bytes.NewReader(raw))
	require.NoError(t, err)
	require.Equal(t, "quoted-printable", m.Header.Get("Content-Transfer-Encoding"))
	text, err := io.ReadAll(quotedprintable.NewReader(m.Body))
	require.NoError(t, err)
	return m.Header, strings.ReplaceAll(string(text), "\r\n", "\n")
}

func TestALetterInTheFolderIsAMailThatOthersRead(t *testing.T) {
	path := filepath.Join(t.TempDir(), "letters")
	f, err := NewFolder(path, club)
	require.NoError(t, err)
	l := letter()
	require.NoError(t, f.Send(t.Context(), l))
	file := filepath.Join(path, l.Key+".eml")
	raw, err := os.ReadFile(file)
	require.NoError(t, err)

	head, text := read(t, raw)
	assert.Equal(t, l.Text, strings.TrimSuffix(text, "\n")+"\n")
	assert.Equal(t, "<ada@example.org>", head.Get("To"))
	assert.Equal(t, club, head.Get("From"))
	assert.Equal(t, "<"+pythonsDigest+"@quillwater.example>", head.Get("Message-ID"))
	assert.Equal(t, "auto-generated", head.Get("Auto-Submitted"))
	date, err := head.Date()
	require.NoError(t, err)
	assert.True(t, l.At.Equal(date))
	for _, tell := range []string{"X-Mailer", "User-Agent"} {
		assert.Empty(t, head.Get(tell))
	}
	for _, line := range bytes.Split(raw, []byte("\r\n")) {
		assert.LessOrEqual(t, len(line), 998, "RFC 5322 §2.1.1")
	}

	info, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o700), info.Mode().Perm())
	info, err = os.Stat(file)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm(), "others must not read the links")

	require.NoError(t, f.Send(t.Context(), l))
	again, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, raw, again, "the same letter is the same file")
	left, err := os.ReadDir(path)
	require.NoError(t, err)
	assert.Len(t, left, 1, "no draft stays behind")
}

func TestLettersThatNobodyShouldSend(t *testing.T) {
	path := t.TempDir()
	f, err := NewFolder(path, club)
	require.NoError(t, err)
	for name, spoil := range map[string]func(*Letter){
		"no key":                  func(l *Letter) { l.Key = "" },
		"a key that leaves":       func(l *Letter) { l.Key = "../x" },
		"a key that hides":        func(l *Letter) { l.Key = ".x" },
		"a long key":              func(l *Letter) { l.Key = strings.Repeat("k", maxKey+1) },
		"no address":              func(l *Letter) { l.To = "" },
		"a second address":        func(l *Letter) { l.To = "a@example.org, b@example.org" },
		"a header in the address": func(l *Letter) { l.To = "a@example.org\r\nBcc: b@example.org" },
		"a header in the subject": func(l *Letter) { l.Subject = "x\r\nBcc: b@example.org" },
		"a long subject":          func(l *Letter) { l.Subject = strings.Repeat("s", maxSubject+1) },
		"a text without end":      func(l *Letter) { l.Text = strings.Repeat("t", maxText+1) },
	} {
		l := letter()
		spoil(&l)
		assert.ErrorIs(t, f.Send(t.Context(), l), ErrRefused, name)
	}
	left, err := os.ReadDir(path)
	require.NoError(t, err)
	assert.Empty(t, left)
}

func TestAddresses(t *testing.T) {
	for given, want := range map[string]string{
		"ada@example.org": "ada@example.org", "  Ada@Example.ORG\n": "Ada@example.org", "a+b@sub.example.org": "a+b@sub.example.org",
		"": "", "ada": "", "ada@": "", "@example.org": "", "Ada <ada@example.org>": "", "<ada@example.org>": "",
		"ada@example.org, bee@example.org": "", "ada@example.org\nBcc: x@example.org": "",
		strings.Repeat("a", MaxAddress-11) + "@example.org": "", "\"a b\"@example.org": "",
	} {
		got, err := CheckAddress("mail", given)
		assert.Equal(t, want, got, "%q", given)
		if want == "" {
			assert.Equal(t, "mail", fault.Of(err).Field, "%q", given)
		}
	}
	longest, err := CheckAddress("mail", strings.Repeat("a", MaxAddress-12)+"@example.org")
	require.NoError(t, err)
	assert.Len(t, longest, MaxAddress)
}

// postOffice is a mail server inside the test.
type postOffice struct {
	taken  [][]byte
	to     []string
	atRcpt error
	atData error
}

func (p *postOffice) NewSession(*smtp.Conn) (smtp.Session, error) { return p, nil }
func (*postOffice) Reset()                                        {}
func (*postOffice) Logout() error                                 { return nil }
func (*postOffice) Mail(string, *smtp.MailOptions) error          { return nil }

func (p *postOffice) Rcpt(to string, _ *smtp.RcptOptions) error {
	p.to = append(p.to, to)
	return p.atRcpt
}

func (p *postOffice) Data(r io.Reader) error {
	raw, err := io.ReadAll(r)
	if p.atData != nil {
		return p.atData
	}
	p.taken = append(p.taken, raw)
	return err
}

// open lets a post office take letters on a port of its own.
func (p *postOffice) open(t *testing.T, config *tls.Config) Server {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	server := smtp.NewServer(p)
	server.Domain, server.TLSConfig = "post.example", config
	served := make(chan struct{})
	go func() { defer close(served); _ = server.Serve(listener) }()
	t.Cleanup(func() { _ = server.Close(); <-served })
	return Server{Host: "127.0.0.1", Port: listener.Addr().(*net.TCPAddr).Port, From: club, TLS: NoTLS}
}

func TestAMailServerTakesTheSameLetter(t *testing.T) {
	office := &postOffice{}
	way, err := NewSMTP(office.open(t, nil))
	require.NoError(t, err)
	require.NoError(t, way.Send(t.Context(), letter()))
	require.NoError(t, way.Send(t.Context(), letter()))
	require.Len(t, office.taken, 2)
	assert.Equal(t, office.taken[0], office.taken[1], "repeating sends the same bytes")
	assert.Equal(t, []string{"ada@example.org", "ada@example.org"}, office.to)
	head, text := read(t, office.taken[0])
	assert.Equal(t, letter().Text, strings.TrimSuffix(text, "\n")+"\n")
	assert.Empty(t, head.Get("X-Mailer"))
}

func TestRefusalsThatAreFinalAreToldFromThoseThatPass(t *testing.T) {
	reply := func(code int) error { return &smtp.SMTPError{Code: code, Message: "no"} }
	for name, row := range map[string]struct {
		office postOffice
		final  bool
	}{
		"no such address":       {postOffice{atRcpt: reply(550)}, true},
		"the box is full today": {postOffice{atRcpt: reply(452)}, false},
		"the text is refused":   {postOffice{atData: reply(554)}, true},
		"a disk is full":        {postOffice{atData: reply(451)}, false},
	} {
		t.Run(name, func(t *testing.T) {
			way, err := NewSMTP(row.office.open(t, nil))
			require.NoError(t, err)
			err = way.Send(t.Context(), letter())
			require.Error(t, err)
			assert.Equal(t, row.final, errors.Is(err, ErrRefused), "%v", err)
			assert.NotErrorIs(t, err, ErrUnknown, "what was refused was not taken")
		})
	}
	t.Run("nobody listens", func(t *testing.T) {
		way, err := NewSMTP(Server{Host: "127.0.0.1", Port: 1, From: club, TLS: NoTLS})
		require.NoError(t, err)
		err = way.Send(t.Context(), letter())
		require.Error(t, err)
		assert.NotErrorIs(t, err, ErrRefused)
		assert.NotErrorIs(t, err, ErrUnknown)
	})
}

// The server takes the letter and is gone before it can say so.
func TestALetterWithoutAnAnswerMayBeOnItsWay(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	taken := make(chan string, 1)
	go func() {
		conn, err := listener.Accept()
		if err != nil {
			return
		}
		defer func() { _ = conn.Close() }()
		text := bufio.NewReader(conn)
		say := func(line string) { _, _ = io.WriteString(conn, line+"\r\n") }
		say("220 post.example")
		for line, err := text.ReadString('\n'); err == nil && !strings.HasPrefix(line, "DATA"); line, err = text.ReadString('\n') {
			say("250 fine")
		}
		say("354 go on")
		var letter strings.Builder
		for line, err := text.ReadString('\n'); err == nil && line != ".\r\n"; line, err = text.ReadString('\n') {
			letter.WriteString(line)
		}
		taken <- letter.String()
	}()
	defer func() { _ = listener.Close() }()
	way, err := NewSMTP(Server{Host: "127.0.0.1", Port: listener.Addr().(*net.TCPAddr).Port, From: club, TLS: NoTLS})
	require.NoError(t, err)
	err = way.Send(t.Context(), letter())
	require.ErrorIs(t, err, ErrUnknown)
	assert.NotErrorIs(t, err, ErrRefused)
	assert.Contains(t, <-taken, "Message-ID: <"+pythonsDigest)
	assert.False(t, way.Repeats())
}

func TestNoLetterTravelsUnprotectedWhenTLSIsAsked(t *testing.T) {
	office := &postOffice{}
	settings := office.open(t, nil) // offers no STARTTLS
	settings.TLS = StartTLS
	way, err := NewSMTP(settings)
	require.NoError(t, err)
	require.Error(t, way.Send(t.Context(), letter()))

	// A certificate that nobody vouches for.
	https := httptest.NewUnstartedServer(nil)
	https.StartTLS()
	defer https.Close()
	settings = office.open(t, &tls.Config{Certificates: https.TLS.Certificates})
	settings.TLS = StartTLS
	way, err = NewSMTP(settings)
	require.NoError(t, err)
	require.Error(t, way.Send(t.Context(), letter()))
	assert.Empty(t, office.taken)
	assert.Empty(t, office.to, "not even the address")
}

func TestSettingsThatCannotWork(t *testing.T) {
	good := Server{Host: "mail.example", Port: 587, From: club, TLS: StartTLS}
	_, err := NewSMTP(good)
	require.NoError(t, err)
	for name, spoil := range map[string]func(*Server){
		"no host":                 func(s *Server) { s.Host = "" },
		"no port":                 func(s *Server) { s.Port = 0 },
		"no address":              func(s *Server) { s.From = "" },
		"an unknown way":          func(s *Server) { s.TLS = "" },
		"a password in the clear": func(s *Server) { s.TLS, s.User = NoTLS, "book" },
	} {
		bad := good
		spoil(&bad)
		_, err := NewSMTP(bad)
		assert.Error(t, err, name)
	}
}
