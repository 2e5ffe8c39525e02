package valuation

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"strconv"

	"refloat.example/pkg/appraise"
	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/settings"
)

// arithmetic is the version of the way in which values are worked out. It is
// raised with every change that could change a cent.
const arithmetic = 2

// rules are the club's settings that a value rests on: what stands of them in
// ModelChanged. Per cents are the club's opinions.
type rules struct {
	Club        money.Currency        `json:"currency"`
	Grade       int                   `json:"grade_percent"`
	Year        int                   `json:"year_percent"`
	Length      int                   `json:"length_percent"`
	Time        int                   `json:"time_percent"`
	Mended      int                   `json:"mended_percent"`
	Accessories int                   `json:"accessory_percent"`
	Materials   map[boat.Material]int `json:"material_percent,omitempty"`
	// Asking and Dealer are nil when such prices are not used.
	Asking *int `json:"asking_percent,omitempty"`
	Dealer *int `json:"dealer_percent,omitempty"`
	Days   int  `json:"days"`
}

func (s *service) rules(ctx context.Context) (r rules, err error) {
	if r.Club, err = s.Currency(ctx); err != nil {
		return r, err
	}
	for name, into := range map[string]*int{
		"grade-effect-percent": &r.Grade, "year-effect-percent": &r.Year, "length-effect-percent": &r.Length, "time-effect-percent": &r.Time,
		"mended-effect-percent": &r.Mended, "accessory-effect-percent": &r.Accessories, "comparable-days": &r.Days,
	} {
		if *into, err = s.SettingWhole(ctx, name); err != nil {
			return r, err
		}
	}
	for name, into := range map[string]**int{"asking-discount-percent": &r.Asking, "dealer-premium-percent": &r.Dealer} {
		text, err := s.Setting(ctx, name)
		if err != nil {
			return r, err
		}
		if n, err := strconv.Atoi(text); err == nil {
			*into = &n
		}
	}
	text, err := s.Setting(ctx, "material-effects")
	if err == nil {
		r.Materials, err = settings.Materials(text)
	}
	return r, err
}

// logOf turns a step of so many per cent into log points: 15 per cent is ln 1.15.
func logOf(percent int) float64 { return math.Log1p(float64(percent) / 100) }

// check refuses a setting under which there is no price left.
func (r rules) check() error {
	if r.Year >= 100 {
		return desk.Conflict("", "by the setting year-effect-percent a year takes the whole price; an administrator has to set it below 100")
	}
	return nil
}

// effects gives the club's opinion, in log points, of everything that can count.
// Materials are told against the boat's own.
func (r rules) effects(of boat.Material) map[string]float64 {
	all := map[string]float64{
		grade: logOf(r.Grade), age: logOf(-r.Year), length: logOf(r.Length), mended: logOf(-r.Mended), accessories: logOf(r.Accessories),
	}
	if r.Dealer != nil {
		all[dealer] = logOf(*r.Dealer)
	}
	for _, m := range boat.Materials {
		if m != of {
			all[materialName(m)] = logOf(r.Materials[m]) - logOf(r.Materials[of])
		}
	}
	return all
}

// asking gives the step from what is asked to what is paid; nil leaves asking
// prices out.
func (r rules) asking() *float64 {
	if r.Asking == nil {
		return nil
	}
	step := logOf(-*r.Asking)
	return &step
}

// signs: a better grade, an accessory and a dealer's hand never lower a price; a
// repair that was told never raises one, nor does age. A boat that has become a
// rarity is for somebody who knows it to value.
var signs = map[string]int{grade: 1, age: -1, mended: -1, accessories: 1, dealer: 1}

// model is what the stream of the way of valuing adds up to.
type model struct {
	name  string
	count int
	rules string
}

// Fold adds an event.
func (m *model) Fold(_ message.Event, body message.Body) {
	if e, ok := body.(message.ModelChanged); ok {
		m.name, m.rules = e.Model, e.Rules
		m.count++
	}
}

// useModel gives the name of the way of valuing, and says so when it is another one
// than that of the value before.
func (s *service) useModel(ctx context.Context, d *desk.Decision, r rules) (string, error) {
	m, at, err := desk.Load[model](ctx, s.Log, message.ValuationModel)
	if err != nil {
		return "", err
	}
	text, err := json.Marshal(struct {
		Arithmetic int             `json:"arithmetic"`
		Lambda     float64         `json:"ridge_lambda"`
		Coverage   float64         `json:"coverage"`
		Signs      map[string]int  `json:"effect_signs"`
		Method     appraise.Method `json:"method"`
		Settings   rules           `json:"settings"`
	}{arithmetic, ridgeLambda, coverage, signs, appraise.Auto, r})
	if err != nil {
		return "", err
	}
	d.Expect = append(d.Expect, at)
	if m.rules == string(text) {
		return m.name, nil
	}
	name := fmt.Sprintf("%d.%d", arithmetic, m.count+1)
	return name, d.Say(at.Stream, "", message.ModelChanged{Model: name, Rules: string(text), Before: m.name})
}
