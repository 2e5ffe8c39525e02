package web

import (
	"cmp"
	"slices"
	"time"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/mend"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// Bench is what the workshop keeps of a boat beside work, parts, hours and tests.
type Bench struct {
	Stock  []StockMove          `json:"stock,omitempty"`
	Came   []Recovered          `json:"came,omitempty"`
	Timers []Timer              `json:"timers,omitempty"`
	Waived []message.TestWaived `json:"waived,omitempty"`
	Advice *message.StopAdvised `json:"advice,omitempty"`
	// Lap counts how often the work sheet began anew; Ticked are the steps that are
	// done since, Worked when the boat was last worked on (a count of events).
	Lap    int      `json:"lap,omitempty"`
	Ticked []string `json:"ticked,omitempty"`
	Count  int      `json:"count,omitempty"`
	Worked int      `json:"worked,omitempty"`
	// Tested and WaivedAt order tests and waivers against Worked.
	Tested   map[message.TestKind]Tested `json:"tested,omitempty"`
	WaivedAt map[message.TestKind]int    `json:"waived_at,omitempty"`
}

// Tested is the newest test of a kind.
type Tested struct {
	Passed bool `json:"passed"`
	At     int  `json:"at"`
}

// StockMove is something that a bin gave to the boat.
type StockMove struct {
	message.StockTaken
	Back  message.Quantity `json:"back,omitempty"`  // of it, what has come back
	Minus int64            `json:"minus,omitempty"` // the cost of that, in minor units
}

// Recovered is money that came in for the boat.
type Recovered struct {
	message.MoneyRecovered
	Reversed string `json:"reversed,omitempty"` // why it was taken back
}

// Timer is something that waits.
type Timer struct {
	message.TimerSet
	Rang  bool `json:"rang,omitempty"`
	Ended bool `json:"ended,omitempty"`
}

func (t Timer) id() string { return t.Timer }

// Left is what the boat has of a taking and did not give back.
func (m StockMove) Left() message.Quantity { return m.Quantity - m.Back }

// Net is what the boat paid for what it has kept of a taking.
func (m StockMove) Net() money.Amount { return money.Of(m.Cost.Minor-m.Minus, m.Cost.Currency) }

// foldBench follows what the workshop says beside work, parts, hours and tests,
// and how far the work sheet is.
func (b *Boat) foldBench(body message.Body) {
	b.Count++
	switch m := body.(type) {
	case message.WorkFinished:
		b.benchFinished(m)
	case message.FindingReopened:
		b.newLap()
	case message.BoatReady:
		b.newLap()
		b.Advice = nil
	case message.StepDone:
		b.Ticked = append(b.Ticked, m.Step)
	case message.TestRecorded:
		if b.Tested == nil {
			b.Tested = map[message.TestKind]Tested{}
		}
		b.Tested[m.What] = Tested{m.Passed, b.Count}
	case message.TestWaived:
		if b.WaivedAt == nil {
			b.WaivedAt = map[message.TestKind]int{}
		}
		b.Waived, b.WaivedAt[m.What] = append(b.Waived, m), b.Count
	case message.StopAdvised:
		b.Advice = &m
	case message.TimerSet:
		b.Timers = append(b.Timers, Timer{TimerSet: m})
	case message.TimerRang:
		b.eachTimer(m.Timer, func(t *Timer) { t.Rang = true })
	case message.TimerEnded:
		b.eachTimer(m.Timer, func(t *Timer) { t.Ended = true })
	}
	b.foldBenchMoney(body)
}

func (b *Boat) newLap() { b.Lap, b.Ticked = b.Lap+1, nil }

func (b *Boat) benchFinished(m message.WorkFinished) {
	if w, ok := in(b.Work, func(w *Work) bool { return w.Work == m.Work }); ok {
		w.DoneLap = b.Lap
		if w.Method != mend.LeaveAndWatch {
			b.Worked = b.Count
		}
	}
}

func (b *Boat) eachTimer(id string, change func(*Timer)) {
	if t, ok := in(b.Timers, func(t *Timer) bool { return t.Timer == id }); ok {
		change(t)
	}
}

func (b *Boat) foldBenchMoney(body message.Body) {
	switch m := body.(type) {
	case message.MoneyRecovered:
		b.Came = append(b.Came, Recovered{MoneyRecovered: m})
	case message.RecoveryReversed:
		if c, ok := in(b.Came, func(c *Recovered) bool { return c.Entry == m.Entry }); ok {
			c.Reversed = m.Why
		}
	case message.StockTaken:
		b.Stock = append(b.Stock, StockMove{StockTaken: m})
		b.intoWorkshop()
	case message.StockReturned:
		if s, ok := in(b.Stock, func(s *StockMove) bool { return s.Bin == m.Bin && s.Entry == m.Of }); ok {
			s.Back += m.Quantity
			s.Minus += m.Cost.Minor
		}
	}
}

// Running gives the timers that nobody has ended.
func (b *Boat) Running() []Timer {
	return slices.DeleteFunc(slices.Clone(b.Timers), func(t Timer) bool { return t.Ended })
}

// toMend is a finding as package mend sees it.
func (f Finding) toMend() mend.Finding {
	return mend.Finding{Part: f.Place.Part, Defect: f.Defect, Severity: f.Severity, LoadBearing: f.LoadBearing}
}

// Needs gives the tests that the boat needs.
func (b *Boat) Needs() []mend.Need {
	of := mend.Boat{Type: b.Facts.Type, Material: b.Facts.Material}
	for _, f := range b.Findings {
		if f.Withdrawn != "" {
			continue
		}
		of.Found = append(of.Found, f.toMend())
		if f.Mended != "" && f.Touched {
			of.Mended = append(of.Mended, f.toMend())
		}
	}
	return mend.Needed(of)
}

// settled says whether a test need not be made again: it was passed after the last
// work, or waived since. The room decides; this is for the sheet.
func (b *Boat) settled(t mend.Test) bool {
	tested, made := b.Tested[t]
	if at, waived := b.WaivedAt[t]; waived && mend.Waivable(t) && at > b.Worked && at > tested.At {
		return true
	}
	return made && tested.Passed && tested.At >= b.Worked
}

// Job is the boat's work as its work sheet sees it.
func (b *Boat) Job() mend.Job {
	j := mend.Job{
		Type: b.Facts.Type, Material: b.Facts.Material, MassG: b.Facts.MassG, Tests: b.Needs(),
		Passed: map[mend.Test]bool{}, Ticked: map[string]bool{},
	}
	for _, step := range b.Ticked {
		j.Ticked[step] = true
	}
	for _, n := range j.Tests {
		j.Passed[n.Test] = b.settled(n.Test)
	}
	for _, w := range b.Work {
		if w.Done != "" && w.DoneLap != b.Lap {
			continue
		}
		if on := b.places(w); len(on) > 0 {
			j.Works = append(j.Works, mend.Work{ID: w.Work, Method: w.Method, Words: w.WorkPlanned.Words, Minutes: w.Minutes, Findings: on, Done: w.Done != ""})
		}
	}
	slices.SortFunc(j.Works, func(a, c mend.Work) int { return cmp.Compare(a.ID, c.ID) })
	return j
}

// places gives the findings of a work that it still stands for: all of a finished
// one, and of a planned one those that were neither ended, withdrawn nor planned
// anew.
func (b *Boat) places(w Work) []mend.Place {
	var list []mend.Place
	for _, id := range w.WorkPlanned.Findings {
		f, ok := b.Finding(id)
		if !ok || f.Withdrawn != "" || w.Done == "" && (!f.Open() || b.newestPlan(id) != w.Work) {
			continue
		}
		list = append(list, mend.Place{Finding: f.toMend(), Words: findingWords(f.DefectFound)})
	}
	return list
}

func (b *Boat) newestPlan(finding string) string {
	newest := ""
	for _, w := range b.Work {
		if slices.Contains(w.WorkPlanned.Findings, finding) {
			newest = w.Work
		}
	}
	return newest
}

// Bin is what the pages show of a bin.
type Bin struct {
	ID     string                       `json:"id"`
	Name   string                       `json:"name"`
	Unit   message.Unit                 `json:"unit"`
	Where  string                       `json:"where,omitempty"`
	Low    message.Quantity             `json:"low"`
	Held   message.Quantity             `json:"held"`
	Value  money.Amount                 `json:"value"`
	Kept   map[boat.ID]message.Quantity `json:"kept,omitempty"`
	Moves  []BinMove                    `json:"moves,omitempty"` // the newest last, at most maxMoves
	Opened time.Time                    `json:"opened"`
}

// BinMove is something that went in or out.
type BinMove struct {
	Entry    string           `json:"entry"`
	What     string           `json:"what"` // bought, taken, returned, written off, salvaged
	Boat     boat.ID          `json:"boat,omitempty"`
	Quantity message.Quantity `json:"quantity"` // out is negative
	Cost     money.Amount     `json:"cost"`
	Words    string           `json:"words,omitempty"`
	Pocket   people.ID        `json:"pocket,omitempty"`
	Receipt  string           `json:"receipt,omitempty"` // SHA-256 of its photo
	By       string           `json:"by"`                // actor
	At       time.Time        `json:"at"`
}

// maxMoves bounds what a bin's document keeps; the book has the rest.
const maxMoves = 200

// Free is what is not reserved.
func (b Bin) Free() message.Quantity {
	free := b.Held
	for _, quantity := range b.Kept {
		free -= quantity
	}
	return free
}

// IsLow says whether somebody should buy.
func (b Bin) IsLow() bool { return b.Free() < b.Low }

// Fold changes what is shown of a bin for one event about it.
func (b *Bin) Fold(e message.Event, body message.Body) {
	switch m := body.(type) {
	case message.BinOpened:
		b.ID, b.Name, b.Unit, b.Where, b.Low, b.Opened = m.Bin, m.Name, m.Unit, m.Where, m.Low, e.HappenedAt
	case message.BinChanged:
		b.Name, b.Where, b.Low = m.Name, m.Where, m.Low
	case message.StockReserved:
		b.keep(m.Boat, m.Quantity)
	case message.StockBought:
		b.move(e, BinMove{Entry: m.Entry, What: "bought", Quantity: m.Quantity, Cost: m.Cost, Words: m.Words, Pocket: m.Pocket, Receipt: m.Receipt})
	case message.StockTaken:
		b.keep(m.Boat, max(0, b.Kept[m.Boat]-m.Quantity))
		b.move(e, BinMove{Entry: m.Entry, What: "taken", Boat: m.Boat, Quantity: -m.Quantity, Cost: m.Cost.Neg()})
	case message.StockReturned:
		b.move(e, BinMove{Entry: m.Entry, What: "returned", Boat: m.Boat, Quantity: m.Quantity, Cost: m.Cost, Words: m.Why})
	case message.StockWrittenOff:
		b.move(e, BinMove{Entry: m.Entry, What: "written off", Quantity: -m.Quantity, Cost: m.Cost.Neg(), Words: m.Why})
	case message.StockSalvaged:
		b.move(e, BinMove{Entry: m.Entry, What: "salvaged", Boat: m.Boat, Quantity: m.Quantity, Cost: m.Value, Words: m.Words})
	}
}

func (b *Bin) keep(id boat.ID, quantity message.Quantity) {
	if quantity == 0 {
		delete(b.Kept, id)
		return
	}
	if b.Kept == nil {
		b.Kept = map[boat.ID]message.Quantity{}
	}
	b.Kept[id] = quantity
}

func (b *Bin) move(e message.Event, m BinMove) {
	m.By, m.At = e.Actor, e.HappenedAt
	b.Held += m.Quantity
	b.Value = money.Of(b.Value.Minor+m.Cost.Minor, m.Cost.Currency)
	if b.Moves = append(b.Moves, m); len(b.Moves) > maxMoves {
		b.Moves = b.Moves[len(b.Moves)-maxMoves:]
	}
}
