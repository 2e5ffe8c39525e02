package hin

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Makers and serials are invented. The tails of the old formats are those of
// published decoder articles; the others are worked by hand from 33 CFR 181.25.
func TestValidNumbers(t *testing.T) {
	for _, c := range []struct {
		hin       string
		format    Format
		built     string
		modelYear int
		notices   []Notice
		source    string
	}{
		{"XYZ12345L495", Current, "1994-12", 1995, nil, "33 CFR 181.25"},
		{"XYZA0042H394", Current, "1993-08", 1994, nil, "33 CFR 181.25"},
		{"XYZ00017C585", Current, "1985-03", 1985, nil, "33 CFR 181.25"},
		{"XYZ00018K485", Current, "1984-11", 1985, nil, "33 CFR 181.25"},
		{"XYZ00019H485", Current, "1984-08", 1985, nil, "33 CFR 181.25: first month of the format"},
		{"XYZ00020A900", Current, "1999-01", 2000, []Notice{BeforeModelYear}, "33 CFR 181.3 (from memory)"},
		{"XYZ4K7TPI809", Current, "2008-09", 2009, nil, "33 CFR 181.25(b): I is barred from the serial alone"},
		{"XYZ90001F212", Current, "2012-06", 2012, nil, "33 CFR 181.25"},
		{"US-XYZ12345A696", Current, "1996-01", 1996, nil, "33 CFR 181.27"},
		{"USXYZ12345A696", Current, "1996-01", 1996, nil, "33 CFR 181.27, without the hyphen"},
		{"XYZ123451272", StraightYear, "1972-12", 0, nil, "published decoder articles"},
		{"XYZ123450784", StraightYear, "1984-07", 0, nil, "published decoder articles: last month"},
		{"XYZ12345M73E", ModelYear, "1972-12", 1973, nil, "published decoder articles"},
		{"XYZ12345M82H", ModelYear, "1982-03", 1982, nil, "published decoder articles"},
		{"XYZ12345M80K", ModelYear, "1980-06", 1980, nil, "published decoder articles"},
		{"XYZ12345M84D", ModelYear, "1983-11", 1984, nil, "published decoder articles"},
		{"XYZ12345M73A", ModelYear, "1972-08", 1973, []Notice{Before197211}, "33 CFR 181.23: after 1 November 1972"},
		{"XYZ123451072", StraightYear, "1972-10", 0, []Notice{Before197211}, "33 CFR 181.23: after 1 November 1972"},
		{"XYZ123451172", StraightYear, "1972-11", 0, nil, "33 CFR 181.23: first month"},
		{"XYZ123450884", StraightYear, "1984-08", 0, []Notice{After198407}, "the old formats ended 31 July 1984"},
		{"XYZ12345M85A", ModelYear, "1984-08", 1985, []Notice{After198407}, "the old formats ended 31 July 1984"},
		{"XYZ12345M84L", ModelYear, "1984-07", 1984, nil, "the old formats ended 31 July 1984"},
		{"XYZ123450171", StraightYear, "2071-01", 0, []Notice{After198407}, "years 72 to 99 are of the last century"},
		{"XYZ12345H995", Current, "1989-08", 1995, []Notice{ModelYearGap, BeforeModelYear}, "six years apart"},
		{"XYZ12345A486", Current, "1984-01", 1986, []Notice{ModelYearGap, BeforeFormat, BeforeModelYear}, "all of them, in order"},
		{"XYZ12345G485", Current, "1984-07", 1985, []Notice{BeforeFormat}, "a month before the format"},
		{"XYZ12345E485", Current, "1984-05", 1985, []Notice{BeforeFormat, BeforeModelYear}, "a month before the model year"},
		{"XYZ12345G515", Current, "2015-07", 2015, nil, "last month of the model year"},
		{"XYZ12345H515", Current, "2015-08", 2015, []Notice{AfterModelYear}, "a month after it"},
		{"XYZ12345F415", Current, "2014-06", 2015, nil, "first month of the model year"},
		{"XYZ12345A083", Current, "2080-01", 2083, []Notice{ModelYearGap, BeforeModelYear}, "model years 00 to 83 are of this century"},
		{"XYZ12345A484", Current, "1984-01", 1984, []Notice{BeforeFormat}, "84 to 99 are of the last"},
		{"MIZ00042H515", Current, "2015-08", 2015, []Notice{AfterModelYear, StateIssued}, "Z in position 3"},
		{"USZ00042H516", Current, "2015-08", 2016, []Notice{StateIssued}, "issued by the Coast Guard"},
		{"PRZ00042H516", Current, "2015-08", 2016, []Notice{StateIssued}, "a territory"},
		{"XYZ00042H516", Current, "2015-08", 2016, nil, "XY is no state"},
		{"123AB345L495", Current, "1994-12", 1995, nil, "the maker's code may hold digits"},
		{"IOQ12345L495", Current, "1994-12", 1995, nil, "I, O and Q are not barred from the maker's code"},
	} {
		t.Run(c.hin, func(t *testing.T) {
			n := Decode(c.hin)
			require.True(t, n.Valid(), c.source)
			assert.Equal(t, c.format, n.Format, c.source)
			assert.Equal(t, c.built, n.Built.String(), c.source)
			assert.Equal(t, c.modelYear, n.ModelYear, c.source)
			assert.Equal(t, c.notices, n.Notices, c.source)
			bare := c.hin[len(c.hin)-12:]
			assert.Equal(t, bare, n.Normalised)
			assert.Equal(t, bare[:3], n.Maker)
			assert.Equal(t, bare[3:8], n.Serial)
			assert.Equal(t, len(c.hin) > 12, n.Country == "US")
		})
	}
}

func TestInvalidNumbers(t *testing.T) {
	for _, c := range []struct {
		name, hin  string
		position   int
		normalised string
	}{
		{"letter O in the serial", "XYZ1234OH394", 8, ""},
		{"I begins the serial", "XYZI0042H394", 4, ""},
		{"Q in the serial", "XYZ00Q17C585", 6, ""},
		{"I in an old number's serial", "XYZ12I451272", 6, ""},
		{"O in a model-year number's serial", "XYZO2345M82H", 4, ""},
		{"M and three digits", "XYZ12345M394", 12, ""},
		{"Z is no month", "XYZ12345Z395", 9, ""},
		{"letter for the year", "XYZ12345LA95", 10, ""},
		{"letter in the model year", "XYZ12345L4X5", 11, ""},
		{"letter ends the model year", "XYZ12345L49X", 12, ""},
		{"month 13", "XYZ123451384", 9, ""},
		{"month 00", "XYZ123450084", 9, ""},
		{"month 13 before a letter", "XYZ12345138X", 9, ""},
		{"letter in the month", "XYZ123450X84", 10, ""},
		{"letter in a straight year", "XYZ12345128X", 12, ""},
		{"letter in an old model year", "XYZ12345M8XH", 11, ""},
		{"month letter M in the old format", "XYZ12345M82M", 12, ""},
		{"the leftmost of three", "XYZ1O34QZ395", 5, ""},
		{"a sign in the maker's code", "X_Z12345L495", 2, ""},
		{"eleven characters", "XYZ12345L49", 0, ""},
		{"thirteen characters", "XYZ12345L4950", 0, ""},
		{"fourteen that begin with a digit", "1SXYZ12345L495", 0, ""},
		{"fourteen whose second is a digit", "U1XYZ12345L495", 0, ""},
		{"nothing", "", 0, ""},
		{"blanks", "   ", 0, ""},
		{"separators alone", "-/. -", 0, ""},
		{"fault behind a country", "US-XYZ1234OH394", 8, ""},
		{"hyphen", "XYZ-12345L495", 0, "XYZ12345L495"},
		{"slash", "XYZ/12345/L495", 0, "XYZ12345L495"},
		{"dots", "XYZ.12345.L495", 0, "XYZ12345L495"},
		{"inner blanks", "XYZ 12345 L495", 0, "XYZ12345L495"},
		{"a no-break space", "XYZ12345\u00a0L495", 0, "XYZ12345L495"},
		{"hyphen at the end", "XYZ12345L495-", 0, "XYZ12345L495"},
		{"twelve with blanks in the count", "XYZ 12345 L4", 0, ""},
		{"country and separators", "US-XYZ-12345A696", 0, "XYZ12345A696"},
		{"country and a blank", "US XYZ12345A696", 0, "XYZ12345A696"},
		{"country and two hyphens", "US--XYZ12345A696", 0, "XYZ12345A696"},
		{"hyphen inside the country", "U-SXYZ12345A696", 0, "XYZ12345A696"},
		{"separators and a fault", "XYZ-1234OH394", 0, ""},
		{"letters of another script", "ХYZ12345L495", 1, ""},
		{"a digit of another script", "XYZ1234٥L495", 8, ""},
		{"a wide character", "XYZ12345Ｌ495", 9, ""},
		{"a letter whose capital is I", "XYZ12345ı495", 9, ""},
		{"broken bytes", "XYZ1234\xffL495", 8, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			n := Decode(c.hin)
			require.False(t, n.Valid())
			assert.Equal(t, c.position, n.Problem.Position, n.Problem.Reason)
			assert.NotEmpty(t, n.Problem.Reason)
			assert.Equal(t, c.normalised, n.Normalised)
			assert.Empty(t, n.Format)
			assert.Zero(t, n.Built)
			assert.Zero(t, n.ModelYear)
			assert.Empty(t, n.Notices)
		})
	}
}

func TestWhatAnInvalidNumberStillSays(t *testing.T) {
	n := Decode("US-MIZ1234OH515")
	assert.Equal(t, "US", n.Country)
	assert.Equal(t, "MIZ", n.Maker)
	assert.True(t, n.StateIssued)
	assert.Empty(t, n.Serial, "it has the fault")
	n = Decode("XYZ12345Z395")
	assert.Equal(t, "12345", n.Serial)
	assert.Empty(t, Decode("X_Z12345L495").Maker)
	assert.Empty(t, Decode("XYZ12345L49").Maker, "nobody knows which character is missing")
}

// ISO 10087 has the country's code before the twelve; the last two characters
// are not reliably a model year outside the United States.
func TestAnotherCountrysNumberIsNotDated(t *testing.T) {
	for _, text := range []string{"GB-XYZ12345L495", "GBXYZ12345L495", "gb-xyz12345l495", "GB-XYZ123451272", "GB-XYZ12345M73A", "GB-MIZ12345L485"} {
		n := Decode(text)
		require.True(t, n.Valid(), text)
		assert.Equal(t, "GB", n.Country)
		assert.Zero(t, n.Built)
		assert.Zero(t, n.ModelYear)
		assert.Equal(t, []Notice{NotUS}, n.Notices)
		assert.NotEmpty(t, n.Format)
	}
}

func TestSmallLettersAndBlanksAround(t *testing.T) {
	assert.Equal(t, Decode("US-XYZ4K7TPI809"), Decode("\t us-xyz4k7tpi809 \n"))
	assert.Equal(t, Decode("XYZ12345M82H"), Decode("xyz12345m82h"))
}

// A model year runs from August to July in the model-year format (published
// decoder articles), so its letters in order are twelve months in a row.
func TestModelYearLettersAreTwelveMonthsInARow(t *testing.T) {
	month := time.Date(1978, time.August, 1, 0, 0, 0, 0, time.UTC)
	for _, letter := range "ABCDEFGHIJKL" {
		n := Decode("XYZ12345M79" + string(letter))
		assert.Equal(t, month.Format("2006-01"), n.Built.String(), string(letter))
		month = month.AddDate(0, 1, 0)
	}
}

func TestEveryCurrentNumberReadsBack(t *testing.T) {
	serial := rapid.StringOfN(rapid.RuneFrom([]rune("ABCDEFGHJKLMNPRSTUVWXYZ0123456789")), 5, 5, -1)
	rapid.Check(t, func(t *rapid.T) {
		modelYear := rapid.IntRange(1984, 2083).Draw(t, "model year")
		back := rapid.IntRange(0, 9).Draw(t, "years back")
		month := rapid.IntRange(1, 12).Draw(t, "month")
		built := Month{modelYear - back, time.Month(month)}
		tail := string(rune('A'+month-1)) + built.String()[3:4] + Month{modelYear, 1}.String()[2:4]
		n := Decode("XYZ" + serial.Draw(t, "serial") + tail)
		if !n.Valid() || n.Built != built || n.ModelYear != modelYear {
			t.Fatalf("%s: %+v, want %s of model year %d", tail, n, built, modelYear)
		}
	})
}

// FuzzDecode: whatever is written, a number's normal form is valid and says the
// same, and a problem has a place and a reason.
func FuzzDecode(f *testing.F) {
	for _, seed := range []string{"XYZ12345L495", "US-XYZ12345A696", "GB-XYZ12345A399", "XYZ-12345L495", "xyz12345m82h", "XYZ123451384", "Ｘ", "\xff", ""} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		n := Decode(text)
		if !n.Valid() {
			require.NotEmpty(t, n.Problem.Reason)
			require.True(t, 0 <= n.Problem.Position && n.Problem.Position <= 12)
			require.Zero(t, n.Built)
		}
		if n.Normalised == "" {
			require.False(t, n.Valid())
			return
		}
		bare := Decode(n.Normalised)
		require.True(t, bare.Valid())
		require.Len(t, bare.Normalised, 12)
		require.Equal(t, n.Normalised, bare.Normalised)
		if n.Valid() && !n.foreign() {
			n.Country = ""
			require.Equal(t, bare, n)
		}
		require.Equal(t, Decode(text), Decode(strings.ToLower(" "+text+" ")), "when in small letters")
	})
}
