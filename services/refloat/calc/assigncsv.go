package calc

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"unicode/utf8"

	"refloat.example/pkg/assign"
)

// A csvTable reads the rows of a CSV file with a fixed set of columns, which may
// stand in any order.
type csvTable struct {
	name    string // what a fault's reason begins with
	columns []string
	place   []int // of each column in a record
	reader  *csv.Reader
	fields  []string // of the present row, in the order of columns
	row     int      // its number; the header's is 1, and blank lines count
}

// openCSV reads the header.
func openCSV(name string, in io.Reader, columns ...string) (*csvTable, error) {
	buffered := bufio.NewReaderSize(in, 1<<16)
	if mark, _ := buffered.Peek(3); string(mark) == "\ufeff" {
		_, _ = buffered.Discard(3)
	}
	t := &csvTable{name: name, columns: columns, reader: csv.NewReader(buffered), fields: make([]string, len(columns)), row: 1}
	t.reader.ReuseRecord, t.reader.FieldsPerRecord = true, -1
	header, err := t.reader.Read()
	if err != nil && err != io.EOF {
		return nil, t.broken(err)
	}
	for _, column := range columns {
		t.place = append(t.place, slices.Index(header, column))
		if !slices.Contains(header, column) {
			return nil, t.bad(column, "missing column")
		}
	}
	for i, name := range header {
		switch {
		case !slices.Contains(columns, name):
			return nil, t.bad(name, "unknown column")
		case slices.Index(header, name) < i:
			return nil, t.bad(name, "stands twice")
		}
	}
	return t, nil
}

// next moves to the next row. It gives io.EOF after the last one.
func (t *csvTable) next() error {
	record, err := t.reader.Read()
	if err != nil {
		return t.broken(err)
	}
	t.row, _ = t.reader.FieldPos(0)
	for i, place := range t.place {
		if place >= len(record) {
			return t.bad(t.columns[i], "missing")
		}
		t.fields[i] = record[place]
		if !utf8.ValidString(t.fields[i]) {
			return t.bad(t.columns[i], "must be UTF-8")
		}
	}
	if len(record) > len(t.columns) {
		return t.bad("", fmt.Sprintf("must have %d fields, not %d", len(t.columns), len(record)))
	}
	return nil
}

func (t *csvTable) bad(field, reason string) error {
	return &BadInput{Row: t.row, Field: field, Reason: t.name + reason}
}

// broken turns the reader's errors into ours; io.EOF stays what it is.
func (t *csvTable) broken(err error) error {
	var syntax *csv.ParseError
	switch {
	case errors.Is(err, io.EOF):
		return err
	case errors.As(err, &syntax):
		return &BadInput{Row: syntax.StartLine, Reason: t.name + syntax.Err.Error()}
	}
	return &BadInput{Reason: t.name + err.Error()}
}

// csvRows remembers where the entries of a list stood in its file.
type csvRows struct {
	name    string
	numbers []int32
}

func (r csvRows) badInput(fault *assign.InputError) *BadInput {
	return &BadInput{Row: int(r.numbers[fault.Index]), Field: fault.Field, Reason: r.name + fault.Reason}
}

type pairRows struct {
	csvRows
	pairs []assign.Pair
}

// readPairs reads the rows of a round. When one cannot be read, but an earlier
// one breaks a rule that only shows across rows, the earlier one is to blame.
func readPairs(in io.Reader) (*pairRows, error) {
	rows := &pairRows{}
	limited := &io.LimitedReader{R: in, N: maxInput + 1}
	t, err := openCSV("", limited, "boat", "applicant", "weight", "tier")
	for err == nil {
		err = rows.read(t)
	}
	if errors.Is(err, io.EOF) && limited.N > 0 {
		return rows, nil
	}
	if limited.N <= 0 {
		err = &BadInput{Reason: fmt.Sprintf("the input is larger than %d MiB", maxInput>>20)}
	}
	var earlier *assign.InputError
	if errors.As(assign.Check(rows.pairs), &earlier) {
		return nil, rows.badInput(earlier)
	}
	return nil, err
}

func (r *pairRows) read(t *csvTable) error {
	if err := t.next(); err != nil {
		return err
	}
	if len(r.pairs) == cap(r.pairs) {
		// Rounds may have millions of rows: double, where append alone would
		// grow by a quarter and copy them four times over.
		r.pairs = slices.Grow(r.pairs, len(r.pairs)+1)
		r.numbers = slices.Grow(r.numbers, len(r.pairs)+1)
	}
	r.numbers = append(r.numbers, int32(t.row))
	r.pairs = append(r.pairs, assign.Pair{
		Boat:      t.fields[0],
		Applicant: t.fields[1],
		Weight:    wholeNumber(t.fields[2]),
		Tier:      int(wholeNumber(t.fields[3])),
	})
	return nil
}

// wholeNumber reads digits. It gives -1 for anything else and the largest number
// for one that is too large; both are then refused with all others out of bounds.
func wholeNumber(text string) int64 {
	n, err := strconv.ParseUint(text, 10, 63)
	if err != nil && !errors.Is(err, strconv.ErrRange) {
		return -1
	}
	return int64(n)
}

type coupleRows struct {
	csvRows
	couples []assign.Couple
}

// readCouples reads a file of pairs; nil stands for no file.
func readCouples(flag string, in io.Reader) (*coupleRows, error) {
	rows := &coupleRows{csvRows: csvRows{name: flag + ": "}}
	if in == nil {
		return rows, nil
	}
	t, err := openCSV(rows.name, in, "boat", "applicant")
	for err == nil {
		if err = t.next(); err == nil {
			rows.couples = append(rows.couples, assign.Couple{Boat: t.fields[0], Applicant: t.fields[1]})
			rows.numbers = append(rows.numbers, int32(t.row))
		}
	}
	if errors.Is(err, io.EOF) {
		return rows, nil
	}
	return nil, err
}
