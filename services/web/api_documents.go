package web

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/guide"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

const pdfKind = "application/pdf"

// apiDocuments are the documents of the other rooms, for whom their pages are.
// Each address is that of the page, so that the two cannot have other readers.
func apiDocuments() []apiRead {
	return []apiRead{
		{name: "read-look-over", path: "/boats/{boat}/looks/{look}", title: "A look-over that is open to you, with the points of the guide", may: stewards, do: (*visit).apiLook, answer: apiLookOver{}},
		{name: "print-agreement", path: "/boats/{boat}/agreements/{agreement}", title: "The sheet that giver and club sign", may: stewards, do: (*visit).agreementSheet, kind: pdfKind},
		{name: "print-disclosure", path: "/boats/{boat}/disclosure.pdf", title: "What the next household is told", may: anyMember, do: (*visit).disclosurePDF, kind: pdfKind},
		{name: "print-hand-over", path: "/boats/{boat}/hand-over.pdf", title: "The sheet for handing a boat over", may: coordinators, do: (*visit).handOverSheet, kind: pdfKind},

		{name: "list-requests", path: "/requests", title: "Requests for boats", may: placing, do: (*visit).apiRequests, answer: apiRequestList{}, query: []string{"state", "page"}},
		{name: "read-request", path: "/requests/{request}", title: "One request; its wish and how boats fit it are for coordinators", may: placing, do: (*visit).apiRequest, answer: apiOneRequest{}},
		{name: "list-rounds", path: "/rounds", title: "Rounds of placing boats, the newest first", may: placing, do: (*visit).apiRounds, answer: []Round{}},
		{name: "read-round", path: "/rounds/{round}", title: "One round, with who gets which boat, and why", may: placing, do: (*visit).apiRound, answer: apiOneRound{}},

		{name: "list-papers", path: "/papers", title: "Donors' papers", may: booksTo, do: (*visit).apiPapers, answer: apiPaperList{}, query: []string{"state", "q", "page"}},
		{name: "list-year-papers", path: "/papers/years/{year}", title: "A year's gifts with their papers, or with what stands in the way of one", may: booksTo, do: (*visit).apiYearPapers, answer: message.PapersOfYear{}},
		{name: "print-year-papers", path: "/papers/years/{year}/zip", title: "The papers that stand for a year's gifts", may: treasurers, do: (*visit).yearPapersZip, kind: "application/zip"},
		{name: "list-series", path: "/papers/series", title: "The series of papers' numbers, from reading the book again", may: booksTo, do: (*visit).apiSeries, answer: message.SeriesReport{}},
		{name: "print-paper", path: "/papers/{paper}/print", title: "A paper as it was issued", may: treasurers, do: (*visit).printPaper, kind: pdfKind},
		{name: "export-year", path: "/money/{year}/{format}", title: "The entries of a year, as csv, xlsx or journal", may: booksTo, do: (*visit).exportYear, kind: "application/octet-stream"},

		{name: "list-volunteers-costs", path: "/volunteers", title: "What members laid out for the club, by state and year, what it comes to by member, and bookings of which nobody has said whose they are", may: booksTo, do: (*visit).apiVolunteers, answer: message.VolunteerCostList{}, query: []string{"state", "year"}},
		{name: "list-held-boats", path: "/money/boats/{year}", title: "The boats that the books hold, with how each was found when they were counted", may: booksTo, do: (*visit).apiCount, answer: message.HeldBoats{}},
		{name: "list-bank", path: "/money/bank", title: "The bank's rows and the postings of cash from one day to another, and which belong together", may: booksTo, do: (*visit).apiBank, answer: message.BankMatches{}, query: []string{"from", "to"}},

		{name: "list-stock", path: "/stock", title: "Bins with what is in them", may: stockReaders, do: (*visit).apiStock, answer: []Bin{}},
		{name: "read-bin", path: "/stock/{bin}", title: "One bin, with what went in and out", may: stockReaders, do: (*visit).apiBin, answer: Bin{}},

		{name: "list-prices", path: "/comparables", title: "Prices of other boats", may: pricesTo, do: (*visit).apiPrices, answer: []Price{}, query: []string{"type"}},
		{name: "list-values", path: "/boats/{boat}/values", title: "All values of a boat, with their computations", may: pricesTo, do: (*visit).apiValues, answer: []Valued{}},
		{name: "read-value", path: "/boats/{boat}/values/{value}", title: "One value of a boat, with its computation", may: pricesTo, do: (*visit).apiValue, answer: Valued{}},
		{name: "print-value", path: "/boats/{boat}/values/{value}/sheet.pdf", title: "The sheet of a value", may: valuers, do: (*visit).valueSheet, kind: pdfKind},
		{name: "print-worksheet", path: "/boats/{boat}/values/{value}/worksheet.pdf", title: "The sales behind a value, for the donor's own use; no appraisal", may: valuers, do: (*visit).donorWorksheet, kind: pdfKind},
		{name: "read-shop", path: "/shop", title: "Plans that were written down; with minutes and cash, what to mend with so much", may: plansTo, do: (*visit).apiShop, answer: apiShop{}, query: []string{"minutes", "cash"}},
	}
}

// apiSteps are the orders that pages give in several steps or by buttons, and so
// not as acts.
func apiSteps() []apiOrder {
	return []apiOrder{
		{
			name: "add-photo", path: "/boats/{boat}/photos/new", may: anyMember, title: "Tie a photo that is kept to a boat",
			words: "hash is what sending the photo gave. Leave place and finding out for the boat as a whole.", command: &message.AddPhoto{},
		},
		{
			name: "answer-points", path: "/boats/{boat}/looks/{look}", may: stewards, title: "Answer points of the guide",
			words: "Which points there are, reading the look-over says. A point that is left out is not answered.", command: &message.AnswerPoints{},
		},
		{
			name: "make-request", path: "/ask", may: anyMember, title: "Ask for a boat for a household",
			words: "request, household and link are ids of the sender's choice; consent is " + applicantConsent + " when the household agreed to that text.", command: &message.MakeRequest{},
		},
		{name: "change-request", path: "/requests/{request}/wish", may: coordinators, title: "Change the wish of a request", command: &message.ChangeRequest{}},
		{name: "do-step", path: "/boats/{boat}/sheet/{step}", may: repairers, title: "Tick a step of the work sheet", command: &message.DoStep{}},
		{name: "read-bank", path: "/money/bank", may: treasurers, title: "Read a file of the bank's", words: "file is the text of the file. What was read before changes nothing.", command: &message.ReadBank{}},
		{name: "end-timer", path: "/boats/{boat}/timers/{timer}/end", may: repairers, title: "End a timer", command: &message.EndTimer{}},
	}
}

// apiLookOver is a look-over, and what is to be looked for on the boat.
type apiLookOver struct {
	Look   Look       `json:"look"`
	Points []apiPoint `json:"points"`
}

type apiPoint struct {
	ID     string       `json:"id"`
	Part   boat.Part    `json:"part"`
	Look   string       `json:"look"`
	Where  string       `json:"where"`
	How    string       `json:"how"`
	Why    string       `json:"why"`
	Mark   string       `json:"source"`
	Answer guide.Answer `json:"answer,omitempty"`
}

func (v *visit) apiLook() error {
	l, err := v.openLook()
	if err != nil {
		return err
	}
	answer := apiLookOver{*l, []apiPoint{}}
	for _, p := range v.boat.guideFor().Points {
		answer.Points = append(answer.Points, apiPoint{p.ID, p.Part, p.Look, p.Where, p.How, p.Why, p.Mark, l.Answers[p.ID]})
	}
	return v.json(answer)
}

// told leaves of a request what its page tells the viewer.
func (v *visit) told(r Request) Request {
	r.EndedWhy, r.EndedOwn = v.ownWords(r.Household, r.EndedWhy, r.EndedOwn), ""
	if !v.Who.Has(people.Coordinator) {
		r.Link = ""
	}
	return r
}

// apiRequestList is a page of the requests.
type apiRequestList struct {
	All      int       `json:"all"`
	Page     int       `json:"page"`
	Requests []Request `json:"requests"`
}

func (v *visit) apiRequests() error {
	_, list, at, err := v.requestList()
	if err != nil {
		return err
	}
	answer := apiRequestList{at.All, at.Page, []Request{}}
	for _, r := range list {
		answer.Requests = append(answer.Requests, v.told(r))
	}
	return v.json(answer)
}

// apiOneRequest is a request; what is wished for and how boats fit it are there for
// coordinators, as long as the household was not erased.
type apiOneRequest struct {
	Request Request                   `json:"request"`
	Wish    *message.Wish             `json:"wish,omitempty"`
	Fit     *message.RequestExplained `json:"fit,omitempty"`
	Offers  []Offer                   `json:"offers"`
}

func (v *visit) apiRequest() error {
	r, err := find[Request](v.ctx, v.Site, "request", v.param("request"), "request")
	if err != nil {
		return err
	}
	answer := apiOneRequest{Request: v.told(r), Offers: []Offer{}}
	offers, err := v.offersOf(r.ID)
	if err != nil {
		return err
	}
	for _, o := range offers {
		answer.Offers = append(answer.Offers, withoutSealed(o.Offer))
	}
	if !v.Who.Has(people.Coordinator) {
		return v.json(answer)
	}
	if w, err := ask[message.Wish](v, message.ReadWish{Request: r.ID}); err == nil {
		answer.Wish = &w
	}
	if r.State() == "open" {
		if e, err := ask[message.RequestExplained](v, message.ExplainRequest{Request: r.ID}); err == nil {
			answer.Fit = &e
		}
	}
	return v.json(answer)
}

func (v *visit) apiRounds() error {
	list, err := v.roundList()
	if err != nil {
		return err
	}
	return v.json(append([]Round{}, list...))
}

// apiOneRound is a round, with what its pairs and refusals rest on, as far as the
// reader may know it.
type apiOneRound struct {
	Round    Round         `json:"round"`
	Pairs    []apiPair     `json:"pairs"`
	Past     []apiPair     `json:"past"` // offers that the present solution does not hold
	Unserved []apiUnserved `json:"unserved"`
}

type apiPair struct {
	Boat      boat.ID   `json:"boat"`
	Request   string    `json:"request"`
	Household people.ID `json:"household"`
	Tier      int       `json:"tier,omitempty"`
	Why       []string  `json:"why,omitempty"`
	Offer     *Offer    `json:"offer,omitempty"`
}

type apiUnserved struct {
	Request   string    `json:"request"`
	Household people.ID `json:"household"`
	Tier      int       `json:"tier"`
	Why       []string  `json:"why"`
}

func (v *visit) apiRound() error {
	p, err := v.openRound()
	if err != nil {
		return err
	}
	answer := apiOneRound{Round: p.Round, Pairs: apiPairs(p.Pairs), Past: apiPairs(p.Past), Unserved: []apiUnserved{}}
	for _, u := range p.Unserved {
		answer.Unserved = append(answer.Unserved, apiUnserved{u.Request, u.Household, u.Tier, u.Why})
	}
	return v.json(answer)
}

func apiPairs(list []roundPair) []apiPair {
	pairs := []apiPair{}
	for _, p := range list {
		pair := apiPair{Boat: p.RoundPair.Boat, Request: p.Request, Household: p.Household, Tier: p.Tier, Why: p.Why}
		if p.Offer != nil {
			o := withoutSealed(p.Offer.Offer)
			pair.Offer = &o
		}
		pairs = append(pairs, pair)
	}
	return pairs
}

// withoutSealed leaves out of an offer what nobody can read.
func withoutSealed(o Offer) Offer {
	o.Own = ""
	return o
}

// apiPaperList is a page of the papers.
type apiPaperList struct {
	All    int     `json:"all"`
	Page   int     `json:"page"`
	Papers []Paper `json:"papers"`
}

func (v *visit) apiPapers() error {
	_, _, papers, at, err := v.paperList()
	if err != nil {
		return err
	}
	return v.json(apiPaperList{at.All, at.Page, v.withoutReadings(append([]Paper{}, papers...))})
}

func (v *visit) apiStock() error {
	bins, err := v.bins()
	if err != nil {
		return err
	}
	answer := []Bin{}
	for _, b := range bins {
		answer = append(answer, v.withoutReceipts(b))
	}
	return v.json(answer)
}

func (v *visit) apiBin() error {
	b, err := v.findBin()
	if err != nil {
		return err
	}
	return v.json(v.withoutReceipts(b))
}

func (v *visit) apiPrices() error {
	_, prices, err := v.priceList()
	if err != nil {
		return err
	}
	return v.json(append([]Price{}, prices...))
}

func (v *visit) apiValues() error {
	values, err := v.valuesOf(v.boat)
	if err != nil {
		return err
	}
	return v.json(append([]Valued{}, values...))
}

func (v *visit) apiValue() error {
	value, err := v.findValue(v.param("value"))
	if err != nil {
		return err
	}
	return v.json(value)
}

// apiShop is plans, and one that was only asked for.
type apiShop struct {
	Asked *message.ShopPlan `json:"asked,omitempty"`
	Made  []ShopChoice      `json:"made"`
}

func (v *visit) apiShop() error {
	p, err := v.openShop()
	if err != nil {
		return err
	}
	return v.json(apiShop{p.Plan, append([]ShopChoice{}, p.Made...)})
}

func (v *visit) apiYearPapers() error {
	list, err := v.papersOfYear()
	if err != nil {
		return err
	}
	return v.json(list)
}

func (v *visit) apiSeries() error {
	report, err := ask[message.SeriesReport](v, message.PaperSeries{})
	if err != nil {
		return err
	}
	return v.json(report)
}

func (v *visit) apiBank() error {
	var q message.BankList
	for name, into := range map[string]*clock.Date{"from": &q.From, "to": &q.To} {
		day, err := clock.ParseDate(v.r.URL.Query().Get(name))
		if err != nil {
			return fault.Field(name, "is a day, written as year-month-day")
		}
		*into = day
	}
	list, err := ask[message.BankMatches](v, q)
	if err != nil {
		return err
	}
	return v.json(list)
}

func (v *visit) apiCount() error {
	held, err := v.heldBoats()
	if err != nil {
		return err
	}
	return v.json(held)
}
