package treasury

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

// columns of both files.
var columns = []string{"Boat", "State", "Currency", "Paid", "Parts", "Cost", "Fetched", "Value as gift", "Minutes", "Id"}

// byteOrderMark tells spreadsheet programs that a text is UTF-8.
const byteOrderMark = "\ufeff"

// writeCSV writes comma-separated values (RFC 4180) with a sum below the rows of
// each currency.
func writeCSV(blocks []block) ([]byte, error) {
	var b bytes.Buffer
	b.WriteString(byteOrderMark)
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	records := [][]string{columns}
	for _, block := range blocks {
		for _, row := range slices.Concat(block.rows, []message.BoatTotal{totalRow(block)}) {
			records = append(records, []string{
				harmless(row.Name), harmless(row.State), string(block.currency), row.Paid.Number(), row.Parts.Number(), row.Cost.Number(),
				row.Fetched.Number(), row.GiftedAt.Number(), strconv.Itoa(row.Minutes), harmless(string(row.Boat)),
			})
		}
	}
	err := w.WriteAll(records)
	return b.Bytes(), err
}

func totalRow(b block) message.BoatTotal {
	total := b.sum
	total.Name = "Total"
	return total
}

// harmless keeps a spreadsheet program from taking a text for a formula: one that
// begins like a formula gets an apostrophe (the advice of the OWASP page on CSV
// injection, from memory).
func harmless(text string) string {
	first := strings.TrimLeft(text, " ")
	if first != "" && strings.ContainsRune("=+-@\t\r\n＝＋－＠", []rune(first)[0]) {
		return "'" + text
	}
	return text
}

const sheet = "Boats"

// writeXLSX writes a workbook in which sums and costs are formulas, each with
// its value, so that it shows the right figures also where nothing recalculates.
func writeXLSX(blocks []block) ([]byte, error) {
	f := excelize.NewFile()
	defer func() { _ = f.Close() }()
	if err := f.SetSheetName("Sheet1", sheet); err != nil {
		return nil, err
	}
	w, err := f.NewStreamWriter(sheet)
	if err != nil {
		return nil, err
	}
	t := table{file: f, stream: w}
	if err := t.write(blocks); err != nil {
		return nil, err
	}
	if err := w.Flush(); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = f.Write(&b)
	return b.Bytes(), err
}

// table is a sheet while its rows are written, from the top.
type table struct {
	file   *excelize.File
	stream *excelize.StreamWriter
	row    int // the last one written
}

func (t *table) write(blocks []block) error {
	bold, err := t.file.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	if err != nil {
		return err
	}
	if err := t.stream.SetColWidth(1, 1, 28); err != nil {
		return err
	}
	var heads []any
	for _, name := range columns {
		heads = append(heads, excelize.Cell{StyleID: bold, Value: name})
	}
	if err := t.add(heads); err != nil {
		return err
	}
	for _, b := range blocks {
		if err := t.block(b); err != nil {
			return err
		}
	}
	return nil
}

func (t *table) add(cells []any) error {
	t.row++
	return t.stream.SetRow("A"+strconv.Itoa(t.row), cells)
}

// block writes the rows of one currency and their sum.
func (t *table) block(b block) error {
	style, err := t.moneyStyle(b.currency)
	if err != nil {
		return err
	}
	first := t.row + 1
	for _, row := range b.rows {
		n := t.row + 1
		err := t.add([]any{
			row.Name, row.State, string(b.currency), amountCell(row.Paid, style, ""), amountCell(row.Parts, style, ""),
			amountCell(row.Cost, style, fmt.Sprintf("D%d+E%d", n, n)), amountCell(row.Fetched, style, ""), amountCell(row.GiftedAt, style, ""),
			row.Minutes, string(row.Boat),
		})
		if err != nil {
			return err
		}
	}
	return t.total(b, style, first)
}

func (t *table) total(b block, style, first int) error {
	sum := func(column string) string {
		if len(b.rows) == 0 {
			return ""
		}
		return fmt.Sprintf("SUM(%s%d:%s%d)", column, first, column, t.row)
	}
	return t.add([]any{
		"Total", "", string(b.currency), amountCell(b.sum.Paid, style, sum("D")), amountCell(b.sum.Parts, style, sum("E")), amountCell(b.sum.Cost, style, sum("F")),
		amountCell(b.sum.Fetched, style, sum("G")), amountCell(b.sum.GiftedAt, style, sum("H")), excelize.Cell{Formula: sum("I"), Value: b.sum.Minutes},
	})
}

// moneyStyle shows as many digits as the currency has.
func (t *table) moneyStyle(c money.Currency) (int, error) {
	format := "0"
	if digits := c.Digits(); digits > 0 {
		format += "." + strings.Repeat("0", digits)
	}
	return t.file.NewStyle(&excelize.Style{CustomNumFmt: &format})
}

// amountCell holds an amount in whole units, as spreadsheets reckon.
func amountCell(a money.Amount, style int, formula string) excelize.Cell {
	return excelize.Cell{StyleID: style, Formula: formula, Value: float64(a.Minor) / math.Pow10(a.Currency.Digits())}
}
