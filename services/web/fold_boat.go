package web

import (
	"encoding/json"
	"slices"

	"refloat.example/pkg/guide"
	"refloat.example/pkg/mend"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// Fold changes what is shown of a boat for one event about it. It is pure.
func (b *Boat) Fold(e message.Event, body message.Body) {
	b.foldIntake(e, body)
	b.foldArrival(e, body)
	b.foldPhotos(e, body)
	b.foldJackets(e, body)
	b.foldValue(e, body)
	b.foldRepair(body)
	b.foldBench(body)
	b.foldMatching(body)
	b.After.hear(e, body)
	b.foldMoney(body)
}

// foldIntake follows how the boat came, what was found, and the decision.
func (b *Boat) foldIntake(e message.Event, body message.Body) {
	switch m := body.(type) {
	case message.BoatLogged:
		b.ID, b.Name, b.State, b.Taking, b.Giver, b.Asked, b.Right, b.Facts = m.Boat, m.Name, Offered, m.Taking, m.Giver, m.Asked, m.Right, m.Facts
		b.Logged, b.Logger = e.HappenedAt, e.Actor
	case message.FactsCorrected:
		b.Facts = m.Facts
	case message.LookOverBegun:
		b.Looks = append(b.Looks, Look{ID: m.Look, Inspector: m.Inspector, Begun: e.HappenedAt})
	case message.DefectFound:
		b.Findings = append(b.Findings, Finding{DefectFound: m, Found: e.HappenedAt})
	case message.DefectWithdrawn:
		if f, ok := b.Finding(m.Finding); ok {
			f.Withdrawn = m.Why
		}
	case message.PointsAnswered:
		b.answer(m)
	case message.LookOverFinished:
		b.finishLook(m)
	case message.FindingsMatched:
		b.matchFindings(m)
	case message.QuarantineSet:
		b.Quarantine = &m
	case message.PriceOffered:
		b.Held = nil
	case message.AgreementMade:
		b.Agreements = append(b.Agreements, Agreement{ID: m.Agreement, Member: m.Member, On: m.On})
	case message.BoatHeld:
		b.Held = &m
	case message.BoatAccepted:
		b.State, b.Held, b.Decision = Accepted, nil, &Decision{Taken: true, Price: m.Price, Words: m.Words, Dealing: m.Dealing, By: e.Actor, At: e.HappenedAt}
	case message.BoatDeclined:
		b.State, b.Held, b.Decision = Declined, nil, &Decision{
			Words: m.Reason, Way: m.Way, Disposal: m.Disposal, Dealing: message.Dealing{Stake: m.Stake}, By: e.Actor, At: e.HappenedAt,
		}
	case message.BoatReceived:
		b.receive(m)
	}
}

// receive: work may have begun on a boat that was accepted and not yet received.
func (b *Boat) receive(m message.BoatReceived) {
	b.State, b.Received = Received, &m
	if len(b.Work)+len(b.Parts)+len(b.Hours)+len(b.Tests) > 0 {
		b.State = InWorkshop
	}
}

func (b *Boat) answer(m message.PointsAnswered) {
	l, ok := b.Look(m.Look)
	if !ok {
		return
	}
	if l.Answers == nil {
		l.Answers = map[string]guide.Answer{}
	}
	for _, a := range m.Answers {
		l.Answers[a.Point] = a.Answer
	}
}

func (b *Boat) finishLook(m message.LookOverFinished) {
	if l, ok := b.Look(m.Look); ok {
		l.Finished, l.Place = &m, len(b.FinishedLooks())+1
	}
	if b.State == Offered {
		b.State = LookedOver
	}
}

// foldRepair follows the work in the workshop.
func (b *Boat) foldRepair(body message.Body) {
	switch m := body.(type) {
	case message.WorkPlanned:
		b.Work = append(b.Work, Work{WorkPlanned: m})
		b.intoWorkshop()
		b.backIntoWorkshop()
	case message.PartBooked:
		b.Parts = append(b.Parts, Part{PartBooked: m})
		b.intoWorkshop()
	case message.PartReversed:
		if p, ok := in(b.Parts, func(p *Part) bool { return p.Entry == m.Entry }); ok {
			p.Reversed = m.Why
		}
	case message.HoursBooked:
		b.Hours = append(b.Hours, Hours{HoursBooked: m})
		b.intoWorkshop()
	case message.HoursReversed:
		if h, ok := in(b.Hours, func(h *Hours) bool { return h.Entry == m.Entry }); ok {
			h.Reversed = m.Why
		}
	case message.WorkFinished:
		b.finishWork(m)
	case message.FindingReopened:
		if f, ok := b.Finding(m.Finding); ok {
			f.Mended, f.Reopened = "", true
		}
		b.backIntoWorkshop()
	case message.TestRecorded:
		b.Tests = append(b.Tests, m)
		b.intoWorkshop()
		if !m.Passed {
			b.backIntoWorkshop()
		}
	case message.BoatReady:
		b.State, b.Ready = Ready, &m
	case message.BoatRetired:
		b.State, b.Retired = Retired, &m
	}
}

// intoWorkshop: the first work on a received boat brings it there.
func (b *Boat) intoWorkshop() {
	if b.State == Received {
		b.State = InWorkshop
	}
}

// backIntoWorkshop: a boat that was ready is not, after all.
func (b *Boat) backIntoWorkshop() {
	if b.State == Ready {
		b.State, b.Ready = InWorkshop, nil
	}
}

func (b *Boat) finishWork(m message.WorkFinished) {
	touched := false
	if w, ok := in(b.Work, func(w *Work) bool { return w.Work == m.Work }); ok {
		w.Done, touched = m.Words, w.Method != mend.LeaveAndWatch
	}
	for _, id := range m.Findings {
		if f, ok := b.Finding(id); ok {
			f.Mended, f.Touched, f.Reopened = m.Words, touched, false
		}
	}
}

// foldMatching follows offers to households and the hand-over.
func (b *Boat) foldMatching(body message.Body) {
	switch m := body.(type) {
	case message.OfferMade:
		b.State = OnOffer
		b.Offers = append(b.Offers, BoatOffer{Offer: m.Offer, Round: m.Round, Request: m.Request, Until: m.Until, Reasons: m.Reasons})
	case message.OfferAnswered:
		if o, ok := in(b.Offers, func(o *BoatOffer) bool { return o.Offer == m.Offer }); ok {
			o.Answer = m.Answer
		}
		if m.Answer != "accepted" && b.State == OnOffer {
			b.State = Ready
		}
	case message.PromiseEnded:
		if o, ok := in(b.Offers, func(o *BoatOffer) bool { return o.Offer == m.Offer }); ok {
			o.Broken = m.Why
		}
		b.After.fold(m)
		if b.State == OnOffer {
			b.State = Ready
		}
	case message.BoatHandedOver:
		b.State, b.HandOver = Placed, &m
		b.After.fold(m)
	case message.FetchingAgreed, message.FollowUpNoted, message.BoatReturned, message.UseStopped, message.IncidentReported:
		b.After.fold(body)
	case message.BoatKeptBack:
		b.KeptBack = m.Why
	case message.BoatLetOut:
		b.KeptBack = ""
	}
}

// foldMoney follows values, costs, the sale and the papers.
func (b *Boat) foldMoney(body message.Body) {
	switch m := body.(type) {
	case message.BoatValued:
		m.Input, m.Output = "", "" // those stand in the valuation's own document
		b.Values = append(b.Values, m)
	case message.CeilingSet:
		b.Ceiling = &m
	case message.EntryPosted:
		b.Entries = append(b.Entries, m)
	case message.BoatSold:
		b.State, b.Sale, b.Refunded = Sold, &m, money.Amount{}
	case message.SaleTakenBack:
		b.State, b.Sale, b.Refunded = Received, nil, money.Amount{}
		if b.Ready != nil {
			b.State = Ready
		}
		b.SaleBack = &m
	case message.BuyerRefunded:
		if b.Refunded.IsZero() {
			b.Refunded = m.Refund
		} else if sum, err := b.Refunded.Add(m.Refund); err == nil {
			b.Refunded = sum
		}
	case message.ClaimStated:
		b.Claim = &m
	case message.ExceptionStated:
		b.dropException(m.Sort)
		b.Excepted = append(b.Excepted, m)
	case message.ExceptionWithdrawn:
		b.dropException(m.Sort)
	case message.BenefitStated:
		b.Benefit = &m
	case message.AppraisalStated:
		m.Sealed = ""
		b.Appraisal = &m
	case message.SimilarStated:
		b.Similar = &m
	case message.ProgrammeChosen:
		b.Programme = m.Programme
	case message.PaperPrepared:
		b.Prepared = &m
	case message.PreparationWithdrawn:
		b.Prepared = nil
	case message.PaperIssued:
		b.Prepared = nil
		b.Papers = append(b.Papers, BoatPaper{Paper: m.Paper, Serial: m.Serial, Names: m.Names, Certified: certified(m.Decision), StatedSale: statedSale(m.Decision)})
	case message.PaperCancelled:
		if p, ok := in(b.Papers, func(p *BoatPaper) bool { return p.Paper == m.Paper }); ok {
			p.Cancelled = m.Why
		}
	}
}

// certified reads off a paper's decision whether it certifies box 5a or 5b.
func certified(decision string) string {
	var letter struct {
		Papers []struct {
			Boxes map[string]any `json:"boxes"`
		} `json:"papers"`
	}
	if json.Unmarshal([]byte(decision), &letter) != nil {
		return "" // of an older program, which certified none
	}
	for _, p := range letter.Papers {
		for _, box := range []string{"5a", "5b"} {
			if p.Boxes[box] == true {
				return box
			}
		}
	}
	return ""
}

// statedSale gives the sale that a paper states.
func statedSale(decision string) StatedSale {
	var letter struct {
		Papers []struct {
			Boxes struct {
				On    string `json:"4b"`
				Gross int64  `json:"4c"`
			} `json:"boxes"`
		} `json:"papers"`
	}
	if json.Unmarshal([]byte(decision), &letter) != nil {
		return StatedSale{}
	}
	for _, p := range letter.Papers {
		if p.Boxes.On != "" {
			return StatedSale{p.Boxes.On, p.Boxes.Gross}
		}
	}
	return StatedSale{}
}

func (b *Boat) dropException(sort message.Exception) {
	b.Excepted = slices.DeleteFunc(b.Excepted, func(e message.ExceptionStated) bool { return e.Sort == sort })
}
