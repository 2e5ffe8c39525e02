package valuation

import (
	"context"
	"encoding/json"
	"math"
	"slices"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/appraise"
	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/plan"
)

// mostSteps is from the worst grade to the best.
const mostSteps = int(best - worst)

// slope is what the newest value of a boat says of a repair's gain: the value as it
// lies and how far a step of grade, and having been mended, move it. Models are
// straight lines in logs, so that is enough.
type slope struct {
	Currency money.Currency `json:"currency"`
	Minor    int64          `json:"minor"`
	Grade    float64        `json:"grade"`
	Mended   float64        `json:"mended"`
	Before   bool           `json:"before"` // it was mended already
}

// slopeOf reads a slope off a value; false where nothing can be said.
func slopeOf(v message.BoatValued) (slope, bool) {
	r, err := appraise.ReadRecord(v.Input)
	var o appraise.Opinion
	if err != nil || json.Unmarshal([]byte(v.Output), &o) != nil || o.Status == appraise.Refused || o.ValueMinor == nil {
		return slope{}, false
	}
	return slope{r.Currency, *o.ValueMinor, o.Coefficients[grade], o.Coefficients[mended], r.Subject.Features[mended] == 1}, true
}

// at is the value some steps above the grade as it lies, rounded to a minor unit.
func (s slope) at(steps int, isMended bool) int64 {
	logs := s.Grade * float64(steps)
	if isMended && !s.Before {
		logs += s.Mended
	}
	return int64(math.Round(float64(s.Minor) * math.Exp(logs)))
}

// keepShop follows proposals and the newest values.
func keepShop(exec desk.Executor, e message.Event, body message.Body) error {
	switch b := body.(type) {
	case message.BoatValued:
		s, says := slopeOf(b)
		if !says {
			return exec(`DELETE FROM valuation.newest WHERE boat = $1`, b.Boat)
		}
		return keepJSON(exec, s, `INSERT INTO valuation.newest (data, boat) VALUES ($1, $2) ON CONFLICT (boat) DO UPDATE SET data = excluded.data`, b.Boat)
	case message.RepairProposed:
		return keepJSON(exec, b, `INSERT INTO valuation.repair (data, boat, repair, position) VALUES ($1, $2, $3, $4) ON CONFLICT DO NOTHING`, b.Boat, b.Repair, e.Position)
	case message.RepairDropped:
		return exec(`DELETE FROM valuation.repair WHERE (boat, repair) = ($1, $2)`, b.Boat, b.Repair)
	}
	return nil
}

func keepJSON(exec desk.Executor, doc any, sql string, args ...any) error {
	data, err := json.Marshal(doc)
	if err != nil {
		return err
	}
	return exec(sql, append([]any{string(data)}, args...)...)
}

// proposals is what a boat's stream says of repairs that could be made.
type proposals struct {
	all  map[string]bool // false: dropped
	list []message.RepairProposed
}

// Fold adds an event.
func (p *proposals) Fold(_ message.Event, body message.Body) {
	if p.all == nil {
		p.all = map[string]bool{}
	}
	switch e := body.(type) {
	case message.RepairProposed:
		p.all[e.Repair] = true
		p.list = append(p.list, e)
	case message.RepairDropped:
		p.all[e.Repair] = false
		p.list = slices.DeleteFunc(p.list, func(r message.RepairProposed) bool { return r.Repair == e.Repair })
	}
}

func (s *service) proposeRepair(ctx context.Context, o desk.Order[message.ProposeRepair]) (desk.Decision, error) {
	c := o.Command
	club, err := s.Currency(ctx)
	if err == nil {
		err = desk.First(desk.GoodID("boat", c.Boat), desk.GoodID("repair", c.Repair), goodProposal(c, club))
	}
	if err == nil {
		_, err = s.hull(ctx, c.Boat)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	p, at, err := desk.Load[proposals](ctx, s.Log, message.ValuationBoat(c.Boat))
	if err == nil {
		err = p.takes(c)
	}
	if err != nil {
		return desk.Decision{}, err
	}
	return desk.SayAt(at, c.Boat, message.RepairProposed{
		Boat: c.Boat, Repair: c.Repair, What: c.What, Minutes: c.Minutes, Cash: money.Of(c.Cash.Minor, club), Steps: c.Steps,
		Requires: c.Requires, Excludes: c.Excludes, Must: c.Must,
	})
}

func goodProposal(c message.ProposeRepair, club money.Currency) error {
	return desk.First(
		desk.Needed("what", c.What, "say what would be done"),
		desk.OneLine("what", c.What, desk.MaxLine),
		desk.Within("minutes", c.Minutes, 0, mostMinutes),
		desk.ClubMoney("cash", c.Cash, club),
		desk.Within("steps", c.Steps, 0, mostSteps),
	)
}

// takes checks a proposal against the others of the boat. It can only require what
// is there already, so nothing ever requires itself.
func (p *proposals) takes(c message.ProposeRepair) error {
	if _, before := p.all[c.Repair]; before {
		return desk.Conflict("repair", "another proposal for this boat stands under this id already")
	}
	for field, list := range map[string][]string{"requires": c.Requires, "excludes": c.Excludes} {
		for i, id := range list {
			if !p.all[id] || slices.Contains(list[:i], id) {
				return fault.Field(field, "name other proposals for this boat, each once")
			}
		}
	}
	for _, id := range c.Requires {
		if slices.Contains(c.Excludes, id) {
			return fault.Field("excludes", "a repair cannot rule out what it requires")
		}
	}
	return nil
}

func (s *service) dropRepair(ctx context.Context, o desk.Order[message.DropRepair]) (desk.Decision, error) {
	c := o.Command
	err := desk.First(desk.GoodID("boat", c.Boat), desk.GoodID("repair", c.Repair), desk.Needed("why", c.Why, "say why it is not proposed any more: done, or a mistake"))
	if err != nil {
		return desk.Decision{}, err
	}
	p, at, err := desk.Load[proposals](ctx, s.Log, message.ValuationBoat(c.Boat))
	switch {
	case err != nil:
		return desk.Decision{}, err
	case !p.all[c.Repair]:
		return desk.Decision{}, desk.Unknown("repair", "the boat has no such proposal, or it was dropped")
	}
	for _, r := range p.list {
		if slices.Contains(r.Requires, c.Repair) {
			return desk.Decision{}, desk.Conflict("repair", "%q requires it; drop that first", r.What)
		}
	}
	return desk.SayAt(at, c.Boat, message.RepairDropped{Boat: c.Boat, Repair: c.Repair, Why: c.Why})
}

// candidate is a proposal for a boat that is in the shop.
type candidate struct {
	message.RepairProposed
	boatName string
	slope    *slope
}

// candidates gives the proposals for all boats in the shop, in the order in which
// they were made.
func (s *service) candidates(ctx context.Context) ([]candidate, error) {
	rows, err := s.Pool.Query(ctx, `
		SELECT r.data, b.name, n.data FROM valuation.repair r JOIN valuation.boat b USING (boat) LEFT JOIN valuation.newest n USING (boat)
		WHERE b.state = $1 ORDER BY r.position`, taken)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (c candidate, err error) {
		var proposed string
		var valued *string
		if err = row.Scan(&proposed, &c.boatName, &valued); err == nil {
			err = json.Unmarshal([]byte(proposed), &c.RepairProposed)
		}
		if err == nil && valued != nil {
			err = json.Unmarshal([]byte(*valued), &c.slope)
		}
		return c, err
	})
}

// disclosed is the id of what stands for a boat's first repair that will be told to
// its buyer. It costs nothing and takes off the price once, however much is mended:
// every repair that raises the grade requires it.
func disclosed(id boat.ID) string { return "disclosed/" + string(id) }

// shop makes the task of all candidates. Gains are the rise in value of one repair
// once those that it requires are done.
func shop(list []candidate, club money.Currency, minutes int, cash int64) (plan.Record, map[string]int64) {
	r := plan.Record{Currency: string(club), Minutes: int64(minutes), CashMinor: cash, Repairs: []plan.RecordedRepair{}}
	byID := map[string]candidate{}
	for _, c := range list {
		byID[c.Repair] = c
	}
	gains, drops := map[string]int64{}, map[boat.ID]bool{}
	for _, c := range list {
		repair := plan.RecordedRepair{
			ID: c.Repair, Minutes: int64(c.Minutes), CashMinor: c.Cash.Minor, Requires: slices.Clone(c.Requires), Excludes: c.Excludes, Must: c.Must,
		}
		if c.slope != nil && c.slope.Currency == club && c.Steps > 0 {
			before := stepsBefore(byID, c.Requires, map[string]bool{})
			repair.GainMinor = c.slope.at(before+c.Steps, true) - c.slope.at(before, true)
			if drop := c.slope.at(0, true) - c.slope.at(0, false); drop != 0 {
				if !drops[c.Boat] {
					drops[c.Boat] = true
					r.Repairs = append(r.Repairs, plan.RecordedRepair{ID: disclosed(c.Boat), GainMinor: drop})
				}
				repair.Requires = append(repair.Requires, disclosed(c.Boat))
			}
		}
		gains[c.Repair] = repair.GainMinor
		r.Repairs = append(r.Repairs, repair)
	}
	return r, gains
}

// stepsBefore adds up what all that is required raises, each once.
func stepsBefore(byID map[string]candidate, requires []string, seen map[string]bool) int {
	steps := 0
	for _, id := range requires {
		if c, known := byID[id]; known && !seen[id] {
			seen[id] = true
			steps += c.Steps + stepsBefore(byID, c.Requires, seen)
		}
	}
	return steps
}

// tryPlan chooses, and asks what more hours or money would buy by choosing again.
func (s *service) tryPlan(ctx context.Context, _ desk.Caller, q message.TryPlan) (message.ShopPlan, error) {
	club, err := s.Currency(ctx)
	if err == nil {
		err = desk.First(desk.Within("minutes", q.Minutes, 0, mostPlanMinutes), desk.ClubMoney("cash", q.Cash, club))
	}
	if err != nil {
		return message.ShopPlan{}, err
	}
	all, err := s.candidates(ctx)
	if err != nil {
		return message.ShopPlan{}, err
	}
	list := slices.DeleteFunc(slices.Clone(all), func(c candidate) bool { return c.Cash.Currency != club })
	p, err := planned(list, club, q.Minutes, q.Cash.Minor)
	p.OtherMoney = len(all) - len(list)
	return p, err
}

// planEffort bounds the work for one plan, so that a list which is hard to tell
// apart keeps nobody waiting: some two seconds, three times for a page.
const planEffort = 10_000_000

// mostPlanMinutes is a thousand hours.
const mostPlanMinutes = 60_000

func planned(list []candidate, club money.Currency, minutes int, cash int64) (message.ShopPlan, error) {
	a := func(minor int64) money.Amount { return money.Of(minor, club) }
	ten := int64(10 * math.Pow10(club.Digits()))
	p := message.ShopPlan{Minutes: minutes, Cash: a(cash), Ten: a(ten), Gain: a(0), UsedCash: a(0), NextHour: a(0), NextMoney: a(0), Repairs: []message.PlanLine{}}
	r, gains := shop(list, club, minutes, cash)
	if len(r.Repairs) > plan.Largest {
		return p, desk.Conflict("", "%d repairs are proposed, and at most %d can be planned at once; drop those that nobody means to do", len(list), plan.Largest)
	}
	task, ids := r.Task()
	task.Effort = planEffort
	chosen, err := plan.Choose(task)
	if err != nil {
		return p, err
	}
	answer := chosen.Answer(task, ids)
	p.Status, p.MustMins, p.MustCash = answer.Status, int(answer.MustMinutes), a(answer.MustCashMinor)
	if p.Input, err = text(r); err == nil {
		p.Output, err = text(answer)
	}
	if err != nil {
		return p, err
	}
	p.Reason = chosen.Infeasible
	p.Repairs, p.NoMoney = lines(list, club, gains, answer.Chosen)
	if chosen.Infeasible != "" {
		return p, nil
	}
	p.More = a((chosen.MoreSixtieths + 59) / 60)
	p.Gain, p.UsedMins, p.UsedCash = a(chosen.GainMinor), int(chosen.Minutes), a(chosen.CashMinor)
	more := func(minutes, cash int64) (money.Amount, error) {
		wider := task
		wider.Minutes, wider.CashMinor = task.Minutes+minutes, task.CashMinor+cash
		again, err := plan.Choose(wider)
		return a(max(0, again.GainMinor-chosen.GainMinor)), err // where both were cut short, the second may have found less
	}
	if p.NextHour, err = more(60, 0); err == nil {
		p.NextMoney, err = more(0, ten)
	}
	return p, err
}

// lines says what became of each candidate, and counts those that no value speaks
// for.
func lines(list []candidate, club money.Currency, gains map[string]int64, chosen []string) (all []message.PlanLine, silent int) {
	all = []message.PlanLine{}
	for _, c := range list {
		l := message.PlanLine{RepairProposed: c.RepairProposed, BoatName: c.boatName, Gain: money.Of(gains[c.Repair], club), Chosen: slices.Contains(chosen, c.Repair)}
		l.Valued = c.slope != nil && c.slope.Currency == club
		l.NotWorth = l.Valued && !c.Must && l.Gain.Minor < c.Cash.Minor
		if !l.Valued {
			silent++
		}
		all = append(all, l)
	}
	return all, silent
}

// makePlan writes a choice down. The decision rests on what stands proposed now.
func (s *service) makePlan(ctx context.Context, o desk.Order[message.MakePlan]) (desk.Decision, error) {
	c := o.Command
	if err := desk.GoodID("plan", c.Plan); err != nil {
		return desk.Decision{}, err
	}
	p, err := s.tryPlan(ctx, o.Caller, message.TryPlan{Minutes: c.Minutes, Cash: c.Cash})
	if err != nil {
		return desk.Decision{}, err
	}
	before, at, err := desk.Load[plans](ctx, s.Log, message.ValuationPlan(c.Plan))
	switch {
	case err != nil:
		return desk.Decision{}, err
	case before.made:
		return desk.Decision{}, desk.Conflict("plan", "another plan stands under this id already")
	case p.Reason != "":
		return desk.Decision{}, desk.Conflict("", "no plan fits: what must be done takes %d minutes and %s", p.MustMins, p.MustCash)
	}
	said := message.PlanMade{Plan: c.Plan, Minutes: c.Minutes, Cash: p.Cash, Chosen: []string{}, Input: p.Input, Output: p.Output}
	for _, l := range p.Repairs {
		if l.Chosen {
			said.Chosen = append(said.Chosen, l.Repair)
		}
	}
	return desk.SayAt(at, "", said)
}

// plans is what a plan's stream adds up to.
type plans struct{ made bool }

// Fold adds an event.
func (p *plans) Fold(_ message.Event, body message.Body) {
	if _, ok := body.(message.PlanMade); ok {
		p.made = true
	}
}
