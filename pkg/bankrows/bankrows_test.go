package bankrows_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/bankrows"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
)

func day(text string) clock.Date { return clock.MustDate(text) }

// The same movements as five banks might write them. How figures are parted is that of
// the Unicode CLDR for en, de-CH, fr and es (from memory).
func TestTheSameMovementsInEveryWriting(t *testing.T) {
	want := []bankrows.Row{
		{Line: 2, On: day("2026-03-25"), Minor: 123_450, Text: "Sale, Heron", Reference: "A1"},
		{Line: 3, On: day("2026-04-02"), Minor: -900, Text: "Seat", Reference: "A2"},
	}
	for name, file := range map[string]string{
		"commas":    "Date,Description,Amount,Reference\n2026-03-25,\"Sale, Heron\",1234.50,A1\n2026-04-02,Seat,-9.00,A2\n",
		"grouped":   "\ufeffReference,Amount,Date,Details\r\nA1,\"$1,234.50\",03/25/2026,\"Sale, Heron\"\r\nA2,(9.00),04/02/2026,Seat\r\n",
		"semicolon": "Fecha;Concepto;Importe;Referencia\n25.03.2026;Sale, Heron;1.234,50 €;A1\n02.04.2026;Seat;-9,00 €;A2\n",
		"tabs":      "Date d'opération\tLibellé\tDébit\tCrédit\tRéférence\n25/03/2026\tSale, Heron\t\t1\u202f234,5\tA1\n02/04/2026\tSeat\t9,00\t\tA2\n",
		"codes":     "Date,Text,Amount,Id\n2026-03-25,\"Sale, Heron\",USD +1234.50,A1\n2026-04-02,Seat,9.00- usd,A2\n",
		"two signs": "Date,Text,Paid in,Paid out,Id\n2026-03-25T09:00:00Z,\"Sale, Heron\",1'234.50,,A1\n2026-04-02 10:00,Seat,,-9,A2\n",
	} {
		rows, err := bankrows.Read([]byte(file), bankrows.Told{Digits: 2})
		if assert.NoError(t, err, name) {
			assert.Equal(t, want, rows, name)
		}
	}
	above, err := bankrows.Read([]byte("Account 12 of the club\n\nDate,Amount\n2026-03-25,7\n,\n2026-03-26,0.00\n"), bankrows.Told{Digits: 2})
	require.NoError(t, err)
	assert.Equal(t, []bankrows.Row{{Line: 4, On: day("2026-03-25"), Minor: 700}}, above, "what stands above, empty lines and what moves nothing")
}

func TestWhatIsTold(t *testing.T) {
	file := []byte("Date;Amount\n03/04/2026;1.234\n")
	for _, row := range []struct {
		told bankrows.Told
		want bankrows.Row
	}{
		{bankrows.Told{Decimal: bankrows.Comma, Order: bankrows.DayFirst, Digits: 2}, bankrows.Row{Line: 2, On: day("2026-04-03"), Minor: 123_400}},
		{bankrows.Told{Decimal: bankrows.Point, Order: bankrows.MonthFirst, Digits: 3}, bankrows.Row{Line: 2, On: day("2026-03-04"), Minor: 1_234}},
	} {
		rows, err := bankrows.Read(file, row.told)
		require.NoError(t, err)
		assert.Equal(t, []bankrows.Row{row.want}, rows)
	}
}

func TestWhatIsRefused(t *testing.T) {
	head := "Date,Text,Amount\n"
	for _, row := range []struct{ file, field, says string }{
		{"", "file", "is empty"},
		{strings.Repeat("x", bankrows.MaxBytes+1), "file", "is longer than"},
		{"Date,Amount\n2026-01-01,\xff\n", "file", "UTF-8"},
		{"Date,Amount\n2026-01-01,1\x00\n", "file", "no text"},
		{"Date,Text\n2026-01-01,x\n", "file", "names of its columns"},
		{"Date,Credit\n2026-01-01,1\n", "file", "names of its columns"},
		{head + "2026-01-01,x,\n", "file", "line 2, the amount: is missing"},
		{head + "2026-01-01,x,one\n", "file", "line 2, the amount"},
		{head + "2026-01-01,x,--1\n", "file", "two signs"},
		{head + "2026-01-01,x,(-1)\n", "file", "two signs"},
		{head + "2026-01-01,x,100.00 DR\n", "file", "no amount"},
		{head + "2026-01-01,x,1.2E+05\n", "file", "no amount"},
		{head + "2026-01-01,x,1E5\n", "file", "no amount"},
		{head + "2026-01-01,x,1+2\n", "file", "no amount"},
		{head + "2026-01-01,x,12-34\n", "file", "no amount"},
		{head + "2026-01-01,x,USD 1 EUR\n", "file", "no amount"},
		{head + "2026-01-01,x,USD\n", "file", "no amount"},
		{head + "2026-01-01,x,1.2345\n", "file", "more than 2 digits"},
		{head + "2026-01-01,x,\"12,34.00\"\n", "file", "in threes"},
		{head + "2026-01-01,x,99999999999999\n", "file", "more than a club"},
		{head + "soon,x,1\n", "file", "line 2, the date"},
		{head + "2026-02-30,x,1\n", "file", "no day of that month"},
		{head + "1.1.26,x,1\n", "file", "four digits"},
		{head + "2026-01-01," + strings.Repeat("x", 501) + ",1\n", "file", "longer than 500"},
		{head + strings.Repeat("2026-01-01,x,1\n", bankrows.MaxRows+1), "file", "at most 1000"},
		{head + "2026-01-01,x,\"1,234\"\n", "decimal", "comma or a point"},
		{head + "2026-01-01,x,\"1,5\"\n2026-01-01,x,1.5\n", "decimal", "mixed"},
		{head + "03/04/2026,x,1\n", "order", "day or the month"},
		{head + "13/04/2026,x,1\n04/13/2026,x,1\n", "order", "mixed"},
	} {
		_, err := bankrows.Read([]byte(row.file), bankrows.Told{Digits: 2})
		if assert.Error(t, err, row.says) {
			assert.Equal(t, row.field, fault.Of(err).Field, row.says)
			assert.ErrorContains(t, err, row.says)
		}
	}
}

// Whatever is sent, nothing breaks; what is read is within its bounds, and written down
// without doubt reads the same.
func FuzzRead(f *testing.F) {
	for _, file := range []string{
		"Date,Description,Amount,Reference\n2026-03-25,\"Sale, Heron\",1234.50,A1\n",
		"\ufeffFecha;Concepto;Importe\n25.03.2026;x;1.234,50 €\n", "Date\tDébit\tCrédit\n02/04/2026\t9,00\t\n",
		"Date,Amount\n\"2026-01-01\"\",(1)\n", "date,amount\n2026-01-01,.5\n2026-01-01,5.\n", "a\nDate;Sum\n1/2/2026;1,000\n", ";;\n\"", "Date,Amount\r0001-01-01,1",
	} {
		f.Add([]byte(file), uint8(0))
	}
	f.Fuzz(func(t *testing.T, file []byte, how uint8) {
		told := bankrows.Told{Digits: int(how>>4) % 4}
		if how&3 < 2 {
			told.Decimal = bankrows.Decimals[how&3]
		}
		if how>>2&3 < 2 {
			told.Order = bankrows.Orders[how>>2&3]
		}
		rows, err := bankrows.Read(file, told)
		if err != nil {
			return
		}
		require.LessOrEqual(t, len(rows), bankrows.MaxRows)
		var plain bytes.Buffer
		w := csv.NewWriter(&plain)
		_ = w.Write([]string{"date", "amount", "text", "reference"})
		for _, r := range rows {
			sign, minor := "", r.Minor
			if minor < 0 {
				sign, minor = "-", -minor
			}
			unit := int64(1)
			for range told.Digits {
				unit *= 10
			}
			_ = w.Write([]string{r.On.String(), fmt.Sprintf("%s%d.%0*d", sign, minor/unit, max(told.Digits, 1), minor%unit), r.Text, r.Reference})
		}
		w.Flush()
		if plain.Len() > bankrows.MaxBytes {
			return
		}
		again, err := bankrows.Read(plain.Bytes(), bankrows.Told{Digits: told.Digits, Decimal: bankrows.Point})
		require.NoError(t, err, plain.String())
		require.Len(t, again, len(rows))
		for i := range rows {
			again[i].Line = rows[i].Line
		}
		require.Equal(t, rows, again)
	})
}
