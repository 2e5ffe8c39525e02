package main

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync/atomic"
	"time"

	"github.com/google/uuid"
	"golang.org/x/sync/errgroup"

	"refloat.example/pkg/ledger"
	"refloat.example/pkg/postgres"
)

// benchVerify measures a full check of the book beside a plain read of the same
// rows, and the memory that it takes for a book ten times as long.
func benchVerify(ctx context.Context, s *session, sc *scene) error {
	w, stop, err := sc.lead(ctx)
	if err != nil {
		return err
	}
	defer stop()
	short, long := 100_000, 1_000_000
	if s.quick {
		short, long = 20_000, 200_000
	}
	if err := fill(ctx, w, short); err != nil {
		return err
	}
	shortPeak, err := sc.verifyPeak(ctx)
	if err != nil {
		return err
	}
	if err := fill(ctx, w, long-short); err != nil {
		return err
	}
	longPeak, err := sc.verifyPeak(ctx)
	if err != nil {
		return err
	}
	// As the server does by itself before long: without it the plain read sorts the book.
	if err := sc.exec(ctx, `VACUUM ANALYZE ledger.event`); err != nil {
		return err
	}
	rates, err := s.inTurn(ctx, perSecond(long, sc.verify), perSecond(long, sc.read))
	if err != nil {
		return err
	}
	return errors.Join(
		s.report(result{Bench: "ledger/verify", Ours: rates[0], Reference: rates[1], Against: fmt.Sprintf("a plain read of the same %d rows through pgx", long),
			Unit: "events/s", Better: higher, Demand: 0.6}),
		s.report(result{Bench: "ledger/verify-memory", Ours: longPeak, Reference: shortPeak, Against: fmt.Sprintf("ours over %d events, here %d", short, long),
			Unit: "MiB", Better: lower, Demand: 0.8, Note: "most in use at once while verifying, in the whole process; the same 1000 streams"}))
}

// fill writes events in large appends, to a thousand streams.
func fill(ctx context.Context, w *ledger.Writer, events int) error {
	const each = 500
	streams := 0
	return fillWith(ctx, w, events, each, func() string { streams++; return fmt.Sprint("boat-", streams%1000) })
}

func fillWith(ctx context.Context, w *ledger.Writer, events, each int, boat func() string) error {
	digest := ledger.DigestOf([]byte("noted"))
	for done := 0; done < events; done += each {
		a := fresh(digest, inOrder)
		a.Expect, a.Events = nil, nil
		for range min(each, events-done) {
			a.Events = append(a.Events, ledger.New{Stream: "intake.boat/" + boat(), Boat: "b-1", Kind: "intake.noted", Schema: 1, Data: noted})
		}
		if _, err := w.Append(ctx, a); err != nil {
			return fmt.Errorf("filling the book: %w", err)
		}
	}
	return nil
}

// perSecond gives the rate of something that handles n rows.
func perSecond(n int, do func(context.Context) error) func(context.Context) (float64, error) {
	return func(ctx context.Context) (float64, error) {
		begun := time.Now()
		err := do(ctx)
		return float64(n) / time.Since(begun).Seconds(), err
	}
}

func (sc *scene) verify(ctx context.Context) error {
	found, err := ledger.NewReader(sc.pool).Verify(ctx)
	if err == nil && !found.OK {
		err = fmt.Errorf("the book is not sound: %+v", found.Finding)
	}
	return err
}

func (sc *scene) read(ctx context.Context) error {
	rows, err := sc.pool.Query(ctx, `SELECT * FROM ledger.event ORDER BY position`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		_ = rows.RawValues()
	}
	return rows.Err()
}

// verifyPeak gives the most memory in use at once, in MiB, while the book is verified:
// what a collection leaves, as what waits to be collected tells nothing of the book.
func (sc *scene) verifyPeak(ctx context.Context) (float64, error) {
	var peak atomic.Uint64
	watching, cancel := context.WithCancel(ctx)
	var all errgroup.Group
	all.Go(func() error {
		for watching.Err() == nil {
			var m runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&m)
			peak.Store(max(peak.Load(), m.HeapAlloc))
			time.Sleep(5 * time.Millisecond)
		}
		return nil
	})
	err := sc.verify(ctx)
	cancel()
	return float64(max(peak.Load(), 1)) / (1 << 20), errors.Join(err, all.Wait())
}

// benchGrowth compares the rate of appends to a book of ten million events with that
// to one of ten thousand. It takes long and much room, so it has to be asked for.
func benchGrowth(ctx context.Context, s *session, sc *scene) error {
	if !s.huge {
		return nil
	}
	w, stop, err := sc.lead(ctx)
	if err != nil {
		return err
	}
	defer stop()
	const large, small, each = 10_000_000, 10_000, 500
	if err := fillWith(ctx, w, large, each, inOrder); err != nil {
		return err
	}
	other, err := sc.sibling(ctx)
	if err != nil {
		return err
	}
	young, stopYoung, err := other.lead(ctx)
	if err != nil {
		return err
	}
	defer stopYoung()
	if err := fillWith(ctx, young, small, each, inOrder); err != nil {
		return err
	}
	if err := sc.exec(ctx, `CHECKPOINT`, `VACUUM ANALYZE ledger.event`); err != nil {
		return err
	}
	seen, err := s.loads(ctx, []load{{"large", appends(w, 16, 0, inOrder)}, {"small", appends(young, 16, 0, inOrder)}})
	if err != nil {
		return err
	}
	return s.report(result{Bench: "ledger/append-16-large", Ours: seen["large"].rate, Reference: seen["small"].rate,
		Against: fmt.Sprintf("ours in a book of %d events, here %d", small, large), Unit: "events/s", Better: higher, Demand: 0.8})
}

// inOrder gives ids as the pages make them: they begin with the time, so that new ones
// stand beside each other in an index however many there are.
func inOrder() string { return uuid.Must(uuid.NewV7()).String() }

// sibling makes a second book in the same cluster.
func (sc *scene) sibling(ctx context.Context) (*scene, error) {
	const name = "sibling"
	if err := sc.exec(ctx, "CREATE DATABASE "+name+" OWNER "+postgres.Owner); err != nil {
		return nil, err
	}
	other := &scene{cluster: sc.cluster, access: postgres.Access{
		OwnerURL: sc.cluster.URL(postgres.Owner, name), AppURL: sc.cluster.URL(postgres.App, name)}}
	return other, postgres.Migrate(ctx, other.access.OwnerURL, ledger.Schema, ledger.Migrations())
}
