package web

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// stockReaders may see what lies in the bins: who works with it, and who keeps the
// money.
var stockReaders = only(people.Repairer, people.Treasurer, people.Administrator, people.Auditor)

// amounts lets quantities be typed in the bin's unit.
var amounts = units{"quantity": {"", 1000}, "low": {"", 1000}}

func stockRoutes() []route {
	return []route{
		get("/stock", stockReaders, (*visit).stockPage),
		get("/stock/{bin}", stockReaders, (*visit).binPage),
	}
}

func toBin(v *visit, _ desk.Commanded) string { return "/stock/" + v.param("bin") }

func binFields(unit ...Field) func(*visit) ([]Section, error) {
	return func(*visit) ([]Section, error) {
		fields := append([]Field{text("name", "What is in it").Needed()}, unit...)
		return []Section{{Fields: append(fields,
			text("where", "Where it stands"),
			number("low", "Low below").With("When less than this is free, the bin is on the list of what to buy."),
		)}}, nil
	}
}

func stockActs() []act {
	return []act{
		{
			name: "open-bin", path: "/stock/new", may: repairers, title: "Open a bin", button: "Open it", done: "The bin is open.", units: amounts,
			words:   "A bin holds one thing, counted in one unit for good.",
			command: func() desk.Commanded { return &message.OpenBin{} },
			fields:  binFields(fresh("bin"), one("unit", "Counted in", words(message.Units)).Needed()),
			to:      func(_ *visit, c desk.Commanded) string { return "/stock/" + c.(*message.OpenBin).Bin },
		},
		{
			name: "change-bin", path: "/stock/{bin}/change", may: repairers, title: "Put a bin right", button: "Put it right", done: "The bin is put right.", units: amounts,
			command: func() desk.Commanded { return &message.ChangeBin{} },
			shared:  true,
			start: func(v *visit) (any, error) {
				b, err := v.findBin()
				return message.ChangeBin{Name: b.Name, Where: b.Where, Low: b.Low}, err
			},
			fields: binFields(), to: toBin,
		},
		{
			name: "buy-stock", path: "/stock/{bin}/buy", may: repairers, title: "Book a purchase", button: "Book it", done: "The purchase is booked.", units: amounts, receipt: true,
			words:   "What a donor pays for is booked on the boat that they gave: it changes their paper.",
			command: func() desk.Commanded { return &message.BuyStock{} },
			fields: func(v *visit) ([]Section, error) {
				return v.ofBin(
					fresh("entry"), number("quantity", "How much").Needed(), text("cost", "Cost of all of it").Needed(),
					one("paid_by", "Paid by", words([]message.Payer{message.ClubPays, message.OwnPocket})).Needed(),
					text("words", "From where"), day("on", "Day").Needed().Starts(v.today().String()),
				)
			},
			to: toBin,
		},
		{
			name: "take-stock", path: "/stock/{bin}/take", may: repairers, title: "Take for a boat", button: "Take it", done: "It is taken and booked on the boat.", units: amounts,
			words:   "At the average of what the bin's contents cost. What others have reserved cannot be taken.",
			command: func() desk.Commanded { return &message.TakeStock{} },
			fields: func(v *visit) ([]Section, error) {
				boats, err := v.benchBoats()
				if err != nil {
					return nil, err
				}
				return v.ofBin(fresh("entry"), forBoat(v, boats), number("quantity", "How much").Needed(), day("on", "Day").Needed().Starts(v.today().String()))
			},
			to: toBin,
		},
		{
			name: "reserve-stock", path: "/stock/{bin}/reserve", may: repairers, title: "Reserve for a boat", button: "Reserve it", done: "What is reserved is written down.", units: amounts,
			words:   "All that is to be kept for the boat; 0 ends it. Taking it for the boat uses it up.",
			command: func() desk.Commanded { return &message.ReserveStock{} },
			fields: func(v *visit) ([]Section, error) {
				boats, err := v.benchBoats()
				if err != nil {
					return nil, err
				}
				return v.ofBin(forBoat(v, boats), number("quantity", "How much").Needed())
			},
			to: toBin,
		},
		{
			name: "return-stock", path: "/stock/{bin}/return/{of}", may: repairers, title: "Give back", button: "Give it back", done: "It is back in the bin.", units: amounts,
			words:   "At the cost at which it had left.",
			command: func() desk.Commanded { return &message.ReturnStock{} },
			fields: func(v *visit) ([]Section, error) {
				return v.ofBin(fresh("entry"), number("quantity", "How much").Needed(), text("why", "Why").Needed(), day("on", "Day").Needed().Starts(v.today().String()))
			},
			to: toBin,
		},
		{
			name: "write-off", path: "/stock/{bin}/write-off", may: repairers, title: "Write off", button: "Write it off", done: "It is written off.", units: amounts, weighty: true,
			words:   "What is spoiled, lost, or was counted wrong.",
			command: func() desk.Commanded { return &message.WriteOffStock{} },
			fields: func(v *visit) ([]Section, error) {
				return v.ofBin(fresh("entry"), number("quantity", "How much").Needed(), area("why", "What became of it").Needed(), day("on", "Day").Needed().Starts(v.today().String()))
			},
			to: toBin,
		},
		{
			name: "salvage", path: "/boats/{boat}/salvage", may: repairers, title: "Keep a part of this boat", button: "Keep it", done: "The part lies in its bin.", units: amounts,
			part: partWorkshop, label: "Keep a part", fits: func(b *Boat) bool { return b.State == Retired },
			words:   "What is sound goes into a bin, at what it is worth to the club.",
			command: func() desk.Commanded { return &message.SalvagePart{} },
			fields: func(v *visit) ([]Section, error) {
				bins, err := v.bins()
				var options []Option
				for _, b := range bins {
					options = append(options, Option{b.ID, b.Name + ", in " + string(b.Unit)})
				}
				return []Section{{Fields: []Field{
					fresh("entry"), Field{Name: "bin", Label: "Into which bin", Kind: kindPick, Options: options}.Needed(),
					number("quantity", "How much").Needed(), text("value", "Worth to the club").Needed(),
					text("words", "In what state").Needed(), day("on", "Day").Needed().Starts(v.today().String()),
				}}}, err
			},
		},
	}
}

func forBoat(v *visit, boats []Option) Field {
	return Field{Name: "boat", Label: "For which boat", Kind: kindPick, Options: boats}.Needed().Starts(v.r.URL.Query().Get("boat"))
}

// ofBin asks for fields about a bin, under what it holds now.
func (v *visit) ofBin(fields ...Field) ([]Section, error) {
	b, err := v.findBin()
	if err != nil {
		return nil, err
	}
	return []Section{{Words: b.Name + ": " + b.Held.In(b.Unit) + " lie in it, " + b.Free().In(b.Unit) + " of them free.", Fields: fields}}, nil
}

func (v *visit) findBin() (Bin, error) {
	return find[Bin](v.ctx, v.Site, "bin", v.param("bin"), "bin")
}

func (v *visit) bins() ([]Bin, error) {
	return findAll[Bin](v.ctx, v.Site, `SELECT doc FROM web.bin ORDER BY lower(name), id`)
}

// benchBoats offers the boats that can be worked on.
func (v *visit) benchBoats() ([]Option, error) {
	rows, err := v.Pool.Query(v.ctx, `SELECT id, name FROM web.boat WHERE state = ANY($1) ORDER BY lower(name)`, []State{Accepted, Received, InWorkshop, Ready, OnOffer})
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[Option])
}

// stockPage lists the bins, what is low first.
type stockPage struct {
	Frame
	Words     string
	OnlyLow   bool // of all bins, only those to buy for
	Low, Bins []Bin
}

func (v *visit) stockPage() error {
	bins, err := v.bins()
	if err != nil {
		return err
	}
	p := stockPage{Frame: v.frame("Stock"), OnlyLow: v.r.URL.Query().Get("low") == "yes"}
	if p.Words, err = v.wordsAsked(); err != nil {
		return err
	}
	wanted := strings.Fields(plainLetters(p.Words))
	for _, b := range bins {
		if !hasWords(plainLetters(b.Name+" "+b.Where), wanted) || p.OnlyLow && !b.IsLow() {
			continue
		}
		p.Bins = append(p.Bins, b)
		if b.IsLow() {
			p.Low = append(p.Low, b)
		}
	}
	if v.wantsTable() {
		return writeTable(v, "stock", []string{"what", "where", "unit", "in_the_bin", "free", "low_below", "worth", "currency"}, p.Bins, func(b Bin) []string {
			return []string{b.Name, b.Where, string(b.Unit), inThousandths(b.Held), inThousandths(b.Free()), inThousandths(b.Low), b.Value.Number(), string(b.Value.Currency)}
		})
	}
	return v.show("stock", p)
}

// binPage is one bin.
type binPage struct {
	Frame
	Bin   Bin
	Kept  []reservedFor
	Moves []binMove // the newest first
	Book  *leaf
	Names map[boat.ID]string
}

type reservedFor struct {
	Boat     boat.ID
	Name     string
	Quantity message.Quantity
}

// binMove is a movement with what can be done about it.
type binMove struct {
	BinMove
	BoatName string
	Back     bool // some of it can be given back
}

func (v *visit) binPage() error {
	b, err := v.findBin()
	if err != nil {
		return err
	}
	p := binPage{Frame: v.frame(b.Name), Bin: b}
	boats := slices.Collect(maps.Keys(b.Kept))
	for _, m := range b.Moves {
		boats = append(boats, m.Boat)
	}
	names, err := v.boatNames(boats)
	if err != nil {
		return err
	}
	for id, quantity := range b.Kept {
		p.Kept = append(p.Kept, reservedFor{id, cmp.Or(names[id], "a boat"), quantity})
	}
	sortBy(p.Kept, func(k reservedFor) string { return k.Name })
	for i := len(b.Moves) - 1; i >= 0; i-- {
		m := b.Moves[i]
		p.Moves = append(p.Moves, binMove{m, cmp.Or(names[m.Boat], "a boat"), m.What == "taken" && v.Who.Has(people.Repairer)})
	}
	if booksTo.admits(v.Who) {
		book, err := ask[message.BoatBook](v, message.BinBook{Bin: b.ID, Page: v.pageAsked()})
		if err != nil && !fault.Is(err, fault.Unavailable) {
			return err
		}
		p.Book = &leaf{book, "/stock/" + b.ID, "/stock/" + b.ID}
	}
	return v.show("bin", p)
}

// boatNames reads what boats are called.
func (v *visit) boatNames(ids []boat.ID) (map[boat.ID]string, error) {
	rows, err := v.Pool.Query(v.ctx, `SELECT id, name FROM web.boat WHERE id = ANY($1)`, ids)
	if err != nil {
		return nil, err
	}
	names := map[boat.ID]string{}
	var id boat.ID
	var name string
	_, err = pgx.ForEachRow(rows, []any{&id, &name}, func() error {
		names[id] = name
		return nil
	})
	return names, err
}
