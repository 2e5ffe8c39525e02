package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
	"unicode"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/bus"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/watch"
)

const (
	// orderFor bounds the work on one order.
	orderFor = 8 * time.Second
	// hearFor is how long an order waits for the room to hear what its sender has
	// seen.
	hearFor = 2 * time.Second
	// tries is how often a room decides anew when somebody wrote meanwhile. Each
	// time somebody gets through, so that as many as a club has at one bin do.
	tries = 40
	// maxOrder bounds an order, in bytes.
	maxOrder = 1 << 20
)

// Commanded is a command's payload; its verb is "room.verb-noun".
type Commanded interface{ Verb() string }

// An Order is a command as a room's decider sees it.
type Order[C Commanded] struct {
	Caller
	Command C
	// HappenedAt is when it was so, by the sender's word; Now is when it is being
	// written.
	HappenedAt time.Time
	Now        time.Time
}

// Today is the day on which the order is being written, in UTC.
func (o Order[C]) Today() clock.Date { return clock.DateOf(o.Now) }

// A Decision is what a room has decided: the versions it rests on and what it
// says. No events means that nothing has to change.
type Decision struct {
	Expect []ledger.Expected
	Events []ledger.New
}

// Say adds an event to a decision.
func (d *Decision) Say(stream string, of boat.ID, body message.Body) error {
	event, err := ledger.Event(stream, of, body)
	if err != nil {
		return err
	}
	d.Events = append(d.Events, event)
	return nil
}

// SayAt makes a decision that rests on one stream and says these events there. of
// is the boat that they are about, or none.
func SayAt(at ledger.Expected, of boat.ID, bodies ...message.Body) (Decision, error) {
	d := Decision{Expect: []ledger.Expected{at}}
	for _, body := range bodies {
		if err := d.Say(at.Stream, of, body); err != nil {
			return d, err
		}
	}
	return d, nil
}

// Take lets a room take a command. allow says who may give it; decide loads what
// it needs and gives its decision, and is called again when somebody else wrote
// meanwhile.
func Take[C Commanded](d *Desk, allow Allow, decide func(ctx context.Context, o Order[C]) (Decision, error)) {
	var zero C
	d.commands[zero.Verb()] = func(ctx context.Context, data []byte) (any, error) {
		var command message.Command
		if err := strict(data, &command); err != nil {
			return nil, fault.Field("", "the order cannot be read: %s", err)
		}
		var c C
		if err := strict(command.Data, &c); err != nil {
			return nil, readFault(err)
		}
		return d.order(ctx, allow, command, c.Verb(), func(caller Caller) (Decision, error) {
			now := d.Clock.Now()
			happened := command.HappenedAt
			if happened.IsZero() {
				happened = now
			}
			if happened.After(now.Add(time.Hour)) {
				return Decision{}, fault.Field("happened_at", "lies in the future")
			}
			return decide(ctx, Order[C]{caller, c, happened, now})
		})
	}
}

// InTurn lets the orders of a verb be worked on one after the other in this
// process: for those that all rest on one stream, of which only one at a time can
// get through. Those of other processes still decide anew.
func InTurn(d *Desk, verb string) {
	take, one := d.commands[verb], make(chan struct{}, 1)
	d.commands[verb] = func(ctx context.Context, data []byte) (any, error) {
		select {
		case one <- struct{}{}:
			defer func() { <-one }()
			return take(ctx, data)
		case <-ctx.Done():
			return nil, fault.New(fault.Busy, "too many of these orders at once; try again in a moment")
		}
	}
}

// Answer lets a room answer a question, which writes nothing.
func Answer[Q Commanded, A any](d *Desk, allow Allow, answer func(ctx context.Context, caller Caller, q Q) (A, error)) {
	var zero Q
	answerAs(d, zero.Verb(), allow, answer)
}

// answerAs is Answer for a question that every room answers under a verb of its
// own.
func answerAs[Q Commanded, A any](d *Desk, verb string, allow Allow, answer func(ctx context.Context, caller Caller, q Q) (A, error)) {
	d.questions[verb] = func(ctx context.Context, data []byte) (any, error) {
		var command message.Command
		if err := strict(data, &command); err != nil {
			return nil, fault.Field("", "the question cannot be read: %s", err)
		}
		var q Q
		if err := strict(command.Data, &q); err != nil {
			return nil, readFault(err)
		}
		if err := d.heard.wait(ctx, command.Seen, hearFor); err != nil {
			return nil, err
		}
		caller, err := d.caller(ctx, command.By)
		if err == nil {
			err = allow.check(caller)
		}
		if err != nil {
			return nil, err
		}
		return answer(ctx, caller, q)
	}
}

// order is what Take does for every type of command.
func (d *Desk) order(ctx context.Context, allow Allow, c message.Command, verb string, decide func(Caller) (Decision, error)) (message.Reply, error) {
	if c.Key == "" {
		return message.Reply{}, fault.Field("key", "a request key is needed")
	}
	if err := d.heard.wait(ctx, c.Seen, hearFor); err != nil {
		return message.Reply{}, err
	}
	caller, err := d.caller(ctx, c.By)
	if err == nil {
		err = allow.check(caller)
	}
	if err != nil {
		return message.Reply{}, err
	}
	digest := ledger.DigestOf([]byte(verb), []byte(caller.Actor.String()), c.Data)
	if receipt, found, err := d.Log.Repeat(ctx, c.Key, digest); found || err != nil {
		return replyOf(receipt), err
	}
	for try := 1; ; try++ {
		decision, err := decide(caller)
		if err != nil {
			return message.Reply{}, err
		}
		if len(decision.Events) == 0 || c.Check {
			return d.nothingToDo(ctx)
		}
		receipt, err := d.Log.Append(ctx, ledger.Append{
			Key: c.Key, Digest: digest, Actor: caller.Actor.String(), Correlation: watch.Correlation(ctx, c.Key), HappenedAt: c.HappenedAt,
			Expect: decision.Expect, Events: decision.Events,
		})
		if fault.Is(err, fault.Conflict) && try < tries {
			continue
		}
		return replyOf(receipt), err
	}
}

// nothingToDo answers an order that is already fulfilled, or a rehearsal: the
// sender may read from here on.
func (d *Desk) nothingToDo(ctx context.Context) (message.Reply, error) {
	head, err := d.Log.Head(ctx)
	return message.Reply{Position: head.Position}, err
}

func replyOf(r ledger.Receipt) message.Reply {
	return message.Reply{Position: r.Position(), Repeated: r.Repeated, Events: r.Events}
}

// strict reads JSON and refuses unknown fields and anything behind the value.
func strict(data []byte, into any) error {
	if len(data) > maxOrder {
		return fmt.Errorf("longer than %d bytes", maxOrder)
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		return err
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return errors.New("something follows the value")
	}
	return nil
}

// readFault names the field that a command could not be read for.
func readFault(err error) error {
	var mistyped *json.UnmarshalTypeError
	if errors.As(err, &mistyped) {
		return fault.Field(jsonPath(mistyped.Field), "cannot be a %s", mistyped.Value)
	}
	if name, unknown := strings.CutPrefix(err.Error(), "json: unknown field "); unknown {
		return fault.Field(strings.Trim(name, `"`), "there is no such field")
	}
	return fault.Field("", "the order cannot be read: %s", err)
}

// jsonPath drops the names of embedded types, which are no part of the JSON: our
// JSON names begin with small letters.
func jsonPath(field string) string {
	parts := slices.DeleteFunc(strings.Split(field, "."), func(part string) bool { return part != "" && unicode.IsUpper(rune(part[0])) })
	return strings.Join(parts, ".")
}

// listen opens the counter.
func (d *Desk) listen() error {
	for prefix, handlers := range map[string]map[string]handler{"do": d.commands, "ask": d.questions} {
		subject := bus.Do(d.Room + ".>")
		if prefix == "ask" {
			subject = bus.Ask(d.Room + ".>")
		}
		if len(handlers) == 0 {
			continue // not every room takes orders
		}
		service, err := d.Bus.Serve(subject, d.Room, func(ctx context.Context, subject string, data []byte) []byte {
			ctx, cancel := context.WithTimeout(ctx, orderFor)
			defer cancel()
			return d.serve(ctx, handlers[strings.TrimPrefix(subject, prefix+".")], subject, data)
		})
		if err != nil {
			return err
		}
		d.services = append(d.services, service)
	}
	return nil
}

// Wire is the frame of every answer on the bus.
type Wire struct {
	Fault *fault.Fault    `json:"fault,omitempty"`
	Data  json.RawMessage `json:"data,omitempty"`
}

func (d *Desk) serve(ctx context.Context, h handler, subject string, data []byte) []byte {
	var w Wire
	ctx, span := watch.Within(ctx, subject)
	begin := time.Now()
	answer, err := d.handle(ctx, h, data)
	span.End(err)
	sort, _, _ := strings.Cut(subject, ".")
	d.Figures.Ordered(d.Room, sort, time.Since(begin), err)
	if err == nil {
		w.Data, err = json.Marshal(answer)
	}
	if err != nil {
		w.Fault = d.faultOf(ctx, subject, err)
	}
	out, err := json.Marshal(w)
	if err != nil {
		d.Slog.ErrorContext(ctx, "an answer could not be written", "subject", subject, "err", err)
	}
	return out
}

func (d *Desk) handle(ctx context.Context, h handler, data []byte) (answer any, err error) {
	if h == nil {
		return nil, fault.New(fault.Unknown, "the %s room does not know this order", d.Room)
	}
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("panic: %v", r)
		}
	}()
	return h(ctx, data)
}

// faultOf logs what is our own mistake and passes on what concerns the sender.
func (d *Desk) faultOf(ctx context.Context, subject string, err error) *fault.Fault {
	f := fault.Of(err)
	if f.Kind == fault.Internal {
		d.Slog.ErrorContext(ctx, "an order failed", "subject", subject, "err", err)
	}
	return f
}
