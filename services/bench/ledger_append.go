package main

import (
	"context"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"slices"
	"sync"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/ledger"
)

// noted is an event's data of about 400 bytes.
const noted = `{"words":"a crack of 42 mm along the keel line, aft of the seat mount, seen from inside and from outside after cleaning; ` +
	`white edges, no play when pressed; the scupper beside it is sound. Found by lamp light in the shed, to be looked at again by day. ` +
	`The drain plug is missing and the deck line is perished; both are on the list of parts for this boat already, with the toggles."}`

// benchAppend measures durable, chained appends of one event each, callers waiting
// for their answers, beside single-row inserts of the same row in the same cluster.
func benchAppend(ctx context.Context, s *session, sc *scene) error {
	refs, err := newReferences(ctx, s, sc)
	if err != nil {
		return err
	}
	w, stop, err := sc.lead(ctx)
	if err != nil {
		return err
	}
	defer stop()

	const share = 0.05
	loads := []load{
		{name: "pgbench-1", run: refs.insert(1)},
		{name: "1", run: appends(w, 1, 0, uuid.NewString)},
		{name: "pgbench-16", run: refs.insert(16)},
		{name: "16", run: appends(w, 16, 0, uuid.NewString)},
		{name: "16-mixed", run: appends(w, 16, share, uuid.NewString)},
		{name: "64", run: appends(w, 64, 0, uuid.NewString)},
		{name: "64-mixed", run: appends(w, 64, share, uuid.NewString)},
		{name: "message-db-16", run: refs.message(16)},
	}
	seen, err := s.loads(ctx, loads)
	if err != nil {
		return err
	}
	rate := func(name, ours, reference, against string, demand float64) error {
		return s.report(result{Bench: "ledger/" + name, Ours: seen[ours].rate, Reference: seen[reference].rate,
			Against: against, Unit: "events/s", Better: higher, Demand: demand})
	}
	const inserts = "pgbench single-row insert of the same row, "
	for _, err := range []error{
		rate("append-1", "1", "pgbench-1", inserts+"1 client", 0.5),
		rate("append-16", "16", "pgbench-16", inserts+"16 clients", 1),
		rate("append-64", "64", "pgbench-16", inserts+"16 clients", 2),
		s.report(result{Bench: "ledger/append-16-p99", Ours: seen["16"].p99, Reference: seen["pgbench-16"].p99,
			Against: inserts + "16 clients", Unit: "ms", Better: lower, Demand: 1}),
		rate("append-16-mixed", "16-mixed", "16", "ours without the 5 % conflicts and 5 % repeated keys", 0.8),
		rate("append-64-mixed", "64-mixed", "64", "ours without the 5 % conflicts and 5 % repeated keys", 0.8),
		rate("append-16-peer", "16", "message-db-16", "@eventide/message-db, one category, 16 clients", 4),
	} {
		if err != nil {
			return err
		}
	}
	return nil
}

// A load is one thing measured for a while.
type load struct {
	name string
	run  func(ctx context.Context, d time.Duration) (sample, error)
}

// sample is what a load did: answers a second, and the time in ms within which 99
// of 100 came.
type sample struct{ rate, p99 float64 }

// loads measures loads in turn and gives the medians by name.
func (s *session) loads(ctx context.Context, loads []load) (map[string]sample, error) {
	each := 3 * time.Second
	if s.quick {
		each = 1500 * time.Millisecond
	}
	rates, p99s := map[string][]float64{}, map[string][]float64{}
	for range s.rounds() {
		for _, l := range loads {
			got, err := l.run(ctx, each)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", l.name, err)
			}
			rates[l.name], p99s[l.name] = append(rates[l.name], got.rate), append(p99s[l.name], got.p99)
		}
	}
	seen := map[string]sample{}
	for name := range rates {
		seen[name] = sample{median(rates[name]), median(p99s[name])}
		fmt.Fprintf(s.notes, "  %-14s %8.0f /s, p99 %.2f ms\n", name, seen[name].rate, seen[name].p99)
	}
	return seen, nil
}

// lead starts the book's writer and waits until it leads.
func (sc *scene) lead(ctx context.Context) (w *ledger.Writer, stop func(), err error) {
	dial := func(ctx context.Context) (*pgx.Conn, error) { return pgx.Connect(ctx, sc.access.AppURL) }
	w = ledger.NewWriter(dial, clock.System{}, slog.New(slog.DiscardHandler))
	ctx, cancel := context.WithCancel(ctx)
	led, ended := make(chan struct{}), make(chan error, 1)
	go func() { ended <- w.Lead(ctx, func() { close(led) }) }()
	select {
	case <-led:
		return w, func() { cancel(); <-ended }, nil
	case err := <-ended:
		cancel()
		return nil, nil, fmt.Errorf("the writer does not lead: %w", err)
	}
}

// appends gives a load of callers who each append and wait. share is the part of
// conflicts, and again that of repeated keys, among what they ask for. The streams
// are new ones, as in the reference.
func appends(w *ledger.Writer, callers int, share float64, newID func() string) func(context.Context, time.Duration) (sample, error) {
	return func(ctx context.Context, d time.Duration) (sample, error) {
		var all sync.WaitGroup
		took := make([][]time.Duration, callers)
		failed := make(chan error, callers)
		begun := time.Now()
		for c := range callers {
			all.Go(func() {
				rng := rand.New(rand.NewPCG(uint64(c), 1))
				digest := ledger.DigestOf([]byte("noted"))
				last := ledger.Append{}
				for time.Since(begun) < d {
					a, want := fresh(digest, newID), good
					if x := rng.Float64(); last.Key != "" && x < share {
						a.Expect[0] = ledger.Expected{Stream: last.Events[0].Stream, Version: 7}
						a.Events[0].Stream, want = last.Events[0].Stream, conflict
					} else if last.Key != "" && x < 2*share {
						a, want = last, repeated
					}
					asked := time.Now()
					receipt, err := w.Append(ctx, a)
					took[c] = append(took[c], time.Since(asked))
					if err := want(receipt, err); err != nil {
						failed <- err
						return
					}
					if err == nil {
						last = a
					}
				}
			})
		}
		all.Wait()
		lasted := time.Since(begun)
		select {
		case err := <-failed:
			return sample{}, err
		default:
		}
		times := slices.Concat(took...)
		return sample{float64(len(times)) / lasted.Seconds(), percentile(times, 99)}, nil
	}
}

func fresh(digest []byte, newID func() string) ledger.Append {
	stream := "intake.boat/" + newID()
	return ledger.Append{
		Key: newID(), Digest: digest, Actor: "member/m1", Cause: "c1", Correlation: "r1",
		Expect: []ledger.Expected{{Stream: stream, Version: 0}},
		Events: []ledger.New{{Stream: stream, Boat: "b-1", Kind: "intake.noted", Schema: 1, Data: noted}},
	}
}

// percentile sorts times and gives, in ms, that within which p of 100 lie.
func percentile(times []time.Duration, p int) float64 {
	if len(times) == 0 {
		return 0
	}
	slices.Sort(times)
	return float64(times[min(len(times)-1, len(times)*p/100)].Microseconds()) / 1000
}
