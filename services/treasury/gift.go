package treasury

import (
	"errors"
	"strings"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/taxpaper"
)

// gift is what is known of a boat's gift when its paper is decided.
type gift struct {
	record
	sold      *message.BoatSold
	claim     *message.ClaimStated
	excepted  map[message.Exception]message.ExceptionStated
	worth     *worth // nil: not known for the day of the gift
	benefit   *message.BenefitStated
	appraised *appraised
	similar   *message.SimilarStated
	// certified is the box that a standing paper certifies: 4a, 5a, 5b, or none.
	certified string
	// stated is the sale that a standing paper states; nil where none does.
	stated *statedSale
	final  bool
}

// asked gives the same to the rules. Improvement, use and placement are as a member
// attests them: whether one is significant is not judged here. Who appraised the gift
// is no matter for the rules, and is not told to them.
func (g gift) asked(country string, on clock.Date) taxpaper.Gift {
	asked := taxpaper.Gift{
		Country: country, Date: g.received, What: taxpaper.Boat, Paid: g.price.Minor, Acknowledged: on, Final: g.final,
		Benefit: returned(g.benefit), Certified: g.certified,
	}
	if g.appraised != nil {
		asked.Appraisal = &taxpaper.Appraisal{Value: g.appraised.value.Minor}
	}
	if g.similar != nil {
		asked.SimilarThisYear = g.similar.Amount.Minor
	}
	if g.worth != nil {
		asked.FairValue = &g.worth.amount.Minor
	}
	if g.claim != nil {
		asked.Claims = &g.claim.Claim.Minor
		if !g.claim.Acquired.IsZero() {
			asked.Acquired, asked.AcquiredToGive = g.claim.Acquired, g.claim.ToGive
		}
		if !g.claim.Cost.IsZero() { // nothing is taken for not stated
			asked.Cost = &g.claim.Cost.Minor
		}
	}
	if e, stated := g.excepted[message.Improved]; stated {
		asked.Improvement = improvement(e.Work, message.ClubPays, true)
	}
	if e, stated := g.excepted[message.Used]; stated {
		asked.Use = &taxpaper.Use{Description: e.Use, From: e.From, To: e.To, Regular: true, SignificantAttestedBy: attester(e)}
	}
	if e, stated := g.excepted[message.Placed]; stated {
		asked.Needy = &taxpaper.Needy{AttestedBy: attester(e), TransportNeed: true, Price: e.Price.Minor}
	}
	if g.sold != nil {
		asked.Sold = &taxpaper.Sale{Date: g.sold.On, Gross: g.sold.Gross.Minor, ArmsLength: g.sold.ArmsLength, Auction: g.sold.Auction}
	}
	return asked
}

// oneCurrency refuses amounts that the country's rules cannot be held against:
// its thresholds are in its own currency, and nothing is converted.
func (g gift) oneCurrency(country string) error {
	want := taxpaper.Currency(country)
	amounts := []money.Amount{g.price}
	if g.worth != nil {
		amounts = append(amounts, g.worth.amount)
	}
	if g.claim != nil {
		amounts = append(amounts, g.claim.Claim, g.claim.Cost)
	}
	if g.sold != nil {
		amounts = append(amounts, g.sold.Gross)
	}
	if g.benefit != nil {
		amounts = append(amounts, g.benefit.Value, g.benefit.Cost)
	}
	if g.appraised != nil {
		amounts = append(amounts, g.appraised.value)
	}
	if g.similar != nil {
		amounts = append(amounts, g.similar.Amount)
	}
	amounts = append(amounts, g.excepted[message.Placed].Price)
	for _, a := range amounts {
		if !a.IsZero() && a.Currency != want {
			return desk.Conflict("boat", "papers for %s are reckoned in %s; %s cannot be converted here", country, want, a)
		}
	}
	return nil
}

// ruled asks the rules about a gift whose paper is given on a day; zero: in time.
func (g gift) ruled(country string, on clock.Date) (taxpaper.Letter, error) {
	if err := g.oneCurrency(country); err != nil {
		return taxpaper.Letter{}, err
	}
	letter, err := taxpaper.Decide(g.asked(country, on))
	for _, p := range letter.Papers {
		if _, stands := p.Boxes[appraiserBox]; stands {
			p.Boxes[appraiserBox] = true // a decision stands in clear in the book; the name is sealed with the paper
		}
	}
	var misfit *taxpaper.Misfit
	if errors.As(err, &misfit) {
		return letter, desk.Conflict("boat", "the facts contradict each other: %s %s", misfit.Field, misfit.Reason)
	}
	return letter, err
}

// decide asks the rules which paper the gift gets.
func (g gift) decide(c club, on clock.Date) (taxpaper.Letter, error) {
	letter, err := g.ruled(c.country, on)
	if err != nil {
		return letter, err
	}
	if !c.qualified {
		return thanksOnly(letter), nil
	}
	if c.country == taxpaper.CA {
		if err := g.valuedAsAppraised(); err != nil {
			return letter, err
		}
	}
	if len(letter.Papers) == 0 {
		return letter, desk.Conflict("boat", "no paper can be given yet: %s", whyNot(letter))
	}
	return letter, nil
}

// valuedAsAppraised refuses a receipt that would name an appraiser for a value which they
// did not find.
func (g gift) valuedAsAppraised() error {
	if g.appraised == nil || g.worth == nil || g.appraised.value == g.worth.amount {
		return nil
	}
	return desk.Conflict("boat", "the appraiser found %s, and the boat is valued at %s for the day of the gift; a receipt names the appraiser of the value that it rests on (Income Tax Regulations s. 3501(1)(e.1)(iii)). Value the boat for that day as it was appraised, or take the appraisal back", g.appraised.value, g.worth.amount)
}

// thanksOnly is what remains of a letter when the club may give no receipt.
func thanksOnly(l taxpaper.Letter) taxpaper.Letter {
	why := "the club is not entered as an organisation to which gifts are deductible"
	return taxpaper.Letter{
		Receipt: "no", WhyNot: &why, KeepUntil: l.KeepUntil,
		Papers:  []taxpaper.Paper{{Name: message.ThankYou, Copies: []string{}, Boxes: map[string]any{}}},
		Filings: []taxpaper.Filing{}, DonorForms: []string{}, Watch: []taxpaper.Watch{}, Warnings: []taxpaper.Warning{},
	}
}

// whyNot says why there is no paper, and what the rules warn of besides.
func whyNot(l taxpaper.Letter) string {
	var sentences []string
	if l.WhyNot != nil {
		sentences = append(sentences, *l.WhyNot+".")
	}
	for _, w := range l.Watch {
		sentences = append(sentences, "Record the sale, or issue the paper as final once the club has decided; the rules name "+w.Until.String()+" as the day for it.")
	}
	for _, w := range l.Warnings {
		sentences = append(sentences, w.Text)
	}
	return strings.Join(sentences, " ")
}

// dueOf gives the day by which the donor must have a paper; zero where no day is
// set.
func dueOf(p taxpaper.Paper) clock.Date {
	if p.Due == nil {
		return clock.Date{}
	}
	return *p.Due
}
