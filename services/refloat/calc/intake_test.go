package calc

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// fieldsOf gives the fields of an answer.
func fieldsOf(t require.TestingT, c Calculator, in string) map[string]any {
	_, out, _ := run(c, in)
	var fields map[string]any
	require.NoError(t, json.Unmarshal([]byte(out), &fields), out)
	return fields
}

// The numbers that the rules were worked through with, makers and serials
// invented: 33 CFR 181.23 and 181.25 (present form, in force from August 1984),
// 181.27 (prefix), the tables of the two old forms that decoder articles publish
// ("published pattern"), and for the decade and the warnings our own derivation.
func TestHullNumbersAsTheRulesHaveThem(t *testing.T) {
	for _, c := range []struct {
		number  string
		format  string // empty: invalid
		built   string
		model   float64 // 0: none
		notices string
		source  string
	}{
		{"XYZ12345L495", "current", "1994-12", 1995, "", "33 CFR 181.25"},
		{"XYZA0042H394", "current", "1993-08", 1994, "", "33 CFR 181.25"},
		{"XYZ00017C585", "current", "1985-03", 1985, "", "33 CFR 181.25"},
		{"XYZ00018K485", "current", "1984-11", 1985, "", "33 CFR 181.25"},
		{"XYZ00019H485", "current", "1984-08", 1985, "", "33 CFR 181.25, first month of the form"},
		{"XYZ00020A900", "current", "1999-01", 2000, "before-model-year", "33 CFR 181.3 (from memory): the model year begins on 1 June"},
		{"XYZ4K7TPI809", "current", "2008-09", 2009, "", "33 CFR 181.25: I is September"},
		{"XYZ90001F212", "current", "2012-06", 2012, "", "33 CFR 181.25"},
		{"US-XYZ12345A696", "current", "1996-01", 1996, "", "33 CFR 181.27"},
		{"XYZ123451272", "straight-year", "1972-12", 0, "", "published pattern"},
		{"XYZ123450784", "straight-year", "1984-07", 0, "", "published pattern, last month of the form"},
		{"XYZ12345M73E", "model-year", "1972-12", 1973, "", "published pattern"},
		{"XYZ12345M82H", "model-year", "1982-03", 1982, "", "published pattern"},
		{"XYZ12345M80K", "model-year", "1980-06", 1980, "", "published pattern"},
		{"XYZ12345M84D", "model-year", "1983-11", 1984, "", "published pattern"},
		{"XYZ12345M73A", "model-year", "1972-08", 1973, "before-1972-11", "33 CFR 181.23: after 1 November 1972"},
		{"XYZ123451072", "straight-year", "1972-10", 0, "before-1972-11", "33 CFR 181.23: after 1 November 1972"},
		{"XYZ123450884", "straight-year", "1984-08", 0, "after-1984-07", "the form ended on 31 July 1984"},
		{"XYZ12345H995", "current", "1989-08", 1995, "model-year-gap,before-model-year", "derived: six years between"},
		{"XYZ1234OH394", "", "", 0, "", "33 CFR 181.25(b): no O in the serial"},
		{"XYZI0042H394", "", "", 0, "", "33 CFR 181.25(b): no I in the serial"},
		{"XYZ00Q17C585", "", "", 0, "", "33 CFR 181.25(b): no Q in the serial"},
		{"XYZ12345M394", "", "", 0, "", "M and three digits are neither form"},
		{"XYZ12345Z395", "", "", 0, "", "Z is no month"},
		{"XYZ12345LA95", "", "", 0, "", "33 CFR 181.25: a digit for the year"},
		{"XYZ123451384", "", "", 0, "", "there is no month 13"},
		{"XYZ12345L49", "", "", 0, "", "eleven characters"},
		{"XYZ-12345L495", "", "", 0, "", "33 CFR 181.25: uninterrupted; the twelve characters are valid"},
		{"MIZ00042H515", "current", "2015-08", 2015, "after-model-year,state-issued", "published guides: Z in third place"},
	} {
		t.Run(c.number, func(t *testing.T) {
			got := fieldsOf(t, hinCalculator, `{"hin":"`+c.number+`"}`)
			assert.Equal(t, c.format != "", got["valid"], c.source)
			if c.format == "" {
				assert.NotNil(t, got["problem"], c.source)
				assert.Equal(t, strings.Contains(c.number, "-"), got["normalised"] != nil, "only separators leave a normal form")
				return
			}
			assert.Equal(t, c.format, got["format"], c.source)
			assert.Equal(t, c.built, got["built"], c.source)
			if c.model == 0 {
				assert.Nil(t, got["model_year"], c.source)
			} else {
				assert.Equal(t, c.model, got["model_year"], c.source)
			}
			var notices []string
			for _, n := range got["notices"].([]any) {
				notices = append(notices, n.(string))
			}
			assert.Equal(t, c.notices, strings.Join(notices, ","), c.source)
		})
	}
}

// The first row is printed in the vignette of the R package recapr, the third on
// a teaching page; the second has the counts that the documentation of the
// package fishmethods uses; the others are Chapman's formulas (1951) by hand.
func TestSecondLooksAsPublished(t *testing.T) {
	for _, c := range []struct {
		in                                   string
		distinct                             float64
		estimate, variance, se, missed, upTo float64 // upTo: relative
		shown                                bool
	}{
		{`{"first":100,"second":150,"both":20}`, 230, 725.2381, 16348.22, 127.8601, 495.24, 1e-5, true},
		{`{"first":948,"second":421,"both":167}`, 1202, 2382.798, 16655.5, 129.056, 1180.80, 1e-4, true},
		{`{"first":5,"second":4,"both":2}`, 7, 9, 5, 2.236, 2, 1e-3, false},
		{`{"first":12,"second":10,"both":8}`, 14, 14.8889, 1.4123, 1.1884, .8889, 1e-4, true},
		{`{"first":8,"second":11,"both":5}`, 14, 17, 7.7143, 2.7775, 3, 1e-4, true},
		{`{"first":7,"second":6,"both":0}`, 13, 55, 1176, 34.293, 42, 1e-4, false},
	} {
		got := fieldsOf(t, secondLookCalculator, c.in)
		assert.Equal(t, c.distinct, got["distinct"], c.in)
		for field, want := range map[string]float64{"estimate": c.estimate, "variance": c.variance, "se": c.se, "missed": c.missed} {
			assert.InEpsilon(t, want, got[field], c.upTo, "%s: %s", c.in, field)
		}
		assert.Equal(t, c.shown, got["shown"], c.in)
	}
	got := fieldsOf(t, secondLookCalculator, `{"first":8,"second":11,"both":5}`)
	assert.InDelta(t, 14.64, got["low"], 0.005, "log-normal interval, by hand")
	assert.InDelta(t, 28.02, got["high"], 0.005)
	got = fieldsOf(t, secondLookCalculator, `{"first":9,"second":9,"both":9}`)
	assert.Equal(t, []any{9.0, 0.0, 0.0}, []any{got["estimate"], got["variance"], got["missed"]})
}

// FuzzHin, FuzzSecondLook and FuzzDry: whatever a line holds, it is answered with
// one line of JSON, and a fault names its reason.
func FuzzHin(f *testing.F) {
	fuzzed(f, hinCalculator, `{"hin":"XYZ12345L495"}`, `{"hin":"gb-miz12345l495"}`, `{"hin":""}`, `{"hin":1}`, `{}`, `[`, "\xff")
}

// FuzzSecondLook is FuzzHin for the second look.
func FuzzSecondLook(f *testing.F) {
	fuzzed(f, secondLookCalculator, `{"first":17,"second":13,"both":9}`, `{"first":1e9,"second":1e9,"both":0}`, `{"first":-1,"second":0.5,"both":"x"}`, `{"first":9,"second":3,"both":4}`, `null`)
}

// FuzzDry is FuzzHin for the days of drying.
func FuzzDry(f *testing.F) {
	fuzzed(f, dryCalculator, `{"rule":"utah","out_of_water":"2026-08-20"}`, `{"rule":"days","out_of_water":"9999-12-31","days":4000000}`,
		`{"rule":"utah","out_of_water":"2026-12-20","frozen_hours":72}`, `{"rule":"days","days":-1}`, `{"rule":"utah","out_of_water":"2026-02-30"}`)
}

func fuzzed(f *testing.F, c Calculator, seeds ...string) {
	for _, seed := range seeds {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, line string) {
		line = strings.NewReplacer("\n", " ", "\r", " ").Replace(line)
		code, out, problems := run(c, line)
		if strings.TrimSpace(line) == "" {
			return
		}
		fields := fieldsOf(t, c, line)
		fault, failed := fields["error"].(map[string]any)
		require.Equal(t, failed, code == ExitBadInput, "%q: %s", line, problems)
		require.Equal(t, 1, strings.Count(out, "\n"))
		if failed {
			require.NotEmpty(t, fault["reason"])
		}
	})
}
