package calc

import (
	"bytes"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/money"
)

// reading is one field of every kind, as an adapter would read them.
type reading struct {
	mass     float64
	count    int64
	water    string
	dry      bool
	out      clock.Date
	currency money.Currency
	ages     []float64
	places   []string
	prices   []int64
	city     string
}

func readAllKinds(o *Object) (reading, error) {
	r := reading{
		mass:     o.Float("mass", Positive),
		count:    o.Int("count", Within(0, 9)),
		water:    o.Text("water", "fresh", "sea"),
		dry:      o.Bool("dry"),
		out:      o.Date("out"),
		currency: o.Currency(),
		ages:     o.Floats("ages", NotNegative),
		places:   o.Texts("places"),
		city:     o.Object("club").Object("seat").Text("city"),
	}
	for _, c := range o.Objects("comparables") {
		r.prices = append(r.prices, c.Int("price_minor", NotNegative))
	}
	return r, o.Done()
}

const allKinds = `{"mass":2.5,"count":3,"water":"sea","dry":true,"out":"2028-02-29","currency":"CAD","ages":[41,12.99],
	"places":["bow","stern"],"comparables":[{"price_minor":1},{"price_minor":20000}],"club":{"seat":{"city":"Amberjay"}}}`

func TestEveryKindOfFieldIsRead(t *testing.T) {
	o, err := Parse([]byte(allKinds))
	require.NoError(t, err)
	got, err := readAllKinds(o)
	require.NoError(t, err)
	assert.Equal(t, reading{
		mass: 2.5, count: 3, water: "sea", dry: true, out: clock.MustDate("2028-02-29"), currency: "CAD",
		ages: []float64{41, 12.99}, places: []string{"bow", "stern"}, prices: []int64{1, 20000}, city: "Amberjay",
	}, got)
	assert.Equal(t, []string{"mass", "count", "water", "dry", "out", "currency", "ages", "places", "comparables", "club"}, o.Names())
}

func TestAFaultNamesItsField(t *testing.T) {
	for _, c := range []struct{ name, was, is, field, reason string }{
		{"missing", `"mass":2.5,`, ``, "mass", "missing"},
		{"null where a value must be", `"mass":2.5`, `"mass":null`, "mass", "must be a number"},
		{"text for a number", `"mass":2.5`, `"mass":"2.5"`, "mass", "must be a number"},
		{"the text NaN for a number", `"mass":2.5`, `"mass":"NaN"`, "mass", "must be a number"},
		{"outside a rule", `"mass":2.5`, `"mass":0`, "mass", "must be greater than 0"},
		{"NaN", `"mass":2.5`, `"mass":NaN`, "mass", "must be a finite number"},
		{"minus infinity", `"mass":2.5`, `"mass":-Infinity`, "mass", "must be a finite number"},
		{"larger than any float", `"mass":2.5`, `"mass":1e309`, "mass", "must be a finite number"},
		{"fraction for a whole number", `"count":3`, `"count":3.5`, "count", "must be a whole number"},
		{"above the range", `"count":3`, `"count":10`, "count", "must be from 0 to 9"},
		{"below the range", `"count":3`, `"count":-1`, "count", "must be from 0 to 9"},
		{"word not of the list", `"water":"sea"`, `"water":"Sea"`, "water", "must be one of fresh, sea"},
		{"number for a text", `"water":"sea"`, `"water":1`, "water", "must be a text"},
		{"number for true or false", `"dry":true`, `"dry":1`, "dry", "must be true or false"},
		{"a day that the calendar lacks", `2028-02-29`, `2027-02-29`, "out", "must be a date written YYYY-MM-DD"},
		{"a date written otherwise", `2028-02-29`, `29.2.2028`, "out", "must be a date written YYYY-MM-DD"},
		{"currency in small letters", `"CAD"`, `"cad"`, "currency", "must be an ISO 4217 code in capitals, such as USD"},
		{"number for a list", `[41,12.99]`, `41`, "ages", "must be a list"},
		{"text in a list of numbers", `[41,12.99]`, `[41,"12"]`, "ages[1]", "must be a number"},
		{"negative in a list", `[41,12.99]`, `[-1,12.99]`, "ages[0]", "must not be negative"},
		{"number in a list of texts", `["bow","stern"]`, `["bow",2]`, "places[1]", "must be a text"},
		{"number in a list of objects", `[{"price_minor":1},`, `[7,`, "comparables[0]", "must be an object"},
		{"fault inside a list", `{"price_minor":20000}`, `{"price_minor":-1}`, "comparables[1].price_minor", "must not be negative"},
		{"missing inside a list", `{"price_minor":20000}`, `{}`, "comparables[1].price_minor", "missing"},
		{"unknown inside a list", `{"price_minor":20000}`, `{"price_minor":1,"vat":2}`, "comparables[1].vat", "unknown field"},
		{"repeated inside a list", `{"price_minor":20000}`, `{"price_minor":1,"price_minor":1}`, "comparables[1].price_minor", "stands twice"},
		{"too large inside a list", `{"price_minor":20000}`, `{"price_minor":1e999}`, "comparables[1].price_minor", "must be a finite number"},
		{"fault two objects deep", `"Amberjay"`, `null`, "club.seat.city", "must be a text"},
		{"missing object", `"seat":{"city":"Amberjay"}`, ``, "club.seat", "missing"},
		{"text for an object", `{"city":"Amberjay"}`, `"Amberjay"`, "club.seat", "must be an object"},
		{"unknown two objects deep", `"Amberjay"`, `"Amberjay","lake":1`, "club.seat.lake", "unknown field"},
		{"unknown", `"mass":2.5`, `"mass":2.5,"Mass":2.5`, "Mass", "unknown field"},
		{"repeated", `"dry":true`, `"dry":true,"dry":true`, "dry", "stands twice"},
		{"repeated in another spelling", `"dry":true`, `"dry":true,"\u0064ry":true`, "dry", "stands twice"},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Contains(t, allKinds, c.was)
			text := bytes.Replace([]byte(allKinds), []byte(c.was), []byte(c.is), 1)
			o, err := Parse(text)
			if err == nil {
				_, err = readAllKinds(o)
			}
			assert.Equal(t, &BadInput{Field: c.field, Reason: c.reason}, err)
		})
	}
}

func TestMalformedJSONBlamesNoField(t *testing.T) {
	for name, text := range map[string]string{
		"nothing":             ``,
		"cut off":             `{"mass":2.5`,
		"NaN and broken":      `{"mass":NaN`,
		"Nan":                 `{"mass":Nan}`,
		"comma at the end":    `{"mass":2.5,}`,
		"leading zero":        `{"mass":02}`,
		"plus sign":           `{"mass":+2}`,
		"single quotes":       `{'mass':2}`,
		"comment":             `{"mass":2} // kg`,
		"two objects":         `{"mass":2} {"mass":3}`,
		"not an object":       `[{"mass":2}]`,
		"null":                `null`,
		"brackets crossed":    `{"ages":[1}]`,
		"not UTF-8":           "{\"ma\xffss\":2}",
		"repeated and broken": `{"mass":2,"mass":2`,
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Parse([]byte(text))
			require.Error(t, err)
			assert.Empty(t, badInput(err).Field)
		})
	}
}

func TestOptionalFieldsMayBeLeftOutOrNull(t *testing.T) {
	for _, text := range []string{`{}`, `{"x":null,"n":null,"text":null,"yes":null,"on":null,"currency":null}`} {
		o, err := Parse([]byte(text))
		require.NoError(t, err)
		assert.Equal(t, 1.5, o.FloatOr("x", 1.5, Positive))
		assert.Equal(t, int64(7), o.IntOr("n", 7))
		assert.Equal(t, "none", o.TextOr("text", "none", "none", "manual"))
		assert.True(t, o.BoolOr("yes", true))
		assert.True(t, o.DateOr("on").IsZero())
		assert.Equal(t, money.Currency("USD"), o.Currency())
		assert.Equal(t, text != `{}`, o.Stands("x"))
		assert.NoError(t, o.Done())
	}
}

func TestOptionalFieldsAreHeldToTheirRulesWhenTheyStand(t *testing.T) {
	for field, text := range map[string]string{"x": `{"x":-1}`, "n": `{"n":1.5}`, "text": `{"text":"some"}`, "yes": `{"yes":"y"}`, "on": `{"on":""}`} {
		o, err := Parse([]byte(text))
		require.NoError(t, err)
		o.FloatOr("x", 1, Positive)
		o.IntOr("n", 1)
		o.TextOr("text", "none", "none")
		o.BoolOr("yes", false)
		o.DateOr("on")
		require.Error(t, o.Done(), text)
		assert.Equal(t, field, badInput(o.Err()).Field)
	}
}

func TestWholeNumbers(t *testing.T) {
	for _, c := range []struct {
		text string
		want int64
		ok   bool
	}{
		{"3", 3, true},
		{"-0", 0, true},
		{"3.0", 3, true},
		{"3e2", 300, true},
		{"9223372036854775807", 9223372036854775807, true},
		{"9223372036854775808", 0, false},
		{"1e18", 0, false}, // beyond what a float counts one by one
		{"2.5", 0, false},
		{"1e-1", 0, false},
	} {
		o, err := Parse([]byte(`{"n":` + c.text + `}`))
		require.NoError(t, err)
		assert.Equal(t, c.want, o.Int("n"), c.text)
		assert.Equal(t, c.ok, o.Done() == nil, c.text)
	}
}

func TestTheFirstFaultIsKept(t *testing.T) {
	o, err := Parse([]byte(`{"b":"x","c":2}`))
	require.NoError(t, err)
	assert.Zero(t, o.Float("a"))
	assert.Zero(t, o.Float("b"))
	o.Fail("c", "later")
	o.Float("c")
	assert.Equal(t, &BadInput{Field: "a", Reason: "missing"}, o.Done())
	assert.EqualError(t, o.Err(), "a: missing")
}

// The contract of the command names an unknown field before a missing one.
func TestAMistypedNameIsBlamedRatherThanTheMissingOne(t *testing.T) {
	for _, c := range []struct{ name, was, is, field, reason string }{
		{"at the top", `"mass":2.5`, `"Mass":2.5`, "Mass", "unknown field"},
		{"the last field", `"club":{`, `"clubb":{`, "clubb", "unknown field"},
		{"the first of two", `"dry":true`, `"dri":true,"wet":false`, "dri", "unknown field"},
		{"inside a list", `{"price_minor":20000}`, `{"price":20000}`, "comparables[1].price", "unknown field"},
		{"two objects deep", `"city":"Amberjay"`, `"town":"Amberjay"`, "club.seat.town", "unknown field"},
		{"missing elsewhere", `"mass":2.5,"count":3`, `"count":3,"club2":{}`, "club2", "unknown field"},
		{"unknown in another object", `{"city":"Amberjay"}`, `{"city":"Amberjay","lake":1},"seats":1`, "club.seat.lake", "unknown field"},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Contains(t, allKinds, c.was)
			o, err := Parse(bytes.Replace([]byte(allKinds), []byte(c.was), []byte(c.is), 1))
			require.NoError(t, err)
			_, err = readAllKinds(o)
			assert.Equal(t, &BadInput{Field: c.field, Reason: c.reason}, err)
		})
	}
}

func TestAFaultOfAValueIsKeptBesideAnUnknownField(t *testing.T) {
	o, err := Parse([]byte(`{"b":"x","zzz":1}`))
	require.NoError(t, err)
	o.Float("b")
	o.Float("a")
	assert.Equal(t, &BadInput{Field: "b", Reason: "must be a number"}, o.Done())
}

// FuzzParse: whatever the bytes, an object is read exactly when they are one
// JSON object (the standard library is the judge), and a fault has a reason.
func FuzzParse(f *testing.F) {
	for _, seed := range []string{allKinds, `{}`, `{"a":1,"a":2}`, `{"a":[{"b":1e999}]}`, `[1]`, "{\"\xff\":1}", ``} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		o, err := Parse(raw)
		if err != nil {
			require.NotEmpty(t, badInput(err).Reason)
			return
		}
		var reference map[string]any
		dec := json.NewDecoder(bytes.NewReader(raw))
		dec.UseNumber()
		require.NoError(t, dec.Decode(&reference))
		require.Len(t, o.Names(), len(reference))
		for name := range reference {
			require.True(t, o.Stands(name))
			o.Float(name)
			o.Text(name)
		}
		_, _ = readAllKinds(o)
	})
}
