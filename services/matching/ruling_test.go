package matching

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

func ruling(b boat.ID, request, how string) ruled {
	return ruled{PairRuled: message.PairRuled{Boat: b, Request: request, How: how, Why: "w"}}
}

// What is ruled in stands if it fits, what is ruled out does not, and the household
// that loses a boat by it is told.
func TestPairsThatAreRuledOn(t *testing.T) {
	d := drawOf(1, 2)
	d.asks[0].tier = 1
	d.rulings = []ruled{ruling("b000", "r001", message.RuledIn)}
	s, err := d.solve()
	require.NoError(t, err)
	assert.Equal(t, "r001", s.Pairs[0].Request, "against its tier, as ruled")
	d.rulings = []ruled{ruling("b000", "r000", message.RuledOut)}
	s, err = d.solve()
	require.NoError(t, err)
	assert.Equal(t, "r001", s.Pairs[0].Request)
	assert.Contains(t, s.Unserved[0].Reasons, "The club keeps a boat that would fit from this request. The reason is written down, and a second member read it.")
	d.rulings = []ruled{ruling("b000", "r001", message.RuledIn), ruling("b777", "r001", message.RuledOut)}
	d.asks[1].wish.Types = []boat.Type{boat.Board}
	s, err = d.solve()
	require.NoError(t, err)
	assert.Equal(t, "r000", s.Pairs[0].Request, "no ruling pairs what does not fit")

	d = drawOf(2, 1)
	singles(d, 0, 1)
	couplesOf(d, 0)
	d.rulings = []ruled{ruling("b001", "r000", message.RuledOut)}
	s, err = d.solve()
	require.NoError(t, err)
	assert.Empty(t, s.Pairs, "nor together with another boat")
}

func TestWhenAPairMayBeRuledOn(t *testing.T) {
	started := func() *round {
		r := &round{}
		r.Fold(message.Event{}, message.SecretCommitted{Member: "m", Commitment: "c"})
		r.Fold(message.Event{}, ruling("b1", "r1", message.RuledIn).PairRuled)
		return r
	}
	in := func(b boat.ID, request string) message.RulePair {
		return message.RulePair{Boat: b, Request: request, How: message.RuledIn}
	}
	assert.NoError(t, started().mayRule(in("b1", "r1")), "said again")
	assert.NoError(t, started().mayRule(in("b2", "r2")))
	assert.Equal(t, "boat", fault.Of(started().mayRule(in("b1", "r2"))).Field)
	assert.Equal(t, "request", fault.Of(started().mayRule(in("b2", "r1"))).Field)
	out := in("b1", "r2")
	out.How = message.RuledOut
	assert.NoError(t, started().mayRule(out))
	for name, spoil := range map[string]func(*round){
		"not started": func(r *round) { r.secrets = nil },
		"frozen":      func(r *round) { r.opened = &message.RoundOpened{} },
		"one boat":    func(r *round) { r.one = "b1" },
		"too many":    func(r *round) { r.rulings = make([]ruled, maxRulings) },
	} {
		r := started()
		spoil(r)
		assert.Error(t, r.mayRule(in("b2", "r2")), name)
	}
	r := started()
	r.Fold(message.Event{}, ruling("b1", "r1", message.RuledNot).PairRuled)
	assert.NoError(t, r.mayRule(in("b1", "r2")), "taken back")
}

// What is ruled is read by a second member, as long as it stands.
func TestWhoRuledDoesNotApprove(t *testing.T) {
	r := &round{solved: &message.RoundSolved{SolvedBy: "solver"}}
	ruler, other := people.Member("ruler"), people.Member("other")
	r.Fold(message.Event{Actor: ruler.String()}, ruling("b1", "r1", message.RuledIn).PairRuled)
	assert.True(t, fault.Is(r.mayApprove(ruler), fault.Forbidden))
	assert.True(t, fault.Is(r.mayApprove(people.Member("solver")), fault.Forbidden))
	assert.NoError(t, r.mayApprove(other))
	r.Fold(message.Event{Actor: other.String()}, ruling("b1", "r1", message.RuledOut).PairRuled)
	assert.NoError(t, r.mayApprove(ruler), "another's ruling stands now")
	assert.True(t, fault.Is(r.mayApprove(other), fault.Forbidden))
	r.Fold(message.Event{Actor: ruler.String()}, ruling("b1", "r1", message.RuledNot).PairRuled)
	assert.NoError(t, r.mayApprove(other), "taken back")
	assert.NoError(t, r.mayApprove(ruler), "taken back")
}

// A round that is full of rulings takes none more, but lets them go and be changed.
func TestAFullListOfRulings(t *testing.T) {
	r := &round{secrets: []message.SecretCommitted{{}}}
	for i := range maxRulings {
		r.Fold(message.Event{}, ruling(boat.ID(fmt.Sprint("b", i)), "r1", message.RuledOut).PairRuled)
	}
	back := message.RulePair{Boat: "b7", Request: "r1", How: message.RuledNot}
	assert.NoError(t, r.mayRule(back))
	assert.NoError(t, r.mayRule(message.RulePair{Boat: "b7", Request: "r1", How: message.RuledIn}), "changed")
	fresh := message.RulePair{Boat: "b7", Request: "r2", How: message.RuledOut}
	assert.Error(t, r.mayRule(fresh))
	r.Fold(message.Event{}, ruling("b7", "r1", message.RuledNot).PairRuled)
	assert.NoError(t, r.mayRule(fresh), "there is room again")
}
