package repair

import (
	"time"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/mend"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
)

// bench is what a boat's own stream in this room adds up to. Times are versions
// of the stream: they order what happened here, whatever the clocks said.
type bench struct {
	works   map[string]*work
	plans   map[string]string // by finding: the work in which an open one is planned
	ends    map[string]end    // by finding: how one that is not open ended
	tries   map[string][]attempt
	parts   map[string]*part
	hours   map[string]*worked
	trials  []trial
	waivers []waiver
	timers  map[string]*timer
	// lap counts how often the work sheet began anew: when a test showed that a
	// mend does not hold, and when the boat was ready. ticked are the steps done in
	// this lap.
	lap     int
	ticked  map[string]bool
	touched int64 // when the boat was last worked on
	advised map[advice]bool
	// ready is what was last said of the boat, until a failed test makes others
	// doubt it; other changes show in what would be said anew.
	ready   *message.BoatReady
	retired bool
}

// work is planned or finished work.
type work struct {
	id, method, words string
	findings          []string
	minutes           int
	cost              money.Amount
	done              bool
	lap               int // in which it was done
}

// touches says whether the work changes the boat, so that tests before it say
// nothing any more.
func (w *work) touches() bool { return w.method != mend.LeaveAndWatch }

// end is how a finding ended.
type end struct {
	words  string
	mended bool // by work that touched the boat
	at     int64
}

// attempt is one time that a finding was worked on.
type attempt struct {
	words  string
	failed bool // a test showed that it did not hold
}

// part is money that was booked.
type part struct {
	cost      money.Amount
	paidBy    message.Payer
	on        clock.Date
	recovered bool // it came in
	reversed  bool
}

// waiver is an administrator's word that a test may be left out.
type waiver struct {
	what message.TestKind
	why  string
	at   int64
}

// timer is something that waits.
type timer struct {
	until time.Time
	who   people.ID
	rang  bool
	ended bool
}

// advice is a verdict that was given about a value.
type advice struct {
	verdict message.StopVerdict
	value   string
}

// trial is a test that was made.
type trial struct {
	id     string
	what   message.TestKind
	passed bool
	at     int64
	on     clock.Date
	words  string // the reading
	message.TestNumbers
}

// Fold adds an event.
func (b *bench) Fold(e message.Event, body message.Body) {
	if b.works == nil {
		b.works, b.plans, b.ends, b.tries = map[string]*work{}, map[string]string{}, map[string]end{}, map[string][]attempt{}
		b.parts, b.hours, b.timers = map[string]*part{}, map[string]*worked{}, map[string]*timer{}
		b.ticked, b.advised = map[string]bool{}, map[advice]bool{}
	}
	b.foldWork(e, body)
	b.foldMoney(body)
	b.foldWaiting(body)
}

// foldWork follows plans, work, tests and what came of them.
func (b *bench) foldWork(e message.Event, body message.Body) {
	switch said := body.(type) {
	case message.WorkPlanned:
		b.works[said.Work] = &work{id: said.Work, method: said.Method, words: said.Words, findings: said.Findings, minutes: said.Minutes, cost: said.Cost}
		for _, f := range said.Findings {
			b.plans[f] = said.Work
		}
	case message.WorkFinished:
		b.foldFinished(said, e.Version)
	case message.FindingReopened:
		b.foldReopened(said)
	case message.TestRecorded:
		b.trials = append(b.trials, trial{said.Test, said.What, said.Passed, e.Version, said.On, said.Reading, said.TestNumbers})
		if !said.Passed {
			b.ready = nil
		}
	case message.TestWaived:
		b.waivers = append(b.waivers, waiver{said.What, said.Why, e.Version})
	case message.BoatReady:
		b.ready = &said
		b.newLap()
	case message.BoatRetired:
		b.retired = true
	}
}

// worked is a booking of hours.
type worked struct {
	who      people.ID
	minutes  int
	on       clock.Date
	reversed bool
}

// foldMoney follows what was booked and what came of adding it up.
func (b *bench) foldMoney(body message.Body) {
	switch said := body.(type) {
	case message.PartBooked:
		b.parts[said.Entry] = &part{cost: said.Cost, paidBy: said.PaidBy, on: said.On}
	case message.PartReversed:
		b.parts[said.Entry].reversed = true
	case message.MoneyRecovered:
		b.parts[said.Entry] = &part{cost: said.Amount, on: said.On, recovered: true}
	case message.RecoveryReversed:
		b.parts[said.Entry].reversed = true
	case message.HoursBooked:
		b.hours[said.Entry] = &worked{said.Who, said.Minutes, said.On, false}
	case message.HoursReversed:
		b.hours[said.Entry].reversed = true
	case message.StopAdvised:
		b.advised[advice{said.Verdict, said.Value}] = true
	}
}

// foldWaiting follows the work sheet's ticks and its timers.
func (b *bench) foldWaiting(body message.Body) {
	switch said := body.(type) {
	case message.StepDone:
		b.ticked[said.Step] = true
	case message.TimerSet:
		b.timers[said.Timer] = &timer{until: said.Until, who: said.Who}
	case message.TimerRang:
		b.timers[said.Timer].rang = true
	case message.TimerEnded:
		b.timers[said.Timer].ended = true
	}
}

func (b *bench) newLap() {
	b.lap++
	b.ticked = map[string]bool{}
}

func (b *bench) foldReopened(said message.FindingReopened) {
	delete(b.ends, said.Finding)
	if tries := b.tries[said.Finding]; len(tries) > 0 {
		tries[len(tries)-1].failed = true
	}
	b.newLap()
}

func (b *bench) foldFinished(said message.WorkFinished, at int64) {
	w := b.works[said.Work]
	w.done, w.lap = true, b.lap
	for _, f := range said.Findings {
		b.ends[f] = end{said.Words, w.touches(), at}
		b.tries[f] = append(b.tries[f], attempt{words: said.Words})
		delete(b.plans, f)
	}
	if w.touches() {
		b.touched = at
	}
}

// open says whether a finding of the boat still waits for its end.
func (b *bench) open(f finding) bool {
	_, ended := b.ends[f.id]
	return !ended && f.withdrawn == ""
}

// left gives the findings for which a work is still planned: some may have been
// planned anew or withdrawn since.
func (b *bench) left(w *work, h *hull) []string {
	var left []string
	for _, id := range w.findings {
		if f := h.find(id); f != nil && b.open(*f) && b.plans[id] == w.id {
			left = append(left, id)
		}
	}
	return left
}
