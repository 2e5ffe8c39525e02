package bus

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/message"
)

// events gives events numbered from … to.
func events(from, to int64) []message.Event {
	var all []message.Event
	for p := from; p <= to; p++ {
		all = append(all, message.Event{
			Position: p, ID: fmt.Sprint("id-", p), Stream: "intake.boat/b1", Version: p, Kind: "intake.noted", Schema: 1,
			HappenedAt: time.UnixMicro(p).UTC(), RecordedAt: time.UnixMicro(p).UTC(), Actor: "member/m1",
			Data: []byte(`{"words":"<b> & ` + "\u2028" + `"}`), PrevHash: []byte{byte(p - 1)}, Hash: []byte{byte(p)},
		})
	}
	return all
}

// startBook starts a bus with a stream that holds events 1 … n.
func startBook(t *testing.T, n int64) (relay, room *Conn) {
	t.Helper()
	server := startServer(t, Relay, "repair")
	relay, room = connect(t, server, Relay), connect(t, server, "repair")
	_, err := relay.EnsureBook(t.Context(), 1)
	require.NoError(t, err)
	require.NoError(t, relay.Publish(t.Context(), events(1, n)))
	return relay, room
}

// follow collects events until the position last, and gives what Follow gave.
func follow(t *testing.T, c *Conn, after, last int64) ([]message.Event, error) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	var got []message.Event
	err := c.Follow(ctx, after, func(_ context.Context, batch []message.Event) error {
		assert.LessOrEqual(t, len(batch), 256)
		if got = append(got, batch...); batch[len(batch)-1].Position == last {
			cancel()
		}
		return nil
	})
	return got, err
}

// Guard: SetEscapeHTML in encode, for the bytes of the data.
func TestFollowersGetEveryEventAsItWas(t *testing.T) {
	_, room := startBook(t, 600)
	for _, after := range []int64{0, 1, 599} {
		got, err := follow(t, room, after, 600)
		require.NoError(t, err)
		assert.Equal(t, events(after+1, 600), got)
	}
}

func TestFollowersHearWhatComesLater(t *testing.T) {
	relay, room := startBook(t, 3)
	got := make(chan []message.Event, 10)
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() {
		ended <- room.Follow(ctx, 3, func(_ context.Context, batch []message.Event) error { got <- batch; return nil })
	}()
	require.NoError(t, relay.Publish(t.Context(), events(4, 4)))
	assert.Equal(t, events(4, 4), <-got)
	require.NoError(t, relay.Publish(t.Context(), events(5, 5)))
	assert.Equal(t, events(5, 5), <-got)
	cancel()
	require.NoError(t, <-ended)
}

// A wiped stream that is being filled again: a follower ahead of it waits, and
// goes on where it stood.
func TestAFollowerAheadOfTheStreamWaits(t *testing.T) {
	relay, room := startBook(t, 0)
	got := make(chan []message.Event, 10)
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() {
		ended <- room.Follow(ctx, 4, func(_ context.Context, batch []message.Event) error { got <- batch; return nil })
	}()
	require.NoError(t, relay.Publish(t.Context(), events(1, 5)))
	assert.Equal(t, events(5, 5), <-got)
	cancel()
	require.NoError(t, <-ended)
}

// Guard: the comparison of positions in batchFrom, and of position and sequence in
// eventOf. The stream is spoilt through a stream of another make.
func TestAGapIsNoticed(t *testing.T) {
	m := func(sequence, position int64) jetstream.Msg {
		data, err := encode(&events(position, position)[0])
		require.NoError(t, err)
		return &said{data: data, sequence: uint64(sequence)}
	}
	channel := func(messages ...jetstream.Msg) chan jetstream.Msg {
		c := make(chan jetstream.Msg, len(messages))
		for _, m := range messages {
			c <- m
		}
		return c
	}
	for name, row := range map[string]struct {
		after int64
		first jetstream.Msg
		then  chan jetstream.Msg
		want  []message.Event
		wrong string
	}{
		"the next":             {4, m(5, 5), channel(), events(5, 5), ""},
		"the next three":       {4, m(5, 5), channel(m(6, 6), m(7, 7)), events(5, 7), ""},
		"one is missing":       {4, m(6, 6), channel(), nil, "6 follows 4"},
		"one is missing later": {4, m(5, 5), channel(m(7, 7)), nil, "7 follows 5"},
		"one comes again":      {4, m(4, 4), channel(m(5, 5), m(5, 5), m(6, 6)), events(5, 6), ""},
		"nothing new":          {4, m(3, 3), channel(m(4, 4)), nil, ""},
		"an event elsewhere":   {4, m(6, 5), channel(), nil, "stands at 6"},
		"what is not an event": {4, &said{data: []byte("{"), sequence: 5}, channel(), nil, "reading an event"},
	} {
		got, err := batchFrom(row.first, row.then, row.after)
		assert.Equal(t, row.want, got, name)
		if row.wrong == "" {
			assert.NoError(t, err, name)
			continue
		}
		assert.ErrorContains(t, err, row.wrong, name)
		assert.Equal(t, strings.Contains(row.wrong, "follows"), errors.Is(err, errGap), name)
	}
}

// said is a message of the stream, made up.
type said struct {
	jetstream.Msg
	data     []byte
	sequence uint64
}

func (s *said) Data() []byte { return s.data }

func (s *said) Metadata() (*jetstream.MsgMetadata, error) {
	return &jetstream.MsgMetadata{Sequence: jetstream.SequencePair{Stream: s.sequence}}, nil
}

// Guard: the context of Follow's own that ends with it. The receiver of a follower
// that failed must not wait for ever with its hand full.
func TestAFollowerThatFailsLeavesNothingBehind(t *testing.T) {
	_, room := startBook(t, 3000)
	failure := errors.New("the tables are broken")
	stacks := make([]byte, 1<<20)
	receiving := func() bool {
		return strings.Contains(string(stacks[:runtime.Stack(stacks, true)]), "bus.(*Conn).Follow.func")
	}
	for range 5 {
		err := room.Follow(t.Context(), 0, func(context.Context, []message.Event) error {
			for full := 0; full < 20; { // the receiver's hand is full: it stays where it is
				if full++; !receiving() {
					full = 0
				}
			}
			return failure
		})
		require.ErrorIs(t, err, failure)
	}
	assert.Eventually(t, func() bool { return !receiving() }, 5*time.Second, 10*time.Millisecond)
}

func TestEnsureBookLeavesAStreamAsItIs(t *testing.T) {
	relay, _ := startBook(t, 7)
	last, err := relay.EnsureBook(t.Context(), 1)
	require.NoError(t, err)
	assert.EqualValues(t, 7, last)
	last, err = relay.BookLast(t.Context())
	require.NoError(t, err)
	assert.EqualValues(t, 7, last)
	e, err := relay.BookEvent(t.Context(), 5)
	require.NoError(t, err)
	assert.Equal(t, events(5, 5)[0], e)
	_, err = relay.BookEvent(t.Context(), 8)
	assert.ErrorIs(t, err, jetstream.ErrMsgNotFound)
}

// Guard: DenyDelete and DenyPurge, which hold against whoever may do everything.
func TestSingleEventsCannotBeTakenFromTheStream(t *testing.T) {
	relay, _ := startBook(t, 3)
	stream, err := relay.JetStream().Stream(t.Context(), BookStream)
	require.NoError(t, err)
	assert.True(t, stream.CachedInfo().Config.DenyDelete)
	assert.True(t, stream.CachedInfo().Config.DenyPurge)
}

// Guard: the expected sequence in Publish. What stands there is not published
// again, nor another event in its place, nor one behind a gap.
func TestPublishingAgainChangesNothing(t *testing.T) {
	relay, room := startBook(t, 3)
	assert.Error(t, relay.Publish(t.Context(), events(2, 3)))
	other := events(3, 3)
	other[0].ID = "another"
	assert.Error(t, relay.Publish(t.Context(), other))
	assert.Error(t, relay.Publish(t.Context(), events(5, 6)), "4 is missing")
	require.NoError(t, relay.Publish(t.Context(), events(4, 5)))
	got, err := follow(t, room, 0, 5)
	require.NoError(t, err)
	assert.Equal(t, events(1, 5), got)
}

func TestPublishingEndsWithItsContext(t *testing.T) {
	relay, _ := startBook(t, 1)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	err := relay.Publish(ctx, events(2, 4))
	if err != nil { // it may have been quicker
		assert.ErrorIs(t, err, context.Canceled)
	}
	relay.Close()
	assert.ErrorIs(t, relay.Publish(t.Context(), events(9, 9)), nats.ErrConnectionClosed)
	assert.Error(t, relay.Follow(t.Context(), 0, nil))
}
