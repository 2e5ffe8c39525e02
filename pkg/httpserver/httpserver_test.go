package httpserver

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"refloat.example/pkg/lifecycle"
)

var _ lifecycle.Mortal = (*Server)(nil)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// logbook is a log that can be read while it is written.
type logbook struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (l *logbook) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(p)
}

func (l *logbook) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

type setup struct {
	*Server
	log    *logbook
	client *http.Client
}

func serve(t *testing.T, cfg Config) *setup {
	t.Helper()
	log := &logbook{}
	cfg.Addr, cfg.Log = "127.0.0.1:0", slog.New(slog.NewJSONHandler(log, nil))
	server, err := New(cfg)
	require.NoError(t, err)
	require.NoError(t, server.Start(t.Context()))
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	t.Cleanup(func() {
		_ = server.Stop(context.Background()) // some tests have stopped it
		client.CloseIdleConnections()
	})
	return &setup{server, log, client}
}

func (s *setup) do(t *testing.T, method, path, body string, header ...string) (*http.Response, string) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, "http://"+s.Addr()+path, strings.NewReader(body))
	require.NoError(t, err)
	for i := 0; i < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	answer, err := s.client.Do(r)
	require.NoError(t, err)
	defer func() { _ = answer.Body.Close() }()
	text, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	return answer, string(text)
}

// requests gives the log's request lines, once there are as many.
func (s *setup) requests(t *testing.T, n int) (lines []map[string]any) {
	t.Helper()
	require.Eventually(t, func() bool { return strings.Count(s.log.String(), `"msg":"request"`) >= n }, time.Second, time.Millisecond)
	for text := range strings.Lines(s.log.String()) {
		var line map[string]any
		require.NoError(t, json.Unmarshal([]byte(text), &line))
		if line["msg"] == "request" {
			lines = append(lines, line)
		}
	}
	return lines
}

func router() chi.Router {
	r := chi.NewRouter()
	r.Get("/paper/{secret}", func(w http.ResponseWriter, r *http.Request) {
		_, _ = io.WriteString(w, "paper "+chi.URLParam(r, "secret")+" "+RequestID(r.Context()))
	})
	r.Route("/boats", func(r chi.Router) {
		r.Get("/{id}", func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(http.StatusNoContent) })
		r.With(LimitBody(10)).Post("/{id}/note", func(w http.ResponseWriter, r *http.Request) {
			_, err := io.Copy(io.Discard, r.Body)
			var tooLong *http.MaxBytesError
			if errors.As(err, &tooLong) {
				w.WriteHeader(http.StatusRequestEntityTooLarge)
			}
		})
	})
	r.Post("/photo", func(w http.ResponseWriter, r *http.Request) { _, _ = io.Copy(w, r.Body) })
	r.Get("/sink", func(http.ResponseWriter, *http.Request) { panic("struck a rock") })
	r.Get("/half", func(w http.ResponseWriter, _ *http.Request) {
		_, _ = io.WriteString(w, "half an")
		_ = http.NewResponseController(w).Flush()
		panic("struck a rock")
	})
	r.Get("/abort", func(http.ResponseWriter, *http.Request) { panic(http.ErrAbortHandler) })
	return r
}

func TestTheLogNamesRoutesAndNothingElse(t *testing.T) {
	s := serve(t, Config{Handler: router()})
	answer, body := s.do(t, "GET", "/paper/topsecret?mail=ada@example.org", "", "X-Request-Id", "forged", "User-Agent", "browser of ada")
	id := answer.Header.Get("X-Request-Id")
	assert.Len(t, id, 26)
	assert.Equal(t, "paper topsecret "+id, body)
	s.do(t, "GET", "/boats/17", "")
	s.do(t, "GET", "/no/such/topsecret", "")

	lines := s.requests(t, 3)
	assert.Equal(t, "/paper/{secret}", lines[0]["route"])
	assert.Equal(t, id, lines[0]["id"])
	assert.EqualValues(t, http.StatusOK, lines[0]["status"])
	assert.EqualValues(t, len(body), lines[0]["bytes"])
	assert.Equal(t, "/boats/{id}", lines[1]["route"], "routers within routers")
	assert.EqualValues(t, http.StatusNoContent, lines[1]["status"])
	assert.EqualValues(t, http.StatusNotFound, lines[2]["status"])
	for _, secret := range []string{"topsecret", "ada", "forged", "/17"} {
		assert.NotContains(t, s.log.String(), secret)
	}
}

func TestAPanicIsAnsweredAndLogged(t *testing.T) {
	s := serve(t, Config{Handler: router()})
	answer, body := s.do(t, "GET", "/sink", "")
	assert.Equal(t, http.StatusInternalServerError, answer.StatusCode)
	assert.Contains(t, body, answer.Header.Get("X-Request-Id"))
	assert.NotContains(t, body, "rock")
	assert.Contains(t, s.log.String(), "struck a rock")
	assert.Contains(t, s.log.String(), "httpserver_test.go", "with the place")
	assert.EqualValues(t, http.StatusInternalServerError, s.requests(t, 1)[0]["status"])

	for _, path := range []string{"/half", "/abort"} {
		r, err := http.NewRequestWithContext(t.Context(), "GET", "http://"+s.Addr()+path, nil)
		require.NoError(t, err)
		answer, err := s.client.Do(r)
		if err == nil {
			_, err = io.ReadAll(answer.Body)
			_ = answer.Body.Close()
		}
		assert.Error(t, err, "%s: the client sees that the answer is not whole", path)
	}
	lines := s.requests(t, 3)
	assert.Equal(t, []any{false, true, true}, []any{lines[0]["cut"], lines[1]["cut"], lines[2]["cut"]})
	assert.Equal(t, 2, strings.Count(s.log.String(), "panic in a handler"), "an abort is not logged as one")
}

func TestSecurityHeaders(t *testing.T) {
	s := serve(t, Config{Handler: router()})
	for _, path := range []string{"/boats/1", "/nowhere", "/sink"} {
		answer, _ := s.do(t, "GET", path, "")
		// The policy under which a browser was seen to load pages, fonts and the
		// service worker, and to block a style attribute.
		assert.Equal(t, "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self'; connect-src 'self'; "+
			"worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'", answer.Header.Get("Content-Security-Policy"), path)
		assert.Equal(t, "nosniff", answer.Header.Get("X-Content-Type-Options"), path)
		assert.Equal(t, "same-origin", answer.Header.Get("Referrer-Policy"), path)
		assert.Equal(t, "no-store", answer.Header.Get("Cache-Control"), path)
	}
}

func TestOtherSitesCannotSendUnsafeRequests(t *testing.T) {
	s := serve(t, Config{Handler: router(), TrustedOrigins: []string{"https://club.example"}})
	// What the documentation of net/http.CrossOriginProtection says.
	for name, c := range map[string]struct {
		method, header, value string
		want                  int
	}{
		"neither header: not a browser": {"POST", "X-Any", "x", http.StatusOK},
		"same origin":                   {"POST", "Sec-Fetch-Site", "same-origin", http.StatusOK},
		"another site":                  {"POST", "Sec-Fetch-Site", "cross-site", http.StatusForbidden},
		"another host of the site":      {"POST", "Sec-Fetch-Site", "same-site", http.StatusForbidden},
		"own origin":                    {"POST", "Origin", "http://" + s.Addr(), http.StatusOK},
		"foreign origin":                {"POST", "Origin", "https://elsewhere.example", http.StatusForbidden},
		"trusted origin":                {"POST", "Origin", "https://club.example", http.StatusOK},
		"reading from another site":     {"GET", "Sec-Fetch-Site", "cross-site", http.StatusMethodNotAllowed},
	} {
		t.Run(name, func(t *testing.T) {
			answer, _ := s.do(t, c.method, "/photo", "x", c.header, c.value)
			assert.Equal(t, c.want, answer.StatusCode)
		})
	}
	_, err := New(Config{Handler: router(), TrustedOrigins: []string{"club.example"}})
	assert.ErrorContains(t, err, "club.example")
}

func TestBodiesHaveACeiling(t *testing.T) {
	s := serve(t, Config{Handler: router(), MaxBody: 100})
	unsaid := func(n int) io.Reader { return io.MultiReader(strings.NewReader(strings.Repeat("x", n))) }
	for name, c := range map[string]struct {
		path string
		body io.Reader
		want int
	}{
		"as much as may be":                  {"/photo", strings.NewReader(strings.Repeat("x", 100)), http.StatusOK},
		"more, said beforehand":              {"/photo", strings.NewReader(strings.Repeat("x", 101)), http.StatusRequestEntityTooLarge},
		"the route's own limit":              {"/boats/1/note", strings.NewReader(strings.Repeat("x", 11)), http.StatusRequestEntityTooLarge},
		"the route's own limit, not said":    {"/boats/1/note", unsaid(11), http.StatusRequestEntityTooLarge},
		"within the route's limit, unsaid":   {"/boats/1/note", unsaid(10), http.StatusOK},
		"within the route's limit, and said": {"/boats/1/note", strings.NewReader("x"), http.StatusOK},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := http.NewRequestWithContext(t.Context(), "POST", "http://"+s.Addr()+c.path, c.body)
			require.NoError(t, err)
			answer, err := s.client.Do(r)
			require.NoError(t, err)
			_ = answer.Body.Close()
			assert.Equal(t, c.want, answer.StatusCode)
		})
	}
}

func TestHeadersHaveACeiling(t *testing.T) {
	s := serve(t, Config{Handler: router()})
	answer, _ := s.do(t, "GET", "/boats/1", "", "X-Long", strings.Repeat("x", 2*maxHeader))
	assert.Equal(t, http.StatusRequestHeaderFieldsTooLarge, answer.StatusCode)
}

func TestStopWaitsForRequestsUnderWay(t *testing.T) {
	for name, patient := range map[string]bool{"with patience": true, "without": false} {
		t.Run(name, func(t *testing.T) {
			arrived, leave := make(chan struct{}), make(chan struct{})
			s := serve(t, Config{Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				close(arrived)
				select {
				case <-leave:
				case <-r.Context().Done():
				}
				_, _ = io.WriteString(w, "done")
			})})
			answered := make(chan error, 1)
			go func() {
				answer, err := s.client.Get("http://" + s.Addr())
				if err == nil {
					err = answer.Body.Close()
				}
				answered <- err
			}()
			<-arrived
			ctx, cancel := context.WithCancel(t.Context())
			defer cancel()
			if patient {
				time.AfterFunc(20*time.Millisecond, func() { close(leave) })
			} else {
				cancel()
			}
			err := s.Stop(ctx)
			<-s.Done()
			assert.NoError(t, s.Err())
			if patient {
				assert.NoError(t, err)
				assert.NoError(t, <-answered)
			} else {
				assert.ErrorIs(t, err, context.Canceled)
				assert.Error(t, <-answered)
			}
		})
	}
}

func TestAServerThatEndsByItselfSaysWhy(t *testing.T) {
	s := serve(t, Config{Handler: router()})
	require.NoError(t, s.Err())
	require.NoError(t, s.listener.Close())
	<-s.Done()
	assert.Error(t, s.Err())
}

func TestATakenAddressIsAnError(t *testing.T) {
	s := serve(t, Config{Handler: router()})
	second, err := New(Config{Addr: s.Addr(), Handler: router()})
	require.NoError(t, err)
	assert.ErrorContains(t, second.Start(t.Context()), "address already in use")
}
