package treasury

import (
	"context"
	"encoding/json"
	"strings"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/taxpaper"
)

// certifies gives the box that the boat's standing paper certifies: 4a, 5a or 5b; empty
// where none stands or none is certified. Of 5a and 5b on one paper it is 5a. With it goes
// the sale that the paper states.
func (s *service) certifies(ctx context.Context, b book) (string, *statedSale, error) {
	var d desk.Decision // a paper is issued in the boat's stream, too
	stands, err := s.paperStands(ctx, b, &d)
	if err != nil || !stands {
		return "", nil, err
	}
	p, err := s.issued(ctx, b.paper.Paper)
	if fault.Is(err, fault.Unknown) { // issued a moment ago: the tables are about to hear of it
		if err = s.hearAll(ctx); err == nil {
			p, err = s.issued(ctx, b.paper.Paper)
		}
	}
	if err != nil {
		return "", nil, err
	}
	said, err := s.paperAt(ctx, p.position)
	if err != nil {
		return "", nil, err
	}
	box, err := certifiedBox(said.Decision)
	if err != nil {
		return "", nil, err
	}
	sale, err := saleOf(said.Serial, said.Decision)
	return box, sale, err
}

// hearAll waits until the room's tables have heard all that stands in the book now.
func (s *service) hearAll(ctx context.Context) error {
	head, err := s.Log.Head(ctx)
	if err != nil {
		return err
	}
	return s.Heard(ctx, head.Position)
}

// certifiedBox reads the box off a decision.
func certifiedBox(decision string) (string, error) {
	var letter taxpaper.Letter
	if err := json.Unmarshal([]byte(decision), &letter); err != nil {
		return "", err
	}
	for _, p := range letter.Papers {
		for _, box := range []string{"4a", "5a", "5b"} {
			if p.Boxes[box] == true {
				return box, nil
			}
		}
	}
	return "", nil
}

// certificateWords is what to know before a boat is sold whose paper certifies box 5a
// or 5b (IRC 170(f)(12)(B)(iv), 6720; instructions of Form 1098-C); empty for others.
// With the sale among the facts the rules tell what follows.
func certificateWords(g gift, serial string) string {
	promise := map[string]string{
		"5a": "the boat is not sold before the improvement or use in box 5c is completed",
		"5b": "the boat goes to a person in need, for significantly less than it is worth",
	}[g.certified]
	if promise == "" {
		return ""
	}
	words := []string{"The paper " + serial + " certifies in box " + g.certified + " that " + promise + "."}
	doubts := 0
	if letter, err := g.ruled(taxpaper.US, g.sold.On); err == nil {
		for _, w := range letter.Warnings {
			if w.Code == taxpaper.SoldWithinSixMonths || w.Code == taxpaper.Penalty6720 {
				words, doubts = append(words, w.Text), doubts+1
			}
		}
	}
	if doubts == 0 {
		words = append(words, "What it certifies is attested: make sure that it is completed, and keep what shows it.")
	}
	return strings.Join(append(words,
		"If it does not hold, do not sell yet. If the boat is sold already, cancel the paper, give one with box 4a within 30 days of the sale, and ask an adviser.",
		"Tick that you know this to write the sale down all the same."), " ")
}

// warned refuses a sale that its order does not know to touch a certificate.
func (s *service) warned(ctx context.Context, c message.SellBoat, said message.BoatSold) error {
	if c.CertifiedKnown {
		return nil
	}
	var d desk.Decision // the sale rests on the boat's stream
	g, b, err := s.gift(ctx, message.IssuePaper{Boat: c.Boat}, &d)
	if err != nil || g.certified == "" {
		return err
	}
	g.sold = &said
	if words := certificateWords(g, b.paper.Serial); words != "" {
		return desk.Conflict("certified_known", "%s", words)
	}
	return nil
}
