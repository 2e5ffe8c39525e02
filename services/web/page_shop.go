package web

import (
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

var (
	planners = only(people.Repairer, people.Steward, people.Treasurer)
	plansTo  = only(people.Repairer, people.Steward, people.Treasurer, people.Administrator, people.Auditor)
)

func shopRoutes() []route {
	return []route{get("/shop", plansTo, (*visit).shopPage)}
}

func shopActs() []act {
	toShop := func(*visit, desk.Commanded) string { return "/shop" }
	return []act{
		{
			name: "propose-repair", path: "/boats/{boat}/proposals", may: planners, title: "Propose a repair", button: "Propose it", done: "The repair is proposed.",
			part: partWorkshop, label: "Propose a repair", fits: func(b *Boat) bool { return !b.Ended() },
			words:   "What could be mended, what it would take and what it would bring. The plan over all boats chooses among these.",
			command: func() desk.Commanded { return &message.ProposeRepair{} }, fields: (*visit).proposalFields,
		},
		{
			name: "drop-repair", path: "/boats/{boat}/proposals/{repair}/drop", may: planners, title: "Drop a proposed repair", button: "Drop it", done: "The repair is proposed no more.",
			command: func() desk.Commanded { return &message.DropRepair{} },
			fields: func(v *visit) ([]Section, error) {
				words := ""
				if p, ok := in(v.boat.Proposed, func(p *message.RepairProposed) bool { return p.Repair == v.param("repair") }); ok {
					words = "Proposed: " + p.What
				}
				return []Section{{Words: words, Fields: []Field{area("why", "Why").Needed().With("It is done, or it was a mistake.")}}}, nil
			},
		},
		{
			name: "make-plan", path: "/shop/plan", may: planners, title: "Write this plan down", button: "Write it down", done: "The plan is written down.",
			words:   "The choice and the whole computation go into the book. Nothing is ordered by it.",
			command: func() desk.Commanded { return &message.MakePlan{} }, to: toShop,
			fields: func(v *visit) ([]Section, error) {
				query := v.r.URL.Query()
				return []Section{{Fields: []Field{
					fresh("plan"),
					number("minutes", "Minutes of volunteers' work").Needed().Starts(query.Get("minutes")),
					text("cash", "Cash").Needed().Starts(query.Get("cash")),
				}}}, nil
			},
		},
	}
}

func (v *visit) proposalFields() ([]Section, error) {
	var others []Option
	for _, p := range v.boat.Proposed {
		others = append(others, Option{p.Repair, p.What})
	}
	fields := []Field{
		fresh("repair"),
		text("what", "What would be done").Needed(),
		number("minutes", "Minutes of volunteers' work").Needed(),
		text("cash", "Cost of parts, consumables and outside work").Needed(),
		one("steps", "By how much it raises the condition", []Option{{"0", "not at all"}, {"1", "one step"}, {"2", "two steps"}, {"3", "three steps"}}).Needed().With("Once what it needs is done. What only makes the boat fit for use raises nothing."),
		tick("must", "It has to be done before anybody uses the boat"),
	}
	if len(others) > 0 {
		fields = append(fields, some("requires", "It needs these first", others), some("excludes", "Instead of", others))
	}
	return []Section{{Fields: fields}}, nil
}

// shopPage chooses among the proposed repairs of all boats in the shop.
type shopPage struct {
	Frame
	Plan   *message.ShopPlan
	Chosen []message.PlanLine
	Others []message.PlanLine
	Not    []message.PlanLine // not worth mending, whatever the hours
	Made   []ShopChoice
	Write  string // where this choice is written down
}

func (v *visit) shopPage() error {
	p, err := v.openShop()
	if err != nil {
		return err
	}
	return v.show("shop", p)
}

// openShop reads the plans that were written down, and works one out where hours or
// cash stand in the address.
func (v *visit) openShop() (shopPage, error) {
	p := shopPage{Frame: v.frame("What to mend")}
	query := v.r.URL.Query()
	var err error
	if p.Made, err = findAll[ShopChoice](v.ctx, v.Site, `SELECT doc FROM web.plan ORDER BY position DESC LIMIT 12`); err != nil {
		return p, err
	}
	if query.Has("minutes") || query.Has("cash") {
		err = v.tryPlan(&p)
	}
	return p, err
}

// tryPlan reads hours and cash off the address, so that a choice can be kept as a
// link, and asks the room.
func (v *visit) tryPlan(p *shopPage) error {
	query := v.r.URL.Query()
	currency, err := v.Currency(v.ctx)
	if err != nil {
		return err
	}
	var asked message.TryPlan
	if err := bind(query, &asked, currency, nil); err != nil {
		return err
	}
	asked.Cash = money.Of(asked.Cash.Minor, currency)
	plan, err := ask[message.ShopPlan](v, asked)
	if err != nil {
		return err
	}
	p.Plan, p.Write = &plan, "/shop/plan?"+query.Encode()
	for _, l := range plan.Repairs {
		switch {
		case l.Chosen:
			p.Chosen = append(p.Chosen, l)
		case l.NotWorth:
			p.Not = append(p.Not, l)
		default:
			p.Others = append(p.Others, l)
		}
	}
	return nil
}

// shopTable is a list of repairs under a heading.
type shopTable struct {
	Name, Title string
	Lines       []message.PlanLine
}
