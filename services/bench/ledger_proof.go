package main

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/proof"
)

// The bounds on a proof of one event among a million: the time to make it, and the
// size of its file.
const (
	proofMostMS    = 5.0
	proofMostBytes = 2048.0
)

// benchProof measures proofs in a book of its own.
func benchProof(ctx context.Context, s *session) error { return inScene(ctx, s, benchProofIn) }

// benchProofIn seals a long book and proves events of it, beside the bounds; a proof
// reads as many hashes as the tree has levels.
func benchProofIn(ctx context.Context, s *session, sc *scene) error {
	events := 1_000_000
	if s.quick {
		events = 100_000
	}
	w, stop, err := sc.lead(ctx)
	if err != nil {
		return err
	}
	err = fillBriefly(ctx, w, events)
	stop()
	if err != nil {
		return err
	}
	begun := time.Now()
	key, err := sc.seal(ctx, s.scratch, int64(events))
	if err != nil {
		return err
	}
	fmt.Fprintf(s.notes, "sealed %d events in %s\n", events, time.Since(begun).Round(time.Second))
	reader := ledger.NewReader(sc.pool)
	var took, sizes, checked []float64
	for i := range int64(200) {
		position := 1 + i*int64(events-1)/199
		begun := time.Now()
		file, err := reader.Prove(ctx, position)
		if err != nil {
			return err
		}
		took, sizes = append(took, milliseconds(begun)), append(sizes, float64(len(file)))
		begun = time.Now()
		if _, err := ledger.CheckProof(file, key); err != nil {
			return err
		}
		checked = append(checked, milliseconds(begun))
	}
	against := fmt.Sprintf("the bound, in a book of %d events", events)
	if err := s.report(result{Bench: "ledger/proof", Ours: median(took), Reference: proofMostMS, Against: against, Unit: "ms", Better: lower, Demand: 1,
		Note: fmt.Sprintf("median of 200; checking one took %.2f ms", median(checked))}); err != nil {
		return err
	}
	return s.report(result{Bench: "ledger/proof-size", Ours: median(sizes), Reference: proofMostBytes, Against: against, Unit: "bytes", Better: lower, Demand: 1,
		Note: "the file shows the event, here one as for a donor's paper"})
}

func milliseconds(since time.Time) float64 { return float64(time.Since(since).Microseconds()) / 1000 }

// lodged is data as long as that of the event by which a paper is checked.
const lodged = `{"digest":"9f2c0a7d4b1e88355c6d0f12a3b4c5d6e7f8091a2b3c4d5e6f708192a3b4c5d6",` +
	`"file_digest":"1b4f0e9851971998e732078544c96b36c3d01cedf7caa332359d6f1d83567014","on":"2026-07-06","serial":"US-2026-0017"}`

// fillBriefly writes events like those by which papers are checked.
func fillBriefly(ctx context.Context, w *ledger.Writer, events int) error {
	const each = 500
	for done := 0; done < events; done += each {
		a := fresh(ledger.DigestOf([]byte("lodged")), inOrder)
		a.Expect, a.Events, a.Cause = nil, nil, ""
		a.Actor, a.Correlation = "member/55a5e46b-7d53-80f9-9484-2d6c2ca5d148", a.Key // as long as real ones
		for i := range each {
			a.Events = append(a.Events, ledger.New{Stream: fmt.Sprintf("treasury.paper/0197a1c0-3b5e-7c11-9d02-5f7a1e2b0%03d", i), Kind: "treasury.paper-lodged", Schema: 1, Data: lodged})
		}
		if _, err := w.Append(ctx, a); err != nil {
			return fmt.Errorf("filling the book: %w", err)
		}
	}
	return nil
}

// seal runs a sealer until the book is sealed, and gives its public key.
func (sc *scene) seal(ctx context.Context, scratch string, to int64) (proof.Key, error) {
	folder, err := os.MkdirTemp(scratch, "seal-")
	if err != nil {
		return "", err
	}
	part := ledger.NewLog(sc.pool, nil, clock.System{}, slog.New(slog.DiscardHandler)).Sealer(filepath.Join(folder, "keys"), filepath.Join(folder, "published"))
	if err := part.Start(ctx); err != nil {
		return "", err
	}
	defer func() { _ = part.Stop(context.WithoutCancel(ctx)) }()
	reader := ledger.NewReader(sc.pool)
	for {
		if c, err := reader.FirstOver(ctx, to); err == nil {
			return c.By[0], nil
		}
		select {
		case <-time.After(100 * time.Millisecond):
		case <-ctx.Done():
			return "", ctx.Err()
		}
	}
}
