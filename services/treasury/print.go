package treasury

import (
	"context"
	"errors"
	"fmt"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/receipt"
	"refloat.example/pkg/vault"
)

// printPaper sets an issued paper again, from the book alone: what was set
// before is set the same, whatever the club's settings are by now.
func (s *service) printPaper(ctx context.Context, by desk.Caller, q message.PrintPaper) (message.Sheet, error) {
	p, err := s.issued(ctx, q.Paper)
	if err == nil && !mayRead(by, p.donor) {
		err = desk.Unknown("paper", noPaper)
	}
	if err != nil {
		return message.Sheet{}, err
	}
	said, err := s.paperAt(ctx, p.position)
	if err != nil {
		return message.Sheet{}, err
	}
	var content message.PaperContent
	err = s.Vault.Unseal(ctx, paperKey(said.Paper), message.SealPaper, vault.Sealed(said.Sealed), &content)
	if errors.Is(err, vault.ErrErased) {
		return message.Sheet{}, desk.Unknown("paper", "%s was kept until %s and cannot be printed any more", said.Serial, said.KeepTo)
	}
	if err != nil {
		return message.Sheet{}, err
	}
	if err := s.noteOnce(ctx, by, "read", said.Paper, message.PaperRead{Paper: said.Paper, Serial: said.Serial, Link: by.Link != nil}); err != nil {
		return message.Sheet{}, err
	}
	pdf, err := render(said, content, p.cancelled != "")
	return message.Sheet{Name: said.Serial + ".pdf", PDF: pdf, Text: receipt.Text(paperOf(said, content, p.cancelled != ""))}, err
}

// mayRead says whether the papers of a donor are the caller's to read: not those
// of others to whoever came by a private link.
func mayRead(by desk.Caller, donor people.ID) bool {
	return by.Link == nil || by.Link.Purpose == people.OwnPapers && by.Link.Subject == string(donor)
}

func (s *service) paperAt(ctx context.Context, position int64) (message.PaperIssued, error) {
	e, err := s.Log.Event(ctx, position)
	if err != nil {
		return message.PaperIssued{}, err
	}
	body, err := message.Decode(e)
	if err != nil {
		return message.PaperIssued{}, err
	}
	said, ok := body.(message.PaperIssued)
	if !ok {
		return said, fault.New(fault.Internal, "event %d is no paper", position)
	}
	return said, nil
}

// formats gives the sizes of paper by the club's setting.
var formats = map[string]receipt.Format{"letter": receipt.Letter, "A4": receipt.A4}

// render sets a paper in the layout that it was issued in.
func render(said message.PaperIssued, c message.PaperContent, cancelled bool) ([]byte, error) {
	if said.Template < firstTemplate || said.Template > signedTemplate {
		return nil, fault.New(fault.Internal, "there is no layout %d", said.Template)
	}
	return receipt.Render(paperOf(said, c, cancelled))
}

func paperOf(said message.PaperIssued, c message.PaperContent, cancelled bool) receipt.Paper {
	p := receipt.Paper{
		Format: formats[c.Format], Language: c.Language, Title: c.Title, Serial: said.Serial,
		Issuer: party(c.Issuer), Donor: party(c.Donor), Issued: c.Date,
		Sections:   []receipt.Section{{Heading: heading(said), Lines: rows(c.Lines)}, check(said, c.Book)},
		Statements: c.Statements, Signatory: receipt.Signatory{Name: c.Signatory}, CheckURL: c.CheckAt, Template: receipt.FirstTemplate,
	}
	if said.Template == signedTemplate {
		p.Template, p.Second = receipt.SecondTemplate, receipt.Signatory{Name: c.Second}
	}
	if cancelled {
		p.Title = "CANCELLED: " + p.Title
		p.Statements = append([]string{"This paper is cancelled and void."}, p.Statements...)
	}
	return p
}

// heading stands above what a paper is about.
func heading(said message.PaperIssued) string {
	if said.CostsOf != 0 {
		return "The services"
	}
	return "The gift"
}

// check is by what a paper can be held against the club's book.
func check(said message.PaperIssued, book *message.BookThen) receipt.Section {
	section := receipt.Section{Heading: "To check this paper", Lines: []receipt.Line{
		{Label: "Salt", Value: said.Salt}, {Label: "SHA-256 of salt and content", Value: said.Digest},
	}}
	if book != nil {
		section.Lines = append(section.Lines,
			receipt.Line{Label: "The book before it", Value: fmt.Sprintf("checkpoint of %d events, root %s", book.Events, book.Root)},
			receipt.Line{Label: "The book's public key", Value: book.Key})
	}
	return section
}

func party(names []string) receipt.Party { return receipt.Party{Name: names[0], Lines: names[1:]} }

func rows(of []message.PaperLine) []receipt.Line {
	var set []receipt.Line
	for _, l := range of {
		set = append(set, receipt.Line{Label: l.Label, Value: l.Value})
	}
	return set
}

// donorPapers lists what a donor got.
func (s *service) donorPapers(ctx context.Context, by desk.Caller, q message.DonorPapers) (message.PapersOfDonor, error) {
	answer := message.PapersOfDonor{Papers: []message.DonorPaper{}}
	if err := desk.GoodID("donor", q.Donor); err != nil {
		return answer, err
	}
	if !mayRead(by, q.Donor) {
		return answer, fault.New(fault.Forbidden, "these are somebody else's papers")
	}
	papers, err := s.issuedTo(ctx, q.Donor)
	if err != nil {
		return answer, err
	}
	for _, p := range papers {
		said, err := s.paperAt(ctx, p.position)
		if err != nil {
			return answer, err
		}
		var r record
		if said.Boat != "" {
			if r, err = s.record(ctx, said.Boat); err != nil {
				return answer, err
			}
		}
		answer.Papers = append(answer.Papers, message.DonorPaper{
			Paper: said.Paper, Serial: said.Serial, Boat: said.Boat, BoatName: r.name, Names: said.Names, On: said.On,
			Due: said.Due, KeepTo: said.KeepTo, Replaces: said.Replaces, Cancelled: p.cancelled, CostsOf: said.CostsOf,
		})
	}
	return answer, nil
}
