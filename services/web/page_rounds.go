package web

import (
	"crypto/rand"
	"fmt"
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

func roundRoutes() []route {
	return []route{
		get("/rounds", placing, (*visit).rounds),
		get("/rounds/served", placing, (*visit).served),
		get("/rounds/{round}", placing, (*visit).roundPage),
		get("/rounds/{round}/what-if", coordinators, (*visit).whatIf),
	}
}

func toRound(v *visit, _ desk.Commanded) string { return "/rounds/" + v.param("round") }

// noFields is for acts that are a button.
func noFields(*visit) ([]Section, error) { return nil, nil }

// lotRoles may put a secret into the lottery of a round: whoever does work in the
// club.
var lotRoles = []people.Role{people.Coordinator, people.Administrator, people.Steward, people.Repairer, people.Treasurer}

const secretWords = "Where several pairings are equally good, a lottery decides. It is drawn from the secrets of two members, which are put in before the list is frozen and shown afterwards, so that anybody can draw it again and nobody alone can steer it. Keep the words below, or write your own; you need not remember them."

func secretField() Field {
	return text("secret", "Secret").With("20 to 200 characters that nobody can guess.").Needed()
}

func someSecret(*visit) (any, error) { return message.CommitSecret{Secret: rand.Text()}, nil }

func roundActs() []act {
	return []act{
		{
			name: "start-round", path: "/rounds/new", may: coordinators, title: "Start a round", button: "Start the round", done: "The round is started. Now another member puts in a secret.",
			words:   secretWords,
			command: func() desk.Commanded { return &message.CommitSecret{} },
			start:   someSecret,
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{fresh("round"), secretField()}}}, nil
			},
			to: func(_ *visit, c desk.Commanded) string { return "/rounds/" + c.(*message.CommitSecret).Round },
		},
		{
			name: "commit-secret", path: "/rounds/{round}/secret", may: only(lotRoles...), title: "Put a secret into the lottery", button: "Put it in", done: "Your secret is in the lottery.",
			words:   secretWords,
			command: func() desk.Commanded { return &message.CommitSecret{} },
			start:   someSecret,
			fields:  (*visit).secondSecretFields,
			to: func(v *visit, c desk.Commanded) string {
				if placing.admits(v.Who) {
					return toRound(v, c)
				}
				return "/"
			},
		},
		{
			name: "open-round", path: "/rounds/{round}/list", may: coordinators, title: "Freeze the list", button: "Freeze the list", done: "The round is open: who and what takes part is fixed.",
			words:   "A round fixes which boats and requests take part, so that nobody can be added or left out while it is solved. Tick none, and all that are free take part. Look at the tiers first: they and the club's written priorities are fixed as well.",
			command: func() desk.Commanded { return &message.OpenRound{} },
			fields:  (*visit).openRoundFields,
			to:      toRound,
		},
		{
			name: "solve-round", path: "/rounds/{round}/solve", may: coordinators, title: "Pair boats and households", button: "Pair them", done: "The pairing is computed and its proof checked.",
			command: func() desk.Commanded { return &message.SolveRound{} }, fields: noFields, to: toRound,
		},
		{
			name: "approve-round", path: "/rounds/{round}/approve", may: only(people.Coordinator, people.Administrator), title: "Approve the pairing", button: "Approve", done: "The pairing is approved.",
			words:   "Another member than who had it computed, and nobody whose own household takes part. Look at the pairs first.",
			command: func() desk.Commanded { return &message.ApproveRound{} }, fields: noFields, to: toRound,
		},
		{
			name: "rule-pair", path: "/rounds/{round}/rulings", may: coordinators, title: "Rule on a pair", button: "Write it down", done: "It is written down.",
			words:   "For a reason that no rule knows, before the list is frozen. No ruling pairs what does not fit. Whoever approves the round reads the reason, and so may an auditor: nothing about health or means.",
			command: func() desk.Commanded { return &message.RulePair{} },
			fields:  (*visit).rulingFields, to: toRound,
		},
		{
			name: "place-boat", path: "/boats/{boat}/place", may: coordinators, title: "Find a household", button: "Begin", done: "Begun. Now another member puts in the second secret, and the boat is paired at once.",
			part: partPlacing, label: "Find a household", fits: func(b *Boat) bool { return b.State == Ready && b.KeptBack == "" },
			words:   "For this one boat, without waiting for a round of many. Every open request that is free takes part. Another member puts in a second secret for the lottery, which pairs the boat at once; then you look at the pair and offer it.",
			command: func() desk.Commanded { return &message.CommitSecret{} },
			start:   someSecret,
			fields: func(*visit) ([]Section, error) {
				return []Section{{Words: secretWords, Fields: []Field{fresh("round"), secretField()}}}, nil
			},
			to: func(_ *visit, c desk.Commanded) string { return "/rounds/" + c.(*message.CommitSecret).Round },
		},
		{
			name: "approve-and-send", path: "/rounds/{round}/approve-and-send", may: coordinators, title: "Approve the pairing and offer the boat", button: "Approve and offer", done: "The pairing is approved, and the offer is sent.", weighty: true,
			words:   "Another member than who had it computed. The household gets a letter with its private link.",
			command: func() desk.Commanded { return &message.ApproveRound{Send: true} }, fields: noFields, to: toRound,
		},
		{
			name: "send-offers", path: "/rounds/{round}/offers", may: coordinators, title: "Send the offers", button: "Send the offers", done: "The offers are sent.", weighty: true,
			words:   "Every household of the round gets a letter with its private link. An offer that is not answered in time lapses.",
			command: func() desk.Commanded { return &message.SendOffers{} },
			start: func(v *visit) (any, error) {
				days, err := v.SettingWhole(v.ctx, "offer-days")
				return message.SendOffers{Days: days}, err
			},
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{number("days", "Days for which the offers stand").Needed()}}}, nil
			},
			to: toRound,
		},
		{
			name: "close-round", path: "/rounds/{round}/close", may: coordinators, title: "Close the round", button: "Close the round", done: "The round is closed.", weighty: true,
			words:   "Boats and requests that were not paired are free for the next round.",
			command: func() desk.Commanded { return &message.CloseRound{} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{area("why", "Why").Needed()}}}, nil
			},
			to: toRound,
		},
		{
			name: "answer-offer", path: "/offers/{offer}/answer", may: coordinators, title: "Answer for the household", button: "Write the answer down", done: "The answer is written down.",
			words:   "On the household's word, for instance by telephone.",
			command: func() desk.Commanded { return &message.AnswerOffer{} },
			fields: func(v *visit) ([]Section, error) {
				o, err := find[Offer](v.ctx, v.Site, "offer", v.param("offer"), "offer")
				return []Section{{Words: "The household: " + v.directory().Name(o.Household), Fields: []Field{
					one("answer", "Answer", []Option{{"accepted", "they take the boat"}, {"declined", "they leave it"}, {"withdrawn", "the club takes the offer back"}}).Needed(),
					area("why", "Why").With("Needed when the club takes the offer back."),
				}}}, err
			},
			finish: func(v *visit, c desk.Commanded) error {
				o, err := find[Offer](v.ctx, v.Site, "offer", v.param("offer"), "offer")
				c.(*message.AnswerOffer).Boat = o.Boat
				return err
			},
			to: func(v *visit, _ desk.Commanded) string {
				o, err := find[Offer](v.ctx, v.Site, "offer", v.param("offer"), "offer")
				if err != nil {
					return "/rounds"
				}
				return "/rounds/" + o.Round
			},
		},
	}
}

// secondSecretFields says what the second secret of a round for one boat does.
func (v *visit) secondSecretFields() ([]Section, error) {
	r, err := find[Round](v.ctx, v.Site, "round", v.param("round"), "round")
	if err != nil || r.One == "" {
		return []Section{{Fields: []Field{secretField()}}}, err
	}
	b, err := v.findBoat(string(r.One))
	return []Section{{
		Words:  "With your secret the list is frozen and " + b.Name + " is paired at once. Then who began looks at the pair and offers the boat.",
		Fields: []Field{secretField()},
	}}, err
}

// openRoundFields offers boats that are ready and requests that are open.
func (v *visit) openRoundFields() ([]Section, error) {
	crafts, asks, err := v.freeOptions()
	return []Section{{Fields: []Field{some("boats", "Boats that are ready", crafts), some("requests", "Open requests", asks)}}}, err
}

// rulingFields offers the same, one of each.
func (v *visit) rulingFields() ([]Section, error) {
	crafts, asks, err := v.freeOptions()
	return []Section{{Fields: []Field{
		one("boat", "Boat", crafts).Needed(), one("request", "Request", asks).Needed(),
		one("how", "What is ruled", []Option{{message.RuledIn, "they are paired, if the boat fits"}, {message.RuledOut, "they are not paired"}, {message.RuledNot, "an earlier ruling is taken back"}}).Needed(),
		area("why", "Why").Needed(),
	}}}, err
}

// freeOptions gives boats that are ready and requests that are open.
func (v *visit) freeOptions() (crafts, asks []Option, err error) {
	boats, err := v.listBoats(boatFilter{State: Ready})
	if err != nil {
		return nil, nil, err
	}
	requests, err := findAll[Request](v.ctx, v.Site, `SELECT doc FROM web.request WHERE state = 'open' ORDER BY doc->>'made', id`)
	if err != nil {
		return nil, nil, err
	}
	names := v.directory()
	for _, b := range boats {
		crafts = append(crafts, Option{string(b.ID), b.Name + ", " + string(b.Facts.Type)})
	}
	for _, r := range requests {
		asks = append(asks, Option{r.ID, names.Name(r.Household) + ", asked " + v.ago(r.Made)})
	}
	return crafts, asks, nil
}

// roundsPage lists rounds.
type roundsPage struct {
	Frame
	State  string // which are shown; empty for all
	States []string
	Rounds []Round
}

var roundStates = []string{"not frozen", "opened", "solved", "approved", "offers out", "closed"}

// roundList reads all rounds, the newest first.
func (v *visit) roundList() ([]Round, error) {
	return findAll[Round](v.ctx, v.Site, `SELECT doc FROM web.round ORDER BY doc->>'opened_at' DESC, id`)
}

func (v *visit) rounds() error {
	list, err := v.roundList()
	if err != nil {
		return err
	}
	p := roundsPage{Frame: v.frame("Rounds"), State: v.r.URL.Query().Get("state"), States: roundStates, Rounds: list}
	if p.State != "" {
		if !slices.Contains(roundStates, p.State) {
			return fault.New(fault.Unknown, "There is no state %q of rounds. Choose one above the list of rounds.", p.State)
		}
		p.Rounds = slices.DeleteFunc(list, func(r Round) bool { return r.State() != p.State })
	}
	if v.wantsTable() {
		return writeTable(v, "rounds", []string{"started_on", "boats", "requests", "pairs", "state"}, p.Rounds, roundCells)
	}
	return v.show("rounds", p)
}

func roundCells(r Round) []string {
	cells := []string{clock.DateOf(r.OpenedAt).String(), "", "", "", r.State()}
	if r.Opened != nil {
		cells[1], cells[2] = whole(len(r.Opened.Boats)), whole(len(r.Opened.Requests))
	}
	if r.Solved != nil {
		cells[3] = strconv.Itoa(len(r.Solved.Pairs))
	}
	return cells
}

// roundPage is everything about one round.
type roundPage struct {
	Frame
	Round    Round
	Boats    []roundBoat
	Pairs    []roundPair
	Unserved []roundUnserved
	Rulings  []roundRuling
	Past     []roundPair // offers that the present solution does not hold
	Tiers    []tierServed
	AskNames map[string]string // the households of requests
	boats    map[boat.ID]Boat

	Solve, Approve, ApproveAndSend Form

	Jackets *message.JacketCounts // where the club's life jackets are too few; for coordinators
}

// roundBoat is a boat that takes part.
type roundBoat struct {
	ID   boat.ID
	Name string
}

// roundPair is a pair of the solution, with its offer when one was sent.
type roundPair struct {
	message.RoundPair
	Boat      roundBoat
	Household people.ID
	Tier      int
	Why       []string
	Offer     *myOffer
	Other     *roundBoat // that goes to the same household together with this one
	ToHand    bool       // the household has taken the boat and does not have it yet
}

// roundUnserved is a request that got no boat, with why.
type roundUnserved struct {
	message.RoundReason
	Household people.ID
	Tier      int
	Why       []string
}

// tierServed says how many requests of a priority got a boat.
type tierServed struct{ Tier, Served, Of int }

// MayApprove says whether the viewer can be the second member.
func (p roundPage) MayApprove() bool {
	return p.Round.State() == "solved" && p.Who.Has(people.Coordinator, people.Administrator) && p.Who.Person != p.Round.Solved.SolvedBy
}

// Running says whether a coordinator can do something about the round.
func (p roundPage) Running() bool {
	return p.Who.Has(people.Coordinator) && p.Round.State() != "closed"
}

func (v *visit) roundPage() error {
	p, err := v.openRound()
	if err != nil {
		return err
	}
	return v.show("round", p)
}

// openRound gathers what the viewer may know of the round that the address names.
func (v *visit) openRound() (roundPage, error) {
	r, err := find[Round](v.ctx, v.Site, "round", v.param("round"), "round")
	if err != nil {
		return roundPage{}, err
	}
	at := "/rounds/" + r.ID
	p := roundPage{
		Frame: v.frame("Round of " + r.OpenedAt.UTC().Format("2 January 2006")), Round: r,
		Solve: v.button("solve-round", at+"/solve", "Pair them"), Approve: v.button("approve-round", at+"/approve", "Approve the pairing"),
		ApproveAndSend: v.button("approve-and-send", at+"/approve-and-send", "Approve and offer the boat"),
	}
	if r.One != "" {
		b, err := v.findBoat(string(r.One))
		if err != nil {
			return p, err
		}
		p.Title = "A household for " + b.Name
	}
	p.listens(v, at)
	if r.Solved != nil {
		p.Solve.Button = "Pair them anew"
	}
	if err := v.fillRulings(&p); err != nil || r.Opened == nil {
		return p, err
	}
	if p.boats, err = v.boatsNamed(r.Opened.Boats); err != nil {
		return p, err
	}
	for _, id := range r.Opened.Boats {
		p.Boats = append(p.Boats, roundBoat{id, p.boats[id].Name})
	}
	requests, err := v.requestsNamed(r.Opened.Requests)
	if err != nil {
		return p, err
	}
	p.AskNames = map[string]string{}
	for id, q := range requests {
		p.AskNames[id] = p.People.Name(q.Household)
	}
	if r.Solved != nil {
		err = v.fillSolution(&p, requests)
	}
	if r.Solved != nil && p.Running() {
		p.Jackets = v.jacketsShort(r.ID)
	}
	return p, err
}

// jacketsShort gives the sizes of which the club has too few life jackets for
// everybody who is to get a boat, or nil. When the room does not answer, the rest of
// the page still helps.
func (v *visit) jacketsShort(round string) *message.JacketCounts {
	a, err := ask[message.JacketCounts](v, message.JacketsPromised{Round: round})
	if err != nil || !a.Counted || len(a.Short) == 0 {
		return nil
	}
	return &a
}

// jacketWords says by how many life jackets are short.
func jacketWords(a *message.JacketCounts) string {
	list := make([]string, len(a.Short))
	for i, s := range a.Short {
		list[i] = fmt.Sprintf("%d in size %s, of which the club has %d", s.Wanted, s.Size, s.Has)
	}
	return "Everybody who is to get a boat, counted together, wants " + strings.Join(list, "; ") + ". Find the others before the boats are handed over."
}

// JacketWords says so on the page.
func (p roundPage) JacketWords() string { return jacketWords(p.Jackets) }

// roundRuling is a ruling on a pair with the names of its ends.
type roundRuling struct {
	message.PairRuled
	Boat      string
	Household people.ID
}

// fillRulings adds what a coordinator ruled on pairs.
func (v *visit) fillRulings(p *roundPage) error {
	var ids []boat.ID
	var asks []message.RoundRequest
	for _, r := range p.Round.Rulings {
		ids, asks = append(ids, r.Boat), append(asks, message.RoundRequest{Request: r.Request})
	}
	if len(ids) == 0 {
		return nil
	}
	boats, err := v.boatsNamed(ids)
	if err != nil {
		return err
	}
	requests, err := v.requestsNamed(asks)
	for _, r := range p.Round.Rulings {
		p.Rulings = append(p.Rulings, roundRuling{r, boats[r.Boat].Name, requests[r.Request].Household})
	}
	return err
}

func (v *visit) requestsNamed(list []message.RoundRequest) (map[string]Request, error) {
	ids := make([]string, len(list))
	for i, r := range list {
		ids[i] = r.Request
	}
	found, err := findAll[Request](v.ctx, v.Site, `SELECT doc FROM web.request WHERE id = ANY($1)`, ids)
	all := map[string]Request{}
	for _, r := range found {
		all[r.ID] = r
	}
	return all, err
}

// fillSolution adds who got which boat, who got none, and why.
func (v *visit) fillSolution(p *roundPage, requests map[string]Request) error {
	tiers := map[string]int{}
	for _, r := range p.Round.Opened.Requests {
		tiers[r.Request] = r.Tier
	}
	offers, err := findAll[Offer](v.ctx, v.Site, `SELECT doc FROM web.offer WHERE round = $1`, p.Round.ID)
	if err != nil {
		return err
	}
	for _, pair := range p.Round.Solved.Pairs {
		household := requests[pair.Request].Household
		row := roundPair{
			RoundPair: pair, Boat: roundBoat{pair.Boat, p.boats[pair.Boat].Name}, Household: household, Tier: tiers[pair.Request],
			Why: v.reasonsFor(household, pair.Reasons, pair.Sealed),
		}
		if pair.With != "" {
			row.Other = &roundBoat{pair.With, p.boats[pair.With].Name}
		}
		if o, ok := in(offers, func(o *Offer) bool { return o.Boat == pair.Boat && o.Request == pair.Request }); ok {
			b := p.boats[pair.Boat]
			v.putOffer(&row, *o)
			row.ToHand = o.State() == "accepted" && promised(&b)
		}
		p.Pairs = append(p.Pairs, row)
	}
	for _, o := range offers {
		if _, shown := in(p.Pairs, func(r *roundPair) bool { return r.Offer != nil && r.Offer.Offer.Offer == o.Offer }); !shown {
			row := roundPair{RoundPair: message.RoundPair{Boat: o.Boat, Request: o.Request}, Boat: roundBoat{o.Boat, p.boats[o.Boat].Name}, Household: o.Household}
			v.putOffer(&row, o)
			p.Past = append(p.Past, row)
		}
	}
	for _, u := range p.Round.Solved.Unserved {
		household := requests[u.Request].Household
		p.Unserved = append(p.Unserved, roundUnserved{u, household, tiers[u.Request], v.reasonsFor(household, u.Reasons, u.Sealed)})
	}
	p.Tiers = tiersServed(p.Round.Opened.Requests, p.Round.Solved.Pairs)
	return nil
}

// putOffer adds what became of an offer.
func (v *visit) putOffer(row *roundPair, o Offer) {
	o.Why = v.ownWords(o.Household, o.Why, o.Own)
	row.Offer = &myOffer{Offer: o, Left: v.leftOf(o)}
}

// MaySolve says whether there is something to pair: at first, and again when an
// offer that was sent came to nothing.
func (p roundPage) MaySolve() bool {
	switch p.Round.State() {
	case "opened", "solved":
		return true
	case "offers out":
		return slices.ContainsFunc(p.Pairs, func(r roundPair) bool {
			return r.Offer != nil && !slices.Contains([]string{"open", "accepted"}, r.Offer.State())
		})
	}
	return false
}

// tiersServed counts, for each priority that occurs, who took part and who got a
// boat.
func tiersServed(requests []message.RoundRequest, pairs []message.RoundPair) []tierServed {
	var list []tierServed
	tierOf := map[string]int{}
	row := func(tier int) *tierServed {
		if t, ok := in(list, func(t *tierServed) bool { return t.Tier == tier }); ok {
			return t
		}
		list = append(list, tierServed{Tier: tier})
		return &list[len(list)-1]
	}
	for _, r := range requests {
		tierOf[r.Request] = r.Tier
		row(r.Tier).Of++
	}
	for _, pair := range pairs {
		if leads(pair) {
			row(tierOf[pair.Request]).Served++
		}
	}
	slices.SortFunc(list, func(a, b tierServed) int { return a.Tier - b.Tier })
	return list
}

// leads says whether a pair counts: of two boats that go to one household together
// one does.
func leads(p message.RoundPair) bool { return p.With == "" || p.Boat < p.With }

// NameOf gives the name of what a price of the proof is for.
func (p roundPage) NameOf(id string) string {
	if b, ok := p.boats[boat.ID(id)]; ok {
		return b.Name
	}
	if name, ok := p.AskNames[id]; ok {
		return name
	}
	return id
}

// BoatAt gives the name of the n-th boat of the round.
func (p roundPage) BoatAt(n int) string {
	if n < 0 || n >= len(p.Boats) {
		return "a boat"
	}
	return p.Boats[n].Name
}

// Steps is how many steps a request of a tier is worth.
func (p roundPage) Steps(tier int) int64 {
	return int64(p.proofTiers() + 1 - tier)
}

// proofTiers is the last tier that the proof knows: of the whole round, or where
// households take two boats together, of what these leave.
func (p roundPage) proofTiers() int {
	s := p.Round.Solved
	boats, requests := map[int]bool{}, map[string]bool{}
	for _, pair := range s.Pairs {
		if pair.With != "" {
			requests[pair.Request] = true
			boats[slices.Index(p.Round.Opened.Boats, pair.Boat)] = true
		}
	}
	if len(boats) == 0 {
		return len(s.ServedByTier)
	}
	last := 0
	for _, r := range p.Round.Opened.Requests {
		fit, _ := in(s.Candidates, func(f *message.RoundFit) bool { return f.Request == r.Request })
		if fit != nil && !requests[r.Request] && slices.ContainsFunc(fit.Boats, func(n int) bool { return !boats[n] }) {
			last = max(last, r.Tier)
		}
	}
	return last
}

// InProof says whether the proof tells of a tier.
func (p roundPage) InProof(tier int) bool { return tier <= p.proofTiers() }

// Together lists the households that take two boats, one pair each.
func (p roundPage) Together() []roundPair {
	return slices.DeleteFunc(slices.Clone(p.Pairs), func(r roundPair) bool { return r.Other == nil || !leads(r.RoundPair) })
}

// Worth adds up the pairs of the proof: the points of each fit, and the steps of the
// tiers.
func (p roundPage) Worth() int64 {
	var sum int64
	for _, pair := range p.Pairs {
		if pair.With != "" {
			continue
		}
		sum += pair.Score + p.Steps(pair.Tier)*p.Round.Solved.Step
	}
	return sum
}

// Prices adds up the prices of all boats and requests. It is the same as Worth:
// that is the proof.
func (p roundPage) Prices() int64 {
	var sum int64
	for _, list := range [][]message.RoundPrice{p.Round.Solved.BoatPrices, p.Round.Solved.AskPrices} {
		for _, price := range list {
			sum += price.Price
		}
	}
	return sum
}
