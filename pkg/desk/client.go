package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/watch"
)

// A Client gives orders to rooms: the pages, the import and the demo are
// clients.
type Client struct{ Conn *bus.Conn }

// Asking is who asks and up to where they have read.
type Asking struct {
	By   people.Actor
	Key  string // needed for commands: one per intent
	Seen int64
	// HappenedAt is when it was so; zero means now.
	HappenedAt time.Time
	// Check lets a room decide about a command without writing anything.
	Check bool
}

// answerFor bounds the wait for a room.
const answerFor = 10 * time.Second

// Do gives a command and waits for the room's reply. Errors are faults.
func (c Client) Do(ctx context.Context, a Asking, command Commanded) (message.Reply, error) {
	return send[message.Reply](ctx, c, bus.Do(command.Verb()), a, command)
}

// DoRaw gives a command whose payload is already JSON.
func (c Client) DoRaw(ctx context.Context, a Asking, verb string, data json.RawMessage) (message.Reply, error) {
	return send[message.Reply](ctx, c, bus.Do(verb), a, data)
}

// Ask asks a question and reads the answer into A.
func Ask[A any](ctx context.Context, c Client, a Asking, question Commanded) (A, error) {
	return send[A](ctx, c, bus.Ask(question.Verb()), a, question)
}

func send[A any](ctx context.Context, c Client, subject string, a Asking, payload any) (answer A, err error) {
	ctx, span := watch.Within(ctx, "send "+subject)
	defer func() { span.End(err) }()
	data, err := json.Marshal(payload)
	if err != nil {
		return answer, fmt.Errorf("writing the order %s: %w", subject, err)
	}
	order, err := json.Marshal(message.Command{By: a.By, Key: a.Key, Seen: a.Seen, HappenedAt: a.HappenedAt, Check: a.Check, Data: data})
	if err != nil {
		return answer, fmt.Errorf("writing the order %s: %w", subject, err)
	}
	ctx, cancel := context.WithTimeout(ctx, answerFor)
	defer cancel()
	ask := c.insist
	if _, only := payload.(once); only {
		ask = c.Conn.Request
	}
	raw, err := ask(ctx, subject, order)
	if err != nil {
		return answer, err
	}
	var w Wire
	if err := json.Unmarshal(raw, &w); err != nil {
		return answer, fmt.Errorf("reading the answer to %s: %w", subject, err)
	}
	if w.Fault != nil {
		return answer, w.Fault
	}
	if err := json.Unmarshal(w.Data, &answer); err != nil {
		return answer, fmt.Errorf("reading the answer to %s: %w", subject, err)
	}
	return answer, nil
}
