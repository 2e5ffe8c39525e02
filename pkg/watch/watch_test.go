package watch

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.opentelemetry.io/otel/trace"

	"refloat.example/pkg/fault"
)

func TestNobodyNeedsFigures(t *testing.T) {
	var f *Figures
	f.Appended(time.Second, false, nil)
	f.Committed(1, 1, time.Second)
	f.Queue(func() int { return 0 }, 1)
	f.Leads(true)
	f.Sealed(1)
	f.Ordered("intake", "do", time.Second, nil)
	f.Paged(200, time.Second)
	f.Add(nil)
}

func TestWhatBecameOfAnAppendIsCounted(t *testing.T) {
	f := NewFigures()
	f.Appended(time.Millisecond, false, nil)
	f.Appended(time.Millisecond, true, nil)
	f.Appended(time.Millisecond, false, fault.New(fault.Conflict, "at 3, not 2"))
	f.Appended(time.Millisecond, false, fault.New(fault.Busy, "full"))
	f.Appended(time.Millisecond, false, errors.New("our own mistake"))
	for outcome, want := range map[string]float64{"written": 1, "repeated": 1, "conflict": 1, "busy": 1, "internal": 1, "invalid": 0} {
		assert.InDelta(t, want, testutil.ToFloat64(f.appends[outcome]), 0, outcome)
	}
	f.Leads(true)
	assert.InDelta(t, 1, testutil.ToFloat64(f.leads), 0)
	f.Leads(false)
	assert.InDelta(t, 0, testutil.ToFloat64(f.leads), 0)
}

// The rules of naming and help are Prometheus's own, checked by its library.
func TestFiguresAreNamedAsPrometheusWants(t *testing.T) {
	f := NewFigures()
	f.Queue(func() int { return 0 }, 1)
	f.Ordered("intake", "do", time.Second, nil)
	f.Paged(200, time.Second)
	problems, err := testutil.GatherAndLint(f.registry)
	require.NoError(t, err)
	assert.Empty(t, problems)
}

// Of 100 durations, one in each hundredth of a second up to one second, half lie
// below 0.5 s and 99 below 0.99 s: arithmetic, within the width of a bucket.
func TestQuantilesLieWhereTheValuesAre(t *testing.T) {
	f := NewFigures()
	for i := range 100 {
		f.Paged(200, time.Duration(i+1)*10*time.Millisecond)
	}
	for _, figure := range f.Summary() {
		if figure.Name == "refloat_page_seconds" {
			assert.Equal(t, "status=2xx", figure.About)
			assert.InDelta(t, 0.5, *figure.Half, 0.01)
			assert.InDelta(t, 0.99, *figure.Nearly, 0.01)
			assert.Contains(t, figure.Words(), "100, half below 500.00 ms")
			return
		}
	}
	t.Fatal("the figure is missing")
}

// Trace id and traceparent as in the example of the W3C's Trace Context, 1st
// edition, section 3.2.
const (
	exampleID     = "0af7651916cd43dd8448eb211c80319c"
	exampleParent = "00-" + exampleID + "-b7ad6b7169203331-01"
)

func TestATraceTravelsInTheHeaderAndInTheCorrelation(t *testing.T) {
	plain := t.Context()
	assert.Nil(t, Inject(plain))
	assert.Empty(t, TraceID(plain))
	assert.Equal(t, "key-1", Correlation(plain, "key-1"), "without a trace the correlation is the key")

	ctx := Extract(plain, map[string][]string{"traceparent": {exampleParent}})
	assert.Equal(t, exampleID, TraceID(ctx))
	assert.Equal(t, map[string][]string{"traceparent": {exampleParent}}, Inject(ctx))
	assert.Equal(t, exampleParent, Correlation(ctx, "key-1"))
	assert.Equal(t, exampleID, TraceID(Resume(plain, Correlation(ctx, "key-1"))))

	unrecorded := Resume(plain, exampleParent[:len(exampleParent)-1]+"0")
	assert.Equal(t, "key-1", Correlation(unrecorded, "key-1"), "what nobody records stays out of the book")
	for _, other := range []string{"", "key-1", "00-", "00-zz", exampleParent[:40]} {
		assert.Empty(t, TraceID(Resume(plain, other)), other)
	}
}

func TestLogLinesNameTheTrace(t *testing.T) {
	var out bytes.Buffer
	log := slog.New(LogHandler(slog.NewJSONHandler(&out, nil))).With("room", "intake")
	log.InfoContext(Resume(t.Context(), exampleParent), "one")
	assert.Contains(t, out.String(), `"trace":"`+exampleID+`"`)
	out.Reset()
	log.Info("two")
	assert.NotContains(t, out.String(), "trace")
}

func TestASpanOutsideOfATraceIsNothing(t *testing.T) {
	ctx, span := Within(t.Context(), "append", "position", "1")
	assert.False(t, trace.SpanContextFromContext(ctx).IsValid())
	span.Note("position", "2")
	span.End(errors.New("it failed"))
}

func TestHealthIsToldByStatus(t *testing.T) {
	standing := Health{Ready: false, Rooms: []RoomHealth{{Room: "intake", Ready: true}, {Room: "web", Why: "it is 12 events behind the book", Behind: 12}}}
	looked := 0
	health := Latest(func(context.Context) Health { looked++; return standing })
	s := NewServer("127.0.0.1:0", NewFigures(), health)
	require.NoError(t, s.Start(t.Context()))
	defer func() { require.NoError(t, s.Stop(context.Background())) }()
	for path, want := range map[string]int{
		"/health/live": http.StatusOK, "/health/ready": http.StatusServiceUnavailable, "/health/ready/intake": http.StatusOK,
		"/health/ready/web": http.StatusServiceUnavailable, "/health/ready/attic": http.StatusNotFound, "/metrics": http.StatusOK, "/figures": http.StatusOK,
	} {
		answer, err := http.Get("http://" + s.Addr() + path)
		require.NoError(t, err)
		body, err := io.ReadAll(answer.Body)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		assert.Equal(t, want, answer.StatusCode, "%s: %s", path, body)
		if path == "/health/ready" {
			var h Health
			require.NoError(t, json.Unmarshal(body, &h))
			assert.Equal(t, standing, h)
		}
	}
	assert.Equal(t, 1, looked, "however often it is asked, within a second")
}
