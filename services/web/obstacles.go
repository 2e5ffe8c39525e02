package web

import (
	"fmt"
	"strings"

	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
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
func (v *visit) inTheWay(b *Boat) ([]obstacle, error) {
	if b.Ended() {
		return nil, nil
	}
	foundDays, err := v.SettingWhole(v.ctx, "found-days")
	list := v.ofArrival(b, foundDays)
	for _, find := range []func(*visit, *Boat) (obstacle, bool){noLook, provisionalLook, weakEstimate, unmatched, stillDrying, jacketFails} {
		if o, found := find(v, b); found {
			list = append(list, o)
		}
	}
	return list, err
}

// ofArrival gives what stands against taking a boat because of how it comes. The
// way out is a link for who may go it.
func (v *visit) ofArrival(b *Boat, foundDays int) []obstacle {
	if b.Received != nil {
		return nil
	}
	to := func(address string, role people.Role) string {
		if v.Who.Has(role) {
			return "/boats/" + string(b.ID) + address
		}
		return ""
	}
	const meanwhile = " Look-over, price, drying, putting off and declining go on."
	var list []obstacle
	for _, d := range b.OpenDoubts() {
		list = append(list, obstacle{
			ID: "doubt-" + d.Doubt, Is: "It is not clear whose it is: " + string(d.About) + ".", Blocks: "It is neither accepted nor received, and no transfer is signed." + meanwhile,
			Way: "An administrator asks and settles it, or the boat is declined.", Link: to("/doubts/"+d.Doubt+"/settle", people.Administrator), Label: "Settle the doubt",
		})
	}
	if !undecided(b) {
		return list
	}
	if b.Shown == nil {
		list = append(list, obstacle{
			ID: "no-right", Is: "Nothing shows yet by what right it is given (" + b.Right + ").", Blocks: "It is not accepted." + meanwhile,
			Way: "A steward looks at the giver's paper and records which it is.", Link: to("/right", people.Steward), Label: "Record the paper",
		})
	}
	if b.Time > 1 && b.Quarantine == nil {
		list = append(list, obstacle{
			ID: "no-quarantine", Is: "It has been with the club before, and nobody has written down in which water it was last.", Blocks: "It is not accepted." + meanwhile,
			Way: "A steward writes down the water and keeps it dry.", Link: to("/quarantine", people.Steward), Label: "Keep dry",
		})
	}
	if b.Shown != nil && b.Right == message.FoundProperty {
		if until := b.Shown.On.AddDays(foundDays); v.today().Before(until) {
			list = append(list, obstacle{
				ID: "found", Is: fmt.Sprintf("It was found on %s and waits for its owner until %s, by the club's rule. The law of the place on found property goes first.", b.Shown.On, until),
				Blocks: "It is not accepted." + meanwhile, Way: "Nothing but time, or its owner.",
			})
		}
	}
	return list
}

// missing says what a boat needs to leave the state in which it is; nothing for
// one that has left the club. drying: it must not go to another water yet. What stands against that is in inTheWay.
func missing(b *Boat, drying bool) []string {
	var list []string
	needs := func(what string, lacking bool) {
		if lacking {
			list = append(list, what)
		}
	}
	switch b.State {
	case Offered, LookedOver:
		needs("a finished look-over", len(b.FinishedLooks()) == 0)
		needs("the paper by which it is given", b.Shown == nil)
		needs("an administrator's word on whose it is", len(b.OpenDoubts()) > 0)
		needs("the club's decision", true)
	case Accepted:
		needs("an administrator's word on whose it is", len(b.OpenDoubts()) > 0)
		needs("the boat in the club's hands", b.Possession.IsZero())
		needs("the signed transfer", b.Signed.IsZero())
	case Received, InWorkshop:
		if n := b.OpenFindings(); n > 0 {
			needs("work on "+count(n, "open finding", "open findings"), true)
		}
		needs("the tests that its work sheet asks for", true)
		needs("a repairer's word that it is ready", true)
	case Ready:
		needs("the end of its drying time", drying)
		needs("an offer to a household in a round, or a sale", true)
	case OnOffer:
		needs("the household's answer", !promised(b))
		needs("a way for the life jackets that fail", promised(b) && b.badJackets())
		needs("the hand-over", promised(b))
	}
	return list
}

func noLook(_ *visit, b *Boat) (obstacle, bool) {
	return obstacle{
		ID: "no-look", Is: "Nobody has finished a look-over.", Blocks: "It is not accepted, and no price is named.",
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
