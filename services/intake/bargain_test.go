package intake

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

func TestWhatTheSellerAnswersIsWrittenDown(t *testing.T) {
	ceiling := money.Of(50_000, "USD")
	d := deal{by: desk.Caller{Actor: people.Member("steward")}, club: "USD", ceiling: &ceiling}
	b := Boat{stage: offered, name: "Heron", taking: message.Purchase, giver: "seller"}
	body, err := b.answered(message.NoteAnswer{Boat: "b1", Answer: message.Countered, Price: money.Of(60_000, "USD"), Words: "with paddles"}, d)
	require.NoError(t, err)
	assert.Equal(t, message.AnswerNoted{Boat: "b1", Answer: message.Countered, Price: money.Of(60_000, "USD"), Ceiling: ceiling, Words: "with paddles"}, body,
		"above the ceiling: the seller may ask for anything")
	d.ceiling = nil
	body, err = b.answered(message.NoteAnswer{Boat: "b1", Answer: message.Withdraws}, d)
	require.NoError(t, err)
	assert.True(t, body.(message.AnswerNoted).Ceiling.IsZero())

	for name, row := range map[string]struct {
		order message.NoteAnswer
		boat  func(*Boat)
		by    people.ID
		kind  fault.Kind
		field string
	}{
		"says something else":  {order: message.NoteAnswer{Answer: "sighs"}, kind: fault.Invalid, field: "answer"},
		"agrees to nothing":    {order: message.NoteAnswer{Answer: message.Agrees}, kind: fault.Invalid, field: "price"},
		"refuses, at a price":  {order: message.NoteAnswer{Answer: message.Refuses, Price: money.Of(1, "USD")}, kind: fault.Invalid, field: "price"},
		"in another currency":  {order: message.NoteAnswer{Answer: message.Agrees, Price: money.Of(1, "EUR")}, kind: fault.Invalid, field: "price"},
		"the seller writes":    {order: message.NoteAnswer{Answer: message.Refuses}, by: "seller", kind: fault.Forbidden},
		"a gift":               {order: message.NoteAnswer{Answer: message.Refuses}, boat: func(b *Boat) { b.taking = message.Gift }, kind: fault.Conflict, field: "answer"},
		"when all is settled":  {order: message.NoteAnswer{Answer: message.Refuses}, boat: func(b *Boat) { b.stage = accepted }, kind: fault.Conflict, field: "boat"},
		"a thing without name": {order: message.NoteAnswer{}, kind: fault.Invalid, field: "answer"},
	} {
		b, d := b, d
		if row.boat != nil {
			row.boat(&b)
		}
		if row.by != "" {
			d.by = desk.Caller{Actor: people.Member(row.by)}
		}
		_, err := b.answered(row.order, d)
		faulttest.Want(t, err, row.kind, row.field, name)
	}
}
