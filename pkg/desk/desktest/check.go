package desktest

import (
	"encoding/json"
	"maps"

	"github.com/stretchr/testify/require"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// Said gives the payloads of one kind in a stream.
func Said[B message.Body](c *Club, stream string) []B {
	c.t.Helper()
	var all []B
	for _, body := range c.Bodies(stream) {
		if b, ok := body.(B); ok {
			all = append(all, b)
		}
	}
	return all
}

// Kinds gives the kinds of what stands in a stream.
func (c *Club) Kinds(stream string) []message.Kind {
	c.t.Helper()
	var all []message.Kind
	for _, body := range c.Bodies(stream) {
		all = append(all, body.Kind())
	}
	return all
}

// OnlyFor checks that an order is refused to members with any other role than
// these, to the pages while nobody is signed in, and to the boat's giver, who
// holds a link to their own papers.
func (c *Club) OnlyFor(giver people.ID, order desk.Commanded, roles ...people.Role) {
	c.t.Helper()
	may := map[people.Role]bool{}
	for _, role := range roles {
		may[role] = true
	}
	for _, role := range people.Roles {
		if !may[role] {
			_, err := c.Try(c.Member(role), order)
			faulttest.Want(c.t, err, fault.Forbidden, "", order.Verb(), role)
		}
	}
	_, err := c.Try(people.Service(desk.Pages), order)
	faulttest.Want(c.t, err, fault.SignIn, "", order.Verb())
	_, err = c.Try(c.Link(giver, people.OwnPapers, string(giver)), order)
	faulttest.Want(c.t, err, fault.Forbidden, "", order.Verb())
}

// TryChanged gives an order after some fields of its JSON were changed, even to
// what the order's type could not hold.
func (c *Club) TryChanged(by people.Actor, order desk.Commanded, change map[string]any) error {
	c.t.Helper()
	raw, err := json.Marshal(order)
	require.NoError(c.t, err)
	var fields map[string]any
	require.NoError(c.t, json.Unmarshal(raw, &fields))
	maps.Copy(fields, change)
	raw, err = json.Marshal(fields)
	require.NoError(c.t, err)
	_, err = c.DoRaw(c.t.Context(), desk.Asking{By: by, Key: ID(), Seen: c.seen}, order.Verb(), json.RawMessage(raw))
	return err
}

// WritesNothing checks that the book is as long after something as it was before.
func (c *Club) WritesNothing(something func()) {
	c.t.Helper()
	c.Settle()
	before, err := c.Log.Head(c.t.Context())
	require.NoError(c.t, err)
	something()
	after, err := c.Log.Head(c.t.Context())
	require.NoError(c.t, err)
	require.Equal(c.t, before.Position, after.Position, "something was written")
}
