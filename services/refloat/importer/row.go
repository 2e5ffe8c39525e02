package importer

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/money"
)

// row is a row of a list while it is turned into an order. The getters give the
// zero value for an empty cell, and note a problem for one they cannot read.
type row struct {
	list     *list
	table    *table
	line     int
	cells    map[string]string // by column
	problems []Problem
	// name is what the row is called for ever: its reference, or what stands for
	// the row itself.
	name string
	// giver is what stands for a boat's giver who has no reference.
	giver string
}

// readRows puts cells under their columns' names.
func readRows(l *list, t *table, columns []string) []*row {
	rows := make([]*row, len(t.lines))
	for i, line := range t.lines {
		r := &row{list: l, table: t, line: line.number, cells: map[string]string{}}
		for j, cell := range line.cells {
			r.put(columns, j, strings.TrimSpace(cell))
		}
		for _, c := range l.columns {
			if c.needed && r.cells[c.name] == "" {
				r.bad(c.name, "this cell must not be empty")
			}
		}
		rows[i] = r
	}
	return rows
}

func (r *row) put(columns []string, j int, cell string) {
	switch {
	case cell == "":
	case j >= len(columns) || columns[j] == "":
		r.bad("", "%q stands in a column without a name", shortened(cell))
	case utf8.RuneCountInString(cell) > maxCell:
		r.bad(columns[j], "a cell holds at most %d characters", maxCell)
	default:
		r.cells[columns[j]] = cell
	}
}

func shortened(text string) string {
	if utf8.RuneCountInString(text) <= 40 {
		return text
	}
	return string([]rune(text)[:40]) + "…"
}

func (r *row) bad(column, format string, args ...any) {
	r.problems = append(r.problems, Problem{Line: r.line, Column: column, Reason: fmt.Sprintf(format, args...)})
}

func (r *row) text(column string) string { return r.cells[column] }

// digest is SHA-256 over what stands in the row, column by column in the list's
// own order, so that neither the order of columns nor blanks matter.
func (r *row) digest() string {
	sum := sha256.New()
	for _, c := range r.list.columns {
		if cell := r.cells[c.name]; cell != "" {
			_, _ = fmt.Fprintf(sum, "%q=%q\n", c.name, cell)
		}
	}
	return hex.EncodeToString(sum.Sum(nil))
}

func (r *row) whole(column string) int {
	text := r.cells[column]
	if text == "" {
		return 0
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 0 || n > 1_000_000 {
		r.bad(column, "%q is not a whole number of 0 or more", shortened(text))
		return 0
	}
	return n
}

// wholeOr is whole with another value for an empty cell.
func (r *row) wholeOr(column string, standard int) int {
	if r.cells[column] == "" {
		return standard
	}
	return r.whole(column)
}

// milli reads metres as millimetres or kilograms as grams, to the nearest.
func (r *row) milli(column string) int { return r.milliOf(column, r.cells[column]) }

func (r *row) milliOf(column, text string) int {
	if text == "" {
		return 0
	}
	n, err := parseMilli(text)
	if err != nil {
		r.bad(column, "%s", err)
	}
	return n
}

// parseMilli reads a decimal with point or comma, without grouping, and gives
// its thousandths. Spreadsheets keep 4.9 as 4.9000000000000004, so what is
// behind the third place is rounded and not refused.
func parseMilli(text string) (int, error) {
	plain := strings.Replace(text, ",", ".", 1)
	if strings.Trim(plain, "0123456789.") != "" {
		return 0, fmt.Errorf("%q is not a number; write it like 4.9", shortened(text))
	}
	n, err := strconv.ParseFloat(plain, 64)
	if err != nil || n > 1_000_000 {
		return 0, fmt.Errorf("%q is not a number; write it like 4.9", shortened(text))
	}
	return int(math.Round(n * 1000)), nil
}

// millis reads several numbers, parted by semicolons.
func (r *row) millis(column string) []int {
	var all []int
	for _, text := range r.texts(column) {
		all = append(all, r.milliOf(column, text))
	}
	return all
}

// texts reads several words, parted by semicolons.
func (r *row) texts(column string) []string {
	var all []string
	for text := range strings.SplitSeq(r.cells[column], ";") {
		if text = strings.TrimSpace(text); text != "" {
			all = append(all, text)
		}
	}
	return all
}

// date reads YYYY-MM-DD, or a spreadsheet's own day.
func (r *row) date(column string) clock.Date {
	text := r.cells[column]
	if text == "" {
		return clock.Date{}
	}
	if day, err := strconv.ParseFloat(text, 64); r.table.sheet && err == nil {
		if at, err := excelize.ExcelDateToTime(day, r.table.from1904); err == nil && day >= 1 {
			return clock.DateOf(at)
		}
	}
	day, err := clock.ParseDate(text)
	if err != nil {
		r.bad(column, "%s", err)
	}
	return day
}

// instant reads a day as its first moment, zero for an empty cell.
func (r *row) instant(column string) time.Time {
	day := r.date(column)
	if day.IsZero() {
		return time.Time{}
	}
	return day.Time()
}

// money reads an amount that says its currency.
func (r *row) money(column string) money.Amount {
	text := r.cells[column]
	if text == "" {
		return money.Amount{}
	}
	amount, err := money.Parse(text, "")
	if err != nil {
		r.bad(column, "%s", err)
	}
	return amount
}

func (r *row) yes(column string, standard bool) bool {
	switch strings.ToLower(r.cells[column]) {
	case "":
		return standard
	case "yes", "y", "true", "1":
		return true
	case "no", "n", "false", "0":
		return false
	}
	r.bad(column, "write yes or no")
	return false
}

// word reads one of a list's words; capitals do not matter.
func word[W ~string](r *row, column string, list []W) W {
	return wordOf(r, column, r.cells[column], list)
}

func wordOf[W ~string](r *row, column, text string, list []W) W {
	if text == "" {
		return ""
	}
	i := slices.IndexFunc(list, func(w W) bool { return strings.EqualFold(string(w), text) })
	if i >= 0 {
		return list[i]
	}
	if err := boat.Known("", W(text), list); err != nil {
		r.bad(column, "%s", strings.TrimPrefix(err.Error(), ": "))
	}
	return ""
}

// words reads several words of a list, parted by semicolons.
func words[W ~string](r *row, column string, list []W) []W {
	var all []W
	for _, text := range r.texts(column) {
		all = append(all, wordOf(r, column, text, list))
	}
	return all
}
