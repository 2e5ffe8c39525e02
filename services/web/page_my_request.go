package web

import (
	"fmt"
	"slices"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// applicant is the holder of a private link to a request.
var applicant = audience{}.orLink(people.OwnRequest)

func myRequestRoutes() []route {
	return []route{
		get("/my/request", applicant, (*visit).myRequest),
		get("/my/request/wish", applicant, (*visit).myWishForm),
		post("/my/request/wish", applicant, (*visit).changeMyWish, (*visit).myWishForm),
	}
}

func myRequestActs() []act {
	return []act{
		{
			name: "accept-offer", path: "/my/request/offers/{offer}/accept", may: applicant,
			title: "Take the boat", button: "Yes, we take it", done: "You have taken the boat. We write to you about the day on which you can fetch it.",
			words:   "With this the boat is yours to fetch, and it is offered to nobody else.",
			command: func() desk.Commanded { return &message.AnswerOffer{Answer: "accepted"} },
			fields:  (*visit).myOfferFields, finish: (*visit).nameMyOffer, to: toMyRequest,
		},
		{
			name: "decline-offer", path: "/my/request/offers/{offer}/decline", may: applicant,
			title: "Leave the boat", button: "No, we leave it", done: "You have left the boat to others. Your request stands.",
			words:   "Your request stands, and we look for another boat. It costs you nothing to say no.",
			command: func() desk.Commanded { return &message.AnswerOffer{Answer: "declined"} },
			fields: func(v *visit) ([]Section, error) {
				_, err := v.myOfferFields()
				return []Section{{Fields: []Field{area("why", "What did not fit?").With("It helps us to find a better one.")}}}, err
			},
			finish: (*visit).nameMyOffer, to: toMyRequest,
		},
		{
			name: "withdraw-request", path: "/my/request/withdraw", may: applicant, weighty: true,
			title: "Withdraw the request", button: "Withdraw the request", done: "Your request is withdrawn.",
			words:   "We look no further. An offer ends with it, and so does one that you took: the boat goes to somebody else. You can ask again at any time.",
			command: func() desk.Commanded { return &message.EndRequest{How: "withdrawn"} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{area("why", "Do you want to tell us why?")}}}, nil
			},
			finish: func(v *visit, c desk.Commanded) error {
				c.(*message.EndRequest).Request = v.Who.Link.Subject
				return nil
			},
			to: toMyRequest,
		},
		{
			name: "erase-me", path: "/my/request/erase", may: applicant, weighty: true,
			title: "Erase my data", button: "Erase my data for good", done: "Your data is erased. Nobody can read it any more.",
			words:   eraseWords,
			command: func() desk.Commanded { return &message.ErasePerson{Why: "asked"} },
			fields:  (*visit).eraseFields, finish: eraseOwn, to: leaveErased,
		},
	}
}

// eraseWords says what an erasure does.
const eraseWords = "This destroys the key with which your data is locked: your name, contact, weights and needs. Then nobody can read it any more, not even we. A request that stands ends, and so does this private page. Backups are overwritten in time. Until then the key lies in them."

func toMyRequest(*visit, desk.Commanded) string { return "/my/request" }

func eraseOwn(v *visit, c desk.Commanded) error {
	c.(*message.ErasePerson).Person = v.Who.Person
	return nil
}

// leaveErased takes the cookie back with the page: a browser whose cookie has gone
// does not show what it kept of pages before.
func leaveErased(v *visit, _ desk.Commanded) string {
	v.setCookie("", -1)
	return "/"
}

// eraseFields tells what stays after an erasure, why, and until when.
func (v *visit) eraseFields() ([]Section, error) {
	kept, err := v.keptPapers(v.Who.Person)
	if err != nil {
		return nil, err
	}
	return []Section{{Words: keptWords(kept)}}, nil
}

// keptPapers gives the papers of somebody that must be kept today.
func (v *visit) keptPapers(donor people.ID) ([]Paper, error) {
	today := clock.DateOf(v.Clock.Now())
	papers, err := findAll[Paper](v.ctx, v.Site, `SELECT doc FROM web.paper WHERE donor = $1 ORDER BY serial`, donor)
	var kept []Paper
	for _, p := range papers {
		if !p.KeepTo.Before(today) {
			kept = append(kept, p)
		}
	}
	return kept, err
}

// myOffer finds the offer of the address, which must be the viewer's.
func (v *visit) myOffer() (Offer, error) {
	o, err := find[Offer](v.ctx, v.Site, "offer", v.param("offer"), "offer")
	if err == nil && o.Request != v.Who.Link.Subject {
		return Offer{}, fault.New(fault.Unknown, "The club's book does not have this offer.")
	}
	return o, err
}

// myOfferFields asks nothing: the page is there to think once more.
func (v *visit) myOfferFields() ([]Section, error) {
	o, err := v.myOffer()
	if err != nil {
		return nil, err
	}
	b, err := v.findBoat(string(o.Boat))
	if err != nil || o.With == "" {
		return []Section{{Words: fmt.Sprintf("The boat: %s, %s.", b.Name, b.Facts.Type.WithArticle())}}, err
	}
	other, err := v.findBoat(string(o.With))
	return []Section{{Words: fmt.Sprintf("The boats: %s, %s, and %s, %s.", b.Name, b.Facts.Type.WithArticle(), other.Name, other.Facts.Type.WithArticle())}}, err
}

func (v *visit) nameMyOffer(c desk.Commanded) error {
	o, err := v.myOffer()
	c.(*message.AnswerOffer).Boat = o.Boat
	return err
}

// myRequestPage is what an applicant sees.
type myRequestPage struct {
	Frame
	Request Request
	Offers  []myOffer
	Has     []Boat // boats that the household got and has
	// Reasons are those of the rounds so far, and Fit is how things stand now;
	// neither names anybody else.
	Reasons []string
	Fit     *message.RequestExplained
	Wish    []line
	Address string
	Accept  map[string]Form // by offer
}

// myOffer is an offer with its boat.
type myOffer struct {
	Offer
	Facts Boat
	Left  string // how long it still stands
	Other *Boat  // that is offered together with this one
}

// Sentence says where the request stands.
func (p myRequestPage) Sentence() string {
	for _, o := range p.Offers {
		switch {
		case o.State() == "open" && o.Other != nil:
			return "Two boats are offered to you. Please answer before the offer ends."
		case o.State() == "open":
			return "A boat is offered to you. Please answer before the offer ends."
		case o.State() == "accepted" && p.Request.State() == "open":
			return "You have taken a boat. We write to you about the day on which you can fetch it."
		}
	}
	switch p.Request.State() {
	case "placed":
		return "You have got your boat. Enjoy the water."
	case "withdrawn":
		return "You have withdrawn the request."
	case "declined":
		return "The club could not take up your request."
	}
	return "Your request stands, and we look for a boat."
}

// Open says whether the request still stands.
func (p myRequestPage) Open() bool { return p.Request.State() == "open" }

// Searching says whether a boat is still looked for: the request stands, and no
// offer waits or was taken.
func (p myRequestPage) Searching() bool {
	_, offered := in(p.Offers, func(o *myOffer) bool { return o.State() == "open" || o.State() == "accepted" })
	return p.Open() && !offered
}

func (v *visit) myRequest() error {
	r, err := find[Request](v.ctx, v.Site, "request", v.Who.Link.Subject, "request")
	if err != nil {
		return err
	}
	r.EndedWhy = v.ownWords(r.Household, r.EndedWhy, r.EndedOwn)
	p := myRequestPage{Frame: v.frame("Your request"), Request: r, Address: v.linkAddress(v.Who.link), Accept: map[string]Form{}}
	p.listens(v, "/my/request")
	if p.Offers, err = v.offersOf(r.ID); err != nil {
		return err
	}
	for _, o := range p.Offers {
		for _, b := range o.boats() {
			if o.State() == "accepted" && b.withHousehold() && b.HandOver.Request == r.ID {
				p.Has = append(p.Has, b)
			}
		}
		if o.State() == "open" {
			yes := "Yes, we take it"
			if o.Other != nil {
				yes = "Yes, we take both"
			}
			p.Accept[o.Offer.Offer] = v.button("accept", "/my/request/offers/"+o.Offer.Offer+"/accept", yes)
		}
	}
	v.explain(&p)
	return v.show("my_request", p)
}

// explain adds the wish and the reasons. When the room does not answer, the rest
// of the page still helps.
func (v *visit) explain(p *myRequestPage) {
	if w, err := ask[message.Wish](v, message.ReadWish{Request: p.Request.ID}); err == nil {
		p.Wish = v.sayWish(wishLines(w))
	}
	if e, err := ask[message.RequestExplained](v, message.ExplainRequest{Request: p.Request.ID}); err == nil {
		p.Fit, p.Reasons = &e, e.Reasons
	}
}

// boats gives the boats of an offer.
func (o myOffer) boats() []Boat {
	if o.Other == nil {
		return []Boat{o.Facts}
	}
	return []Boat{o.Facts, *o.Other}
}

// ToHand gives the boats of an accepted offer that the household does not have yet.
func (o myOffer) ToHand() []Boat {
	return slices.DeleteFunc(o.boats(), func(b Boat) bool { return !promised(&b) })
}

// offersOf reads what was offered for a request, the newest first. Two boats that
// are offered together are one offer.
func (v *visit) offersOf(request string) ([]myOffer, error) {
	offers, err := findAll[Offer](v.ctx, v.Site, `SELECT doc FROM web.offer WHERE request = $1 ORDER BY doc->>'made_at' DESC, id`, request)
	if err != nil {
		return nil, err
	}
	var list []myOffer
	for _, o := range offers {
		if !o.Leads() {
			continue
		}
		o.Why = v.ownWords(o.Household, o.Why, o.Own)
		mine := myOffer{Offer: o, Left: v.leftOf(o)}
		if mine.Facts, err = v.findBoat(string(o.Boat)); err != nil {
			return nil, err
		}
		if o.With != "" {
			other, err := v.findBoat(string(o.With))
			if err != nil {
				return nil, err
			}
			mine.Other = &other
		}
		list = append(list, mine)
	}
	return list, nil
}

// leftOf says in words how long an open offer still stands.
func (v *visit) leftOf(o Offer) string {
	if o.State() != "open" {
		return ""
	}
	left := o.Until.Sub(v.Clock.Now())
	switch hours := int(left.Hours()); {
	case left <= 0:
		return "the time is over"
	case hours >= 48:
		return count(hours/24, "day", "days") + " left"
	case hours >= 1:
		return count(hours, "hour", "hours") + " left"
	}
	return "less than an hour left"
}

// wishPage changes a wish.
type wishPage struct {
	Frame
	Back string
	Form Form
}

func (v *visit) myWishForm() error { return v.wishForm(v.Who.Link.Subject, "/my/request") }

func (v *visit) changeMyWish() error { return v.changeWish(v.Who.Link.Subject, "/my/request") }

// wishForm shows a request's wish to be changed; under is the address of the
// page above.
func (v *visit) wishForm(request, under string) error {
	w, err := ask[message.Wish](v, message.ReadWish{Request: request})
	if err != nil {
		return err
	}
	start, err := spread(startWish(w), v.voiceTyped().units())
	if err != nil {
		return err
	}
	v.shared = true
	form := v.form("change-wish", under+"/wish", "Change the wish", start, wishSections(rowsFor(v.typed, start), w.Water)...)
	return v.show("wish", wishPage{v.frame("Change the wish"), under, form})
}

func (v *visit) changeWish(request, under string) error {
	closeWishRows(v.typed)
	c := &message.ChangeRequest{}
	wrong, err := v.wishTyped(c, &c.Wish, wishSections(rowsFor(v.typed, nil), ""))
	if err != nil {
		return err
	}
	if len(wrong) > 0 {
		return wrong
	}
	c.Request = request
	w, err := ask[message.Wish](v, message.ReadWish{Request: request})
	if err != nil {
		return err
	}
	now, err := spread(startWish(w), v.voiceTyped().units())
	if err != nil {
		return err
	}
	if err := v.meanwhile(now, wishSections(rowsFor(v.typed, nil), w.Water)); err != nil {
		return err
	}
	if _, err := v.order(c); err != nil {
		return err
	}
	return v.goTo(under, "wish-changed")
}
