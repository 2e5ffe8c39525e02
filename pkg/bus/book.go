package bus

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"refloat.example/pkg/message"
)

// EnsureBook makes the stream of the book's events, or leaves it as it is. It
// gives the last position that the stream holds. replicas is 1, or 3 in a
// cluster. Nobody can take single events out of the stream; who wants to be rid
// of it deletes it as a whole.
func (c *Conn) EnsureBook(ctx context.Context, replicas int) (int64, error) {
	stream, err := c.js.CreateOrUpdateStream(ctx, jetstream.StreamConfig{
		Name:        BookStream,
		Description: "a copy of the club's book, position by position",
		Subjects:    []string{eventPrefix + ">"},
		Storage:     jetstream.FileStorage,
		Replicas:    replicas,
		DenyDelete:  true,
		DenyPurge:   true, // a purged stream keeps its last number: nobody would fill it again
	})
	if err != nil {
		return 0, fmt.Errorf("making the stream of the book: %w", err)
	}
	info, err := stream.Info(ctx)
	if err != nil {
		return 0, fmt.Errorf("asking for the stream of the book: %w", err)
	}
	return int64(info.State.LastSeq), nil
}

// BookLast gives the last position that the stream holds, without making it.
func (c *Conn) BookLast(ctx context.Context) (int64, error) {
	stream, err := c.js.Stream(ctx, BookStream)
	if err != nil {
		return 0, fmt.Errorf("asking for the stream of the book: %w", err)
	}
	return int64(stream.CachedInfo().State.LastSeq), nil
}

// BookEvent gives the event that stands at a position of the stream.
func (c *Conn) BookEvent(ctx context.Context, position int64) (message.Event, error) {
	var e message.Event
	stream, err := c.js.Stream(ctx, BookStream)
	if err != nil {
		return e, fmt.Errorf("asking for the stream of the book: %w", err)
	}
	m, err := stream.GetMsg(ctx, uint64(position))
	if err != nil {
		return e, fmt.Errorf("reading event %d from the stream: %w", position, err)
	}
	if err := json.Unmarshal(m.Data, &e); err != nil {
		return e, fmt.Errorf("reading event %d from the stream: %w", position, err)
	}
	return e, nil
}

// Publish puts events behind each other into the stream, each only if the one
// before it is the stream's last: so a sequence number is always a position,
// however often and by however many it is tried.
func (c *Conn) Publish(ctx context.Context, events []message.Event) error {
	var acks []jetstream.PubAckFuture
	for i := range events {
		e := &events[i]
		data, err := encode(e)
		if err != nil {
			return fmt.Errorf("event %d: %w", e.Position, err)
		}
		m := nats.NewMsg(Event(string(e.Kind)))
		m.Data = data
		m.Header.Set(nats.MsgIdHdr, e.ID)
		m.Header.Set(nats.ExpectedLastSeqHdr, strconv.FormatInt(e.Position-1, 10))
		ack, err := c.js.PublishMsgAsync(m)
		if err != nil {
			return fmt.Errorf("event %d: %w", e.Position, err)
		}
		acks = append(acks, ack)
	}
	for i, ack := range acks {
		select {
		case <-ack.Ok():
		case err := <-ack.Err():
			return fmt.Errorf("event %d: %w", events[i].Position, err)
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return nil
}

// encode writes an event so that its data arrive byte for byte: json.Marshal
// would escape <, > and &, and the hash would no longer fit.
func encode(e *message.Event) ([]byte, error) {
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	err := enc.Encode(e)
	return out.Bytes(), err
}

// errGap says that the stream did not continue where the reader stood.
var errGap = errors.New("the stream of the book does not continue where this reader stands")

// Follow hands the events behind a position to apply, in order and in batches of
// at most 256, until ctx ends or something fails. It checks that no position is
// skipped, and passes over events that come again. apply has to have taken a
// batch durably when it returns nil.
func (c *Conn) Follow(ctx context.Context, after int64, apply func(ctx context.Context, events []message.Event) error) error {
	stopping := ctx
	ctx, cancel := context.WithCancel(ctx) // lets the receiver go when apply fails
	defer cancel()
	consumer, err := c.js.OrderedConsumer(ctx, BookStream, jetstream.OrderedConsumerConfig{
		DeliverPolicy: jetstream.DeliverByStartSequencePolicy,
		OptStartSeq:   uint64(after + 1),
		// The server forgets a follower that is gone so soon.
		InactiveThreshold: 30 * time.Second,
	})
	if err != nil {
		return fmt.Errorf("following the book: %w", err)
	}
	arrived := make(chan jetstream.Msg, 512)
	failed := make(chan error, 1)
	consuming, err := consumer.Consume(func(m jetstream.Msg) {
		select {
		case arrived <- m:
		case <-ctx.Done():
		}
	}, jetstream.PullHeartbeat(2*time.Second), jetstream.ConsumeErrHandler(func(_ jetstream.ConsumeContext, err error) {
		if errors.Is(err, jetstream.ErrNoHeartbeat) {
			return // the ordered consumer asks again by itself
		}
		select {
		case failed <- err:
		default:
		}
	}))
	if err != nil {
		return fmt.Errorf("following the book: %w", err)
	}
	defer consuming.Stop()
	for {
		select {
		case m := <-arrived:
			events, err := batchFrom(m, arrived, after)
			if err != nil {
				return err
			}
			if len(events) == 0 {
				continue
			}
			if err := apply(stopping, events); err != nil {
				return err
			}
			after = events[len(events)-1].Position
		case err := <-failed:
			return fmt.Errorf("following the book: %w", err)
		case <-ctx.Done():
			return nil
		}
	}
}

// batchFrom takes along what has arrived behind a first message.
func batchFrom(first jetstream.Msg, arrived <-chan jetstream.Msg, after int64) ([]message.Event, error) {
	const most = 256
	var events []message.Event
	for m := first; ; {
		e, err := eventOf(m)
		if err != nil {
			return nil, err
		}
		last := after + int64(len(events))
		if e.Position > last+1 {
			return nil, fmt.Errorf("%w: %d follows %d", errGap, e.Position, last)
		}
		if e.Position == last+1 {
			events = append(events, e)
		}
		if len(events) == most {
			return events, nil
		}
		select {
		case m = <-arrived:
		default:
			return events, nil
		}
	}
}

func eventOf(m jetstream.Msg) (message.Event, error) {
	var e message.Event
	if err := json.Unmarshal(m.Data(), &e); err != nil {
		return e, fmt.Errorf("reading an event from the stream: %w", err)
	}
	meta, err := m.Metadata()
	if err == nil && int64(meta.Sequence.Stream) != e.Position {
		err = fmt.Errorf("event %d stands at %d in the stream", e.Position, meta.Sequence.Stream)
	}
	return e, err
}
