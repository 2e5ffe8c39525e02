package treasury

import "refloat.example/pkg/taxpaper"

// appraiserBox is where a receipt names who appraised the gift.
const appraiserBox = "e.1.iii"

// canada writes the official receipt: the items of Income Tax Regulations
// s. 3501(1), each under its own label. Serial (c) and day of issue (f) are the
// paper's own; (j) is among what the rules say.
func (w *writing) canada(p taxpaper.Paper) error {
	if err := w.needsAddress(); err != nil {
		return err
	}
	w.content.Title, w.content.Language = "Official receipt for income tax purposes", "en-CA"
	w.line("Place issued", w.club.place)
	w.line("Date received", w.received.String())
	w.line("Description", w.describe())
	if _, stands := p.Boxes[appraiserBox]; stands {
		w.line("Appraised by", w.appraised.By+", "+w.appraised.Address)
	}
	w.line("Fair market value at the time of the gift", w.boxed(p.Boxes["h.ii"]))
	if advantage, stands := p.Boxes["h.1"]; stands {
		w.line("Advantage to the donor", w.advantageWords()+": "+w.boxed(advantage))
	}
	w.line("Eligible amount of the gift", w.boxed(p.Boxes["h.2"]))
	w.state(p.Says...)
	return nil
}

// advantageWords describes the advantage, as s. 3501(1)(h.1) wants.
func (w *writing) advantageWords() string {
	const paid = "money paid by the club for the boat"
	switch words := w.returnWords(); {
	case words == "":
		return paid
	case w.price.IsZero():
		return words
	default:
		return paid + ", and " + words
	}
}
