// Package bankrows reads the table of movements that a bank lets its customers save, as
// comma-separated values (RFC 4180) with a row of names above.
//
// It takes columns in any order, under the words that banks use for them in English,
// Spanish and French, parted by commas, semicolons or tabs. What a figure or a day
// means is never guessed: whether a comma or a point marks cents, and whether the day
// or the month comes first, has to be told, or to follow from the file without doubt.
// A file with anything that cannot be read is refused whole, with line and column.
//
// No bank's own format is known here.
package bankrows

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
)

// The bounds of a file.
const (
	MaxBytes   = 400 << 10
	MaxRows    = 1000
	maxColumns = 60
	maxWords   = 500 // characters of a text or a reference
	maxAbove   = 30  // lines above the names of the columns
	maxMinor   = 1_000_000_000_00
	// The years that a movement may be of.
	firstYear, lastYear = 1990, 2199
)

// Decimal is the mark before the cents.
type Decimal string

// The marks; Judged leaves it to the file.
const (
	Judged Decimal = ""
	Comma  Decimal = "comma"
	Point  Decimal = "point"
)

// Decimals lists what can be told.
var Decimals = []Decimal{Comma, Point}

// Order says which number of 03/04/2026 is the day.
type Order string

// The orders; JudgedOrder leaves it to the file. Years first need no order.
const (
	JudgedOrder Order = ""
	DayFirst    Order = "day first"
	MonthFirst  Order = "month first"
)

// Orders lists what can be told.
var Orders = []Order{DayFirst, MonthFirst}

// Told is what the reader of a file is told about it. Digits is how many digits the
// currency has after the mark.
type Told struct {
	Decimal Decimal
	Order   Order
	Digits  int
}

// Row is one movement. Minor is what came in, in minor units; what went out is
// negative.
type Row struct {
	Line      int
	On        clock.Date
	Minor     int64
	Text      string
	Reference string
}

// columns are the words by which columns are known, without case and accents' help:
// common practice, no source.
var columns = map[string][]string{
	"date":      {"date", "booking date", "transaction date", "posting date", "posted", "posted on", "day", "fecha", "fecha operación", "date d'opération", "date opération"},
	"value":     {"value date", "fecha valor", "date de valeur"},
	"amount":    {"amount", "sum", "importe", "monto", "montant"},
	"in":        {"credit", "paid in", "money in", "deposit", "deposits", "abono", "haber", "crédit"},
	"out":       {"debit", "paid out", "money out", "withdrawal", "withdrawals", "cargo", "debe", "débit"},
	"text":      {"text", "description", "details", "memo", "narrative", "payee", "counterparty", "concepto", "descripción", "libellé", "détail"},
	"reference": {"reference", "ref", "transaction id", "number", "id", "referencia", "référence"},
}

// Read reads a file. Rows of no amount are left out.
func Read(file []byte, told Told) ([]Row, error) {
	switch {
	case len(bytes.TrimSpace(file)) == 0:
		return nil, bad("is empty")
	case len(file) > MaxBytes:
		return nil, bad("is longer than %d KiB; save fewer months at once", MaxBytes>>10)
	case !utf8.Valid(file):
		return nil, bad("is not written in UTF-8; save it again and choose UTF-8 there")
	case bytes.ContainsRune(file, 0):
		return nil, bad("is no text; save it as CSV")
	}
	file = bytes.TrimPrefix(file, []byte("\ufeff"))
	t, err := tableOf(file)
	if err != nil {
		return nil, err
	}
	return t.rows(told)
}

func bad(format string, args ...any) error { return fault.Field("file", format, args...) }

// table is a file as cells, with where its columns are.
type table struct {
	at    map[string]int
	cells []line
}

type line struct {
	number int
	cells  []string
}

// cell gives a cell of a named column; empty where there is none.
func (t *table) cell(l line, name string) string {
	i, has := t.at[name]
	if !has || i >= len(l.cells) {
		return ""
	}
	return strings.TrimSpace(l.cells[i])
}

// tableOf finds the row of names, and by it what parts the cells.
func tableOf(file []byte) (*table, error) {
	for _, comma := range []rune{';', '\t', ','} {
		lines, err := split(file, comma)
		if err != nil {
			continue
		}
		for i, l := range lines[:min(len(lines), maxAbove)] {
			if at := columnsOf(l.cells); at != nil {
				return &table{at, lines[i+1:]}, nil
			}
		}
	}
	return nil, bad("has no row with the names of its columns: a date and an amount (or what came in and what went out) are needed, at most %d lines down", maxAbove)
}

func split(file []byte, comma rune) ([]line, error) {
	r := csv.NewReader(bytes.NewReader(file))
	r.Comma, r.FieldsPerRecord, r.LazyQuotes = comma, -1, true
	var lines []line
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			return lines, nil
		}
		if err != nil {
			return nil, err
		}
		if len(cells) > maxColumns {
			return nil, bad("has more than %d columns", maxColumns)
		}
		number, _ := r.FieldPos(0)
		if slices.ContainsFunc(cells, func(c string) bool { return strings.TrimSpace(c) != "" }) {
			lines = append(lines, line{number, cells})
		}
	}
}

// columnsOf gives where the columns are, if these cells name them.
func columnsOf(cells []string) map[string]int {
	at := map[string]int{}
	for i, c := range cells {
		word := strings.ToLower(strings.TrimSpace(c))
		for name, words := range columns {
			if _, has := at[name]; !has && slices.Contains(words, word) {
				at[name] = i
			}
		}
	}
	if _, has := at["date"]; !has {
		value, has := at["value"]
		if !has {
			return nil
		}
		at["date"] = value
	}
	_, amount := at["amount"]
	_, in := at["in"]
	_, out := at["out"]
	if !amount && (!in || !out) {
		return nil
	}
	return at
}

// rows reads the cells below the names.
func (t *table) rows(told Told) ([]Row, error) {
	if len(t.cells) > MaxRows {
		return nil, bad("has %d rows; at most %d are read at once", len(t.cells), MaxRows)
	}
	decimal, err := t.decimal(told)
	if err != nil {
		return nil, err
	}
	order, err := t.order(told.Order)
	if err != nil {
		return nil, err
	}
	var all []Row
	for _, l := range t.cells {
		row := Row{Line: l.number, Text: oneLine(t.cell(l, "text")), Reference: oneLine(t.cell(l, "reference"))}
		if row.On, err = dayOf(t.cell(l, "date"), order); err != nil {
			return nil, bad("line %d, the date: %s", l.number, err)
		}
		if row.Minor, err = t.amount(l, decimal, told.Digits); err != nil {
			return nil, bad("line %d, the amount: %s", l.number, err)
		}
		for _, words := range []string{row.Text, row.Reference} {
			if utf8.RuneCountInString(words) > maxWords {
				return nil, bad("line %d: a text is longer than %d characters", l.number, maxWords)
			}
		}
		if row.Minor != 0 {
			all = append(all, row)
		}
	}
	return all, nil
}

func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }

// figures gives the cells of a row that hold amounts, with the sign of each column.
func (t *table) figures(l line) []figure {
	if _, has := t.at["amount"]; has {
		return []figure{{t.cell(l, "amount"), 1}}
	}
	return []figure{{t.cell(l, "in"), 1}, {t.cell(l, "out"), -1}}
}

type figure struct {
	text string
	sign int64
}

func (t *table) amount(l line, decimal Decimal, digits int) (int64, error) {
	var sum int64
	said := false
	for _, f := range t.figures(l) {
		if f.text == "" {
			continue
		}
		minor, err := minorOf(f.text, decimal, digits)
		if err != nil {
			return 0, err
		}
		if f.sign < 0 && minor < 0 {
			minor = -minor // what went out, written with a minus as well
		}
		said, sum = true, sum+f.sign*minor
	}
	if !said {
		return 0, errors.New("is missing")
	}
	return sum, nil
}
