package web

import (
	"fmt"
	"strings"

	"refloat.example/pkg/message"
)

// obstacle is something that is in a boat's way: what it blocks, and the way out.
type obstacle struct {
	ID     string
	Is     string // what is in the way
	Blocks string
	Way    string // the way out
	Link   string // where that is done; empty: nowhere on these pages
	Label  string
}

// inTheWay gives what blocks something for a boat now, and what not.
func (v *visit) inTheWay(b *Boat) []obstacle {
	if b.Ended() {
		return nil
	}
	var list []obstacle
	for _, find := range []func(*visit, *Boat) (obstacle, bool){noLook, provisionalLook, weakEstimate, unmatched, stillDrying, jacketFails} {
		if o, found := find(v, b); found {
			list = append(list, o)
		}
	}
	return list
}

func noLook(_ *visit, b *Boat) (obstacle, bool) {
	return obstacle{
		ID: "no-look", Is: "Nobody has finished a look-over.", Blocks: "It can be neither accepted, nor can a price be named.",
		Way: "Look it over, clean and dry.", Link: "/boats/" + string(b.ID) + "/look", Label: "Look it over",
	}, undecided(b) && len(b.FinishedLooks()) == 0
}

func provisionalLook(_ *visit, b *Boat) (obstacle, bool) {
	if !undecided(b) || !b.provisional() {
		return obstacle{}, false
	}
	done := b.finishedInOrder()
	why := b.said(&done[len(done)-1]).Provisional
	o := obstacle{
		ID: "provisional", Is: "The look-over is provisional: " + strings.Join(why, "; ") + ".",
		Way: "Clean it, let it dry, unstrap it, and look it over again.", Link: "/boats/" + string(b.ID) + "/look", Label: "Look it over again",
		Blocks: "No price is named without words that say why the club takes the gamble. Everything else goes on: taking it as a gift, keeping it dry, putting the decision off, declining it.",
	}
	return o, true
}

// weakEstimate asks for a third look, or for a lower price.
func weakEstimate(_ *visit, b *Boat) (obstacle, bool) {
	e := b.estimate()
	if e == nil || !e.LookAgain || !undecided(b) {
		return obstacle{}, false
	}
	is := fmt.Sprintf("By what both found, up to %.0f findings may be missed.", float64(e.HighMilli)/1000-float64(e.First+e.Second-e.Both))
	if !e.Shown {
		is = "The numbers of the look-overs carry no weight: " + e.Reason + "."
	}
	return obstacle{
		ID: "third-look", Is: is, Blocks: "It blocks nothing. The ceiling is reckoned with the club's allowance for what was missed, and is lower for that.",
		Way: "Ask for one more person who has read no list.", Link: "/boats/" + string(b.ID) + "/look", Label: "Look it over as one more",
	}, true
}

func unmatched(v *visit, b *Boat) (obstacle, bool) {
	list := b.toMatch()
	if len(list) == 0 || b.openLookOf(v.Who) != nil {
		return obstacle{}, false
	}
	return obstacle{
		ID: "unmatched", Is: "Nobody has confirmed which findings of the look-overs are the same.",
		Blocks: "It blocks nothing. What both missed is reckoned by the tool's own matching until then.",
		Way:    "Compare the two lists at the boat.", Link: lookAddress(b.ID, list[0].ID) + "/match", Label: "Compare the findings",
	}, true
}

func stillDrying(v *visit, b *Boat) (obstacle, bool) {
	q := b.Quarantine
	if q == nil || !v.today().Before(q.Until) {
		return obstacle{}, false
	}
	return obstacle{
		ID: "drying", Is: fmt.Sprintf("It dries until %s: it was in %s.", q.Until.Time().Format("2 January 2006"), q.LastWater),
		Blocks: "It is not handed over, put into a round or offered to a household before. Look-over, decision, repair and receiving go on.",
		Way:    "Wait" + frost(q) + ". If the day is wrong, set it anew.", Link: "/boats/" + string(b.ID) + "/quarantine", Label: "Set the day anew",
	}, true
}

func jacketFails(_ *visit, b *Boat) (obstacle, bool) {
	return obstacle{
		ID: "jacket", Is: "A life jacket that came with it fails, or was not checked as a whole.",
		Blocks: "The boat is not handed over as long as it lies there. Everything else goes on.",
		Way:    "Check the rest of it, or cut it up; write down which.", Link: "#jackets", Label: "Life jackets",
	}, b.badJackets()
}

func frost(q *message.QuarantineSet) string {
	if q.Rule == message.DryingUtah {
		return ", or let it freeze through: 72 consecutive hours below freezing stand in the place of the days"
	}
	return ""
}

// lookedOver is a finished look-over as the boat's page shows it.
type lookedOver struct {
	Look
	Said saidOf
}
