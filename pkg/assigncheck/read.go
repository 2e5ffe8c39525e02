package assigncheck

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"unicode/utf8"
)

// A Claim is a result as it was published.
type Claim struct {
	ServedByTier []int64
	Total        int64
	Pairs        []Couple
	// Step, Boats and Applicants are the proof. A price that is missing is 0.
	Step              int64
	Boats, Applicants map[string]int64
}

// ReadClaim reads a result. What cannot be one is a *Refusal.
func ReadClaim(r io.Reader) (*Claim, error) {
	var published struct {
		ServedByTier []int64  `json:"served_by_tier"`
		Total        *int64   `json:"total"`
		Pairs        []Couple `json:"pairs"`
		Proof        *struct {
			Step       *int64           `json:"step"`
			Boats      map[string]int64 `json:"boats"`
			Applicants map[string]int64 `json:"applicants"`
		} `json:"proof"`
	}
	dec := json.NewDecoder(r)
	if err := dec.Decode(&published); err != nil {
		return nil, &Refusal{Why: "the result cannot be read: " + err.Error()}
	}
	if _, err := dec.Token(); err != io.EOF {
		return nil, &Refusal{Why: "something follows the result"}
	}
	p := published
	if p.ServedByTier == nil || p.Total == nil || p.Pairs == nil || p.Proof == nil || p.Proof.Step == nil {
		return nil, &Refusal{Why: "the result must have served_by_tier, total, pairs and proof with its step"}
	}
	return &Claim{ServedByTier: p.ServedByTier, Total: *p.Total, Pairs: p.Pairs,
		Step: *p.Proof.Step, Boats: p.Proof.Boats, Applicants: p.Proof.Applicants}, nil
}

// An Input holds what is to be checked. Pins and Forbids may be nil.
type Input struct {
	Result, Rows, Pins, Forbids io.Reader
}

// Check reads everything and gives nil when the result holds. Otherwise the error
// is a *Refusal, or a *BadInput when rows, pins or forbidden pairs break a rule.
func Check(in Input) error {
	claim, claimErr := ReadClaim(in.Result)
	if claimErr != nil {
		claim = &Claim{}
	}
	pins, pinRows, err := readCouples(in.Pins, Pins)
	if err != nil {
		return err
	}
	forbids, forbidRows, err := readCouples(in.Forbids, Forbids)
	if err != nil {
		return err
	}
	c, err := New(claim, pins, forbids)
	if err == nil {
		err = c.rows(in.Rows)
	}
	if err == nil {
		err = c.Verdict()
	}
	var bad *BadInput
	switch {
	case errors.As(err, &bad):
		return bad.inFile(pinRows, forbidRows)
	case claimErr != nil:
		return claimErr
	}
	return err
}

// inFile turns the row counted over entries into the row of the file, where blank
// lines count too.
func (b *BadInput) inFile(pinRows, forbidRows []int) *BadInput {
	switch b.File {
	case Pins:
		b.Row = pinRows[b.Row-2]
	case Forbids:
		b.Row = forbidRows[b.Row-2]
	}
	return b
}

func (c *Checker) rows(r io.Reader) error {
	return readTable(r, Rows, []string{"boat", "applicant", "weight", "tier"}, func(_ int, f []string) *BadInput {
		return c.Row(f[0], f[1], wholeNumber(f[2]), int(wholeNumber(f[3])))
	})
}

func readCouples(r io.Reader, file File) (couples []Couple, rows []int, err error) {
	if r == nil {
		return nil, nil, nil
	}
	err = readTable(r, file, []string{"boat", "applicant"}, func(row int, f []string) *BadInput {
		couples = append(couples, Couple{f[0], f[1]})
		rows = append(rows, row)
		return nil
	})
	return couples, rows, err
}

// wholeNumber reads digits. What is no whole number, or a larger one than any
// that is allowed, becomes a number that is refused.
func wholeNumber(text string) int64 {
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || text[0] == '+' {
		return -1
	}
	return n
}

// readTable gives the named columns of each row of a CSV file, in whatever order
// they stand there.
func readTable(r io.Reader, file File, columns []string, take func(row int, fields []string) *BadInput) error {
	table := csv.NewReader(withoutMark(r))
	table.ReuseRecord, table.FieldsPerRecord = true, -1
	header, err := table.Read()
	if err != nil && err != io.EOF {
		return unreadable(file, err)
	}
	at, bad := places(header, columns)
	if bad != nil {
		bad.File, bad.Row = file, 1
		return bad
	}
	fields := make([]string, len(columns))
	for {
		record, err := table.Read()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return unreadable(file, err)
		}
		row, _ := table.FieldPos(0)
		bad := arrange(fields, record, at, columns)
		if bad == nil {
			bad = take(row, fields)
		}
		if bad != nil {
			bad.File, bad.Row = file, row
			return bad
		}
	}
}

// withoutMark drops a byte order mark.
func withoutMark(r io.Reader) io.Reader {
	buffered := bufio.NewReaderSize(r, 1<<16)
	if mark, _ := buffered.Peek(3); string(mark) == "\xef\xbb\xbf" {
		_, _ = buffered.Discard(3)
	}
	return buffered
}

func unreadable(file File, err error) error {
	var syntax *csv.ParseError
	if errors.As(err, &syntax) {
		return &BadInput{File: file, Row: syntax.StartLine, Reason: syntax.Err.Error()}
	}
	return &BadInput{File: file, Reason: err.Error()}
}

// places finds the columns in a header.
func places(header, columns []string) ([]int, *BadInput) {
	at := make([]int, len(columns))
	for i, name := range columns {
		at[i] = slices.Index(header, name)
		if at[i] < 0 {
			return nil, &BadInput{Field: name, Reason: "missing column"}
		}
	}
	for i, name := range header {
		if !slices.Contains(columns, name) || slices.Index(header, name) != i {
			return nil, &BadInput{Field: name, Reason: "unknown or repeated column"}
		}
	}
	return at, nil
}

func arrange(fields, record []string, at []int, columns []string) *BadInput {
	for i, place := range at {
		if place >= len(record) {
			return &BadInput{Field: columns[i], Reason: "missing"}
		}
		fields[i] = record[place]
		if !utf8.ValidString(fields[i]) {
			return &BadInput{Field: columns[i], Reason: "must be UTF-8"}
		}
	}
	if len(record) > len(at) {
		return &BadInput{Reason: fmt.Sprintf("has %d fields, the header %d", len(record), len(at))}
	}
	return nil
}
