package web

import (
	"net/http"
	"net/netip"
	"time"

	"github.com/go-chi/chi/v5/middleware"
	"github.com/go-chi/httprate"

	"refloat.example/pkg/fault"
)

// publicPosts is how many forms one address may send in a minute without being
// signed in, or how many papers it may look up: many people behind one router are fine, a program that tries
// addresses is not. The count is kept per process.
const publicPosts = 60

// proxies are the addresses from which a forwarded address is believed: this
// machine and private networks. Somebody there who lies escapes this limit and
// nothing else.
var proxies = []string{"127.0.0.0/8", "::1/128", "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "fc00::/7"}

// limit holds down how often a form that needs no signing in can be sent, or a
// paper looked up, from one address.
func (s *Site) limit(next http.Handler) http.Handler {
	limited := httprate.LimitBy(publicPosts, time.Minute,
		func(r *http.Request) (string, error) { return senderOf(r), nil },
		httprate.WithLimitHandler(s.tooMany),
	)(next)
	choose := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if senderOf(r) == "" {
			next.ServeHTTP(w, r)
			return
		}
		limited.ServeHTTP(w, r)
	})
	return middleware.ClientIPFromXFF(proxies...)(choose)
}

// senderOf gives the address that a form counts for: the one that a proxy told,
// else that of the machine in a private network which sent it. Somebody at this
// machine itself has none.
func senderOf(r *http.Request) string {
	if told := middleware.GetClientIP(r.Context()); told != "" {
		return httprate.CanonicalizeIP(told)
	}
	peer, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil || peer.Addr().Unmap().IsLoopback() {
		return ""
	}
	return httprate.CanonicalizeIP(peer.Addr().Unmap().String())
}

func (s *Site) tooMany(w http.ResponseWriter, r *http.Request) {
	v := &visit{Site: s, w: w, r: r, ctx: r.Context()}
	v.fail(fault.New(fault.Busy, "Too much was asked from this address in the last minute. Nothing was written. Wait a minute, then go back and try again."))
}
