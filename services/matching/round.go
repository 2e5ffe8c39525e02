package matching

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

func compare(a, b string) int { return strings.Compare(a, b) }

// listHash is SHA-256 over the canonical JSON of who and what takes part.
func listHash(boats []boat.ID, requests []message.RoundRequest) (string, error) {
	list, err := message.Canonical(struct {
		Boats    []boat.ID              `json:"boats"`
		Requests []message.RoundRequest `json:"requests"`
	}{boats, requests})
	sum := sha256.Sum256(list)
	return hex.EncodeToString(sum[:]), err
}

// mayTakePart says why a boat is not free for a round.
func (b boatRow) mayTakePart(today clock.Date) error {
	switch {
	case b.gone != "" || b.held != "" || !b.ready || today.Before(b.quarantine):
		return b.mayGo(today)
	case b.promisedTo != "":
		return desk.Conflict("boat", "%s is offered or promised to a household already", b.name)
	case b.round != "":
		return desk.Conflict("boat", "%s stands in another round that is not finished", b.name)
	}
	return nil
}

// mayTakePart says why a request is not free for a round.
func (r requestRow) mayTakePart() error {
	switch {
	case r.ended != "":
		return desk.Conflict("request", "this request has ended: %s", r.ended)
	case r.offer != "":
		return desk.Conflict("request", "this household has an offer already")
	case r.round != "":
		return desk.Conflict("request", "this request stands in another round that is not finished")
	}
	return nil
}

func (r *round) mustStand() error {
	switch {
	case r.opened == nil && len(r.secrets) > 0:
		return desk.Conflict("round", "the list of this round is not frozen yet")
	case r.opened == nil:
		return desk.Unknown("round", "no round was opened under this id")
	case r.closed:
		return desk.Conflict("round", "this round is closed; open a new one")
	}
	return nil
}

func (r *round) maySolve() error {
	if r.approved && !r.sent {
		return desk.Conflict("round", "this round is approved; send its offers before it is solved again")
	}
	return nil
}

// mayApprove wants a second pair of eyes, for the solution and for what was ruled.
func (r *round) mayApprove(by people.Actor) error {
	switch {
	case r.solved == nil:
		return desk.Conflict("round", "this round is not solved yet")
	case r.approved:
		return desk.Conflict("round", "this round is approved already")
	case by.Person == "":
		return fault.New(fault.Forbidden, "a member has to approve the round, under their own name")
	case by.Person == r.solved.SolvedBy:
		return fault.New(fault.Forbidden, "you solved this round; another member has to approve it")
	case r.ruledBy(by):
		return fault.New(fault.Forbidden, "you ruled on a pair of this round; another member has to read it and approve the round")
	}
	return nil
}

func (r *round) maySend() error {
	switch {
	case r.solved == nil || !r.approved:
		return desk.Conflict("round", "a second member has to approve the round first")
	case r.sent:
		return desk.Conflict("round", "the offers of this round were sent already")
	case len(r.solved.Pairs) == 0:
		return desk.Conflict("round", "the round has no pairs; close it")
	}
	return nil
}
