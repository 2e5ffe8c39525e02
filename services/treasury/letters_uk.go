package treasury

import "refloat.example/pkg/taxpaper"

// unitedKingdom adds what the rules say of Gift Aid to a letter of thanks. No
// declaration is asked for: things given do not qualify (ITA 2007 s. 413 to 430).
func (w *writing) unitedKingdom(p taxpaper.Paper) {
	says := p.Says
	if len(says) == 0 {
		says = []string{"Thank you. Donated goods do not qualify for Gift Aid."}
	}
	w.state(says...)
	w.state("This letter is not a receipt for tax purposes.")
}
