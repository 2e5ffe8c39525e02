package web

import (
	"bytes"
	"encoding/csv"
	"net/url"
	"strconv"
	"strings"
	"unicode/utf8"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
)

// asTable is how an address asks for its list as a table (as=csv): the table then has
// the list's filters, and its readers are the list's.
const asTable = "csv"

// wantsTable says whether a list is asked for as a table.
func (v *visit) wantsTable() bool { return !v.api && v.r.URL.Query().Get("as") == asTable }

// tableAddress is where the page's list stands as a table.
func (v *visit) tableAddress() string {
	q := url.Values{}
	for name, values := range v.r.URL.Query() {
		if name != "done" && name != "page" {
			q[name] = values
		}
	}
	q.Set("as", asTable)
	return v.r.URL.Path + "?" + q.Encode()
}

// writeTable answers with a list as comma-separated values (RFC 4180), one row for
// each entry, under a line that names the columns.
func writeTable[E any](v *visit, name string, head []string, list []E, row func(E) []string) error {
	out := bytes.NewBufferString("\ufeff") // office programs then read it as UTF-8
	w := csv.NewWriter(out)
	if err := w.Write(head); err != nil {
		return err
	}
	for _, entry := range list {
		cells := row(entry)
		for i := range cells {
			cells[i] = harmless(cells[i])
		}
		if err := w.Write(cells); err != nil {
			return err
		}
	}
	if w.Flush(); w.Error() != nil {
		return w.Error()
	}
	return v.download(name+".csv", "text/csv; charset=utf-8", out.Bytes())
}

// harmless keeps office programs from taking a text for a formula: the characters are
// those of OWASP's page on CSV injection (from memory). Blanks before them are passed
// over, as programs may. A number below nought stays a number; with a plus sign it is
// a telephone number.
func harmless(cell string) string {
	if _, err := strconv.ParseFloat(cell, 64); err == nil && cell[0] != '+' {
		return cell
	}
	first, _ := utf8.DecodeRuneInString(strings.TrimLeft(cell, " \u00a0\u3000"))
	if strings.ContainsRune("=+-@\t\r\n＝＋－＠", first) {
		return "'" + cell
	}
	return cell
}

// plainWords writes a list of words as texts.
func plainWords[W ~string](list []W) []string {
	texts := make([]string, len(list))
	for i, w := range list {
		texts[i] = string(w)
	}
	return texts
}

func yesOrNo(yes bool) string {
	if yes {
		return "yes"
	}
	return "no"
}

func dayOrNone(d clock.Date) string {
	if d.IsZero() {
		return ""
	}
	return d.String()
}

// inThousandths writes a quantity without its unit.
func inThousandths(q message.Quantity) string {
	return strconv.FormatFloat(float64(q)/1000, 'f', -1, 64)
}
