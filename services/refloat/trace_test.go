package main

import (
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.opentelemetry.io/otel"
	sdk "go.opentelemetry.io/otel/sdk/trace"
	"go.opentelemetry.io/otel/sdk/trace/tracetest"

	"refloat.example/pkg/watch"
)

// inProcess starts a program inside the test.
func inProcess(t *testing.T, log *slog.Logger) *program {
	t.Helper()
	folder := t.TempDir()
	env := map[string]string{"REFLOAT_DATA": filepath.Join(folder, "data"), "REFLOAT_KEYS": filepath.Join(folder, "keys"),
		"REFLOAT_MAIL": filepath.Join(folder, "mail"), "REFLOAT_CHECKPOINTS": filepath.Join(folder, "checkpoints"), "REFLOAT_LISTEN": "127.0.0.1:0"}
	cfg, _, err := readConfig("test", nil, func(name string) string { return env[name] }, io.Discard, nil)
	require.NoError(t, err)
	p := newProgram(cfg, log)
	t.Cleanup(func() { require.NoError(t, p.stop()) })
	require.NoError(t, p.start(t.Context()))
	return p
}

// Somebody sends the public form. What comes of it, from the page through the
// rooms and the book to the tables that heard of it and the rooms that reacted,
// is one trace, whose id stands in the log, too.
func TestOneRequestIsOneTrace(t *testing.T) {
	log := &watched{}
	p := inProcess(t, slog.New(watch.LogHandler(slog.NewJSONHandler(log, nil))))
	recorded := tracetest.NewInMemoryExporter()
	provider := sdk.NewTracerProvider(sdk.WithSyncer(recorded))
	otel.SetTracerProvider(provider)
	t.Cleanup(func() { _, _ = watch.StartTraces(t.Context(), "") })

	askForABoat(t, p.page())

	var trace string
	names := func() map[string]int {
		found := map[string]int{}
		for _, span := range recorded.GetSpans() {
			if span.Name == "POST /ask" {
				trace = span.SpanContext.TraceID().String()
			}
		}
		for _, span := range recorded.GetSpans() {
			if span.SpanContext.TraceID().String() == trace {
				found[span.Name]++
			}
		}
		return found
	}
	require.Eventually(t, func() bool {
		found := names()
		for _, name := range []string{"POST /ask", "send do.matching.make-request", "do.matching.make-request", "append", "tables of web", "tables of people", "tables of treasury", "reaction of people"} {
			if found[name] == 0 {
				return false
			}
		}
		return true
	}, time.Minute, 20*time.Millisecond, "what the trace has: %v", names())
	assert.Contains(t, log.String(), `"trace":"`+trace+`"`)

	// The spans hang together: each but the first has its parent in the trace.
	require.Eventually(t, func() bool { return strings.Join(loose(recorded.GetSpans(), trace), " ") == "POST /ask" }, time.Minute, 20*time.Millisecond,
		"%v", loose(recorded.GetSpans(), trace))
	for _, span := range recorded.GetSpans() {
		for _, a := range span.Attributes {
			assert.NotContains(t, a.Value.Emit(), "Fairbrother")
		}
	}
}

// loose names the spans of a trace that hang at no other.
func loose(spans tracetest.SpanStubs, trace string) (names []string) {
	known := map[string]bool{}
	for _, span := range spans {
		known[span.SpanContext.SpanID().String()] = true
	}
	for _, span := range spans {
		if span.SpanContext.TraceID().String() == trace && !known[span.Parent.SpanID().String()] {
			names = append(names, span.Name)
		}
	}
	return names
}

var hiddenField = regexp.MustCompile(`<input type="hidden" name="([^"]+)" value="([^"]*)"`)

// askForABoat sends the public form as a browser without scripts does.
func askForABoat(t *testing.T, base string) {
	t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	browser := &http.Client{Jar: jar, Timeout: 20 * time.Second}
	answer, err := browser.Get(base + "/ask")
	require.NoError(t, err)
	page, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	form := url.Values{
		"adults": {"1"}, "wish.adults[0].mass_g": {"68"}, "wish.gear_g": {"6"}, "best": {"sit-inside kayak"},
		"wish.water": {"pond or small lake"}, "wish.experience": {"some"}, "wish.carriers": {"2"}, "wish.each_lifts_g": {"16"},
		"wish.transport": {"roof"}, "wish.roof_load_g": {"75"}, "wish.rack_g": {"11"}, "wish.storage_mm": {"4"},
		"details.name": {"Wanda Fairbrother"}, "details.mail": {"wanda@fairbrother.example"}, "details.language": {"en"}, "consent": {"yes"},
	}
	for _, field := range hiddenField.FindAllStringSubmatch(string(page), -1) {
		form.Set(field[1], field[2])
	}
	answer, err = browser.PostForm(base+"/ask", form)
	require.NoError(t, err)
	page, err = io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.True(t, strings.Contains(string(page), "Your request is with the club"), "%s", page)
}
