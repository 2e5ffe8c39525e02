package desk

import (
	"context"

	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
)

// State is what a stream's events add up to. Fold is pure.
type State[S any] interface {
	*S
	Fold(e message.Event, body message.Body)
}

// Load folds a stream and gives the state with the version it is at. A stream
// without events gives the zero state at version 0.
func Load[S any, P State[S]](ctx context.Context, log *ledger.Log, stream string) (S, ledger.Expected, error) {
	var state S
	at := ledger.Expected{Stream: stream}
	events, err := log.Stream(ctx, stream)
	if err != nil {
		return state, at, err
	}
	for _, e := range events {
		body, err := message.Decode(e)
		if err != nil {
			return state, at, err
		}
		P(&state).Fold(e, body)
		at.Version = e.Version
	}
	return state, at, nil
}
