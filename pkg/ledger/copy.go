package ledger

import (
	"bufio"
	"bytes"
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"refloat.example/pkg/message"
)

// Line is a row of the book as a copy of it has it: everything that the row's
// hash covers, so that whoever has the copy can check it.
type Line struct {
	message.Event
	RequestPart   int    `json:"request_part"`
	RequestDigest string `json:"request_digest"` // hexadecimal
}

// maxLine bounds a line of a copy, in bytes: the data of one append and what
// stands around it.
const maxLine = 2*MaxBytes + 1<<16

// Copy writes the whole book, one JSON object a line, in order.
func (r *Reader) Copy(ctx context.Context, to io.Writer) (events int64, err error) {
	out := json.NewEncoder(to)
	out.SetEscapeHTML(false) // the data have to stay as they were hashed
	err = r.each(ctx, 0, func(row *Row) error {
		events = row.Position
		return out.Encode(Line{row.Event, row.RequestPart, hex.EncodeToString(row.RequestDigest)})
	})
	return events, err
}

// EachLine hands every row of a copy to f, after checking that its hash fits it
// and that it follows the row before. An error names the line.
func EachLine(from io.Reader, f func(*Row) error) error {
	lines := bufio.NewScanner(from)
	lines.Buffer(nil, maxLine)
	v := newVerifier(Check{})
	v.feed = &checkpointFeed{ended: true} // a copy holds events alone
	for n := 1; lines.Scan(); n++ {
		row, err := rowOf(lines.Bytes())
		if err == nil {
			err = v.row(row)
		}
		if v.finding != nil {
			err = errors.New(v.finding.What)
		}
		if err == nil {
			err = f(row)
		}
		if err != nil {
			return fmt.Errorf("line %d: %w", n, err)
		}
	}
	return lines.Err()
}

func rowOf(line []byte) (*Row, error) {
	var l Line
	dec := json.NewDecoder(bytes.NewReader(line))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&l); err != nil {
		return nil, err
	}
	digest, err := hex.DecodeString(l.RequestDigest)
	return &Row{l.Event, l.RequestPart, digest}, err
}
