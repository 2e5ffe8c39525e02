package watch

import (
	"context"
	"log/slog"
	"net/url"
	"strings"

	"go.opentelemetry.io/otel"
	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/codes"
	"go.opentelemetry.io/otel/exporters/otlp/otlptrace/otlptracehttp"
	"go.opentelemetry.io/otel/propagation"
	sdk "go.opentelemetry.io/otel/sdk/trace"
	"go.opentelemetry.io/otel/trace"
	"go.opentelemetry.io/otel/trace/noop"
)

// carrier is how a trace travels: the W3C's traceparent and nothing else.
var carrier = propagation.TraceContext{}

// traceParent is the one header of it.
const traceParent = "traceparent"

// StartTraces sends the traces of this process to a collector that speaks OTLP
// over HTTP, at the path that OTLP gives (/v1/traces) unless the address has one; to
// none when collector is empty: then traces have ids, which stand
// in the log and travel with requests, and nothing is recorded. stop sends what
// has not been sent.
func StartTraces(ctx context.Context, collector string) (stop func(context.Context) error, err error) {
	options := []sdk.TracerProviderOption{sdk.WithSampler(sdk.NeverSample())}
	if collector != "" {
		address, err := url.Parse(collector)
		if err != nil {
			return nil, err
		}
		if strings.Trim(address.Path, "/") == "" {
			address.Path = "/v1/traces"
		}
		exporter, err := otlptracehttp.New(ctx, otlptracehttp.WithEndpointURL(address.String()))
		if err != nil {
			return nil, err
		}
		options = []sdk.TracerProviderOption{sdk.WithBatcher(exporter)}
	}
	provider := sdk.NewTracerProvider(options...)
	otel.SetTracerProvider(provider)
	return provider.Shutdown, nil
}

func tracer() trace.Tracer { return otel.Tracer("refloat") }

// A Span is a stretch of work in a trace. The zero Span records nothing.
type Span struct{ span trace.Span }

// Begin begins a trace: something came from outside.
func Begin(ctx context.Context, name string) (context.Context, Span) {
	ctx, span := tracer().Start(ctx, name, trace.WithNewRoot(), trace.WithSpanKind(trace.SpanKindServer))
	return ctx, Span{span}
}

// Within begins a stretch of work inside the trace that ctx carries. Without one,
// or when it is not recorded, nothing happens. about are pairs of a name and a
// text: ids, kinds and positions, never what somebody wrote.
func Within(ctx context.Context, name string, about ...string) (context.Context, Span) {
	if !trace.SpanContextFromContext(ctx).IsSampled() {
		return ctx, Span{noop.Span{}}
	}
	ctx, span := tracer().Start(ctx, name)
	s := Span{span}
	s.Note(about...)
	return ctx, s
}

// Note adds pairs of a name and a text.
func (s Span) Note(about ...string) {
	for i := 0; i+1 < len(about); i += 2 {
		s.span.SetAttributes(attribute.String("refloat."+about[i], about[i+1]))
	}
}

// Rename gives the span the name that was not known when it began.
func (s Span) Rename(name string) { s.span.SetName(name) }

// End ends the span; err says that the work failed. Its text may quote what
// somebody wrote, so only its sort is kept.
func (s Span) End(err error) {
	if err != nil {
		s.span.SetStatus(codes.Error, outcomeOf("", err))
	}
	s.span.End()
}

// Inject gives the headers by which the trace of ctx goes on elsewhere; nil
// without one.
func Inject(ctx context.Context) map[string][]string {
	if !trace.SpanContextFromContext(ctx).IsValid() {
		return nil
	}
	// The names stay in small letters, as the bus tells capitals apart.
	headers := propagation.MapCarrier{}
	carrier.Inject(ctx, headers)
	return map[string][]string{traceParent: {headers[traceParent]}}
}

// Extract takes up the trace that headers carry. Only from those who may be
// trusted: who makes up an id could hide among others'.
func Extract(ctx context.Context, headers map[string][]string) context.Context {
	if parent := headers[traceParent]; len(parent) == 1 {
		return Resume(ctx, parent[0])
	}
	return ctx
}

// Correlation is what an event keeps of the request that it belongs to: the trace
// while one is recorded, so that whoever hears the event can carry it on, and
// otherwise the request's key.
func Correlation(ctx context.Context, key string) string {
	if !trace.SpanContextFromContext(ctx).IsSampled() {
		return key
	}
	return Inject(ctx)[traceParent][0]
}

// Resume takes up the trace that a correlation names, if it names one.
func Resume(ctx context.Context, correlation string) context.Context {
	if len(correlation) < len("00-") || correlation[:3] != "00-" {
		return ctx
	}
	return carrier.Extract(ctx, propagation.MapCarrier{traceParent: correlation})
}

// TraceID gives the id of the trace that ctx carries; "" without one.
func TraceID(ctx context.Context) string {
	if id := trace.SpanContextFromContext(ctx).TraceID(); id.IsValid() {
		return id.String()
	}
	return ""
}

// LogHandler adds the trace's id to every line that is logged with a context.
func LogHandler(inner slog.Handler) slog.Handler { return logHandler{inner} }

type logHandler struct{ slog.Handler }

func (h logHandler) Handle(ctx context.Context, r slog.Record) error {
	if id := TraceID(ctx); id != "" {
		r.AddAttrs(slog.String("trace", id))
	}
	return h.Handler.Handle(ctx, r)
}

func (h logHandler) WithAttrs(attrs []slog.Attr) slog.Handler {
	return logHandler{h.Handler.WithAttrs(attrs)}
}

func (h logHandler) WithGroup(name string) slog.Handler { return logHandler{h.Handler.WithGroup(name)} }
