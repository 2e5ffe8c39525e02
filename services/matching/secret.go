package matching

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"
	"unicode/utf8"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
)

// A lottery takes the secrets of two members, put in before the list is frozen.
// Neither knows the other's, so neither can try out lists or words until a
// household that they favour is drawn; and what was put in cannot be changed,
// because its hash stands in the book.
const (
	secretsNeeded = 2
	secretShort   = 20 // characters: too many to be guessed from the hash
	secretLong    = 200
)

// commitment is what stands in the book for a secret until it is revealed.
func commitment(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}

// seedOf decides between equal pairings. The secrets must be in the order of
// their commitments.
func seedOf(secrets []message.RoundSecret, round, listHash string) string {
	var parts []string
	for _, s := range secrets {
		parts = append(parts, s.Secret)
	}
	sum := sha256.Sum256([]byte(strings.Join(append(parts, round, listHash), "\n")))
	return hex.EncodeToString(sum[:])
}

func goodSecret(c message.CommitSecret) error {
	length := utf8.RuneCountInString(c.Secret)
	if length < secretShort || length > secretLong {
		return fault.Field("secret", "write %d to %d characters that nobody can guess", secretShort, secretLong)
	}
	return desk.First(desk.GoodID("round", c.Round), line("secret", c.Secret, secretLong))
}

func (s *service) commitSecret(ctx context.Context, o desk.Order[message.CommitSecret]) (desk.Decision, error) {
	c := o.Command
	if err := goodSecret(c); err != nil {
		return desk.Decision{}, err
	}
	r, at, err := desk.Load[round](ctx, s.Log, message.MatchingRound(c.Round))
	if err == nil {
		err = r.mayCommit(o.Actor.Person, commitment(c.Secret))
	}
	if err == nil && c.Boat != "" {
		err = s.mayBeginFor(ctx, o.Caller, r, c.Boat, o.Today())
	}
	if err != nil {
		return desk.Decision{}, err
	}
	sealed, err := s.Vault.Seal(ctx, roundKey(c.Round), message.SealSecret, c.Secret)
	if err != nil {
		return desk.Decision{}, err
	}
	said := message.SecretCommitted{Round: c.Round, Member: o.Actor.Person, Commitment: commitment(c.Secret), Sealed: string(sealed), Boat: c.Boat}
	d, err := desk.SayAt(at, "", said)
	if err == nil && r.one != "" {
		r.Fold(message.Event{}, said)
		err = s.pairOne(ctx, &d, at.Stream, c.Round, r, o)
	}
	return d, err
}

// roundKey names the key under which a round's secrets are sealed.
func roundKey(id string) string { return "round/" + id }

// mayCommit decides whether a member can put a secret into the lottery.
func (r *round) mayCommit(member people.ID, commitment string) error {
	switch {
	case member == "":
		return fault.New(fault.Forbidden, "a member has to put in the secret, under their own name")
	case r.opened != nil:
		return desk.Conflict("round", "the list of this round is frozen; its lottery takes no more secrets")
	case slices.ContainsFunc(r.secrets, func(s message.SecretCommitted) bool { return s.Member == member }):
		return desk.Conflict("round", "you have put in your secret already; another member has to put in the second one")
	case len(r.secrets) >= secretsNeeded:
		return desk.Conflict("round", "this lottery has its two secrets; the list can be frozen")
	case slices.ContainsFunc(r.secrets, func(s message.SecretCommitted) bool { return s.Commitment == commitment }):
		return fault.Field("secret", "choose another one; it must differ from what the other member has put in")
	}
	return nil
}

// mustHaveSecrets wants a lottery that nobody can steer alone.
func (r *round) mustHaveSecrets() error {
	if n := len(r.secrets); n < secretsNeeded {
		return desk.Conflict("round", "before the list is frozen, %d members each put a secret into its lottery; so far %d did", secretsNeeded, n)
	}
	return nil
}

// reveal opens the secrets of a round and holds them against what stands in the
// book, so that nothing is drawn from others.
func (s *service) reveal(ctx context.Context, id string, r round) ([]message.RoundSecret, error) {
	var revealed []message.RoundSecret
	committed := slices.SortedFunc(slices.Values(r.secrets), func(a, b message.SecretCommitted) int { return compare(a.Commitment, b.Commitment) })
	for _, c := range committed {
		var secret string
		if err := s.Vault.Unseal(ctx, roundKey(id), message.SealSecret, vault.Sealed(c.Sealed), &secret); err != nil {
			return nil, err
		}
		if commitment(secret) != c.Commitment {
			return nil, fault.New(fault.Internal, "a secret of this round's lottery is not what was committed; close the round and start another")
		}
		revealed = append(revealed, message.RoundSecret{Member: c.Member, Secret: secret})
	}
	return revealed, nil
}
