package intake

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/guide"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/receipt"
	"refloat.example/pkg/vault"
)

// keepName keeps the sealed details of people, for the sheets that name them.
func keepName(ctx context.Context, tx pgx.Tx, body message.Body) error {
	keep := func(person people.ID, sealed string) error {
		if sealed == "" {
			return nil
		}
		_, err := tx.Exec(ctx, `INSERT INTO intake.name (person, sealed) VALUES ($1, $2) ON CONFLICT (person) DO UPDATE SET sealed = excluded.sealed`, person, sealed)
		return err
	}
	switch b := body.(type) {
	case message.PersonRegistered:
		return keep(b.Person, b.Sealed)
	case message.PersonChanged:
		return keep(b.Person, b.Sealed)
	case message.BoatLogged:
		if b.NewGiver != nil {
			return keep(b.NewGiver.Person, b.NewGiver.Sealed)
		}
	case message.PersonErased:
		_, err := tx.Exec(ctx, `DELETE FROM intake.name WHERE person = $1`, b.Person)
		return err
	}
	return nil
}

// nameOf opens what somebody is called.
func (s *service) nameOf(ctx context.Context, person people.ID, what string) (string, error) {
	var sealed string
	err := s.Pool.QueryRow(ctx, `SELECT sealed FROM intake.name WHERE person = $1`, person).Scan(&sealed)
	if errors.Is(err, pgx.ErrNoRows) {
		return "", desk.Conflict("boat", "the name of the %s is not known here; a sheet without it says nothing", what)
	}
	var d message.PersonDetails
	if err == nil {
		err = s.Vault.Unseal(ctx, string(person), message.SealDetails, vault.Sealed(sealed), &d)
	}
	if errors.Is(err, vault.ErrErased) {
		return "", desk.Conflict("boat", "the data of the %s was erased", what)
	}
	return d.Name, err
}

func (s *service) makeAgreement(ctx context.Context, o desk.Order[message.MakeAgreement]) (desk.Decision, error) {
	c := o.Command
	b, at, err := s.load(ctx, c.Boat)
	if err != nil {
		return desk.Decision{}, err
	}
	if err := b.mayAgree(c, o.Actor.Person); err != nil {
		return desk.Decision{}, err
	}
	content := b.agreed(c.Said)
	if content.GiverName, err = s.nameOf(ctx, b.giver, "giver"); err != nil {
		return desk.Decision{}, err
	}
	if content.MemberName, err = s.nameOf(ctx, o.Actor.Person, "member who signs"); err != nil {
		return desk.Decision{}, err
	}
	sealed, err := s.Vault.Seal(ctx, string(b.giver), message.SealAgreement, content)
	if err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, c.Boat, message.AgreementMade{
		Boat: c.Boat, Agreement: c.Agreement, Giver: b.giver, Member: o.Actor.Person, On: o.Today(), Sealed: string(sealed),
	})
}

// mayAgree wants a boat that was looked over and a member on the club's side.
func (b *Boat) mayAgree(c message.MakeAgreement, by people.ID) error {
	return desk.First(
		desk.GoodID("agreement", c.Agreement), isMember(by), b.notDeclined(), b.mayDeal(by), b.wantsLookOver(),
		desk.Needed("said", c.Said, "write down what the giver said of known faults; \"none known\" is an answer"),
	)
}

// agreed is what both told each other of the boat.
func (b *Boat) agreed(said string) message.AgreementContent {
	content := message.AgreementContent{Said: said}
	if b.price != nil && !b.price.IsZero() {
		content.Price = b.price.String()
	}
	for _, l := range b.finishedLooks() {
		for _, f := range b.standing(l.id) {
			if f.SameAs == "" {
				content.Found = append(content.Found, foundWords(f.DefectFound))
			}
		}
	}
	if b.seenWhole() {
		return content
	}
	for _, l := range b.finishedLooks() {
		for _, p := range b.guide().Points {
			if answer := l.answers[p.ID]; answer == guide.CouldNotBe || answer == "" {
				content.Unseen = append(content.Unseen, p.Look)
			}
		}
		break
	}
	return content
}

func foundWords(f message.DefectFound) string {
	words := fmt.Sprintf("%s: %s, %s, %s, %s", f.Defect, f.Place.Part, f.Place.Zone, f.Place.Side, f.Place.Face)
	if f.LengthMM > 0 {
		words += fmt.Sprintf(", %d mm", f.LengthMM)
	}
	if f.Through {
		words += ", through the wall"
	}
	return words + fmt.Sprintf(" (%s)", f.Severity)
}

func (s *service) agreementSheet(ctx context.Context, _ desk.Caller, q message.AgreementSheet) (message.Sheet, error) {
	b, _, err := s.load(ctx, q.Boat)
	if err != nil {
		return message.Sheet{}, err
	}
	made, ok := b.agreements[q.Agreement]
	if !ok {
		return message.Sheet{}, desk.Unknown("agreement", "this boat has no such agreement")
	}
	var content message.AgreementContent
	err = s.Vault.Unseal(ctx, string(made.Giver), message.SealAgreement, vault.Sealed(made.Sealed), &content)
	if errors.Is(err, vault.ErrErased) {
		return message.Sheet{}, desk.Unknown("agreement", "the giver's data was erased, and this sheet with it")
	}
	if err != nil {
		return message.Sheet{}, err
	}
	sheet := b.sheetOf(content, made.On)
	if sheet.Format, err = s.paper(ctx); err != nil {
		return message.Sheet{}, err
	}
	pdf, err := receipt.RenderSheet(sheet)
	return message.Sheet{Name: "agreement-" + made.On.String() + ".pdf", PDF: pdf}, err
}

func (s *service) paper(ctx context.Context) (receipt.Format, error) {
	format, err := s.Setting(ctx, "paper-format")
	if format == "A4" {
		return receipt.A4, err
	}
	return receipt.Letter, err
}

// sheetOf sets what both told each other, with a line for each to sign on.
func (b *Boat) sheetOf(c message.AgreementContent, on clock.Date) receipt.Sheet {
	number := "Hull number " + b.facts.HullNumber
	if b.facts.HullNumber == "" {
		number = "No hull number: " + b.facts.NoHullNumber
	}
	return receipt.Sheet{
		Language: "en", Title: "What is known of " + b.name, Reference: number, Issued: on,
		Sections: []receipt.Section{
			{Heading: "The boat", Lines: []receipt.Line{
				{Label: "Type and material", Value: fmt.Sprintf("%s of %s", b.facts.Type, b.facts.Material)},
				{Label: "Maker and model", Value: orUnknown(strings.TrimSpace(b.facts.Maker + " " + b.facts.Model))},
				{Label: "How it comes", Value: orJust(string(b.taking), c.Price)},
				{Label: "Giver", Value: c.GiverName}, {Label: "For the club", Value: c.MemberName},
			}},
			{Heading: "What the giver said of known faults", Lines: []receipt.Line{{Label: "In their words", Value: c.Said}}},
			{Heading: "What the club found and told the giver", Lines: numberedLines(c.Found, "nothing was found; that is no promise that there is nothing")},
			{Heading: "What no look-over could see", Lines: numberedLines(c.Unseen, "all points of the guide could be seen")},
		},
		Notes: []string{
			"Both sign that this was said, not that nothing else is wrong. Either may have missed something, and neither promises more than stands here.",
			"This sheet is no legal advice, and no receipt for a tax.",
		},
		Signatures: []string{c.GiverName, c.MemberName + ", for the club"},
	}
}

func numberedLines(list []string, none string) []receipt.Line {
	if len(list) == 0 {
		return []receipt.Line{{Label: "–", Value: none}}
	}
	lines := make([]receipt.Line, len(list))
	for i, text := range list {
		lines[i] = receipt.Line{Label: fmt.Sprint(i + 1), Value: text}
	}
	return lines
}

func orUnknown(words string) string {
	if words == "" {
		return "not known"
	}
	return words
}

func orJust(taking, price string) string {
	if price == "" {
		return taking
	}
	return taking + ", " + price
}
