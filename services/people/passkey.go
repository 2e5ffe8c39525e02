package people

import (
	"context"
	"crypto/sha256"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/passkey"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
)

// A passkey is a second way in, beside the link by mail, which stays. What it is
// checked with is sealed in the member's stream; the challenges that are open and
// how often each passkey signed are the room's own.

const (
	// passkeyFor is how long a browser may take to answer: people look for their
	// security key.
	passkeyFor = 5 * time.Minute
	// maxPasskeys bounds the passkeys of a member.
	maxPasskeys = 10
	// maxPasskeyName is in characters.
	maxPasskeyName = 60
	// maxChallenges bounds what strangers can have open.
	maxChallenges = 10_000
)

// heldPasskey is a passkey that stands in the book.
type heldPasskey struct {
	ID      string
	Sealed  string
	AddedAt time.Time
}

// party gives the club as browsers know it.
func (s *service) party() (*passkey.Party, error) {
	party, err := passkey.For(s.cfg.BaseURL)
	if errors.Is(err, passkey.ErrAddress) {
		return nil, fault.New(fault.Conflict, "passkeys do not work here: the club's pages need an address with a name, over https")
	}
	return party, err
}

// openChallenge writes down what a browser was asked.
func (s *service) openChallenge(ctx context.Context, challenge string, person people.ID) error {
	now := s.Clock.Now()
	if _, err := s.Pool.Exec(ctx, `DELETE FROM people.passkey_challenge WHERE until <= $1`, now); err != nil {
		return err
	}
	tag, err := s.Pool.Exec(ctx, `
		INSERT INTO people.passkey_challenge (digest, person, until)
		SELECT $1, $2, $3 WHERE (SELECT count(*) FROM people.passkey_challenge) < $4`, passkey.Digest(challenge), person, now.Add(passkeyFor), maxChallenges)
	if err == nil && tag.RowsAffected() == 0 {
		err = fault.New(fault.Busy, "too many people sign in at this moment; try again in a few minutes, or use the link by mail")
	}
	return err
}

// answerChallenge notes the answer to a challenge of a member who adds a passkey. An
// order may be decided anew, or sent again before its sender has heard: the same answer
// for the same passkey is taken again, and no other.
func (s *service) answerChallenge(ctx context.Context, challenge string, person people.ID, c message.AddPasskey) (again bool, err error) {
	answer := sha256.Sum256([]byte(c.Passkey + "\n" + c.Response))
	digest, now := passkey.Digest(challenge), s.Clock.Now()
	tag, err := s.Pool.Exec(ctx, `UPDATE people.passkey_challenge SET answer = $4 WHERE digest = $1 AND person = $2 AND until > $3 AND answer IS NULL`,
		digest, person, now, answer[:])
	if err != nil || tag.RowsAffected() == 1 {
		return false, err
	}
	err = s.Pool.QueryRow(ctx, `SELECT EXISTS (SELECT FROM people.passkey_challenge WHERE digest = $1 AND person = $2 AND until > $3 AND answer = $4)`,
		digest, person, now, answer[:]).Scan(&again)
	if err == nil && !again {
		err = tooLate()
	}
	return again, err
}

func tooLate() error {
	return fault.New(fault.Invalid, "this took too long, or was used already; begin again")
}

// closeChallenge takes a challenge of signing in that was answered: each answer counts
// once.
func (s *service) closeChallenge(ctx context.Context, challenge string) error {
	tag, err := s.Pool.Exec(ctx, `DELETE FROM people.passkey_challenge WHERE digest = $1 AND person = '' AND until > $2`,
		passkey.Digest(challenge), s.Clock.Now())
	if err == nil && tag.RowsAffected() == 0 {
		err = tooLate()
	}
	return err
}

// holder gives a member with their passkeys, in the order of p.Passkeys.
func (s *service) holder(ctx context.Context, id people.ID, p person) (passkey.Holder, []message.PasskeyContent, error) {
	h := passkey.Holder{ID: string(id)}
	details, err := s.unseal(ctx, id, p.Sealed)
	if err != nil {
		return h, nil, err
	}
	h.Mail, h.Name = details.Mail, details.Name
	var contents []message.PasskeyContent
	for _, held := range p.Passkeys {
		var c message.PasskeyContent
		if err := s.Vault.Unseal(ctx, string(id), message.SealPasskey, vault.Sealed(held.Sealed), &c); err != nil {
			return h, nil, err
		}
		contents = append(contents, c)
		h.Passkeys = append(h.Passkeys, passkey.Passkey{Credential: c.Credential, PublicKey: c.PublicKey, Eligible: c.Eligible, Count: c.Count})
	}
	return h, contents, nil
}

// mayHaveOne gives the member who asks, if they sign in and have room for another.
func (s *service) mayHaveOne(ctx context.Context, id people.ID) (person, ledger.Expected, error) {
	p, at, err := s.find(ctx, "person", id)
	switch {
	case err != nil:
	case !p.signsIn():
		err = fault.New(fault.Forbidden, "only members sign in with a passkey")
	case len(p.Passkeys) >= maxPasskeys:
		err = fault.Field("name", "you have %d passkeys; remove one first", len(p.Passkeys))
	}
	return p, at, err
}

func (s *service) askPasskey(ctx context.Context, caller desk.Caller, _ message.AskPasskey) (message.PasskeyAsked, error) {
	party, err := s.party()
	if err != nil {
		return message.PasskeyAsked{}, err
	}
	p, _, err := s.mayHaveOne(ctx, caller.Actor.Person)
	if err != nil {
		return message.PasskeyAsked{}, err
	}
	h, _, err := s.holder(ctx, caller.Actor.Person, p)
	if err != nil {
		return message.PasskeyAsked{}, err
	}
	asked, err := party.AskNew(h)
	if err == nil {
		err = s.openChallenge(ctx, asked.Challenge, caller.Actor.Person)
	}
	return message.PasskeyAsked{Options: asked.Options}, err
}

func (s *service) askPasskeySignIn(ctx context.Context, _ desk.Caller, _ message.AskPasskeySignIn) (message.PasskeyAsked, error) {
	party, err := s.party()
	if err != nil {
		return message.PasskeyAsked{}, err
	}
	asked, err := party.AskSignIn()
	if err == nil {
		err = s.openChallenge(ctx, asked.Challenge, "")
	}
	return message.PasskeyAsked{Options: asked.Options}, err
}

func (s *service) addPasskey(ctx context.Context, o desk.Order[message.AddPasskey]) (desk.Decision, error) {
	c, id := o.Command, o.Actor.Person
	err := desk.First(
		desk.GoodID("passkey", c.Passkey),
		desk.Needed("name", c.Name, "say what you call this passkey"), desk.OneLine("name", c.Name, maxPasskeyName),
	)
	if err != nil {
		return desk.Decision{}, err
	}
	party, err := s.party()
	if err != nil {
		return desk.Decision{}, err
	}
	p, at, err := s.mayHaveOne(ctx, id)
	if err != nil {
		return desk.Decision{}, err
	}
	said, err := passkey.Read([]byte(c.Response))
	if err != nil {
		return desk.Decision{}, unfit(err)
	}
	again, err := s.answerChallenge(ctx, said.Challenge, id, c)
	switch {
	case err != nil:
		return desk.Decision{}, err
	case p.passkey(c.Passkey) != nil && again:
		return desk.Decision{}, nil
	case p.passkey(c.Passkey) != nil:
		return desk.Decision{}, desk.Conflict("passkey", "this passkey is in the book already")
	}
	h, _, err := s.holder(ctx, id, p)
	if err != nil {
		return desk.Decision{}, err
	}
	made, err := party.New(h, said.Challenge, []byte(c.Response))
	if err != nil {
		return desk.Decision{}, unfit(err)
	}
	sealed, err := s.Vault.Seal(ctx, string(id), message.SealPasskey, message.PasskeyContent{
		Name: c.Name, Credential: made.Credential, PublicKey: made.PublicKey, Eligible: made.Eligible, Count: made.Count,
	})
	if err != nil {
		return desk.Decision{}, err
	}
	d, err := say(at.Stream, message.PasskeyAdded{Person: id, Passkey: c.Passkey, Sealed: string(sealed)})
	d.Expect = []ledger.Expected{at}
	return d, err
}

// unfit is the answer to a passkey that does not fit. Why stands in the log of the
// page that asked, not on it.
func unfit(err error) error {
	return fault.Because(fault.Invalid, err, "this passkey could not be checked; begin again")
}

func (s *service) removePasskey(ctx context.Context, o desk.Order[message.RemovePasskey]) (desk.Decision, error) {
	c := o.Command
	if err := theirOwn(o.Caller, c.Person); err != nil {
		return desk.Decision{}, err
	}
	p, at, err := s.find(ctx, "person", c.Person)
	if err != nil || p.passkey(c.Passkey) == nil {
		return desk.Decision{}, err
	}
	d, err := say(at.Stream, message.PasskeyRemoved{Person: c.Person, Passkey: c.Passkey})
	d.Expect = []ledger.Expected{at}
	return d, err
}

// theirOwn refuses a member who means somebody else, but for administrators.
func theirOwn(c desk.Caller, person people.ID) error {
	if c.Actor.Person == person || c.Actor.Room == desk.AtMachine || c.Has(people.Administrator) {
		return nil
	}
	return fault.New(fault.Forbidden, "this passkey is another member's")
}

// notKnown answers a passkey that signs nobody in: removed, erased, or never the
// club's. It does not say which.
func notKnown() error {
	return fault.New(fault.Invalid, "the club does not take this passkey; use the link by mail")
}

// redeemPasskey trades an answer for the member whose passkey it is.
func (s *service) redeemPasskey(ctx context.Context, _ desk.Caller, q message.RedeemPasskey) (message.SignedIn, error) {
	party, err := s.party()
	if err != nil {
		return message.SignedIn{}, err
	}
	said, err := passkey.Read([]byte(q.Response))
	if err != nil {
		return message.SignedIn{}, unfit(err)
	}
	if err := s.closeChallenge(ctx, said.Challenge); err != nil {
		return message.SignedIn{}, err
	}
	id := people.ID(said.Holder)
	if desk.GoodID("person", id) != nil {
		return message.SignedIn{}, notKnown()
	}
	p, _, err := desk.Load[person](ctx, s.Log, message.Person(id))
	if err != nil {
		return message.SignedIn{}, err
	}
	if p.Erased || !p.known() || !p.signsIn() || len(p.Passkeys) == 0 {
		return message.SignedIn{}, notKnown()
	}
	return s.signInWith(ctx, party, id, p, said.Challenge, []byte(q.Response))
}

// signInWith checks the answer against the member's passkeys, and counts it.
func (s *service) signInWith(ctx context.Context, party *passkey.Party, id people.ID, p person, challenge string, response []byte) (message.SignedIn, error) {
	h, _, err := s.holder(ctx, id, p)
	if err != nil {
		return message.SignedIn{}, err
	}
	uses, err := s.usesOf(ctx, id)
	if err != nil {
		return message.SignedIn{}, err
	}
	for i, held := range p.Passkeys {
		if use, ok := uses[held.ID]; ok {
			h.Passkeys[i].Count = use.Count
		}
	}
	used, err := party.SignIn(h, challenge, response)
	copied := errors.Is(err, passkey.ErrCopied)
	if err != nil && !copied {
		s.Slog.InfoContext(ctx, "a passkey was refused", "person", id, "err", err)
		return message.SignedIn{}, notKnown()
	}
	held := p.Passkeys[indexOf(h.Passkeys, used.Credential)]
	if copied || uses[held.ID].Copied != nil {
		return message.SignedIn{}, s.refuseCopied(ctx, id, held.ID, used.Count)
	}
	// Two answers with one count at one moment: the second is refused as well.
	tag, err := s.Pool.Exec(ctx, `
		INSERT INTO people.passkey_use (passkey, person, count, used) VALUES ($1, $2, $3, $4)
		ON CONFLICT (passkey) DO UPDATE SET count = $3, used = $4
		WHERE passkey_use.copied IS NULL AND ($3 > passkey_use.count OR $3 = 0 AND passkey_use.count = 0)`, held.ID, id, int64(used.Count), s.Clock.Now())
	if err != nil {
		return message.SignedIn{}, err
	}
	if tag.RowsAffected() == 0 {
		return message.SignedIn{}, s.refuseCopied(ctx, id, held.ID, used.Count)
	}
	return message.SignedIn{Person: id}, nil
}

// refuseCopied ends the use of a passkey whose count did not grow, until its member
// removes it: two devices may have it, of which one is not theirs (Web
// Authentication Level 2, §6.1.1, leaves it to the club whether to refuse).
func (s *service) refuseCopied(ctx context.Context, person people.ID, id string, count uint32) error {
	s.Slog.WarnContext(ctx, "a passkey may have been copied, and is refused", "person", person, "passkey", id)
	_, err := s.Pool.Exec(ctx, `
		INSERT INTO people.passkey_use (passkey, person, count, copied) VALUES ($1, $2, $3, $4)
		ON CONFLICT (passkey) DO UPDATE SET copied = coalesce(passkey_use.copied, $4)`, id, person, int64(count), s.Clock.Now())
	if err != nil {
		return err
	}
	return fault.New(fault.Invalid, "this passkey may have been copied, so the club does not take it any more; use the link by mail, then remove it")
}

// passkeyUse is how a passkey was used.
type passkeyUse struct {
	Count        uint32
	Used, Copied *time.Time
}

func (s *service) usesOf(ctx context.Context, person people.ID) (map[string]passkeyUse, error) {
	rows, err := s.Pool.Query(ctx, `SELECT passkey, count, used, copied FROM people.passkey_use WHERE person = $1`, person)
	if err != nil {
		return nil, err
	}
	uses := map[string]passkeyUse{}
	var id string
	var count int64
	var use passkeyUse
	_, err = pgx.ForEachRow(rows, []any{&id, &count, &use.Used, &use.Copied}, func() error {
		use.Count = uint32(count)
		uses[id] = use
		return nil
	})
	return uses, err
}

func (s *service) readPasskeys(ctx context.Context, caller desk.Caller, q message.ReadPasskeys) (message.PasskeysRead, error) {
	if err := theirOwn(caller, q.Person); err != nil {
		return message.PasskeysRead{}, err
	}
	p, _, err := s.find(ctx, "person", q.Person)
	if err != nil {
		return message.PasskeysRead{}, err
	}
	_, contents, err := s.holder(ctx, q.Person, p)
	if err != nil {
		return message.PasskeysRead{}, err
	}
	uses, err := s.usesOf(ctx, q.Person)
	if err != nil {
		return message.PasskeysRead{}, err
	}
	var read message.PasskeysRead
	for i, held := range p.Passkeys {
		use := uses[held.ID]
		read.Passkeys = append(read.Passkeys, message.PasskeyRead{Passkey: held.ID, Name: contents[i].Name, Added: held.AddedAt, Used: use.Used, Copied: use.Copied})
	}
	return read, nil
}

// indexOf finds a passkey by its credential; it is there, since it was checked.
func indexOf(keys []passkey.Passkey, credential []byte) int {
	for i, k := range keys {
		if string(k.Credential) == string(credential) {
			return i
		}
	}
	return -1
}
