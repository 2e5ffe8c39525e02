package web

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// donor is the holder of a private link to their own papers.
var donor = audience{}.orLink(people.OwnPapers)

func papersRoutes() []route {
	return []route{
		get("/papers", booksTo, (*visit).papers),
		get("/papers/clocks", booksTo, (*visit).clocks),
		get("/papers/clocks.ics", booksTo, (*visit).clocksCalendar),
		get(feedPath+"{token}/papers.ics", anybody, (*visit).feed),
		get("/boats/{boat}/paper-outlook", booksTo, (*visit).outlook),
		get("/papers/{paper}/readings", overseers, (*visit).readings),
		get("/papers/{paper}/print", treasurers, (*visit).printPaper),
		get("/papers/{paper}/text", treasurers, (*visit).paperText),
		get("/my/papers/{paper}/text", donor, (*visit).myPaperText),
		get("/papers/{paper}/link", treasurers, (*visit).paperLink),
		get("/my/papers", donor, (*visit).myPapers),
		get("/my/papers/{paper}/print", donor, (*visit).printMyPaper),
	}
}

func toPapers(*visit, desk.Commanded) string { return "/papers" }

func papersActs() []act {
	return append(append(exceptionActs(), giftFactActs()...), []act{
		donorNumberAct,
		programmeAct,
		issueYearAct,
		{
			name: "state-claim", path: "/boats/{boat}/claim", may: treasurers, title: "What the donor means to claim", button: "Write it down", done: "The donor's answer is written down.",
			part: partPlacing, label: "Note the donor's claim", fits: wantsPaper,
			words:   "Ask the donor. In some countries the amount decides which paper the gift needs; the club does not tell donors what a boat is worth to them.",
			command: func() desk.Commanded { return &message.StateClaim{} },
			start: func(v *visit) (any, error) {
				if v.boat.Claim == nil {
					return nil, nil
				}
				return v.boat.Claim, nil
			},
			fields: func(v *visit) ([]Section, error) {
				return []Section{
					{Fields: []Field{
						text("claim", "What the donor means to claim").Needed().With("0 if nothing."),
						day("on", "Day of the answer").Needed().Starts(clock.DateOf(v.Clock.Now()).String()),
					}},
					{Legend: "How the donor came by the boat", Words: "Only where the country asks for it, as Canada does for boats that were bought not long before.", Fields: []Field{
						text("cost", "What the donor paid for it"), day("acquired", "Day on which the donor got it"),
						tick("acquired_to_give", "It was acquired mainly to give it away"),
					}},
				}, nil
			},
		},
		{
			name: "issue-paper", path: "/boats/{boat}/paper", may: treasurers, title: "Issue the donor's paper", button: "Issue it", done: "It is written down: the paper is issued and the donor is told, or it waits for a second signature.",
			part: partPlacing, label: "Issue the donor's paper", fits: wantsPaper, weighty: true,
			words:   "The rules of the club's country decide which paper the gift gets. It takes the next number of the year, which stays used even when the paper is cancelled. When something is missing, nothing is issued and you read what. Above the amount from which the club wants two signatures, yours is the first: the paper then gets no number until another signatory signs.",
			command: func() desk.Commanded { return &message.IssuePaper{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Words: "The gift: " + v.giftWords(), Fields: []Field{
					fresh("paper"),
					day("on", "Date of the paper").Needed().Starts(clock.DateOf(v.Clock.Now()).String()),
					tick("final", "The club has decided: it does not sell, improve, use or place the boat in a way that the paper could certify"),
				}}}, nil
			},
			to: toPapers,
		},
		{
			name: "sign-paper", path: "/boats/{boat}/paper/{paper}/sign", may: treasurers, title: "Sign second", button: "Sign and issue it", done: "The paper is issued, and the donor is told.", weighty: true,
			words:   "The club wants two signatures under this paper. Yours is the second: the paper then takes the next number of the year. Neither of the two may have given or valued the boat. If anything that it says has changed since the first signature, it is refused.",
			command: func() desk.Commanded { return &message.SignPaper{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Words: "The gift: " + v.giftWords() + v.preparedWords(), Fields: []Field{day("on", "Date of the paper").Needed().Starts(v.today().String())}}}, nil
			},
			to: toPapers,
		},
		{
			name: "withdraw-preparation", path: "/boats/{boat}/paper/{paper}/drop", may: treasurers, title: "Do not issue the prepared paper", button: "Drop it", done: "The prepared paper is dropped; no number was used.",
			command: func() desk.Commanded { return &message.WithdrawPreparation{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Words: strings.TrimSpace(v.preparedWords()), Fields: []Field{area("why", "Why").Needed()}}}, nil
			},
			to: toPapers,
		},
		{
			name: "cancel-paper", path: "/papers/{paper}/cancel", may: treasurers, title: "Cancel the paper", button: "Cancel it", done: "The paper is cancelled; its number stays used.", weighty: true,
			words:   "Ask for the original back and keep it with the copy. A new paper for the same gift says which one it replaces.",
			command: func() desk.Commanded { return &message.CancelPaper{} },
			fields: func(v *visit) ([]Section, error) {
				p, err := find[Paper](v.ctx, v.Site, "paper", v.param("paper"), "paper")
				return []Section{{Words: "The paper: " + p.Serial, Fields: []Field{area("why", "Why it is void").Needed()}}}, err
			},
			to: toPapers,
		},
		{
			name: "give-papers-link", path: "/papers/{paper}/new-link", may: treasurers, title: "Give the donor a new private link", button: "Make and send it", done: "The new link is made, and sent where there is a mail address.",
			command: func() desk.Commanded { return &message.GiveLink{} },
			fields:  func(*visit) ([]Section, error) { return []Section{{Fields: []Field{fresh("link")}}}, nil },
			finish: func(v *visit, c desk.Commanded) error {
				p, err := find[Paper](v.ctx, v.Site, "paper", v.param("paper"), "paper")
				link := c.(*message.GiveLink)
				link.Person, link.Purpose, link.Subject = p.Donor, people.OwnPapers, string(p.Donor)
				return err
			},
			to: func(v *visit, _ desk.Commanded) string { return "/papers/" + v.param("paper") + "/link" },
		},
		{
			name: "erase-donor", path: "/my/papers/erase", may: donor, weighty: true,
			title: "Erase my data", button: "Erase my data for good", done: "Your data is erased. Nobody can read it any more.",
			words:   eraseWords,
			command: func() desk.Commanded { return &message.ErasePerson{Why: "asked"} },
			fields:  (*visit).eraseFields, finish: eraseOwn, to: leaveErased,
		},
	}...)
}

// wantsPaper says whether a boat came as a gift, at least in part, and has no
// paper that stands.
func wantsPaper(b *Boat) bool {
	_, stands := in(b.Papers, func(p *BoatPaper) bool { return p.Cancelled == "" })
	return b.Received != nil && b.Taking != message.Purchase && !stands
}

// giftWords tells the facts on which a paper rests.
func (v *visit) giftWords() string {
	b := v.boat
	list := []string{b.Name + ", a " + string(b.Taking) + " of " + v.directory().Name(b.Giver)}
	if b.Received != nil {
		list = append(list, "received on "+b.Received.On.String())
	}
	if value := b.Value(); value != nil {
		list = append(list, "valued as it lies: "+worthWords(value.AsItLies))
	}
	if b.Claim != nil {
		list = append(list, "claim: "+b.Claim.Claim.String())
	}
	if b.Sale != nil {
		list = append(list, "sold on "+b.Sale.On.String()+" for "+b.Sale.Gross.String())
	}
	if b.Benefit != nil && b.Benefit.What != message.NoReturn {
		list = append(list, "given in return: "+b.Benefit.Words+", worth "+b.Benefit.Value.String())
	}
	if b.Appraisal != nil && !b.Appraisal.Value.IsZero() {
		list = append(list, "appraised at "+b.Appraisal.Value.String())
	}
	if b.Similar != nil && !b.Similar.Amount.IsZero() {
		list = append(list, "similar items elsewhere: "+b.Similar.Amount.String())
	}
	for _, e := range b.Excepted {
		list = append(list, string(e.Sort)+" attested on "+e.On.String())
	}
	return strings.Join(list, "; ") + "."
}

// preparedWords says who signed a paper first.
func (v *visit) preparedWords() string {
	p := v.boat.Prepared
	if p == nil {
		return ""
	}
	by := "somebody at the machine"
	if p.By != "" {
		by = v.directory().Name(p.By)
	}
	return " Signed first by " + by + " on " + p.On.String() + "."
}

// papersPage lists gifts without a paper, and papers.
type papersPage struct {
	Frame
	leaves
	Year    int // of which papers are issued in one go: the last one that is over
	Waiting []Boat
	State   string // of the papers that are shown; empty for all
	Words   string // in the number of those that are shown
	Papers  []paperRow
}

var paperStates = []string{"issued", "cancelled"}

// paperRow is a paper with its boat's name, and whether the day on which the
// donor must have it is still to come.
type paperRow struct {
	Paper
	BoatName string
	Falls    bool
}

func (v *visit) papers() error {
	p := papersPage{Frame: v.frame("Donors' papers"), Year: v.today().AddMonths(-1).Year()}
	var err error
	if p.Waiting, err = v.giftsWithoutPaper(); err != nil {
		return err
	}
	var papers []Paper
	if p.State, p.Words, papers, p.leaves, err = v.paperList(); err != nil {
		return err
	}
	donors := []people.ID{}
	for _, b := range p.Waiting {
		donors = append(donors, b.Giver)
	}
	for _, paper := range papers {
		donors = append(donors, paper.Donor)
	}
	if err := p.People.learnOf(donors); err != nil {
		return err
	}
	if p.Papers, err = v.paperRows(papers); err != nil {
		return err
	}
	if v.wantsTable() {
		return writeTable(v, "papers", []string{"serial", "boat", "papers", "on", "donor", "due", "state", "why_cancelled", "replaces"}, p.Papers, func(r paperRow) []string {
			return []string{r.Serial, r.BoatName, joined(r.Names...), r.On.String(), p.People.Name(r.Donor), dayOrNone(r.Due), r.State(), r.Cancelled, r.Replaces}
		})
	}
	return v.show("papers", p)
}

// Count says how many papers there are.
func (p papersPage) Count() string { return count(p.All, "paper", "papers") + p.Shown() }

// paperList reads a page of the papers in the state, and with the words in their
// number, that the address names, those first that are due last, and how many there
// are.
func (v *visit) paperList() (state, words string, list []Paper, at leaves, err error) {
	at = v.leavesOf()
	if state = v.r.URL.Query().Get("state"); state != "" && !slices.Contains(paperStates, state) {
		return state, words, nil, at, fault.New(fault.Unknown, "There is no state %q of papers. Choose one above the list of papers.", state)
	}
	if words, err = v.wordsAsked(); err != nil {
		return state, words, nil, at, err
	}
	const which = `($1 = '' OR state = $1) AND strpos(lower(serial), lower($2)) > 0`
	if err = v.Pool.QueryRow(v.ctx, `SELECT count(*) FROM web.paper WHERE `+which, state, words).Scan(&at.All); err != nil {
		return state, words, nil, at, err
	}
	list, err = findAll[Paper](v.ctx, v.Site, `
		SELECT doc FROM web.paper WHERE `+which+` ORDER BY due DESC NULLS LAST, serial DESC OFFSET $3 LIMIT $4`, state, words, at.Before(), at.most)
	return state, words, list, at, err
}

// giftsWithoutPaper gives the boats that want a paper, the oldest gift first.
func (v *visit) giftsWithoutPaper() ([]Boat, error) {
	return findAll[Boat](v.ctx, v.Site, `SELECT doc FROM web.boat WHERE paperless ORDER BY doc->'received'->>'on', id`)
}

func (v *visit) paperRows(papers []Paper) ([]paperRow, error) {
	today := clock.DateOf(v.Clock.Now())
	var boats []boat.ID
	for _, p := range papers {
		boats = append(boats, p.Boat)
	}
	names, err := v.boatNames(boats)
	if err != nil {
		return nil, err
	}
	var rows []paperRow
	for _, p := range papers {
		rows = append(rows, paperRow{p, cmp.Or(names[p.Boat], costsWords(p)), p.State() == "issued" && !p.Due.IsZero() && !p.Due.Before(today)})
	}
	return rows, nil
}

// costsWords says what a paper is about that is no boat's.
func costsWords(p Paper) string {
	if p.CostsOf == 0 {
		return ""
	}
	return "a volunteer’s costs of " + strconv.Itoa(p.CostsOf)
}

func (v *visit) printPaper() error {
	serial, sheet, err := v.paperSheet()
	if err != nil {
		return err
	}
	return v.download(serial+".pdf", "application/pdf", sheet.PDF)
}

// paperText gives a paper to whoever cannot read the PDF, or wants it in a mail.
func (v *visit) paperText() error {
	serial, sheet, err := v.paperSheet()
	if err != nil {
		return err
	}
	return v.download(serial+".txt", "text/plain; charset=utf-8", []byte(sheet.Text))
}

func (v *visit) paperSheet() (serial string, sheet message.Sheet, err error) {
	p, err := find[Paper](v.ctx, v.Site, "paper", v.param("paper"), "paper")
	if err != nil {
		return "", sheet, err
	}
	sheet, err = ask[message.Sheet](v, message.PrintPaper{Paper: p.Paper})
	return p.Serial, sheet, err
}

func (v *visit) paperLink() error {
	p, err := find[Paper](v.ctx, v.Site, "paper", v.param("paper"), "paper")
	if err != nil {
		return err
	}
	page := linkPage{
		Frame: v.frame("Private link"), Back: "/papers", Of: "Donors' papers",
		Give: v.button("give-papers-link", "/papers/"+p.Paper+"/new-link", "Give a new link", fresh("link")),
	}
	if page.Links, err = v.linksOf(p.Donor, people.OwnPapers, string(p.Donor)); err != nil {
		return err
	}
	return v.show("link", page)
}

// myPapersPage is what a donor sees.
type myPapersPage struct {
	Frame
	Papers  []paperRow
	Address string
}

func (v *visit) myPapers() error {
	papers, err := findAll[Paper](v.ctx, v.Site, `SELECT doc FROM web.paper WHERE donor = $1 ORDER BY serial DESC`, v.Who.Link.Subject)
	if err != nil {
		return err
	}
	p := myPapersPage{Frame: v.frame("Your papers"), Address: v.linkAddress(v.Who.link)}
	if p.Papers, err = v.paperRows(papers); err != nil {
		return err
	}
	return v.show("my_papers", p)
}

func (v *visit) printMyPaper() error {
	if err := v.mustBeOwnPaper(); err != nil {
		return err
	}
	return v.printPaper()
}

func (v *visit) myPaperText() error {
	if err := v.mustBeOwnPaper(); err != nil {
		return err
	}
	return v.paperText()
}

// mustBeOwnPaper refuses a paper that is not the donor's who came by the link.
func (v *visit) mustBeOwnPaper() error {
	p, err := find[Paper](v.ctx, v.Site, "paper", v.param("paper"), "paper")
	if err == nil && string(p.Donor) != v.Who.Link.Subject {
		err = fault.New(fault.Unknown, "The club's book does not have this paper.")
	}
	return err
}
