package desk_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/money"
)

func TestInput(t *testing.T) {
	today := clock.MustDate("2026-04-01")
	usd := func(minor int64) money.Amount { return money.Of(minor, "USD") }
	for name, row := range map[string]struct {
		good, bad error
	}{
		"the longest id":        {desk.GoodID("x", strings.Repeat("a", desk.MaxID)), desk.GoodID("x", strings.Repeat("a", desk.MaxID+1))},
		"a UUID":                {desk.GoodID("x", "0196f0c0-0000-7000-8000-000000000000"), desk.GoodID("x", "0196f0c0/7000")},
		"an id in ASCII":        {desk.GoodID("x", "a_1"), desk.GoodID("x", "é")},
		"an id at all":          {desk.GoodID("x", "a"), desk.GoodID("x", "")},
		"characters, not bytes": {desk.OneLine("x", "ééé", 3), desk.OneLine("x", "éééé", 3)},
		"one line":              {desk.OneLine("x", "", 3), desk.OneLine("x", "a\nb", 3)},
		"many lines":            {desk.NotLonger("x", "a\nb", 3), desk.NotLonger("x", "a\x00b", 3)},
		"words":                 {desk.Needed("x", "so", "say"), desk.Needed("x", " \t", "say")},
		"words not too many":    {desk.Needed("x", strings.Repeat("a", desk.MaxWords), "say"), desk.Needed("x", strings.Repeat("a", desk.MaxWords+1), "say")},
		"the least":             {desk.Within("x", 1, 1, 5), desk.Within("x", 0, 1, 5)},
		"the most":              {desk.Within("x", 5, 1, 5), desk.Within("x", 6, 1, 5)},
		"today":                 {desk.Past("x", today, today), desk.Past("x", today.AddDays(1), today)},
		"the first day":         {desk.Past("x", clock.MustDate("1950-01-01"), today), desk.Past("x", clock.MustDate("1949-12-31"), today)},
		"a day":                 {desk.Past("x", today, today), desk.Past("x", clock.Date{}, today)},
		"nothing to pay":        {desk.ClubMoney("x", money.Amount{}, "USD"), desk.ClubMoney("x", usd(-1), "USD")},
		"the club's currency":   {desk.ClubMoney("x", usd(1), "USD"), desk.ClubMoney("x", money.Of(1, "EUR"), "USD")},
		"the most money":        {desk.ClubMoney("x", usd(desk.MaxMinor), "USD"), desk.ClubMoney("x", usd(desk.MaxMinor+1), "USD")},
	} {
		assert.NoError(t, row.good, name)
		f := fault.Of(row.bad)
		if assert.NotNil(t, f, name) {
			assert.Equal(t, fault.Invalid, f.Kind, name)
			assert.Equal(t, "x", f.Field, name)
		}
	}
}

func TestALimitIsToldInTheUnitThatPeopleUse(t *testing.T) {
	for field, told := range map[string]string{
		"wish.roof_load_g":       "must be from 5 to 500 kg; leave it empty when it is not known",
		"facts.length_mm":        "must be from 5 to 500 m; leave it empty when it is not known",
		"water_ml":               "must be from 5 to 500 l; leave it empty when it is not known",
		"wish.animals_g[2]":      "must be from 5 to 500 kg; leave it empty when it is not known",
		"wish.children[0].years": "must be from 5000 to 500000; leave it empty when it is not known",
	} {
		assert.Equal(t, told, fault.Of(desk.WithinOrUnknown(field, 1, 5000, 500_000)).Text, field)
		assert.NoError(t, desk.WithinOrUnknown(field, 0, 5000, 500_000), field)
		assert.NoError(t, desk.WithinOrUnknown(field, 5000, 5000, 500_000), field)
		assert.NoError(t, desk.WithinOrUnknown(field, 500_000, 5000, 500_000), field)
	}
	assert.Equal(t, "must be from 0.5 to 20 m", fault.Of(desk.Within("wish.storage_mm", 20_001, 500, 20_000)).Text)
}

func TestFirst(t *testing.T) {
	one, two := errors.New("one"), errors.New("two")
	assert.NoError(t, desk.First(nil, nil))
	assert.Equal(t, one, desk.First(nil, one, two))
}
