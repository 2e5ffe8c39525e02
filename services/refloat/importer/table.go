package importer

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"
)

// Limits on a file. A club's list stays far below them; a file that was built
// to harm does not get far.
const (
	maxFile  = 32 << 20  // bytes
	maxUnzip = 256 << 20 // bytes, of a spreadsheet once unpacked
	maxSheet = 64 << 20  // bytes, of one sheet in memory
	maxRows  = 20_000
	maxCells = 100
	maxCell  = 4000 // characters
)

// table is a file as rows of texts.
type table struct {
	header []string
	named  int // the header's line
	lines  []line
	// sheet is set for a spreadsheet, whose days are numbers; from1904 says from
	// when they are counted.
	sheet, from1904 bool
}

type line struct {
	number int // as an editor or a spreadsheet counts
	cells  []string
}

// readTable reads a file by its name's ending. What is wrong with its content is
// a problem, not an error.
func readTable(path string) (*table, []Problem, error) {
	raw, err := readFile(path)
	if err != nil {
		return nil, nil, err
	}
	read := readCSV
	switch strings.ToLower(filepath.Ext(path)) {
	case ".csv":
	case ".xlsx":
		read = readSheet
	default:
		return nil, nil, fmt.Errorf("%s is neither .csv nor .xlsx; save the list as one of them", filepath.Base(path))
	}
	t, problem := read(raw)
	if problem != nil {
		return t, []Problem{*problem}, nil
	}
	return t, nil, nil
}

func readFile(path string) ([]byte, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("opening the list: %w", err)
	}
	defer func() { _ = file.Close() }()
	raw, err := io.ReadAll(io.LimitReader(file, maxFile+1))
	if err == nil && len(raw) > maxFile {
		err = fmt.Errorf("it is larger than %d bytes; split it", maxFile)
	}
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", filepath.Base(path), err)
	}
	return raw, nil
}

// readCSV reads UTF-8 text whose cells are parted by commas, semicolons or
// tabs, whichever the first line has most of (RFC 4180 otherwise).
func readCSV(raw []byte) (*table, *Problem) {
	raw = bytes.TrimPrefix(raw, []byte("\ufeff"))
	if !utf8.Valid(raw) {
		return nil, &Problem{Line: 1 + bytes.Count(validPart(raw), []byte("\n")), Reason: "this is not UTF-8 text; save the list as CSV UTF-8"}
	}
	reader := csv.NewReader(bytes.NewReader(raw))
	reader.Comma, reader.FieldsPerRecord = separator(raw), -1
	t := &table{}
	for {
		cells, err := reader.Read()
		if errors.Is(err, io.EOF) {
			return t, t.check()
		}
		var broken *csv.ParseError
		if errors.As(err, &broken) {
			return t, &Problem{Line: broken.Line, Reason: "a quotation mark is missing or too many; double those inside a cell"}
		}
		number, _ := reader.FieldPos(0)
		if problem := t.take(number, cells); problem != nil {
			return t, problem
		}
	}
}

// validPart is what comes before the first byte that is not UTF-8.
func validPart(raw []byte) []byte {
	for i := 0; i < len(raw); {
		_, size := utf8.DecodeRune(raw[i:])
		if size == 1 && raw[i] >= utf8.RuneSelf {
			return raw[:i]
		}
		i += size
	}
	return raw
}

// separator counts in the first line, outside quotation marks.
func separator(raw []byte) rune {
	counts := map[rune]int{}
	quoted := false
	for _, c := range string(raw) {
		if c == '"' {
			quoted = !quoted
		}
		if c == '\n' && !quoted {
			break
		}
		if !quoted {
			counts[c]++
		}
	}
	best := ','
	for _, c := range []rune{';', '\t'} {
		if counts[c] > counts[best] {
			best = c
		}
	}
	return best
}

// readSheet reads the first sheet of a workbook. Cells are read as they are
// kept, not as they are shown, so that nothing depends on the country for which
// a workbook is laid out.
func readSheet(raw []byte) (*table, *Problem) {
	book, err := excelize.OpenReader(bytes.NewReader(raw), excelize.Options{RawCellValue: true, UnzipSizeLimit: maxUnzip, UnzipXMLSizeLimit: maxSheet})
	if err != nil {
		return nil, &Problem{Reason: "this is not an .xlsx workbook that can be read, or it is far too large"}
	}
	defer func() { _ = book.Close() }()
	t := &table{sheet: true}
	if props, err := book.GetWorkbookProps(); err == nil && props.Date1904 != nil {
		t.from1904 = *props.Date1904
	}
	rows, err := book.Rows(book.GetSheetName(0))
	if err != nil {
		return nil, &Problem{Reason: "the workbook's first sheet cannot be read"}
	}
	defer func() { _ = rows.Close() }()
	for number := 1; rows.Next(); number++ {
		cells, err := rows.Columns()
		if err != nil {
			return t, &Problem{Line: number, Reason: "this row of the workbook cannot be read"}
		}
		if problem := t.take(number, cells); problem != nil {
			return t, problem
		}
	}
	if rows.Error() != nil {
		return t, &Problem{Reason: "the workbook breaks off in the middle"}
	}
	return t, t.check()
}

// take adds a row; the first that is not empty is the header.
func (t *table) take(number int, cells []string) *Problem {
	for len(cells) > 0 && strings.TrimSpace(cells[len(cells)-1]) == "" {
		cells = cells[:len(cells)-1]
	}
	switch {
	case len(cells) == 0:
		return nil
	case len(cells) > maxCells:
		return &Problem{Line: number, Reason: fmt.Sprintf("there are more than %d columns", maxCells)}
	case t.header == nil:
		t.header, t.named = cells, number
		return nil
	case len(t.lines) == maxRows:
		return &Problem{Line: number, Reason: fmt.Sprintf("there are more than %d rows; split the list", maxRows)}
	}
	t.lines = append(t.lines, line{number, cells})
	return nil
}

func (t *table) check() *Problem {
	if t.header == nil {
		return &Problem{Reason: "the list is empty; its first line must name the columns"}
	}
	return nil
}
