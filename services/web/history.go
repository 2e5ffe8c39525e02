package web

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
)

// Line is one event in plain words.
type Line struct {
	Position   int64
	Boat       boat.ID
	Stream     string
	Kind       message.Kind
	Actor      string
	Look       string
	HappenedAt time.Time
	RecordedAt time.Time
	Summary    string
}

// Late says whether it was written down later than it was so, by more than the
// minute that pages show.
func (l Line) Late() bool {
	return !l.HappenedAt.Truncate(time.Minute).Equal(l.RecordedAt.Truncate(time.Minute))
}

// addHistory writes an event's line.
func addHistory(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body, look string) error {
	_, err := tx.Exec(ctx, `
		INSERT INTO web.history (position, boat, stream, kind, actor, look, happened_at, recorded_at, summary)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
		e.Position, e.Boat, e.Stream, e.Kind, e.Actor, look, e.HappenedAt, e.RecordedAt, summary(body))
	return err
}

// historyOf reads all lines about a boat, in the order in which they were
// written.
func (s *Site) historyOf(ctx context.Context, id boat.ID) ([]Line, error) {
	return s.historyWhere(ctx, `boat = $1 ORDER BY position`, id)
}

// historyWhere reads the lines that a condition selects.
func (s *Site) historyWhere(ctx context.Context, condition string, args ...any) ([]Line, error) {
	rows, err := s.Pool.Query(ctx, `
		SELECT position, boat, stream, kind, actor, look, happened_at, recorded_at, summary
		FROM web.history WHERE `+condition, args...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[Line])
}

// lookOf gives the look-over that an event belongs to.
func (b *Boat) lookOf(body message.Body) string {
	switch m := body.(type) {
	case message.LookOverBegun:
		return m.Look
	case message.PointsAnswered:
		return m.Look
	case message.DefectFound:
		return m.Look
	case message.FindingsMatched:
		return m.Look
	case message.LookOverFinished:
		return m.Look
	case message.PhotoAdded:
		if f, ok := b.Finding(m.Finding); ok {
			return f.Look
		}
	case message.DefectWithdrawn:
		if f, ok := b.Finding(m.Finding); ok {
			return f.Look
		}
	}
	return ""
}

// summary says what happened, in plain words and without personal data. Every
// kind has a sentence.
func summary(body message.Body) string {
	for _, sentence := range []func(message.Body) string{
		sumIntake, sumArrival, sumJackets, sumPhotos, sumPlaces, sumDecision, sumRepair, sumTests, sumBench, sumStock, sumValuation, sumShop, sumRequests, sumRounds, sumTreasury, sumVolunteers, sumPeople, sumConsent,
	} {
		if text := sentence(body); text != "" {
			return text
		}
	}
	if text := asides[body.Kind()]; text != "" {
		return text
	}
	return capital(strings.ReplaceAll(strings.TrimPrefix(string(body.Kind()), body.Kind().Room()+"."), "-", " "))
}

// asides are the events by which a room keeps things apart that may happen at
// one moment. They say nothing that the event beside them does not.
var asides = map[message.Kind]string{
	"intake.mark-taken":              "A name or hull number was kept for this boat",
	"intake.berth-taken":             "A boat took room at a place",
	"intake.berth-left":              "A boat gave up its room at a place",
	"valuation.sale-seen":            "A sale was marked as written down",
	"matching.household-asked":       "A household was marked as having asked",
	"matching.request-tied":          "A request was tied to an offer",
	"matching.request-freed":         "A request was freed of an offer",
	"treasury.paper-noted":           "A paper was noted for the boat",
	"treasury.volunteer-paper-noted": "A paper was noted for a member's costs",
	"treasury.volunteer-cost-noted":  "An entry was noted as a member's cost",
	"treasury.paper-lodged":          "A paper was lodged, to be checked by whoever holds it",
}

func sumIntake(body message.Body) string {
	switch m := body.(type) {
	case message.BoatLogged:
		return fmt.Sprintf("Logged as offered: %s, %s, as a %s", m.Name, m.Facts.Type.WithArticle(), m.Taking)
	case message.FactsCorrected:
		return "Facts put right: " + m.Why
	case message.LookOverBegun:
		return "A look-over began"
	case message.DefectFound:
		return "Found: " + findingWords(m)
	case message.DefectWithdrawn:
		return "A finding was withdrawn: " + m.Why
	case message.PointsAnswered:
		return count(len(m.Answers), "point of the guide was", "points of the guide were") + " answered"
	case message.LookOverFinished:
		return fmt.Sprintf("A look-over was finished: %s, condition %d of 5", count(m.Findings, "finding", "findings"), m.Grade)
	case message.FindingsMatched:
		return count(len(m.Pairs), "finding was", "findings were") + " confirmed to be seen by two people"
	case message.QuarantineSet:
		return fmt.Sprintf("To be kept dry until %s (last water: %s)", m.Until, m.LastWater)
	}
	return ""
}

func sumDecision(body message.Body) string {
	switch m := body.(type) {
	case message.PriceOffered:
		return "The club named a price: " + m.Price.String()
	case message.BoatAccepted:
		if m.Price.IsZero() {
			return "Accepted"
		}
		return "Accepted for " + m.Price.String()
	case message.BoatDeclined:
		return "Declined: " + m.Reason
	case message.AgreementMade:
		return "Giver and club told each other what is known of the boat"
	case message.BoatHeld:
		return fmt.Sprintf("The decision was put off until %s: %s", m.LookAgain, m.Why)
	case message.BoatReceived:
		return fmt.Sprintf("Received: in the club's hands on %s, transfer signed on %s", m.Possession, m.Signed)
	}
	return ""
}

func sumRepair(body message.Body) string {
	switch m := body.(type) {
	case message.WorkPlanned:
		text := fmt.Sprintf("Work planned: %s, about %s", m.Method, hours(m.Minutes))
		if m.Words != "" {
			text += ": " + m.Words
		}
		return text
	case message.PartBooked:
		return fmt.Sprintf("Booked: %s, %s, paid by %s", m.Words, m.Cost, payerWords(m.PaidBy))
	case message.PartReversed:
		return fmt.Sprintf("A booking of %s was taken back: %s", m.Cost, m.Why)
	case message.HoursBooked:
		return fmt.Sprintf("%s worked: %s", capital(hours(m.Minutes)), m.Doing)
	case message.HoursReversed:
		return fmt.Sprintf("A booking of %s was taken back: %s", hours(m.Minutes), m.Why)
	case message.WorkFinished:
		return "Work finished: " + m.Words
	case message.FindingReopened:
		return "A test showed that a finding is not mended"
	}
	return ""
}

func sumTests(body message.Body) string {
	switch m := body.(type) {
	case message.TestRecorded:
		return fmt.Sprintf("%s test %s: %s", capital(m.What), passedWords(m.Passed), m.Reading)
	case message.BoatReady:
		return fmt.Sprintf("Declared ready, condition %d of 5", m.Grade)
	case message.BoatRetired:
		return "Retired: " + m.Reason
	}
	return ""
}

func sumValuation(body message.Body) string {
	switch m := body.(type) {
	case message.BoatValued:
		return fmt.Sprintf("Valued for %s (%s): %s", m.On, m.Purpose, worthWords(m.AsItLies))
	case message.CeilingSet:
		if m.Status != "ok" {
			return "Offer ceiling computed: do not buy"
		}
		return "Offer ceiling computed: " + m.Ceiling.String()
	case message.ComparableRecorded:
		return fmt.Sprintf("A price of another boat was recorded: %s, %s", m.Type, m.Price)
	case message.ComparableRefused:
		return "A price of another boat was taken out of use: " + m.Why
	}
	return ""
}

func sumShop(body message.Body) string {
	switch m := body.(type) {
	case message.AnswerNoted:
		text := "The seller " + m.Answer
		if !m.Price.IsZero() {
			text += ": " + m.Price.String()
		}
		return text
	case message.RepairProposed:
		return fmt.Sprintf("Could be mended: %s, about %s and %s", m.What, hours(m.Minutes), m.Cash)
	case message.RepairDropped:
		return "A proposed repair was dropped: " + m.Why
	case message.PlanMade:
		return fmt.Sprintf("A plan was made for %s and %s: %s", hours(m.Minutes), m.Cash, count(len(m.Chosen), "repair", "repairs"))
	case message.ModelChanged:
		if m.Before == "" {
			return "The way of valuing was written down, as version " + m.Model
		}
		return fmt.Sprintf("The way of valuing changed from version %s to %s", m.Before, m.Model)
	}
	return ""
}

func sumRequests(body message.Body) string {
	switch m := body.(type) {
	case message.RequestMade:
		return "A household asked for " + count(m.Boats, "boat", "boats")
	case message.RequestChanged:
		return "A household changed its wish"
	case message.TierSet:
		return fmt.Sprintf("A request was placed in tier %d", m.Tier)
	case message.RequestEnded:
		return "A request ended: " + m.How
	case message.OfferMade:
		words := "Offered to a household until " + m.Until.UTC().Format("2006-01-02")
		if m.With != "" {
			words += ", together with another boat"
		}
		return words
	case message.OfferAnswered:
		return "The offer was " + m.Answer
	case message.PromiseEnded:
		return "The household that accepted does not get it: " + m.Why
	case message.BoatHandedOver:
		return fmt.Sprintf("Handed over on %s", m.On)
	case message.FetchingAgreed:
		return fmt.Sprintf("It changes hands on %s at %s: %s", m.On, m.At, m.How)
	case message.FollowUpNoted:
		return fmt.Sprintf("Asked after %d days how it goes: %s", m.Days, m.Fares)
	case message.BoatReturned:
		return fmt.Sprintf("With its household no more since %s: %s", m.On, m.Where)
	case message.UseStopped:
		return "The household was told to use it no more: " + m.Why
	case message.IncidentReported:
		return fmt.Sprintf("An incident of %s was reported: %s", m.On, m.Harm)
	case message.AppealMade:
		return "An applicant asked a second member to look again"
	case message.AppealDecided:
		if m.Upheld {
			return "An appeal was upheld: " + m.Why
		}
		return "An appeal was not upheld: " + m.Why
	case message.BoatKeptBack:
		return "Kept back from rounds and hand-overs: " + m.Why
	case message.PairRuled:
		return map[string]string{message.RuledIn: "A pair was ruled in: ", message.RuledOut: "A pair was ruled out: ", message.RuledNot: "A ruling was taken back: "}[m.How] + m.Why
	case message.ReleaseSet:
		return "Release text put in, version " + m.Version + ", from " + m.From.String()
	case message.BoatLetOut:
		return "May go out again: " + m.Why
	}
	return ""
}

func sumRounds(body message.Body) string {
	switch m := body.(type) {
	case message.SecretCommitted:
		return "A secret was put into the lottery of a round"
	case message.OffersSent:
		return "Offers of a round were sent: " + count(len(m.Offers), "offer", "offers")
	case message.RoundOpened:
		return fmt.Sprintf("A round opened with %s and %s", count(len(m.Boats), "boat", "boats"), count(len(m.Requests), "request", "requests"))
	case message.RoundSolved:
		return "A round was solved: " + count(len(m.Pairs), "pair", "pairs")
	case message.RoundApproved:
		return "A round was approved by a second member"
	case message.RoundClosed:
		return "A round was closed: " + m.Why
	}
	return ""
}

func sumTreasury(body message.Body) string {
	switch m := body.(type) {
	case message.EntryPosted:
		return "Entered in the cost book: " + m.Words
	case message.BoatSold:
		return fmt.Sprintf("Sold on %s for %s", m.On, m.Gross)
	case message.SaleTakenBack:
		return fmt.Sprintf("Brought back by its buyer on %s, who got %s back: %s", m.On, m.Refund, m.Words)
	case message.BuyerRefunded:
		return fmt.Sprintf("The buyer got %s back on %s: %s", m.Refund, m.On, m.Words)
	case message.ClaimStated:
		return "The donor's claim was noted"
	case message.PaperIssued:
		return fmt.Sprintf("Paper %s issued", m.Serial)
	case message.PaperCancelled:
		return fmt.Sprintf("Paper %s cancelled: %s", m.Serial, m.Why)
	case message.PapersAsked:
		return fmt.Sprintf("The papers for %s of %d were asked for in one go", count(len(m.Boats), "gift", "gifts"), m.Year)
	case message.PaperWithheld:
		return "No paper was issued for it among the others: " + m.Why
	case message.ExceptionStated:
		return fmt.Sprintf("A %s was attested for the donor's paper", m.Sort)
	case message.ExceptionWithdrawn:
		return fmt.Sprintf("The %s was withdrawn: %s", m.Sort, m.Why)
	case message.BenefitStated:
		return "What the donor got in return was noted: " + string(m.What)
	case message.AppraisalStated:
		return "An independent appraisal was noted"
	case message.ProgrammeChosen:
		if m.Programme == "" {
			return "Put under none of the club's programmes"
		}
		return "Put under the programme: " + m.Programme
	case message.SimilarStated:
		return "The donor's claim for similar items was noted"
	case message.DonorNumberStated:
		return "The donor's taxpayer number was noted"
	case message.CopyAOpened:
		return "Copy A of paper " + m.Serial + " was opened"
	case message.PaperRead:
		return "Paper " + m.Serial + " was shown to somebody"
	case message.PaperPrepared:
		return "A paper was prepared, and waits for its second signature"
	case message.PreparationWithdrawn:
		return "A prepared paper is not to be issued: " + m.Why
	case message.MandateGiven:
		return "A member was appointed to sign papers from " + m.From.String()
	case message.MandateEnded:
		return "An appointment to sign papers ends on " + m.To.String()
	case message.BoatCounted:
		return fmt.Sprintf("Counted on %s: %s", m.On, m.Found)
	case message.DeadlinesNear:
		return "Treasurers were to be told that something about papers falls due on " + m.First.String()
	case message.BankRowRead:
		return "A row of the bank's list was read"
	case message.BankRowMatched:
		return "A row of the bank's list was found in the books"
	case message.BankRowSetAside:
		return "A row of the bank's list was set aside: " + m.Why
	case message.BankRowFreed:
		return "What was said of a row of the bank's list was taken back"
	case message.PeriodClosed:
		return "The books were closed up to " + m.Upto.String()
	}
	return ""
}

func sumVolunteers(body message.Body) string {
	switch m := body.(type) {
	case message.VolunteerCostStated:
		return fmt.Sprintf("A member laid out %s: %s", m.Amount, m.Bought)
	case message.VolunteerCostPaidBack:
		return fmt.Sprintf("A member was paid back %s on %s", m.Amount, m.On)
	case message.VolunteerCostGiven:
		return fmt.Sprintf("A member gave the %s that the club owed them, on %s", m.Amount, m.On)
	case message.VolunteerCostWithdrawn:
		return "What a member laid out was written down wrong: " + m.Why
	}
	return ""
}

func sumPeople(body message.Body) string {
	switch m := body.(type) {
	case message.PersonRegistered:
		return fmt.Sprintf("A %s came into the book", m.Sort)
	case message.PersonChanged:
		return "A person's details were corrected"
	case message.RoleGiven:
		return fmt.Sprintf("A member was made %s", m.Role)
	case message.RoleTaken:
		return fmt.Sprintf("A member is no longer %s", m.Role)
	case message.GuardianNamed:
		return "A guardian was named"
	case message.PasskeyAdded:
		return "A member added a passkey"
	case message.PasskeyRemoved:
		return "A passkey was removed"
	case message.LinkGiven:
		return "A private link was made"
	case message.LinkEnded:
		return "A private link was ended"
	case message.LetterSettled:
		if m.Again {
			return "A letter that may not have left is sent once more"
		}
		return "A letter that may not have left is left as it is"
	case message.SkipAllowed:
		return fmt.Sprintf("The %s room was allowed to go on without event %d (%s): %s", m.Room, m.Position, m.Part, m.Why)
	case message.SettingChanged:
		return fmt.Sprintf("The setting %s was changed", m.Name)
	}
	return ""
}

func sumConsent(body message.Body) string {
	switch m := body.(type) {
	case message.ConsentGiven:
		return "A person agreed to the text " + m.Text
	case message.ConsentWithdrawn:
		return "A person took back the agreement to the text " + m.Text
	case message.DoublesJudged:
		if m.Same {
			return "Two entries were judged to be one person"
		}
		return "Two entries were judged to be two persons"
	case message.PersonErased:
		return "A person's data was erased"
	}
	return ""
}

// findingWords says what was found, and where: "crack, 4 cm, through: hull,
// bow, port, outside".
func findingWords(d message.DefectFound) string {
	text := string(d.Defect)
	if d.LengthMM > 0 {
		text += ", " + withUnit(int64(d.LengthMM), centimetres)
	}
	if d.Through {
		text += ", through the wall"
	}
	return text + ": " + placeWords(d.Place)
}

func placeWords(p message.Place) string {
	return fmt.Sprintf("%s, %s, %s, %s", p.Part, p.Zone, p.Side, p.Face)
}

func payerWords(p message.Payer) string {
	switch p {
	case message.ClubPays:
		return "the club"
	case message.DonorPays:
		return "the donor"
	}
	return "the member's " + string(p)
}

func passedWords(passed bool) string {
	if passed {
		return "passed"
	}
	return "failed"
}

func worthWords(w message.Worth) string {
	if w.Status == "refused" {
		return "nothing can be said"
	}
	return w.Value.String()
}

// count writes a number with its noun.
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
