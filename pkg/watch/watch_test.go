package watch

import (
	"bytes"
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.opentelemetry.io/otel/trace"
	collector "go.opentelemetry.io/proto/otlp/collector/trace/v1"
	traces "go.opentelemetry.io/proto/otlp/trace/v1"
	"google.golang.org/protobuf/proto"

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

// A collector is told what OTLP 1 asks for: a POST of an ExportTraceServiceRequest in
// protobuf to /v1/traces (OpenTelemetry Protocol Specification, "OTLP/HTTP"), read here
// with the types that the project makes from its own definition.
func TestACollectorIsToldOfATrace(t *testing.T) {
	told := make(chan *collector.ExportTraceServiceRequest, 10)
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		assert.Equal(t, "POST /v1/traces", r.Method+" "+r.URL.Path)
		assert.Equal(t, "application/x-protobuf", r.Header.Get("Content-Type"))
		raw, err := io.ReadAll(r.Body)
		assert.NoError(t, err)
		request := new(collector.ExportTraceServiceRequest)
		assert.NoError(t, proto.Unmarshal(raw, request))
		told <- request
		w.Header().Set("Content-Type", "application/x-protobuf")
	}))
	defer srv.Close()
	stop, err := StartTraces(t.Context(), srv.URL)
	require.NoError(t, err)
	ctx, request := Begin(t.Context(), "GET /boats")
	inside, work := Within(ctx, "append", "position", "7")
	id := TraceID(inside)
	work.End(fault.New(fault.Conflict, "words of somebody"))
	request.End(nil)
	require.NoError(t, stop(context.Background()), "what was not sent yet is sent")
	_, err = StartTraces(t.Context(), "") // other tests record nothing
	require.NoError(t, err)

	require.Len(t, told, 1)
	spans := (<-told).ResourceSpans[0].ScopeSpans[0].Spans
	require.Len(t, spans, 2, "in the order in which they ended")
	assert.Equal(t, []string{"append", "GET /boats"}, []string{spans[0].Name, spans[1].Name})
	assert.Equal(t, []string{id, id}, []string{hex.EncodeToString(spans[0].TraceId), hex.EncodeToString(spans[1].TraceId)})
	assert.Equal(t, spans[1].SpanId, spans[0].ParentSpanId)
	require.Len(t, spans[0].Attributes, 1)
	assert.Equal(t, "refloat.position", spans[0].Attributes[0].Key)
	assert.Equal(t, "7", spans[0].Attributes[0].Value.GetStringValue())
	assert.Equal(t, traces.Status_STATUS_CODE_ERROR, spans[0].Status.Code)
	assert.NotContains(t, spans[0].String(), "words", "the sort of what went wrong, not its text")
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
