package web

import (
	"refloat.example/pkg/guide"
	"refloat.example/pkg/message"
)

// stake asks whoever decides whether they or theirs gain by it. Nothing is chosen
// beforehand, so that it is answered and not passed over.
func stake() Field {
	return one("stake", "Do you or yours gain by this?", []Option{
		{message.NoStake, "No: the boat is not mine, and nobody of mine gives, sells or gets it"},
		{message.Stakes[1], "The boat is or was mine"},
		{message.Stakes[2], "My family or household gives, sells or would get it"},
	}).Needed().With("With a yes, another member decides.")
}

// provisional says whether the boat was looked over, and no look-over could see
// all of it.
func (b *Boat) provisional() bool {
	done := b.FinishedLooks()
	for _, l := range done {
		if !l.Finished.Provisional {
			return false
		}
	}
	return len(done) > 0
}

// pricedWords says when a price needs words.
func pricedWords(b *Boat) string {
	const above = "Needed when the price is above the ceiling; an administrator may go there."
	if b.provisional() {
		return above + " Needed here, because the look-over is provisional. " + guide.Gamble(b.Facts.Material)
	}
	return above
}
