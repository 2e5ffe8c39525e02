package repair

import (
	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// bench is what a boat's own stream in this room adds up to. Times are versions
// of the stream: they order what happened here, whatever the clocks said.
type bench struct {
	works   map[string]*work
	plans   map[string]string // by finding: the work in which an open one is planned
	ends    map[string]end    // by finding: how one that is not open ended
	parts   map[string]*part
	hours   map[string]bool
	trials  []trial
	touched int64 // when the boat was last worked on
	// ready is what was last said of the boat, until a failed test makes others
	// doubt it; other changes show in what would be said anew.
	ready   *message.BoatReady
	retired bool
}

// work is planned or finished work.
type work struct {
	id, method string
	findings   []string
	done       bool
}

// touches says whether the work changes the boat, so that tests before it say
// nothing any more.
func (w *work) touches() bool { return w.method != leaveAndWatch }

// end is how a finding ended.
type end struct {
	words  string
	mended bool // by work that touched the boat
	at     int64
}

// part is money that was booked.
type part struct {
	cost     money.Amount
	paidBy   message.Payer
	on       clock.Date
	reversed bool
}

// trial is a test that was made.
type trial struct {
	id     string
	what   message.TestKind
	passed bool
	at     int64
}

// Fold adds an event.
func (b *bench) Fold(e message.Event, body message.Body) {
	if b.works == nil {
		b.works, b.plans, b.ends = map[string]*work{}, map[string]string{}, map[string]end{}
		b.parts, b.hours = map[string]*part{}, map[string]bool{}
	}
	switch said := body.(type) {
	case message.WorkPlanned:
		b.works[said.Work] = &work{id: said.Work, method: said.Method, findings: said.Findings}
		for _, f := range said.Findings {
			b.plans[f] = said.Work
		}
	case message.WorkFinished:
		b.foldFinished(said, e.Version)
	case message.FindingReopened:
		delete(b.ends, said.Finding)
	case message.PartBooked:
		b.parts[said.Entry] = &part{cost: said.Cost, paidBy: said.PaidBy, on: said.On}
	case message.PartReversed:
		b.parts[said.Entry].reversed = true
	case message.HoursBooked:
		b.hours[said.Entry] = true
	case message.TestRecorded:
		b.trials = append(b.trials, trial{said.Test, said.What, said.Passed, e.Version})
		if !said.Passed {
			b.ready = nil
		}
	case message.BoatReady:
		b.ready = &said
	case message.BoatRetired:
		b.retired = true
	}
}

func (b *bench) foldFinished(said message.WorkFinished, at int64) {
	w := b.works[said.Work]
	w.done = true
	for _, f := range said.Findings {
		b.ends[f] = end{said.Words, w.touches(), at}
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
