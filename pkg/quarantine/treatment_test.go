package quarantine

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Whether a treatment reaches a published minimum. The rows are those of the
// studies: Comeau and others 2011 (spray, quagga: 60 °C 5 s, 54 °C 10 s, 50 °C
// 20 s, 40 °C 40 s), Beyer and others 2011 (soak, 43 °C five minutes), Anderson
// and others 2015 (soak, 45 °C fifteen minutes), and the third edition of the
// uniform protocols (hull 140 °F 10 s under pressure, inside 120 °F 130 s).
func TestWhichMinimumsATreatmentMeets(t *testing.T) {
	for name, row := range map[string]struct {
		by              Medium
		tenths, seconds int
		met             string // words of the sources that it meets, in order
	}{
		"60 °C for 5 s, sprayed":              {Spray, 600, 5, "Comeau"},
		"60 °C for 4 s":                       {Spray, 600, 4, ""},
		"54 °C for 5 s needs 10":              {Spray, 540, 5, ""},
		"54 °C for 10 s":                      {Spray, 540, 10, "Comeau"},
		"50 °C for 20 s":                      {Spray, 500, 20, "Comeau"},
		"40 °C for 40 s":                      {Spray, 400, 40, "Comeau"},
		"39.9 °C for 40 s":                    {Spray, 399, 40, ""},
		"60 °C for 10 s, sprayed":             {Spray, 600, 10, "Comeau Comeau Morse"},
		"140 °F for 10 s under pressure":      {PressureSpray, 600, 10, "Comeau Comeau Morse Uniform"},
		"43 °C for five minutes, soaked":      {Soak, 430, 300, "Beyer"},
		"43 °C for less":                      {Soak, 430, 299, ""},
		"45 °C for fifteen minutes":           {Soak, 450, 900, "Beyer Anderson"},
		"120 °F for 130 s inside":             {Flush, 489, 130, "Uniform"},
		"120 °F for 130 s onto a hull":        {PressureSpray, 489, 130, "Comeau"},
		"a soak is no spray":                  {Soak, 600, 10, ""},
		"a medium that nobody has written of": {"bleach", 900, 9000, ""},
	} {
		var met []string
		for _, m := range Met(row.by, row.tenths, row.seconds) {
			met = append(met, strings.Fields(strings.ReplaceAll(m.Source, ",", " "))[0])
		}
		assert.Equal(t, row.met, strings.Join(met, " "), name)
	}
}

func TestEveryRuleAndMinimumNamesItsSource(t *testing.T) {
	for _, m := range Minimums {
		assert.NotEmpty(t, m.Source)
		assert.NotEmpty(t, m.Against)
	}
	for _, r := range Rules {
		assert.NotEmpty(t, r.Source, r.ID)
		assert.Equal(t, r.Source, Source(r.ID))
	}
	assert.Empty(t, Source("guess"))
}
