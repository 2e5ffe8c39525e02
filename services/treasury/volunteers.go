package treasury

import (
	"context"
	"strings"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// volunteer gives what a member laid out.
func (s *service) volunteer(ctx context.Context, id people.ID) (v volunteer, at ledger.Expected, err error) {
	if err = desk.GoodID("member", id); err != nil {
		return v, at, err
	}
	return desk.Load[volunteer](ctx, s.Log, message.TreasuryVolunteer(id))
}

// goodMember wants a member of the club.
func (s *service) goodMember(ctx context.Context, id people.ID) error {
	if err := desk.GoodID("member", id); err != nil {
		return err
	}
	var known bool
	err := s.Pool.QueryRow(ctx, `SELECT EXISTS (SELECT FROM treasury.member WHERE person = $1)`, id).Scan(&known)
	if err == nil && !known {
		err = desk.Unknown("member", "the club has no such member; register them first")
	}
	return err
}

func (s *service) stateVolunteerCost(ctx context.Context, o desk.Order[message.StateVolunteerCost]) (desk.Decision, error) {
	var d desk.Decision
	c := o.Command
	if err := s.goodMember(ctx, c.Member); err != nil {
		return d, err
	}
	v, at, err := s.volunteer(ctx, c.Member)
	if err != nil {
		return d, err
	}
	club, err := s.Currency(ctx)
	if err != nil {
		return d, err
	}
	said, err := v.state(c, club, o.Today())
	if err != nil {
		return d, err
	}
	d.Expect = []ledger.Expected{at}
	if c.Boat != "" {
		_, _, of, err := s.open(ctx, c.Boat)
		if err != nil {
			return d, err
		}
		d.Expect = append(d.Expect, of)
	}
	if err := sayCost(&d, said); err != nil {
		return d, err
	}
	return d, s.sayEntries(ctx, &d, bookOfCost(said), []message.EntryPosted{owes(said)})
}

// sayCost says a cost in its member's stream, and notes it in the book of a boat or a bin in
// which it is owed.
func sayCost(d *desk.Decision, said message.VolunteerCostStated) error {
	if err := d.Say(message.TreasuryVolunteer(said.Member), "", said); err != nil {
		return err
	}
	return noteCost(d, said, said.Cost)
}

// noteCost says which cost an entry of a boat's book or a bin's is; "" where it is none.
func noteCost(d *desk.Decision, c message.VolunteerCostStated, is string) error {
	if c.Boat == "" && c.Bin == "" {
		return nil
	}
	return d.Say(bookOfCost(c), c.Boat, message.VolunteerCostNoted{Boat: c.Boat, Bin: c.Bin, Entry: c.Entry, Cost: is})
}

func (s *service) takeVolunteerCost(ctx context.Context, o desk.Order[message.TakeVolunteerCost]) (desk.Decision, error) {
	var d desk.Decision
	c := o.Command
	stream, err := bookOf(message.SettlePocket{Boat: c.Boat, Bin: c.Bin})
	if err == nil {
		err = s.goodMember(ctx, c.Member)
	}
	if err != nil {
		return d, err
	}
	v, at, err := s.volunteer(ctx, c.Member)
	if err != nil {
		return d, err
	}
	b, of, err := desk.Load[book](ctx, s.Log, stream)
	if err != nil {
		return d, err
	}
	says, err := s.pocketOf(ctx, stream, c.Entry)
	if err != nil {
		return d, err
	}
	said, err := v.take(c, &b, says)
	if err != nil {
		return d, err
	}
	d.Expect = []ledger.Expected{at, of}
	if err := sayCost(&d, said); err != nil {
		return d, err
	}
	if settled := b.entry(settledMark + c.Entry); settled != nil { // as given: take refuses the rest
		given := message.VolunteerCostGiven{Cost: said.Cost, Member: said.Member, On: ownDay(*settled), Amount: said.Amount}
		return d, d.Say(at.Stream, "", given)
	}
	return d, nil
}

// pocketOf says whose pocket a booking names; nobody's where it does not say.
func (s *service) pocketOf(ctx context.Context, stream, entry string) (who people.ID, err error) {
	err = s.Pool.QueryRow(ctx, `SELECT coalesce(max(member), '') FROM treasury.pocket WHERE stream = $1 AND entry = $2`, stream, entry).Scan(&who)
	return who, err
}

func (s *service) payVolunteerCostBack(ctx context.Context, o desk.Order[message.PayVolunteerCostBack]) (desk.Decision, error) {
	c := o.Command
	err := desk.First(ownCost(o.Actor.Person, c.Member), desk.Needed("how", c.How, "say how the money went: in cash, by transfer, as a cheque"), desk.OneLine("how", c.How, desk.MaxLine))
	if err != nil {
		return desk.Decision{}, err
	}
	return s.endCost(ctx, c.Member, c.Cost, message.PaidBack, c.On, o.Today(), c.How, func(of cost) message.Body {
		return message.VolunteerCostPaidBack{Cost: c.Cost, Member: c.Member, On: c.On, Amount: of.Amount, How: c.How}
	})
}

func (s *service) giveVolunteerCost(ctx context.Context, o desk.Order[message.GiveVolunteerCost]) (desk.Decision, error) {
	c := o.Command
	return s.endCost(ctx, c.Member, c.Cost, message.Given, c.On, o.Today(), "", func(of cost) message.Body {
		return message.VolunteerCostGiven{Cost: c.Cost, Member: c.Member, On: c.On, Amount: of.Amount}
	})
}

// endCost says how a cost ended, and posts it where it is owed.
func (s *service) endCost(ctx context.Context, member people.ID, id string, how message.Settling, on, today clock.Date, way string, say func(cost) message.Body) (desk.Decision, error) {
	var d desk.Decision
	v, at, err := s.volunteer(ctx, member)
	if err != nil {
		return d, err
	}
	c, err := v.ends(id, on, today)
	if err != nil {
		return d, err
	}
	d.Expect = []ledger.Expected{at}
	b, err := s.bookWith(ctx, &v, *c, &d)
	if err != nil {
		return d, err
	}
	posted, err := b.ended(c.Entry, how, on, way)
	if err != nil {
		return d, ofCost(err)
	}
	if err := d.Say(at.Stream, "", say(*c)); err != nil {
		return d, err
	}
	return d, s.sayEntries(ctx, &d, bookOfCost(c.VolunteerCostStated), []message.EntryPosted{posted})
}

// ofCost names the cost in a fault that an order about its entry would have.
func ofCost(err error) error {
	if fault.Is(err, fault.Conflict) {
		return desk.Conflict("cost", "%s", err)
	}
	return err
}

// bookWith gives the book in which a cost is owed, on whose version the decision rests too.
func (s *service) bookWith(ctx context.Context, v *volunteer, c cost, d *desk.Decision) (*book, error) {
	stream := bookOfCost(c.VolunteerCostStated)
	if stream == d.Expect[0].Stream {
		return &v.book, nil
	}
	b, at, err := desk.Load[book](ctx, s.Log, stream)
	d.Expect = append(d.Expect, at)
	return &b, err
}

func (s *service) withdrawVolunteerCost(ctx context.Context, o desk.Order[message.WithdrawVolunteerCost]) (desk.Decision, error) {
	var d desk.Decision
	c := o.Command
	v, at, err := s.volunteer(ctx, c.Member)
	if err != nil {
		return d, err
	}
	of, err := v.withdraw(c)
	if err != nil {
		return d, err
	}
	d.Expect = []ledger.Expected{at}
	b, err := s.bookWith(ctx, &v, *of, &d)
	if err != nil {
		return d, err
	}
	if err := s.onNoPaper(ctx, &v, *of, &d); err != nil {
		return d, err
	}
	if err := d.Say(at.Stream, "", message.VolunteerCostWithdrawn{Cost: c.Cost, Member: c.Member, Why: c.Why}); err != nil {
		return d, err
	}
	if err := noteCost(&d, of.VolunteerCostStated, ""); err != nil || of.Booked {
		return d, err
	}
	return d, s.sayEntries(ctx, &d, bookOfCost(of.VolunteerCostStated), b.takenBack(of.Entry, o.Today(), "written down wrong: "+c.Why))
}

// mostCosts bounds what one answer lists.
const mostCosts = 5_000

// volunteerCosts lists what members laid out.
func (s *service) volunteerCosts(ctx context.Context, _ desk.Caller, q message.VolunteerCosts) (message.VolunteerCostList, error) {
	list := message.VolunteerCostList{Costs: []message.VolunteerCost{}, Members: []message.VolunteerSum{}, Bookings: []message.VolunteerBooking{}}
	err := desk.WithinOrUnknown("year", q.Year, firstYear, lastYear)
	if err == nil && q.State != "" {
		err = boat.Known("state", q.State, message.CostStates)
	}
	if err != nil {
		return list, err
	}
	if list.Costs, err = collect(ctx, s, list.Costs, scanVolunteerCost, costsOfVolunteers, q.Year, q.State, mostCosts+1); err != nil {
		return list, err
	}
	if list.Members, err = collect(ctx, s, list.Members, scanVolunteerSum, sumsOfVolunteers, q.Year); err != nil {
		return list, err
	}
	if err := s.whyNoLetters(ctx, list.Members); err != nil {
		return list, err
	}
	list.Bookings, err = collect(ctx, s, list.Bookings, scanVolunteerBooking, pocketsOpen, owed, settledMark, cash, mostCosts+1)
	list.More = len(list.Costs) > mostCosts || len(list.Bookings) > mostCosts
	list.Costs, list.Bookings = list.Costs[:min(len(list.Costs), mostCosts)], list.Bookings[:min(len(list.Bookings), mostCosts)]
	return list, err
}

const costsOfVolunteers = `
	SELECT cost, member, on_day::text, service, bought, minor, currency, receipt, boat, bin, entry, booked, state, coalesce(ended::text, ''), how, why
	FROM treasury.volunteer_cost WHERE ($1 = 0 OR extract(year FROM on_day) = $1) AND ($2 = '' OR state = $2)
	ORDER BY on_day DESC, position DESC LIMIT $3`

func scanVolunteerCost(row pgx.CollectableRow) (c message.VolunteerCost, err error) {
	var on, ended string
	err = row.Scan(&c.Cost, &c.Member, &on, &c.Service, &c.Bought, &c.Amount.Minor, &c.Amount.Currency, &c.Receipt, &c.Boat, &c.Bin, &c.Entry, &c.Booked, &c.State, &ended, &c.How, &c.Why)
	if err == nil {
		c.On, err = clock.ParseDate(on)
	}
	if err == nil && ended != "" {
		c.Ended, err = clock.ParseDate(ended)
	}
	return c, err
}

// sumsOfVolunteers names with each sum the paper that stands for the year, and says whether it
// speaks of other costs than are given.
const sumsOfVolunteers = `
	SELECT sums.*, coalesce(p.paper, ''), coalesce(p.serial, ''), p.paper IS NOT NULL AND EXISTS (SELECT FROM treasury.volunteer_cost c
		WHERE c.member = sums.member AND extract(year FROM c.on_day) = sums.year AND (c.state = 'given') <> (c.paper = p.paper))
	FROM (SELECT member, extract(year FROM on_day)::int AS year, currency,
		coalesce(sum(minor) FILTER (WHERE state = 'owed'), 0)::bigint, coalesce(sum(minor) FILTER (WHERE state = 'paid back'), 0)::bigint, coalesce(sum(minor) FILTER (WHERE state = 'given'), 0)::bigint
	FROM treasury.volunteer_cost WHERE ($1 = 0 OR extract(year FROM on_day) = $1) AND state IN ('owed', 'paid back', 'given')
	GROUP BY 1, 2, 3) AS sums
	LEFT JOIN treasury.paper p ON p.donor = sums.member AND p.costs_of = sums.year AND p.cancelled = ''
	ORDER BY sums.year DESC, sums.member, sums.currency`

func scanVolunteerSum(row pgx.CollectableRow) (v message.VolunteerSum, err error) {
	var c money.Currency
	var owed, paid, given int64
	err = row.Scan(&v.Member, &v.Year, &c, &owed, &paid, &given, &v.Paper, &v.Serial, &v.Stale)
	v.Owed, v.PaidBack, v.Given = money.Of(owed, c), money.Of(paid, c), money.Of(given, c)
	return v, err
}

// pocketsOpen gives the bookings for which a member is out of money and that are no cost of
// anybody yet: neither taken back nor paid back. The oldest come first.
const pocketsOpen = `
	SELECT e.stream, e.entry, coalesce(p.member, ''), e.posted_on::text, e.words, -l.minor, l.currency,
		EXISTS (SELECT FROM treasury.entry done WHERE done.stream = e.stream AND done.entry = $2 || e.entry)
	FROM treasury.line l JOIN treasury.entry e USING (stream, position) LEFT JOIN treasury.pocket p ON p.stream = e.stream AND p.entry = e.entry
	WHERE l.account = $1 AND l.minor < 0 AND e.reverses = ''
		AND NOT EXISTS (SELECT FROM treasury.entry back WHERE back.stream = e.stream AND back.reverses = e.entry)
		AND NOT EXISTS (SELECT FROM treasury.line paid WHERE paid.stream = e.stream AND paid.entry = $2 || e.entry AND paid.account = $3)
		AND NOT EXISTS (SELECT FROM treasury.volunteer_cost c WHERE c.stream = e.stream AND c.entry = e.entry AND c.state <> 'withdrawn')
	ORDER BY e.posted_on, e.position LIMIT $4`

func scanVolunteerBooking(row pgx.CollectableRow) (b message.VolunteerBooking, err error) {
	var stream, on string
	if err = row.Scan(&stream, &b.Entry, &b.Member, &on, &b.Words, &b.Amount.Minor, &b.Amount.Currency, &b.Given); err == nil {
		b.On, err = clock.ParseDate(on)
	}
	if id, ofBoat := strings.CutPrefix(stream, message.TreasuryBoat("")); ofBoat {
		b.Boat = boat.ID(id)
	} else {
		b.Bin, _ = strings.CutPrefix(stream, message.TreasuryBin(""))
	}
	return b, err
}

// projectVolunteers keeps who is a member, whose pocket bookings name, and what members laid out.
func projectVolunteers(exec desk.Executor, e message.Event, body message.Body) error {
	switch b := body.(type) {
	case message.PersonRegistered:
		if b.Sort != message.MemberSort {
			return nil
		}
		return keepMember(exec, b.Person)
	case message.RoleGiven:
		return keepMember(exec, b.Person)
	case message.PersonErased:
		return exec(`DELETE FROM treasury.member WHERE person = $1`, b.Person)
	case message.PartBooked:
		return keepPocket(exec, b.PaidBy, message.TreasuryBoat(b.Boat), partEntry(b.Entry), b.Pocket)
	case message.StockBought:
		return keepPocket(exec, b.PaidBy, message.TreasuryBin(b.Bin), boughtEntry(b.Bin, b.Entry), b.Pocket)
	case message.EntryPosted:
		if b.Reverses == "" {
			return nil
		}
		return exec(`UPDATE treasury.volunteer_cost SET state = 'booking taken back' WHERE stream = $1 AND entry = $2 AND booked AND state <> 'withdrawn'`, e.Stream, b.Reverses)
	}
	return projectCosts(exec, e, body)
}

func keepMember(exec desk.Executor, id people.ID) error {
	return exec(`INSERT INTO treasury.member (person) VALUES ($1) ON CONFLICT DO NOTHING`, id)
}

func keepPocket(exec desk.Executor, by message.Payer, stream, entry string, member people.ID) error {
	if by != message.OwnPocket {
		return nil
	}
	return exec(`INSERT INTO treasury.pocket (stream, entry, member) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING`, stream, entry, member)
}

func projectCosts(exec desk.Executor, e message.Event, body message.Body) error {
	switch b := body.(type) {
	case message.VolunteerCostStated:
		return exec(`INSERT INTO treasury.volunteer_cost (cost, position, member, on_day, service, bought, minor, currency, receipt, boat, bin, stream, entry, booked, state)
			VALUES ($1, $2, $3, $4::text::date, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15)`,
			b.Cost, e.Position, b.Member, b.On.String(), b.Service, b.Bought, b.Amount.Minor, b.Amount.Currency, b.Receipt, b.Boat, b.Bin, bookOfCost(b), b.Entry, b.Booked, message.CostOwed)
	case message.VolunteerCostPaidBack:
		return exec(`UPDATE treasury.volunteer_cost SET state = $2, ended = $3::text::date, how = $4 WHERE cost = $1 AND member = $5`, b.Cost, message.CostPaidBack, b.On.String(), b.How, b.Member)
	case message.VolunteerCostGiven:
		return exec(`UPDATE treasury.volunteer_cost SET state = $2, ended = $3::text::date WHERE cost = $1 AND member = $4`, b.Cost, message.CostGiven, b.On.String(), b.Member)
	case message.VolunteerPaperNoted:
		return keepVolunteerPaper(exec, b)
	case message.VolunteerCostWithdrawn:
		return exec(`UPDATE treasury.volunteer_cost SET state = $2, why = $3 WHERE cost = $1 AND member = $4`, b.Cost, message.CostWithdrawn, b.Why, b.Member)
	}
	return nil
}

// laidOutQuery sums what members laid out, got back and gave in the period, by the entries on the
// account of what is owed to them, and what they were owed at its end.
const laidOutQuery = `
	SELECT currency,
		coalesce(-sum(minor) FILTER (WHERE posted_on >= $1::text::date AND ended = ''), 0)::bigint,
		coalesce(sum(minor) FILTER (WHERE posted_on >= $1::text::date AND ended = $5), 0)::bigint,
		coalesce(sum(minor) FILTER (WHERE posted_on >= $1::text::date AND ended = $6), 0)::bigint,
		-sum(minor)::bigint
	FROM (SELECT l.currency, l.minor, e.posted_on, coalesce((SELECT other.account FROM treasury.line other
			WHERE other.boat = l.boat AND other.entry = l.entry AND other.account IN ($5, $6)), '') AS ended
		FROM treasury.line l JOIN treasury.entry e USING (boat, entry)
		WHERE l.account = $4 AND e.posted_on <= $2::text::date AND e.recorded_on <= $3::text::date) AS owing
	GROUP BY currency ORDER BY currency`

func scanLaidOut(row pgx.CollectableRow) (l message.LaidOut, err error) {
	var c money.Currency
	var out, back, given, still int64
	err = row.Scan(&c, &out, &back, &given, &still)
	l.LaidOut, l.PaidBack, l.Given, l.Owed = money.Of(out, c), money.Of(back, c), money.Of(given, c), money.Of(still, c)
	return l, err
}
