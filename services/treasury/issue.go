package treasury

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/taxpaper"
	"refloat.example/pkg/vault"
)

// The layouts of papers: the first; one that also bears a code to check it by and the
// book's checkpoint; and that of papers signed under a mandate, or by two.
const (
	firstTemplate  = 1
	template       = 2
	signedTemplate = 3
)

// paperKey names the key under which a paper's content is sealed.
func paperKey(id string) string { return "paper/" + id }

// issuePaper decides which paper a gift gets, and numbers it. It rests on the
// versions of the boat's stream, the paper's and the series'.
func (s *service) issuePaper(ctx context.Context, o desk.Order[message.IssuePaper]) (desk.Decision, error) {
	var d desk.Decision
	c := o.Command
	if err := desk.First(desk.GoodID("boat", c.Boat), desk.GoodID("paper", c.Paper), desk.Past("on", c.On, o.Today())); err != nil {
		return d, err
	}
	w, _, err := s.gather(ctx, c, []signer{{o.Actor.Person, o.Today()}}, &d)
	if err != nil {
		return d, err
	}
	two, err := s.wantsTwo(ctx, w.gift)
	if err != nil {
		return d, err
	}
	if two {
		return d, prepare(c, o.Actor.Person, w.content, &d)
	}
	return d, s.number(ctx, c, w, &d)
}

// number gives a paper the next serial of its series and says it.
func (s *service) number(ctx context.Context, c message.IssuePaper, w writing, d *desk.Decision) error {
	said, lodged, stream, err := s.next(ctx, c.Paper, c.On, w, d)
	if err != nil {
		return err
	}
	return sayPaper(d, stream, said, lodged)
}

// next writes a paper under the next serial of its series, whose stream it gives too.
func (s *service) next(ctx context.Context, id string, on clock.Date, w writing, d *desk.Decision) (said message.PaperIssued, lodged message.PaperLodged, stream string, err error) {
	name := fmt.Sprintf("%s-%d", w.club.country, on.Year())
	at, err := s.Log.At(ctx, message.TreasurySeries(name)) // its version is the last number
	if err != nil {
		return said, lodged, "", err
	}
	d.Expect = append(d.Expect, at)
	said, lodged, err = s.numbered(ctx, id, fmt.Sprintf("%s-%04d", name, at.Version+1), w)
	return said, lodged, at.Stream, err
}

// sayPaper says the paper in its series, and notes it in the boat's stream and
// its own, where it also says what the paper can be held against.
func sayPaper(d *desk.Decision, stream string, said message.PaperIssued, lodged message.PaperLodged) error {
	noted := message.PaperNoted{Boat: said.Boat, Paper: said.Paper, Serial: said.Serial, Donor: said.Donor}
	for _, say := range []struct {
		stream string
		body   message.Body
	}{
		{stream, said}, {message.TreasuryBoat(said.Boat), noted}, {message.TreasuryPaper(said.Paper), noted},
	} {
		if err := d.Say(say.stream, said.Boat, say.body); err != nil {
			return err
		}
	}
	return d.Say(message.TreasuryPaper(said.Paper), "", lodged)
}

// gather collects what a paper rests on, refuses what may not have one and who may
// not sign it, and writes what it says.
func (s *service) gather(ctx context.Context, c message.IssuePaper, signers []signer, d *desk.Decision) (w writing, b book, err error) {
	w.on = c.On
	if w.gift, b, err = s.gift(ctx, c, d); err != nil {
		return w, b, err
	}
	for i, by := range signers {
		if err := w.issuable(by.who, c.On); err != nil {
			return w, b, ofFirst(i, signers, err)
		}
	}
	if w.replaces, err = s.replaced(ctx, c.Paper, b.paper, "boat", d); err != nil {
		return w, b, err
	}
	if w.club, err = s.club(ctx); err != nil {
		return w, b, err
	}
	if err := s.sign(ctx, &w, signers, d); err != nil {
		return w, b, err
	}
	if len(signers) > 0 {
		err = w.club.complete()
	}
	if err != nil {
		return w, b, err
	}
	if w.letter, err = w.decide(w.club, c.On); err != nil {
		return w, b, err
	}
	if w.donor, err = s.details(ctx, w.giver, "boat"); err != nil {
		return w, b, err
	}
	if w.number, err = s.donorNumber(ctx, w.giver, b.number); err != nil {
		return w, b, err
	}
	w.content, err = write(w)
	return w, b, err
}

// gift gives what is known of a boat's gift.
func (s *service) gift(ctx context.Context, c message.IssuePaper, d *desk.Decision) (g gift, b book, err error) {
	r, b, at, err := s.open(ctx, c.Boat)
	if err != nil {
		return g, b, err
	}
	d.Expect = append(d.Expect, at)
	g = gift{record: r, sold: b.sold, claim: b.claim, excepted: b.excepted, benefit: b.benefit, similar: b.similar, final: c.Final}
	if g.appraised, err = s.appraisal(ctx, r.giver, b.appraisal); err != nil {
		return g, b, err
	}
	if g.certified, g.stated, err = s.certifies(ctx, b); err != nil {
		return g, b, err
	}
	if r.received.IsZero() {
		return g, b, nil
	}
	w, valued, err := s.worth(ctx, c.Boat, r.received)
	if valued {
		g.worth = &w
	}
	return g, b, err
}

// replaced gives the serial of the cancelled paper that was the newest, or nothing where
// there never was one. One that stands is in the way. what names the field of the boat or
// the member.
func (s *service) replaced(ctx context.Context, id string, newest *message.PaperNoted, what string, d *desk.Decision) (string, error) {
	own, at, err := desk.Load[paper](ctx, s.Log, message.TreasuryPaper(id))
	switch {
	case err != nil:
		return "", err
	case own.noted != nil:
		return "", desk.Conflict("paper", "another paper, %s, has this id already", own.noted.Serial)
	}
	d.Expect = append(d.Expect, at)
	if newest == nil {
		return "", nil
	}
	earlier, at, err := desk.Load[paper](ctx, s.Log, message.TreasuryPaper(newest.Paper))
	if err == nil && !earlier.cancelled {
		err = desk.Conflict(what, "the paper %s stands for this %s; cancel it first if it is wrong", newest.Serial, what)
	}
	d.Expect = append(d.Expect, at)
	return newest.Serial, err
}

// details gives a donor's name and address in clear; what names the field of the boat or the
// member.
func (s *service) details(ctx context.Context, donor people.ID, what string) (p message.PersonDetails, err error) {
	sealed, err := s.sealedDetails(ctx, donor)
	if err == nil && sealed != "" {
		err = s.Vault.Unseal(ctx, string(donor), message.SealDetails, vault.Sealed(sealed), &p)
	}
	if errors.Is(err, vault.ErrErased) || err == nil && p.Name == "" {
		return p, desk.Conflict(what, "the donor's name is not known, or was erased; a paper needs it")
	}
	return p, err
}

// numbered seals a paper's content and makes the events. A paper that could not
// be printed gets no number.
func (s *service) numbered(ctx context.Context, id, serial string, w writing) (message.PaperIssued, message.PaperLodged, error) {
	given := w.letter.Papers[0] // the only one: see write
	said := message.PaperIssued{
		Paper: id, Serial: serial, Boat: w.boat, Donor: w.giver, Country: w.club.country, Names: []string{given.Name},
		CostsOf: w.costsOf, Salt: newSalt(), Due: dueOf(given), Template: template, On: w.on, Replaces: w.replaces,
	}
	if w.mandated {
		said.Template = signedTemplate
	}
	lodged := message.PaperLodged{Serial: serial, On: w.on}
	var err error
	if said.KeepTo, err = clock.ParseDate(w.letter.KeepUntil); err != nil {
		return said, lodged, err
	}
	if said.Decision, err = textOf(w.letter); err != nil {
		return said, lodged, err
	}
	w.content.CheckAt = s.cfg.BaseURL + message.PaperPath + serial + "/" + said.Salt
	if w.content.Book, err = s.bookNow(ctx); err != nil {
		return said, lodged, err
	}
	if said.Digest, err = digest(said.Salt, w.content); err != nil {
		return said, lodged, err
	}
	pdf, err := render(said, w.content, false)
	if err != nil {
		return said, lodged, desk.Conflict("paper", "the paper cannot be printed: %s", err)
	}
	file := sha256.Sum256(pdf)
	lodged.Digest, lodged.File = said.Digest, hex.EncodeToString(file[:])
	sealed, err := s.Vault.Seal(ctx, paperKey(id), message.SealPaper, w.content)
	said.Sealed = string(sealed)
	return said, lodged, err
}

// bookNow gives the newest checkpoint of the book, so that each paper carries one
// out of the house; nil while there is none.
func (s *service) bookNow(ctx context.Context) (*message.BookThen, error) {
	c, err := s.Log.LastCheckpoint(ctx)
	if fault.Is(err, fault.Unknown) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return &message.BookThen{Events: c.Size, Root: c.Root.String(), Key: string(c.By[len(c.By)-1])}, nil
}

// newSalt draws 16 bytes, in hexadecimal.
func newSalt() string {
	salt := make([]byte, 16)
	_, _ = rand.Read(salt) // never fails: it ends the program instead
	return hex.EncodeToString(salt)
}

// digest is SHA-256, in hexadecimal, over the salt's digits and the canonical
// text of the content.
func digest(salt string, content message.PaperContent) (string, error) {
	text, err := message.Canonical(content)
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(append([]byte(salt), text...))
	return hex.EncodeToString(sum[:]), nil
}

// textOf writes a decision as `refloat calc letter` does.
func textOf(l taxpaper.Letter) (string, error) {
	var b strings.Builder
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	err := enc.Encode(l)
	return strings.TrimSpace(b.String()), err
}
