package web

import (
	"math"
	"slices"

	"refloat.example/pkg/appraise"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

func trackRoutes() []route {
	return []route{get("/comparables/track", pricesTo, (*visit).trackPage)}
}

// trackPage says how good the club's values were, told by later sales.
type trackPage struct {
	Frame
	Track   appraise.Track
	Bias    string
	Sales   []trackedSale
	Changes []Line // of the way of valuing
	Skipped int    // sales in another currency, or not at arm's length
}

// trackedSale is a boat that was valued and later sold.
type trackedSale struct {
	Boat   *Boat
	Value  message.BoatValued
	Paid   money.Amount
	Off    string
	Inside bool
}

// promised coverage of the ranges that values have.
const promisedCoverage = 0.9

func (v *visit) trackPage() error {
	boats, err := findAll[Boat](v.ctx, v.Site, `SELECT doc FROM web.boat WHERE state = $1 AND doc ? 'values' ORDER BY doc->'sale'->>'on', id`, Sold)
	if err != nil {
		return err
	}
	p := trackPage{Frame: v.frame("How good our values were")}
	p.judge(boats)
	if p.Changes, err = v.historyOfKind("valuation.model-changed"); err != nil {
		return err
	}
	return v.show("track", p)
}

// judge compares each sale with the value given before it. It is pure.
func (p *trackPage) judge(boats []Boat) {
	var outcomes []appraise.Outcome
	for i := range boats {
		b := &boats[i]
		value := b.valueBefore()
		if value == nil {
			continue
		}
		if !b.Sale.ArmsLength || b.Sale.Gross.Currency != value.AsItLies.Value.Currency || b.Sale.Gross.Minor <= 0 {
			p.Skipped++
			continue
		}
		worth := b.asSold(*value)
		outcomes = append(outcomes, appraise.Outcome{
			ValueMinor: worth.Value.Minor, SoldMinor: b.Sale.Gross.Minor, LowMinor: worth.Low.Minor, HighMinor: worth.High.Minor,
		})
		shown := *value
		shown.AsItLies = worth
		p.Sales = append(p.Sales, trackedSale{
			Boat: b, Value: shown, Paid: b.Sale.Gross, Off: signed(math.Log(float64(worth.Value.Minor) / float64(b.Sale.Gross.Minor))),
			Inside: worth.Low.Minor <= b.Sale.Gross.Minor && b.Sale.Gross.Minor <= worth.High.Minor,
		})
	}
	p.Track = appraise.Judge(outcomes, promisedCoverage)
	p.Bias = signed(math.Log1p(p.Track.BiasPercent / 100))
}

// valueBefore gives the newest value that says something and is for a day not after
// the sale, or nil. The room takes none that was given after it: by then the boat
// is gone.
func (b *Boat) valueBefore() *message.BoatValued {
	if b.Sale == nil {
		return nil
	}
	for i := range slices.Backward(b.Values) {
		v := &b.Values[i]
		if v.AsItLies.Status != message.RefusedWorth && !v.On.After(b.Sale.On) && v.AsItLies.Value.Minor > 0 {
			return v
		}
	}
	return nil
}

// asSold is the state in which the boat was sold: repaired once it was declared
// ready.
func (b *Boat) asSold(v message.BoatValued) message.Worth {
	if b.Ready != nil && v.Repaired.Status != message.RefusedWorth && v.Repaired.Value.Minor > 0 {
		return v.Repaired
	}
	return v.AsItLies
}

// historyOfKind gives the lines of one kind of event, the newest first.
func (v *visit) historyOfKind(kind message.Kind) ([]Line, error) {
	return v.historyWhere(v.ctx, `kind = $1 ORDER BY position DESC LIMIT 100`, kind)
}
