package web

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

func TestAFormFillsACommand(t *testing.T) {
	typed := url.Values{
		"boat": {"b1"}, "name": {"  Heron "}, "asked": {"120,50"}, "giver": {"g1"},
		"facts.type": {"canoe"}, "facts.length_mm": {"4,88"}, "facts.mass_g": {"31.5 kg"}, "facts.seats": {"2"},
		"facts.last_afloat": {"2025-09-30"}, "facts.features": {"wide cockpit", "high seat back"},
		"new_giver.name": {"Odo Reed"}, "key": {"k"},
	}
	var got message.LogBoat
	require.NoError(t, bind(typed, &got, "USD", nil))
	want := message.LogBoat{
		Boat: "b1", Name: "Heron", Giver: "g1", Asked: money.Of(12050, "USD"), NewGiver: &message.PersonDetails{Name: "Odo Reed"},
		Facts: message.BoatFacts{
			Type: boat.Canoe, LengthMM: 4880, MassG: 31500, Seats: 2, LastAfloat: clock.MustDate("2025-09-30"),
			Features: []boat.Feature{"wide cockpit", "high seat back"},
		},
	}
	assert.Equal(t, want, got)

	again, err := spread(got, nil)
	require.NoError(t, err)
	var twice message.LogBoat
	require.NoError(t, bind(again, &twice, "USD", nil))
	assert.Equal(t, want, twice, "what a form shows reads back as the same")
}

func TestWhatAFormDoesNotSayStaysOut(t *testing.T) {
	var got message.LogBoat
	require.NoError(t, bind(url.Values{"name": {"Heron"}, "new_giver.name": {"  "}}, &got, "USD", nil))
	assert.Nil(t, got.NewGiver, "a person of whom nothing is said is nobody")
	assert.Equal(t, money.Amount{}, got.Asked)
}

func TestRowsOfAList(t *testing.T) {
	var got message.MakeRequest
	typed := url.Values{
		"wish.adults[0].mass_g": {"70"}, "wish.adults[1].mass_g": {""}, "wish.adults[2].years": {"41"}, "wish.adults[3].years": {" "},
		"wish.animals_g[0]": {"12.5"}, "wish.types": {"canoe", ""}, "wish.has_cart": {"yes"},
	}
	require.NoError(t, bind(typed, &got, "USD", nil))
	assert.Equal(t, []message.Paddler{{MassG: 70000}, {}, {Years: 41}}, got.Wish.Adults, "empty rows at the end are dropped, those between stay")
	assert.Equal(t, []int{12500}, got.Wish.AnimalsG)
	assert.Equal(t, []boat.Type{boat.Canoe}, got.Wish.Types)
	assert.True(t, got.Wish.HasCart)
}

func TestAnEmbeddedCommandIsFlat(t *testing.T) {
	var got message.RecordComparable
	require.NoError(t, bind(url.Values{"comparable": {"c1"}, "price": {"300"}, "arms_length": {"yes"}}, &got, "USD", nil))
	assert.Equal(t, message.Comparable{Comparable: "c1", Price: money.Of(30000, "USD"), ArmsLength: true}, got.Comparable)
}

func TestEverythingThatCannotBeReadIsTold(t *testing.T) {
	var got message.LogBoat
	err := bind(url.Values{"asked": {"1,200.00"}, "facts.seats": {"1.5"}, "facts.length_mm": {"long"}, "facts.last_afloat": {"31/12/2025"}}, &got, "USD", nil)
	require.True(t, fault.Is(err, fault.Invalid))
	var fields []string
	for _, p := range problemsOf(fault.Of(err), err) {
		fields = append(fields, p.Field)
	}
	assert.ElementsMatch(t, []string{"asked", "facts.seats", "facts.length_mm", "facts.last_afloat"}, fields)
}

// The metric prefixes are those of the SI brochure, 9th edition, table 7: milli
// is a thousandth, kilo a thousand, centi a hundredth.
func TestMeasures(t *testing.T) {
	for name, row := range map[string]struct {
		text string
		unit unit
		want int64
		bad  bool
	}{
		"metres":                      {"4.5", metres, 4500, false},
		"a comma":                     {"4,5", metres, 4500, false},
		"whole metres":                {"5", metres, 5000, false},
		"the unit behind":             {"5 m", metres, 5000, false},
		"millimetres":                 {"4.521", metres, 4521, false},
		"zeros behind":                {"4.5000", metres, 4500, false},
		"less than a millimetre":      {"4.5214", metres, 0, true},
		"kilograms":                   {"0.35", kilograms, 350, false},
		"centimetres":                 {"12.5", centimetres, 125, false},
		"a whole number":              {"12", ones, 12, false},
		"a fraction of a whole":       {"12.5", ones, 0, true},
		"negative":                    {"-2", ones, -2, false},
		"nothing":                     {"", metres, 0, false},
		"a word":                      {"long", metres, 0, true},
		"only a point":                {".", metres, 0, true},
		"two points":                  {"1.2.3", metres, 0, true},
		"a number beyond every boat":  {"99999999999999999999", metres, 0, true},
		"a number with a power of te": {"1e3", metres, 0, true},
	} {
		got, err := parseMeasure(row.text, row.unit)
		assert.Equal(t, row.bad, err != nil, "%s: %v", name, err)
		assert.Equal(t, row.want, got, name)
		if err == nil {
			back, err := parseMeasure(measure(got, row.unit), row.unit)
			assert.NoError(t, err, name)
			assert.Equal(t, got, back, "%s, written and read", name)
		}
	}
}

func TestASentenceBeginsWithACapital(t *testing.T) {
	for text, told := range map[string]string{
		"this link is too old": "This link is too old", "élan": "Élan", "“Name” is needed": "“Name” is needed", "": "",
	} {
		assert.Equal(t, told, capital(text))
	}
}

func TestAWaterInOtherWordsStaysAChoice(t *testing.T) {
	assert.Equal(t, waterOptions, waterChoices("large lake"))
	assert.Equal(t, waterOptions, waterChoices(""))
	assert.Equal(t, append(slices.Clone(waterOptions), Option{"sheltered lake", "sheltered lake"}), waterChoices("sheltered lake"))
}

func TestUnitsGoByTheName(t *testing.T) {
	own := units{"length_mm": centimetres}
	assert.Equal(t, metres, own.of("facts.length_mm"))
	assert.Equal(t, centimetres, own.of("length_mm"))
	assert.Equal(t, kilograms, own.of("wish.animals_g[3]"))
	assert.Equal(t, litres, own.of("water_ml"))
	assert.Equal(t, ones, own.of("minutes"))
}

func TestOnlyTheFormThatWasSentKeepsWhatWasTyped(t *testing.T) {
	v := &visit{r: httptest.NewRequest(http.MethodPost, "/one", nil), typed: url.Values{"why": {"typed"}, "key": {"k"}, "id": {"i"}}}
	section := Section{Fields: []Field{area("why", "Why").Starts("at first"), fresh("id")}}
	sent, other := v.form("one", "/one", "Send", nil, section), v.form("two", "/two", "Send", nil, section)
	assert.Equal(t, "typed", sent.Sections[0].Fields[0].Typed())
	assert.Equal(t, []pair{{"key", "k", true}, {"id", "i", true}}, sent.Hidden, "so that sending it again is the same intent")
	assert.Equal(t, "at first", other.Sections[0].Fields[0].Typed())
	assert.NotEqual(t, "k", other.Hidden[0].Value)
}

func TestAChoiceThatNeedNotBeMadeCanBeTakenBack(t *testing.T) {
	options := words([]string{"a", "b"})
	free, needed := one("x", "X", options), one("x", "X", options).Needed()
	free.dress(nil, nil)
	needed.dress(nil, nil)
	assert.Equal(t, Option{"", "not stated"}, free.Options[2])
	assert.True(t, free.Chosen(""))
	assert.Len(t, needed.Options, 2)
	free.dress(url.Values{"x": {"b"}}, nil)
	assert.True(t, free.Chosen("b") && !free.Chosen(""))
	assert.Len(t, options, 2, "the list that was given stays as it was")
}
