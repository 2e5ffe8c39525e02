package treasury_test

import (
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
)

// long is how often something is done: a few times, or many with REFLOAT_LONG=1.
func rounds(few, many int) int {
	if os.Getenv("REFLOAT_LONG") != "" {
		return many
	}
	return few
}

// balancesByHledger reads a journal with hledger, Debian's package, which checks
// that every entry balances, and gives what it makes of each account, as
// "account currency" to the amount in its own notation.
func balancesByHledger(t *testing.T, journal []byte) map[string]string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "books.journal")
	require.NoError(t, os.WriteFile(file, journal, 0o600))
	run := func(args ...string) string {
		command := exec.Command("hledger", append(args, "-f", file)...)
		command.Env = append(os.Environ(), "LC_ALL=C.UTF-8")
		out, err := command.CombinedOutput()
		require.NoError(t, err, "deploy/needs hledger:hledger installs it\n%s\n%s", out, journal)
		return string(out)
	}
	run("check", "--strict")
	rows, err := csv.NewReader(strings.NewReader(run("balance", "--flat", "--empty", "--layout=bare", "--no-total", "-O", "csv"))).ReadAll()
	require.NoError(t, err)
	found := map[string]string{}
	for _, row := range rows[1:] {
		found[row[0]+" "+row[1]] = row[2]
	}
	return found
}

func journalOf(c *desktest.Club, year int) []byte {
	return desktest.Ask[message.Export](c, c.Member(people.Treasurer), message.ExportYear{Year: year, Format: "journal"}).File
}

// hledger reckons the year from the journal; it has to come to what the statement
// says, account by account.
func TestTheJournalBalancesInAnotherProgram(t *testing.T) {
	c := start(t)
	season(t, c)
	c.Say(message.RepairBoat("given"), "given", message.PartBooked{Boat: "given", Entry: "yen", Words: "seat; with | marks\nand lines", Cost: money.Of(700, "JPY"), PaidBy: message.ClubPays, On: today})
	c.Settle()
	file := desktest.Ask[message.Export](c, c.Member(people.Auditor), message.ExportYear{Year: 2026, Format: "journal"})
	assert.Equal(t, "books-2026.journal", file.Name)
	theirs := balancesByHledger(t, file.File)
	assert.Equal(t, oursFor(c, 2026), theirs)
	assert.Len(t, theirs, 10)
	assert.Contains(t, string(file.File), "seat, with / marks and lines")
	assert.Empty(t, balancesByHledger(t, journalOf(c, 1999)))

	// A journal in which a cent is lost is refused: the check can fail.
	broken := filepath.Join(t.TempDir(), "broken.journal")
	require.NoError(t, os.WriteFile(broken, []byte(strings.Replace(string(file.File), "300.00", "300.01", 1)), 0o600))
	assert.Error(t, exec.Command("hledger", "check", "-f", broken).Run())
}

// oursFor gives a year's change of each account as the statement has it.
func oursFor(c *desktest.Club, year int) map[string]string {
	a := desktest.Ask[message.Accounts](c, c.Member(people.Auditor), message.Statement{From: clock.NewDate(year, 1, 1), To: clock.NewDate(year, 12, 31)})
	ours := map[string]string{}
	for _, l := range a.Lines {
		ours[l.Account+" "+string(l.Change.Currency)] = l.Change.Number()
		if l.Change.IsZero() {
			ours[l.Account+" "+string(l.Change.Currency)] = "0" // as hledger writes it
		}
	}
	return ours
}

// ASU 2020-07 (ASC 958-605-50-1A, from memory): by category, whether monetised or used,
// the givers' restrictions, and the technique of valuing. What was not yet written down on
// a day is not in the statement as it was known then.
func TestTheStatementTellsWhatBecameOfGiftsAsItWasKnown(t *testing.T) {
	c := start(t)
	for _, id := range []boat.ID{"b1", "b2", "b3"} {
		gift(t, c, id)
	}
	c.Say(message.IntakeBoat("b1"), "b1", message.IntentStated{Boat: "b1", GiftIntent: message.GiftIntent{On: giftOn, Restriction: "for the youth group"}})
	c.Say(message.IntakeBoat("b2"), "b2", message.IntentStated{Boat: "b2", GiftIntent: message.GiftIntent{On: giftOn}})
	c.Settle()
	c.Say(message.RepairBoat("b1"), "b1", part("b1", "p1", 700, message.ClubPays))
	c.Say(message.RepairBoat("b3"), "b3", part("b3", "p3", 200, message.OwnPocket))
	c.Settle()
	c.Clock.Advance(48 * time.Hour)
	c.Say(message.MatchingBoat("b1"), "b1", message.BoatHandedOver{Boat: "b1", Request: "r", Household: "h", On: today})
	c.Say(message.RepairBoat("b2"), "b2", message.BoatRetired{Boat: "b2", Reason: "brittle"})
	c.Say(message.IntakeBoat("b2"), "b2", message.IntentStated{Boat: "b2", GiftIntent: message.GiftIntent{On: giftOn, Restriction: "for beginners"}})
	c.Settle()
	of := func(known clock.Date) message.GiftsOfSort {
		a := desktest.Ask[message.Accounts](c, c.Member(people.Auditor), message.Statement{From: giftOn, To: today, Known: known})
		require.Len(t, a.Gifts, 1)
		return a.Gifts[0]
	}
	want := message.GiftsOfSort{Type: boat.SitInside, Boats: 3, Value: usd(270_000), Held: 3, Technique: "market approach", Level: 3, Restricted: 1, Restrictions: []string{"for the youth group"}}
	assert.Equal(t, want, of(today), "as it was known then")
	want.Held, want.Placed, want.Retired = 1, 1, 1
	want.Restricted, want.Restrictions = 2, []string{"for beginners", "for the youth group"}
	assert.Equal(t, want, of(clock.Date{}))
	costs := func(known clock.Date) []message.CostOfUse {
		return desktest.Ask[message.Accounts](c, c.Member(people.Auditor), message.Statement{From: giftOn, To: today, Known: known}).Costs
	}
	assert.Equal(t, []message.CostOfUse{{Use: "held", Boats: 2, Cost: usd(900)}}, costs(today))
	assert.Equal(t, []message.CostOfUse{{Use: "held", Boats: 1, Cost: usd(200)}, {Use: "passed on", Boats: 1, Cost: usd(700)}}, costs(clock.Date{}))
	c.RebuildIsTheSame("treasury")
}

func TestWhatIsLearnedAfterAClosingIsPostedInTheNextPeriod(t *testing.T) {
	c := start(t)
	treasurer := c.Member(people.Treasurer)
	gift(t, c, "b1")
	c.Do(treasurer, message.ClosePeriod{Upto: clock.MustDate("2026-02-28")})
	_, err := c.Try(treasurer, message.ClosePeriod{Upto: clock.MustDate("2026-02-28")})
	faulttest.Want(t, err, fault.Invalid, "upto", "closed already")
	c.Do(treasurer, message.ClosePeriod{Upto: clock.MustDate("2026-03-31")})
	march := message.Statement{From: clock.MustDate("2026-03-01"), To: clock.MustDate("2026-03-31")}
	before := desktest.Ask[message.Accounts](c, treasurer, march)
	assert.Equal(t, clock.MustDate("2026-03-31"), before.Closed)

	valued(c, "b1", "better", 95_000) // the gift was on 20 March
	c.Say(message.RepairBoat("b1"), "b1", message.PartBooked{Boat: "b1", Entry: "late", Words: "seat", Cost: usd(900), PaidBy: message.ClubPays, On: clock.MustDate("2026-03-31")})
	c.Settle()
	c.Do(treasurer, message.SellBoat{Boat: "b1", On: clock.MustDate("2026-03-25"), Gross: usd(50_000), ArmsLength: true})
	c.Settle()
	after := desktest.Ask[message.Accounts](c, treasurer, march)
	assert.Equal(t, before.Lines, after.Lines, "a closed month stays as it is")
	assert.Equal(t, before.Gifts[0].Value, after.Gifts[0].Value)
	april := desktest.Ask[message.Accounts](c, treasurer, message.Statement{From: today, To: today})
	assert.Empty(t, april.Gifts, "no boat was given in April")
	assert.Equal(t, []message.ValuesCorrected{{Boats: 1, Value: usd(5_000)}}, april.Corrected)
	assert.Equal(t, 1, after.Gifts[0].Boats)
	assert.Empty(t, after.Corrected)
	both := desktest.Ask[message.Accounts](c, treasurer, message.Statement{From: march.From, To: today})
	require.Len(t, both.Gifts, 1)
	assert.Equal(t, usd(before.Gifts[0].Value.Minor+5_000), both.Gifts[0].Value)
	assert.Empty(t, both.Corrected)
	changes := map[string]int64{}
	for _, l := range april.Lines {
		changes[l.Account] = l.Change.Minor
	}
	assert.Equal(t, map[string]int64{"boat:gift in kind": 5_000, "contributions in kind": -5_000, "boat:parts": 900, "cash": 49_100, "sales": -50_000}, changes)
	sold := desktest.Said[message.BoatSold](c, message.TreasuryBoat("b1"))
	assert.Equal(t, "2026-03-25", sold[0].On.String(), "what papers rest on keeps its day")
	book := desktest.Ask[message.BoatBook](c, treasurer, message.CostBook{Boat: "b1"})
	assert.Equal(t, "seat (of 2026-03-31, posted late)", book.Entries[3].Words)
	c.RebuildIsTheSame("treasury")
}

// A year of random lives in a Canadian club, where papers state amounts: at every
// month's end the statement is held against the sum over the book's events and the
// sum over the papers, with what was known then and with what is known at the end.
func TestStatementsAreTheSumOfEventsAndPapersAtEveryMonthsEnd(t *testing.T) {
	for seed := range rounds(3, 42) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			l := newLives(t, uint64(seed), seed%3)
			var ends []clock.Date
			then := map[clock.Date]message.Accounts{}
			for month := range rounds(4, 9) {
				end := clock.NewDate(2026, time.Month(5+month), 1).AddDays(-1)
				l.liveUntil(end)
				ends = append(ends, end)
				then[end] = l.statement(end, end)
				l.check(then[end], end)
				l.wait(end.AddDays(1)) // what is written down later that day was known on it, too
				if l.rand.IntN(3) == 0 {
					l.Do(l.treasurer, message.ClosePeriod{Upto: end})
				}
			}
			changed := 0
			for _, end := range ends {
				known := l.statement(end, end)
				known.Closed = then[end].Closed
				assert.Equal(t, then[end], known, "as it was known on %s", end)
				now := l.statement(end, clock.Date{})
				l.check(now, clock.Date{})
				if !slices.Equal(now.Lines, known.Lines) {
					changed++
				}
			}
			assert.Positive(t, changed, "nothing was learned late: the lives are too tidy")
			assert.Positive(t, l.papers, "no paper was issued")
			assert.Equal(t, oursFor(l.Club, 2026), balancesByHledger(t, journalOf(l.Club, 2026)))
			l.RebuildIsTheSame("treasury")
		})
	}
}

// lives is a club whose boats live at random.
type lives struct {
	*desktest.Club
	t         *testing.T
	rand      *rand.Rand
	treasurer people.Actor
	country   string
	currency  money.Currency
	boats     []life
	n, papers int
}

type life struct {
	id             boat.ID
	given          clock.Date
	taking         message.Taking
	paper          string
	sold, entries  bool
	parts          []string
	value, price   int64
	nParts, nWorth int
}

// newLives makes a club of one of the three countries.
func newLives(t *testing.T, seed uint64, country int) *lives {
	c := start(t)
	s := stretches[country]
	c.Set("country", s.country)
	c.Set("currency", s.currency)
	c.Set("registration-number", "00000 0000 RR0001")
	c.Set("programmes", "youth group; households")
	c.Say(message.Person("member"), "", message.RoleGiven{Person: "member", Role: people.Steward})
	return &lives{Club: c, t: t, country: s.country, currency: money.Currency(s.currency), rand: rand.New(rand.NewPCG(seed, 7)), treasurer: c.Member(people.Treasurer)}
}

func (l *lives) money(minor int64) money.Amount { return money.Of(minor, l.currency) }

func (l *lives) today() clock.Date { return clock.DateOf(l.Clock.Now()) }

func (l *lives) wait(until clock.Date) {
	if d := until.Time().Add(12 * time.Hour).Sub(l.Clock.Now()); d > 0 {
		l.Clock.Advance(d)
	}
}

// liveUntil lets a few things happen on each of some days, up to one.
func (l *lives) liveUntil(end clock.Date) {
	for range 3 {
		left := end.DaysSince(l.today())
		l.wait(l.today().AddDays(l.rand.IntN(max(1, left))))
		if len(l.boats) < 3 || l.rand.IntN(3) == 0 {
			l.arrive()
		}
		for range 3 {
			l.happen(&l.boats[l.rand.IntN(len(l.boats))])
		}
	}
	l.wait(end)
	l.Settle()
}

// recently is a day up to a month ago, not before the boat came.
func (l *lives) recently(b *life) clock.Date {
	d := l.today().AddDays(-l.rand.IntN(31))
	if d.Before(b.given) {
		return b.given
	}
	return d
}

func (l *lives) arrive() {
	l.n++
	b := life{id: boat.ID(fmt.Sprint("b", l.n)), taking: []message.Taking{message.Gift, message.Gift, message.Bargain, message.Purchase}[l.rand.IntN(4)]}
	if b.taking != message.Gift {
		b.price = int64(1 + l.rand.IntN(30_000))
	}
	b.given = l.today().AddDays(-l.rand.IntN(20))
	boatOf(l.t, l.Club, b.id, b.taking, l.money(b.price))
	l.Club.Say(message.IntakeBoat(b.id), string(b.id), message.BoatReceived{Boat: b.id, Possession: b.given, Signed: b.given, On: b.given})
	l.boats = append(l.boats, b)
}

func (l *lives) happen(b *life) {
	say := func(body message.Body) { l.Say(body.Kind().Room()+".boat/"+string(b.id), string(b.id), body) }
	l.n++
	switch l.rand.IntN(11) {
	case 0: // a value, or another one
		b.value = int64(40_000 + l.rand.IntN(90_000))
		say(message.BoatValued{Boat: b.id, Value: fmt.Sprint("v", l.n), On: b.given, Valuer: "steward", Purpose: message.ForReceipt, Used: []string{}, AsItLies: message.Worth{Status: "ok", Value: l.money(b.value)}})
	case 1:
		entry := fmt.Sprint("e", l.n)
		b.parts = append(b.parts, entry)
		say(message.PartBooked{Boat: b.id, Entry: entry, Words: "seat", Cost: l.money(int64(1 + l.rand.IntN(9_999))), PaidBy: []message.Payer{message.ClubPays, message.DonorPays, message.OwnPocket}[l.rand.IntN(3)], On: l.recently(b)})
	case 2:
		if len(b.parts) > 0 {
			say(message.PartReversed{Boat: b.id, Entry: b.parts[0], Cost: l.money(1), PaidBy: message.ClubPays, On: l.today(), Why: "wrong boat"})
			b.parts = b.parts[1:]
		}
	case 3:
		if !b.sold {
			l.Settle()
			l.Do(l.treasurer, message.SellBoat{Boat: b.id, On: l.recently(b), Gross: l.money(int64(1 + l.rand.IntN(99_999))), ArmsLength: true})
			b.sold = true
		}
	case 4: // money back for a part, or back again
		entry := fmt.Sprint("r", l.n)
		say(message.MoneyRecovered{Boat: b.id, Entry: entry, Words: "refund", Amount: l.money(int64(1 + l.rand.IntN(5_000))), On: l.recently(b)})
		if l.rand.IntN(2) == 0 {
			say(message.RecoveryReversed{Boat: b.id, Entry: entry, On: l.today(), Why: "another boat's"})
		}
	case 5:
		l.Settle()
		count := message.CountBoat{Boat: b.id, Count: fmt.Sprint("c", l.n), On: l.recently(b), Found: message.Founds[l.rand.IntN(3)], Words: "looked"}
		if count.Found == message.FoundLess {
			count.Worth = l.money(int64(l.rand.IntN(60_000)))
		}
		_, _ = l.Try(l.treasurer, count) // a sold boat is not counted, and none is written up
	case 6:
		l.Settle()
		_, _ = l.Try(l.treasurer, message.StateClaim{Boat: b.id, Claim: l.money(int64(l.rand.IntN(90_000))), On: l.today()}) // not of a bought boat
	case 7:
		l.pocket(b)
	case 8:
		l.Settle()
		_, _ = l.Try(l.treasurer, message.ChooseProgramme{Boat: b.id, Programme: []string{"", "youth group", "households"}[l.rand.IntN(3)]}) // not twice the same
	default:
		l.paper(b)
	}
}

// pocket lets a member lay something out, for the boat or not, or decides what becomes of what
// a member laid out before.
func (l *lives) pocket(b *life) {
	l.Settle()
	list := desktest.Ask[message.VolunteerCostList](l.Club, l.treasurer, message.VolunteerCosts{})
	for _, booking := range list.Bookings[:min(len(list.Bookings), 1)] {
		l.Do(l.treasurer, message.TakeVolunteerCost{Cost: fmt.Sprint("t", l.n), Member: "member", Boat: booking.Boat, Entry: booking.Entry, Service: "repaired boats"})
	}
	c := message.StateVolunteerCost{Cost: fmt.Sprint("c", l.n), Member: "member", On: l.recently(b), Service: "fetched boats", Bought: "fuel", Amount: l.money(int64(1 + l.rand.IntN(9_999)))}
	if l.rand.IntN(2) == 0 {
		c.Boat = b.id
	}
	l.Do(l.treasurer, c)
	for _, cost := range list.Costs[:min(len(list.Costs), 3)] { // what ended already is refused
		switch l.rand.IntN(3) {
		case 0:
			_, _ = l.Try(l.treasurer, message.PayVolunteerCostBack{Member: "member", Cost: cost.Cost, On: l.today(), How: "in cash"})
		case 1:
			_, _ = l.Try(l.treasurer, message.GiveVolunteerCost{Member: "member", Cost: cost.Cost, On: l.today()})
		default:
			_, _ = l.Try(l.treasurer, message.WithdrawVolunteerCost{Member: "member", Cost: cost.Cost, Why: "written down twice"})
		}
	}
}

// paper issues a boat's receipt where the rules allow one, or cancels it.
func (l *lives) paper(b *life) {
	l.Settle()
	if b.paper != "" {
		l.Do(l.treasurer, message.CancelPaper{Paper: b.paper, Why: "the address was wrong"})
		b.paper = ""
		return
	}
	id := fmt.Sprint("p", l.n)
	if _, err := l.Try(l.treasurer, message.IssuePaper{Boat: b.id, Paper: id, On: l.today(), Final: l.rand.IntN(2) == 0}); err == nil {
		b.paper = id
		l.papers++
	}
}

func (l *lives) statement(end, known clock.Date) message.Accounts {
	l.Settle()
	return desktest.Ask[message.Accounts](l.Club, l.treasurer, message.Statement{From: clock.NewDate(end.Year(), end.Month(), 1), To: end, Known: known})
}

// check holds a statement against the book's events and what its papers say, both
// read from the book's streams alone.
func (l *lives) check(a message.Accounts, known clock.Date) {
	l.t.Helper()
	opening, change := map[string]int64{}, map[string]int64{}
	var want message.PapersStated
	issuedIn := map[string][2]int64{} // paper to its eligible amount and gross proceeds
	var head int64
	events, err := l.Log.Head(l.t.Context())
	require.NoError(l.t, err)
	head = events.Position
	void := 0
	for at := int64(1); at <= head; at++ {
		e, err := l.Log.Event(l.t.Context(), at)
		require.NoError(l.t, err)
		if !known.IsZero() && clock.DateOf(e.RecordedAt).After(known) {
			break
		}
		body, err := message.Decode(e)
		require.NoError(l.t, err)
		switch b := body.(type) {
		case message.EntryPosted:
			for _, line := range b.Lines {
				switch {
				case b.On.After(a.To):
				case b.On.Before(a.From):
					opening[line.Account] += line.Amount.Minor
					change[line.Account] += 0
				default:
					change[line.Account] += line.Amount.Minor
					opening[line.Account] += 0
				}
			}
		case message.PaperIssued:
			if !b.On.Before(a.From) && !b.On.After(a.To) {
				issuedIn[b.Paper] = [2]int64{l.stated(b, "Eligible amount of the gift"), l.stated(b, "Box 4c, gross proceeds from the sale")}
			}
		case message.PaperCancelled:
			if _, mine := issuedIn[b.Paper]; mine {
				issuedIn[b.Paper] = [2]int64{}
				void++
			}
		}
	}
	var inKind int64
	for _, g := range a.Gifts {
		assert.Positive(l.t, g.Value.Minor, "a gift of the period brings something in")
		inKind += g.Value.Minor
	}
	for _, v := range a.Corrected {
		inKind += v.Value.Minor
	}
	var spent, byUse int64
	for _, account := range []string{"boat:cost", "boat:parts", "boat:outside work", "boat:fees", "boat:volunteer costs", "boat:recovered"} {
		spent += change[account]
	}
	for _, u := range a.Costs {
		byUse += u.Cost.Minor
	}
	assert.Equal(l.t, spent, byUse, "what boats cost is the same, parted by use")
	var byProgramme int64
	for _, p := range a.Programmes {
		byProgramme += p.Cost.Minor
	}
	assert.Equal(l.t, spent, byProgramme, "and parted by programme")
	assert.Equal(l.t, change["boat:gift in kind"], inKind, "gifts and corrections are what the account moved by")
	gotOpening, gotChange := map[string]int64{}, map[string]int64{}
	for _, line := range a.Lines {
		gotOpening[line.Account], gotChange[line.Account] = line.Opening.Minor, line.Change.Minor
		assert.Equal(l.t, line.Opening.Minor+line.Change.Minor, line.Closing.Minor)
	}
	assert.Equal(l.t, opening, gotOpening, "opening of %s", a.From)
	assert.Equal(l.t, change, gotChange, "change to %s", a.To)
	l.checkLaidOut(a, opening["owed to volunteers"], change)
	if len(issuedIn) == 0 {
		assert.Empty(l.t, a.Papers)
		return
	}
	want = message.PapersStated{Country: l.country, Issued: len(issuedIn), Cancelled: void, Proceeds: l.money(0), Eligible: l.money(0)}
	for _, stated := range issuedIn {
		want.Eligible.Minor += stated[0]
		want.Proceeds.Minor += stated[1]
	}
	assert.Equal(l.t, []message.PapersStated{want}, a.Papers)
}

// checkLaidOut holds what members laid out against the accounts: what they are owed at the end
// is what they were owed before and laid out, less what they got back and gave.
func (l *lives) checkLaidOut(a message.Accounts, before int64, change map[string]int64) {
	l.t.Helper()
	if _, any := change["owed to volunteers"]; !any {
		assert.Empty(l.t, a.Volunteers)
		return
	}
	require.Len(l.t, a.Volunteers, 1)
	v := a.Volunteers[0]
	assert.Equal(l.t, -before+v.LaidOut.Minor-v.PaidBack.Minor-v.Given.Minor, v.Owed.Minor, "what is owed")
	assert.Equal(l.t, -before-change["owed to volunteers"], v.Owed.Minor)
	assert.Equal(l.t, -change["gifts of volunteers"], v.Given.Minor, "what was given, and nothing of time")
}

// stated reads an amount off the paper's own words; nothing where it states none. A
// Canadian receipt always states the eligible amount.
func (l *lives) stated(p message.PaperIssued, label string) int64 {
	var content message.PaperContent
	require.NoError(l.t, l.Vault.Unseal(l.t.Context(), "paper/"+p.Paper, message.SealPaper, vault.Sealed(p.Sealed), &content))
	for _, line := range content.Lines {
		if line.Label == label {
			a, err := money.Parse(line.Value, l.currency)
			require.NoError(l.t, err)
			return a.Minor
		}
	}
	require.False(l.t, l.country == "CA" && label == "Eligible amount of the gift", "the receipt states no eligible amount")
	return 0
}
