package web

import (
	"fmt"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
)

var (
	coordinators = only(people.Coordinator)
	placing      = only(people.Coordinator, people.Administrator, people.Auditor)
)

func requestRoutes() []route {
	return []route{
		get("/requests", placing, (*visit).requests),
		get("/requests/{request}", placing, (*visit).requestPage),
		get("/requests/{request}/link", coordinators, (*visit).requestLink),
		get("/requests/{request}/wish", coordinators, (*visit).wishForCoordinator),
		post("/requests/{request}/wish", coordinators, (*visit).changeWishForCoordinator, (*visit).wishForCoordinator),
	}
}

func toRequest(v *visit, _ desk.Commanded) string { return "/requests/" + v.param("request") }

func requestActs() []act {
	return []act{
		{
			name: "set-tier", path: "/requests/{request}/tier", may: coordinators, title: "Set the tier", button: "Set the tier", done: "The tier is set.",
			words:   "Which of the club's written tiers the request belongs to. Tier 1 is served first; a request for which none is set counts as tier 2. The household reads the reason.",
			command: func() desk.Commanded { return &message.SetTier{} },
			shared:  true,
			start: func(v *visit) (any, error) {
				r, err := find[Request](v.ctx, v.Site, "request", v.param("request"), "request")
				return message.SetTier{Tier: r.Tier, Why: r.TierWhy}, err
			},
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{
					one("tier", "Tier", []Option{{"1", "1, first"}, {"2", "2, ordinary"}, {"3", "3, last"}}).Needed(),
					area("why", "Which written reason").Needed().With("A reason from the club's list, nothing about health or means."),
				}}}, nil
			},
			to: toRequest,
		},
		{
			name: "end-request", path: "/requests/{request}/end", may: coordinators, title: "End the request", button: "End the request", done: "The request is ended.", weighty: true,
			words:   "An open offer or a promise ends with it. The household reads the reason.",
			command: func() desk.Commanded { return &message.EndRequest{} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{
					one("how", "How", []Option{{"declined", "the club declines it"}, {"withdrawn", "the household withdraws it"}}).Needed(),
					area("why", "Why").Needed(),
				}}}, nil
			},
			to: toRequest,
		},
		{
			name: "give-link", path: "/requests/{request}/new-link", may: coordinators, title: "Give a new private link", button: "Make and send it", done: "The new link is made, and sent where there is a mail address.",
			words:   "For a household that has lost its link, or whose link has ended. Earlier links go on working for their time.",
			command: func() desk.Commanded { return &message.GiveLink{} },
			fields:  func(*visit) ([]Section, error) { return []Section{{Fields: []Field{fresh("link")}}}, nil },
			finish: func(v *visit, c desk.Commanded) error {
				r, err := find[Request](v.ctx, v.Site, "request", v.param("request"), "request")
				link := c.(*message.GiveLink)
				link.Person, link.Purpose, link.Subject = r.Household, people.OwnRequest, r.ID
				return err
			},
			to: func(v *visit, c desk.Commanded) string { return "/requests/" + v.param("request") + "/link" },
		},
		{
			name: "judge-doubles", path: "/doubles/judge", may: only(people.Coordinator, people.Administrator), title: "One person or two", button: "Write it down", done: "It is written down.",
			command: func() desk.Commanded { return &message.JudgeDoubles{} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{text("one", "One entry").Needed(), text("other", "The other").Needed(), tick("same", "They are one person")}}}, nil
			},
			to: func(*visit, desk.Commanded) string { return "/doubles" },
		},
	}
}

// requestRow is a request in the list.
type requestRow struct {
	Request
	Ago string // how long it waits
}

// ago says in words how many days lie between an instant and today.
func (v *visit) ago(t time.Time) string {
	switch days := clock.DateOf(v.Clock.Now()).DaysSince(clock.DateOf(t)); days {
	case 0:
		return "today"
	case 1:
		return "yesterday"
	default:
		return fmt.Sprintf("%d days ago", days)
	}
}

// requestsPage lists requests.
type requestsPage struct {
	Frame
	leaves
	State  string
	States []string
	Rows   []requestRow
	Ages   barChart // of the requests that are open
}

var requestStates = []string{"open", "placed", "withdrawn", "declined"}

// Count says how many requests are shown.
func (p requestsPage) Count() string { return count(p.All, "request", "requests") + p.Shown() }

// requestList reads a page of the requests in the state that the address names, and
// how many there are.
func (v *visit) requestList() (state string, list []Request, at leaves, err error) {
	state = v.r.URL.Query().Get("state")
	if !slices.Contains(requestStates, state) && state != "all" {
		state = "open"
	}
	at = v.leavesOf()
	if err = v.Pool.QueryRow(v.ctx, `SELECT count(*) FROM web.request WHERE $1 = 'all' OR state = $1`, state).Scan(&at.All); err != nil {
		return state, nil, at, err
	}
	list, err = findAll[Request](v.ctx, v.Site, `
		SELECT doc FROM web.request WHERE $1 = 'all' OR state = $1
		ORDER BY CASE tier WHEN 0 THEN 2 ELSE tier END, doc->>'made', id OFFSET $2 LIMIT $3`, state, at.Before(), at.most)
	return state, list, at, err
}

func (v *visit) requests() error {
	state, list, at, err := v.requestList()
	if err != nil {
		return err
	}
	p := requestsPage{Frame: v.frame("Requests"), leaves: at, State: state, States: append(requestStates, "all")}
	var households []people.ID
	for _, r := range list {
		households = append(households, r.Household)
	}
	if err := p.People.learnOf(households); err != nil {
		return err
	}
	for _, r := range list {
		p.Rows = append(p.Rows, requestRow{r, v.ago(r.Made)})
	}
	if state == "open" && at.Page == 1 && at.All > 0 {
		if p.Ages, err = v.agesOfRequests(); err != nil {
			return err
		}
	}
	if v.wantsTable() {
		return writeTable(v, "requests", []string{"household", "boats", "tier", "asked_on", "state"}, p.Rows, func(r requestRow) []string {
			return []string{p.People.Name(r.Household), whole(r.Boats), whole(r.Tier), clock.DateOf(r.Made).String(), r.State()}
		})
	}
	return v.show("requests", p)
}

// agesOfRequests counts how long open requests wait.
func (v *visit) agesOfRequests() (barChart, error) {
	b := barChart{ID: "ages", Title: "How long open requests wait", Group: "Asked", Unit: "Requests"}
	rows, err := v.Pool.Query(v.ctx, `SELECT (doc ->> 'made')::timestamptz FROM web.request WHERE state = 'open'`)
	if err != nil {
		return b, err
	}
	made, err := pgx.CollectRows(rows, pgx.RowTo[time.Time])
	if err != nil {
		return b, err
	}
	days := make([]int, len(made))
	for i, at := range made {
		days[i] = v.today().DaysSince(clock.DateOf(at))
	}
	b.Rows = ages(days)
	return b.scaled(), nil
}

// requestPage is everything about one request.
type requestPage struct {
	Frame
	Request Request
	Ago     string
	Contact message.PersonDetails
	Wish    []line // for coordinators only
	Fit     *message.RequestExplained
	Offers  []myOffer
	Rounds  []Round
	Consent []Consent
}

// Mine says whether the viewer reads the wish.
func (p requestPage) Mine() bool { return p.Who.Has(people.Coordinator) }

// Open says whether the request still stands.
func (p requestPage) Open() bool { return p.Request.State() == "open" }

func (v *visit) requestPage() error {
	r, err := find[Request](v.ctx, v.Site, "request", v.param("request"), "request")
	if err != nil {
		return err
	}
	r.EndedWhy = v.ownWords(r.Household, r.EndedWhy, r.EndedOwn)
	for i, a := range r.Appeals {
		r.Appeals[i].Own = v.appealWords(r.Household, a)
	}
	p := requestPage{Frame: v.frame("Request"), Request: r}
	p.Title = "Request of " + p.People.Name(r.Household)
	p.Ago = v.ago(r.Made)
	if p.Offers, err = v.offersOf(r.ID); err != nil {
		return err
	}
	if p.Rounds, err = v.roundsOf(r.ID); err != nil {
		return err
	}
	if p.Mine() {
		v.openRequest(&p)
	}
	return v.show("request", p)
}

// openRequest adds what only coordinators read. When a room does not answer or
// the household was erased, the rest of the page still helps.
func (v *visit) openRequest(p *requestPage) {
	if details, err := v.details(v.ctx, p.Request.Household); err == nil {
		p.Contact = details
	}
	if w, err := ask[message.Wish](v, message.ReadWish{Request: p.Request.ID}); err == nil {
		p.Wish = wishLines(w)
	}
	if !p.Open() {
		return
	}
	if e, err := ask[message.RequestExplained](v, message.ExplainRequest{Request: p.Request.ID}); err == nil {
		p.Fit = &e
	}
}

// roundsOf reads the rounds in which a request took part, the newest first.
func (v *visit) roundsOf(request string) ([]Round, error) {
	return findAll[Round](v.ctx, v.Site, `
		SELECT doc FROM web.round WHERE doc->'opened'->'requests' @> jsonb_build_array(jsonb_build_object('request', $1::text))
		ORDER BY doc->>'opened_at' DESC, id`, request)
}

// linkPage shows a private link, for printing or reading out.
type linkPage struct {
	Frame
	Back, Of string // the page above, and what it is called
	Links    []linkShown
	Give     Form
}

type linkShown struct {
	message.LinkGiven
	Address string
}

func (v *visit) requestLink() error {
	r, err := find[Request](v.ctx, v.Site, "request", v.param("request"), "request")
	if err != nil {
		return err
	}
	p := linkPage{
		Frame: v.frame("Private link"), Back: "/requests/" + r.ID, Of: "Request of " + v.directory().Name(r.Household),
		Give: v.button("give-link", "/requests/"+r.ID+"/new-link", "Give a new link", fresh("link")),
	}
	if p.Links, err = v.linksOf(r.Household, people.OwnRequest, r.ID); err != nil {
		return err
	}
	return v.show("link", p)
}

// linksOf asks for the addresses of somebody's links that still work.
func (v *visit) linksOf(person people.ID, purpose people.Purpose, subject string) ([]linkShown, error) {
	p, err := find[Person](v.ctx, v.Site, "person", string(person), "person")
	if err != nil {
		return nil, err
	}
	var list []linkShown
	for _, l := range p.Links {
		if l.Purpose != purpose || l.Subject != subject || !v.Clock.Now().Before(l.Until) {
			continue
		}
		token, err := ask[message.LinkToken](v, message.LinkAddress{Link: l.Link})
		if err != nil {
			return nil, err
		}
		list = append(list, linkShown{l, token.Address})
	}
	return list, nil
}

func (v *visit) wishForCoordinator() error {
	return v.wishForm(v.param("request"), "/requests/"+v.param("request"))
}

func (v *visit) changeWishForCoordinator() error {
	return v.changeWish(v.param("request"), "/requests/"+v.param("request"))
}

// doublesPage shows entries that may be one person.
type doublesPage struct {
	Frame
	Pairs []doublePair
}

// doublePair is two entries with what they have in common, and a button for each
// judgement.
type doublePair struct {
	One, Other message.PersonRead
	Shares     []string
	Same, Two  Form
}

func doublesRoutes() []route {
	return []route{get("/doubles", only(people.Coordinator, people.Administrator), (*visit).doubles)}
}

func (v *visit) doubles() error {
	found, err := ask[message.DoublesFound](v, message.LikelyDoubles{})
	if err != nil {
		return err
	}
	known, err := v.readPairs(found.Pairs)
	if err != nil {
		return err
	}
	p := doublesPage{Frame: v.frame("One person or two?")}
	for _, pair := range found.Pairs {
		p.Pairs = append(p.Pairs, doublePair{
			known[pair.One], known[pair.Other], pair.Shares,
			v.judgement("same-", pair, "They are one person", "yes"), v.judgement("two-", pair, "They are two persons", ""),
		})
	}
	return v.show("doubles", p)
}

// readPairs asks for everybody in some pairs at once.
func (v *visit) readPairs(pairs []message.LikelyDouble) (map[people.ID]message.PersonRead, error) {
	ids := []people.ID{}
	for _, pair := range pairs {
		ids = append(ids, pair.One, pair.Other)
	}
	slices.Sort(ids)
	read, err := ask[message.PeopleRead](v, message.ReadPeople{IDs: slices.Compact(ids)})
	known := map[people.ID]message.PersonRead{}
	for _, p := range read.People {
		known[p.Person] = p
	}
	return known, err
}

func (v *visit) judgement(name string, pair message.LikelyDouble, words, same string) Form {
	return v.button(name+string(pair.One)+string(pair.Other), "/doubles/judge", words,
		preset("one", string(pair.One)), preset("other", string(pair.Other)), preset("same", same))
}

// reasonsFor opens the reasons for a request's outcome that hold the household's
// numbers, for those who place boats; otherwise it gives the plain ones.
func (v *visit) reasonsFor(household people.ID, plain []string, sealed string) []string {
	if sealed == "" || household == "" || !v.Who.Has(people.Coordinator) {
		return plain
	}
	var open []string
	if err := v.Vault.Unseal(v.ctx, string(household), message.SealReasons, vault.Sealed(sealed), &open); err != nil || len(open) == 0 {
		return plain
	}
	return open
}

// ownWords gives a reason in the household's words to themselves and to those
// who place boats, and to everybody else what the club said.
func (v *visit) ownWords(household people.ID, plain, sealed string) string {
	if sealed == "" || household == "" || !v.Who.Has(people.Coordinator) && v.Who.Person != household {
		return plain
	}
	return v.unsealWords(household, plain, sealed)
}

// appealWords gives what an appeal says, while it is open also to administrators,
// who may decide it.
func (v *visit) appealWords(household people.ID, a Appeal) string {
	if a.Decided == nil && v.Who.Has(people.Administrator) {
		return v.unsealWords(household, "", a.Own)
	}
	return v.ownWords(household, "", a.Own)
}

func (v *visit) unsealWords(household people.ID, plain, sealed string) string {
	words := plain
	if err := v.Vault.Unseal(v.ctx, string(household), message.SealWords, vault.Sealed(sealed), &words); err != nil {
		return plain
	}
	return words
}

// boatsNamed reads some boats.
func (v *visit) boatsNamed(ids []boat.ID) (map[boat.ID]Boat, error) {
	list, err := findAll[Boat](v.ctx, v.Site, `SELECT doc FROM web.boat WHERE id = ANY($1)`, ids)
	boats := map[boat.ID]Boat{}
	for _, b := range list {
		boats[b.ID] = b
	}
	return boats, err
}
