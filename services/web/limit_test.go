package web

import (
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/go-chi/chi/v5/middleware"
	"github.com/stretchr/testify/assert"
)

func TestForWhomAFormCounts(t *testing.T) {
	for name, row := range map[string]struct{ peer, told, want string }{
		"through a proxy":                {"127.0.0.1:40000", "203.0.113.7", "203.0.113.7"},
		"from outside, without a proxy":  {"203.0.113.9:40000", "198.51.100.1", "203.0.113.9"},
		"from the same network":          {"192.168.1.20:40000", "", "192.168.1.20"},
		"from there, telling nonsense":   {"192.168.1.20:40000", "me", "192.168.1.20"},
		"from there, by the other names": {"[::ffff:192.168.1.20]:40000", "", "192.168.1.20"},
		"at the machine itself":          {"127.0.0.1:40000", "", ""},
	} {
		r := httptest.NewRequest(http.MethodPost, "/ask", http.NoBody)
		r.RemoteAddr = row.peer
		if row.told != "" {
			r.Header.Set("X-Forwarded-For", row.told)
		}
		var got string
		middleware.ClientIPFromXFF(proxies...)(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) { got = senderOf(r) })).ServeHTTP(httptest.NewRecorder(), r)
		assert.Equal(t, row.want, got, name)
	}
}
