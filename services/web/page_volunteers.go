package web

import (
	"cmp"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

func volunteerRoutes() []route {
	return []route{get("/volunteers", booksTo, (*visit).volunteers)}
}

func toVolunteers(*visit, desk.Commanded) string { return "/volunteers" }

func volunteerActs() []act {
	return []act{
		{
			name: "state-volunteer-cost", path: "/volunteers/new", may: treasurers, title: "Write down what a member laid out", button: "Write it down", done: "The cost is written down; the club owes it until it is paid back or given.",
			words:   "What a member paid out of their own pocket for the club. What was for a boat’s repair or a bin is booked in the workshop, and stands on the page before. A member’s time is no cost: it stands on no paper.",
			command: func() desk.Commanded { return &message.StateVolunteerCost{} },
			fields: func(v *visit) ([]Section, error) {
				boats, err := v.boatChoices()
				if err != nil {
					return nil, err
				}
				member, err := v.costFields()
				return []Section{{Fields: []Field{
					fresh("cost"), member, serviceField(), text("bought", "What was bought").Needed().With("Name nobody."), text("amount", "What it cost").Needed(),
					day("on", "Day on which the member paid").Needed().Starts(v.today().String()), receiptField(),
					{Name: "boat", Label: "For which boat", Kind: kindPick, Options: boats, Hint: "Leave it open where it was for no single boat."},
				}}}, err
			},
			to: toVolunteers,
		},
		takeCost("take-boat-cost", "/boats/{boat}/debts/{entry}/member"),
		takeCost("take-bin-cost", "/stock/{bin}/debts/{entry}/member"),
		{
			name: "pay-volunteer-cost-back", path: "/volunteers/{member}/costs/{cost}/pay-back", may: treasurers, title: "Pay a member back", button: "Write it down", done: "The cost is paid back in the books.", weighty: true,
			words:   "The club gives the money. Nobody writes this down of their own costs.",
			command: func() desk.Commanded { return &message.PayVolunteerCostBack{} },
			fields: func(v *visit) ([]Section, error) {
				return v.ofCost(day("on", "Day").Needed().Starts(v.today().String()), text("how", "How the money went").Needed().With("In cash, by transfer, as a cheque."))
			},
			to: toVolunteers,
		},
		{
			name: "give-volunteer-cost", path: "/volunteers/{member}/costs/{cost}/give", may: treasurers, title: "The member gives it", button: "Write it down", done: "It is written down that the member gives it.", weighty: true,
			words:   "The member says that they do not want it back. It is then money that the club need not pay, and no gift in kind of a boat.",
			command: func() desk.Commanded { return &message.GiveVolunteerCost{} },
			fields: func(v *visit) ([]Section, error) {
				return v.ofCost(day("on", "Day on which they said so").Needed().Starts(v.today().String()))
			},
			to: toVolunteers,
		},
		{
			name: "issue-volunteer-paper", path: "/volunteers/{member}/papers/{year}", may: treasurers, title: "Issue a volunteer’s paper", button: "Issue it", done: "The paper is issued, and the member is told.", weighty: true,
			words:   "One paper about all that the member laid out in the year and gave. It describes the services, and says what the club gave in return; it states no time, no value of time, and not what was laid out: the member keeps the receipts. It takes the next number of the year. Nobody signs for their own costs; above the amount from which the club wants two signatures, nobody who wrote them down. What is given later needs a new paper in place of this one. This is no tax advice: the member’s adviser decides.",
			command: func() desk.Commanded { return &message.IssueVolunteerPaper{} },
			fields:  (*visit).volunteerPaperFields,
			to:      toVolunteers,
		},
		{
			name: "withdraw-volunteer-cost", path: "/volunteers/{member}/costs/{cost}/withdraw", may: treasurers, title: "Take a cost back that was written down wrong", button: "Take it back", done: "The cost counts no more.",
			words:   "Nothing is erased: the books get the opposite entry. A booking of the workshop can then be written down of another member.",
			command: func() desk.Commanded { return &message.WithdrawVolunteerCost{} },
			fields: func(v *visit) ([]Section, error) {
				return v.ofCost(area("why", "What was wrong").Needed())
			},
			to: toVolunteers,
		},
	}
}

// takeCost is the form that says which member a booking is owed to, of a boat's book or a bin's.
func takeCost(name, path string) act {
	return act{
		name: name, path: path, may: treasurers, title: "Say which member paid", button: "Write it down", done: "The booking is written down as the member’s cost.",
		words:   "The workshop booked this as paid from a member’s own pocket. It is owed to them until it is paid back or given.",
		command: func() desk.Commanded { return &message.TakeVolunteerCost{} },
		fields: func(v *visit) ([]Section, error) {
			booking, err := v.booking()
			if err != nil {
				return nil, err
			}
			member, err := v.costFields()
			return []Section{{Words: "The booking: " + booking.Words + ", " + booking.Amount.String() + ", " + booking.On.String() + ".", Fields: []Field{
				fresh("cost"), member.Starts(string(booking.Member)), serviceField(), receiptField(),
			}}}, err
		},
		to: toVolunteers,
	}
}

// volunteerPaperFields asks for the paper about a member's costs of a year, and shows what it will
// describe.
func (v *visit) volunteerPaperFields() ([]Section, error) {
	list, err := ask[message.VolunteerCostList](v, message.VolunteerCosts{State: message.CostGiven})
	if err != nil {
		return nil, err
	}
	var services []string
	for _, c := range slices.Backward(list.Costs) {
		if string(c.Member) == v.param("member") && strconv.Itoa(c.On.Year()) == v.param("year") && !slices.Contains(services, c.Service) {
			services = append(services, c.Service)
		}
	}
	about := "Of " + v.directory().Name(people.ID(v.param("member"))) + " in " + v.param("year") + ": "
	return []Section{{Words: about + cmp.Or(strings.Join(services, "; "), "nothing is given") + ".", Fields: []Field{
		fresh("paper"),
		day("on", "Date of the paper").Needed().Starts(v.today().String()),
		one("what", "What the club gave the member in return", words(message.Returns)).Needed(),
		text("words", "Describe it").With("As it should stand on the paper, without names. Empty where it is nothing."),
		text("value", "What it is worth").With("Estimated in good faith."),
	}}}, nil
}

// costFields gives the choice of a member.
func (v *visit) costFields() (Field, error) {
	members, err := v.choosePeople(message.MemberSort)
	return Field{Name: "member", Label: "Which member", Kind: kindPick, Options: members}.Needed(), err
}

func serviceField() Field {
	return text("service", "What the member did for the club").Needed().With("As it should stand on a paper: what, and never for how long. Name nobody.")
}

func receiptField() Field { return tick("receipt", "I have seen the receipt") }

// boatChoices offers every boat, by name.
func (v *visit) boatChoices() ([]Option, error) {
	rows, err := v.Pool.Query(v.ctx, `SELECT id, name FROM web.boat ORDER BY lower(name), id`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[Option])
}

// booking gives what the address names; it is open, or can be no cost any more.
func (v *visit) booking() (message.VolunteerBooking, error) {
	list, err := ask[message.VolunteerCostList](v, message.VolunteerCosts{})
	if err != nil {
		return message.VolunteerBooking{}, err
	}
	for _, b := range list.Bookings {
		if b.Entry == v.param("entry") && string(b.Boat) == v.param("boat") && b.Bin == v.param("bin") {
			return b, nil
		}
	}
	return message.VolunteerBooking{}, fault.New(fault.Unknown, "No member is out of money for this booking any more. Those that are open stand under “Volunteers’ costs”.")
}

// ofCost makes a form about a cost, with what it is.
func (v *visit) ofCost(fields ...Field) ([]Section, error) {
	list, err := ask[message.VolunteerCostList](v, message.VolunteerCosts{})
	if err != nil {
		return nil, err
	}
	for _, c := range list.Costs {
		if c.Cost == v.param("cost") && string(c.Member) == v.param("member") {
			words := "The cost: " + c.Bought + ", " + c.Amount.String() + ", laid out on " + c.On.String() + " by " + v.directory().Name(c.Member) + "."
			return []Section{{Words: words, Fields: fields}}, nil
		}
	}
	return nil, fault.New(fault.Unknown, "There is no such cost. They stand under “Volunteers’ costs”.")
}

// volunteersPage lists what members laid out.
type volunteersPage struct {
	Frame
	leaves
	Year     int // 0: any
	Years    []int
	State    message.CostState // empty: any
	States   []message.CostState
	Members  []sumRow
	Bookings []bookingRow
	Costs    []costRow
	More     bool
}

// costRow is a cost with the names that it has on pages.
type costRow struct {
	message.VolunteerCost
	BoatName, BinName string
}

// At is the address of what can be decided about the cost.
func (c costRow) At() string { return "/volunteers/" + string(c.Member) + "/costs/" + c.Cost }

// sumRow is what a member's costs of a year come to, and whether the viewer may see to a paper.
type sumRow struct {
	message.VolunteerSum
	Own bool
}

// At is the address at which the paper is issued.
func (s sumRow) At() string {
	return "/volunteers/" + string(s.Member) + "/papers/" + strconv.Itoa(s.Year)
}

// Open says whether a paper can be issued by the rules.
func (s sumRow) Open() bool {
	return !s.Given.IsZero() && s.Paper == "" && s.WhyNot == "" && !s.Own
}

// bookingRow is a booking with the name of what it is for.
type bookingRow struct {
	message.VolunteerBooking
	For, Of string // the name; the page of the boat or the bin
}

// Take is the address at which it is said whose the booking is.
func (b bookingRow) Take() string { return b.Of + "/debts/" + b.Entry + "/member" }

// Of gives the address of the list with another year and state.
func (p volunteersPage) Of(year int, state message.CostState) string {
	q := url.Values{}
	if year != 0 {
		q.Set("year", strconv.Itoa(year))
	}
	if state != "" {
		q.Set("state", string(state))
	}
	if len(q) == 0 {
		return "/volunteers"
	}
	return "/volunteers?" + q.Encode()
}

// Count says how many costs the list has.
func (p volunteersPage) Count() string { return count(p.All, "cost", "costs") + p.Shown() }

func (v *visit) volunteers() error {
	q, err := v.costsAsked()
	if err != nil {
		return err
	}
	list, err := ask[message.VolunteerCostList](v, q)
	if err != nil {
		return err
	}
	p := volunteersPage{Frame: v.frame("Volunteers’ costs"), leaves: v.leavesOf(), Year: q.Year, State: q.State, States: message.CostStates, More: list.More}
	for _, sum := range list.Members {
		p.Members = append(p.Members, sumRow{sum, sum.Member == v.Who.Person})
	}
	if p.Years, err = v.years(v.today().Year()); err != nil {
		return err
	}
	p.All = len(list.Costs)
	shown := list.Costs[min(p.Before(), p.All):min(p.Before()+p.most, p.All)]
	if err := v.nameCosts(&p, shown, list.Bookings); err != nil {
		return err
	}
	if v.wantsTable() {
		return writeTable(v, "volunteers-costs", []string{"member", "on", "service", "bought", "amount", "currency", "receipt_seen", "boat", "bin", "state", "ended", "how", "why_withdrawn"}, p.Costs, func(c costRow) []string {
			return []string{p.People.Name(c.Member), c.On.String(), c.Service, c.Bought, c.Amount.Number(), string(c.Amount.Currency), yesOrNo(c.Receipt), c.BoatName, c.BinName, string(c.State), dayOrNone(c.Ended), c.How, c.Why}
		})
	}
	return v.show("volunteers", p)
}

// costsAsked reads which costs the address asks for.
func (v *visit) costsAsked() (message.VolunteerCosts, error) {
	q := message.VolunteerCosts{State: message.CostState(v.r.URL.Query().Get("state"))}
	if q.State != "" && !slices.Contains(message.CostStates, q.State) {
		return q, fault.New(fault.Unknown, "There is no state %q of costs. Choose one above the list of costs.", q.State)
	}
	if year := v.r.URL.Query().Get("year"); year != "" {
		n, err := strconv.Atoi(year)
		if err != nil {
			return q, fault.New(fault.Unknown, "There is no such year. Choose one above the list of costs.")
		}
		q.Year = n
	}
	return q, nil
}

// nameCosts gives the rows of the page the names that they have on pages.
func (v *visit) nameCosts(p *volunteersPage, costs []message.VolunteerCost, bookings []message.VolunteerBooking) error {
	var boats []boat.ID
	var members []people.ID
	for _, c := range costs {
		boats, members = append(boats, c.Boat), append(members, c.Member)
	}
	for _, b := range bookings {
		boats, members = append(boats, b.Boat), append(members, b.Member)
	}
	for _, m := range p.Members {
		members = append(members, m.Member)
	}
	if err := p.People.learnOf(members); err != nil {
		return err
	}
	names, err := v.boatNames(boats)
	if err != nil {
		return err
	}
	bins, err := v.bins()
	if err != nil {
		return err
	}
	binNames := map[string]string{}
	for _, b := range bins {
		binNames[b.ID] = b.Name
	}
	for _, c := range costs {
		p.Costs = append(p.Costs, costRow{c, names[c.Boat], binNames[c.Bin]})
	}
	for _, b := range bookings {
		row := bookingRow{b, cmp.Or(names[b.Boat], string(b.Boat)), "/boats/" + string(b.Boat)}
		if b.Bin != "" {
			row.For, row.Of = cmp.Or(binNames[b.Bin], b.Bin), "/stock/"+b.Bin
		}
		p.Bookings = append(p.Bookings, row)
	}
	return nil
}

func (v *visit) apiVolunteers() error {
	q, err := v.costsAsked()
	if err != nil {
		return err
	}
	list, err := ask[message.VolunteerCostList](v, q)
	if err != nil {
		return err
	}
	return v.json(list)
}
