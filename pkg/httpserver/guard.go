package httpserver

import (
	"cmp"
	"context"
	"crypto/rand"
	"fmt"
	"log/slog"
	"net/http"
	"runtime/debug"
	"strconv"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"

	"refloat.example/pkg/watch"
)

// policy lets a page use what this server sends, from files only: no inline
// script or style, no frame, no other host.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self'; " +
	"connect-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// headers stand on every answer; a handler may overrule them. The referrer
// stays within the site because private links are secrets; "no-referrer" would
// also hide the origin of our own forms, by which they are told from others'.
var headers = map[string]string{
	"Content-Security-Policy":      policy,
	"X-Content-Type-Options":       "nosniff",
	"Referrer-Policy":              "same-origin",
	"Cross-Origin-Opener-Policy":   "same-origin",
	"Cross-Origin-Resource-Policy": "same-origin",
	"Permissions-Policy":           "camera=(), geolocation=(), microphone=()",
	"Cache-Control":                "no-store",
}

// guard wraps the handler, outermost first: id, log, recovery, headers,
// refusal of foreign requests, body limit.
func guard(cfg Config, log *slog.Logger) (http.Handler, error) {
	foreign := http.NewCrossOriginProtection()
	for _, origin := range cfg.TrustedOrigins {
		if err := foreign.AddTrustedOrigin(origin); err != nil {
			return nil, fmt.Errorf("trusted origin %q: %w", origin, err)
		}
	}
	handler := LimitBody(cmp.Or(cfg.MaxBody, defaultBody))(cfg.Handler)
	handler = setHeaders(foreign.Handler(handler))
	handler = observe(log, cfg.Figures, cfg.Handler, recoverPanics(log, handler))
	return giveID(handler), nil
}

type requestIDKey struct{}

// RequestID is the id of the request whose context this is, empty outside of
// one. The client has it in the header X-Request-Id.
func RequestID(ctx context.Context) string {
	id, _ := ctx.Value(requestIDKey{}).(string)
	return id
}

// giveID draws the id. One that the client sends is not taken: it would be a
// stranger's text in our log.
func giveID(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		id := rand.Text()
		w.Header().Set("X-Request-Id", id)
		next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), requestIDKey{}, id)))
	})
}

// observe begins a trace, measures, and writes the log line. The route's pattern is logged, never the path:
// private links hold secrets. A chi router uses the routing context that it
// finds, so that the pattern is known here afterwards. An answer that was cut
// off reached the client in part or not at all, whatever its status.
func observe(log *slog.Logger, figures *watch.Figures, router http.Handler, next http.Handler) http.Handler {
	routes, _ := router.(chi.Routes)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		route := chi.NewRouteContext()
		route.Routes = routes
		// A trace that the client names is not taken up: it is a stranger's.
		ctx, span := watch.Begin(context.WithValue(r.Context(), chi.RouteCtxKey, route), r.Method)
		r = r.WithContext(ctx)
		answer := middleware.NewWrapResponseWriter(w, r.ProtoMajor)
		begin, cut := time.Now(), true
		defer func() {
			status := cmp.Or(answer.Status(), http.StatusOK)
			if answer.Header().Get("Content-Type") != "text/event-stream" { // it takes as long as its reader stays
				figures.Paged(status, time.Since(begin))
			}
			pattern := cmp.Or(route.RoutePattern(), "-")
			span.Rename(r.Method + " " + pattern)
			span.Note("status", strconv.Itoa(status))
			span.End(nil)
			log.InfoContext(ctx, "request", "id", RequestID(r.Context()), "method", r.Method, "route", pattern,
				"status", status, "cut", cut, "bytes", answer.BytesWritten(), "took", time.Since(begin))
		}()
		next.ServeHTTP(answer, r)
		cut = false
	})
}

// recoverPanics answers 500 and logs where it happened. When part of an answer
// is out already, the connection is cut instead: half an answer must not look
// like a whole one.
func recoverPanics(log *slog.Logger, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			p := recover()
			if p == nil {
				return
			}
			if p == http.ErrAbortHandler { //nolint:errorlint // the handler's own way to cut the connection; net/http compares so too
				panic(p)
			}
			log.ErrorContext(r.Context(), "panic in a handler", "id", RequestID(r.Context()), "panic", fmt.Sprint(p), "stack", string(debug.Stack()))
			if answer := w.(middleware.WrapResponseWriter); answer.Status() != 0 {
				panic(http.ErrAbortHandler)
			}
			http.Error(w, "Something went wrong on our side. It has been written down under "+RequestID(r.Context())+".", http.StatusInternalServerError)
		}()
		next.ServeHTTP(w, r)
	})
}

func setHeaders(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		for name, value := range headers {
			w.Header().Set(name, value)
		}
		next.ServeHTTP(w, r)
	})
}

// LimitBody refuses request bodies of more than max bytes: with 413 when the
// client says so beforehand, else with an *http.MaxBytesError from the read
// that goes too far. Within a route it can only narrow what is outside.
func LimitBody(max int64) func(http.Handler) http.Handler {
	return func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.ContentLength > max {
				http.Error(w, fmt.Sprintf("This is more than the %d bytes that can be taken.", max), http.StatusRequestEntityTooLarge)
				return
			}
			r.Body = http.MaxBytesReader(w, r.Body, max)
			next.ServeHTTP(w, r)
		})
	}
}
