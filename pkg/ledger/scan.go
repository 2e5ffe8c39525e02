package ledger

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
)

// inBinary, as the first argument of a query, has every column sent in PostgreSQL's
// binary form.
var inBinary = pgx.QueryResultFormats{pgx.BinaryFormatCode}

// rowReader reads rows that were queried with inBinary, in the order of columns. It
// takes the values apart itself, and keeps texts that come again: a check of the book
// is to be little slower than reading it.
type rowReader struct {
	row  Row
	raw  [][]byte
	next int
	err  error
}

var errEmptied = errors.New("it is empty")

// scan reads the present row. What it gives is only good until the next call, but for
// texts.
func (r *rowReader) scan(rows pgx.Rows) (*Row, error) {
	r.raw, r.next, r.err = rows.RawValues(), 0, nil
	e := &r.row
	e.Position = r.number()
	r.id(&e.ID)
	keep(r, &e.Stream)
	e.Version = r.number()
	keep(r, &e.Kind)
	e.Schema = r.small()
	keep(r, &e.Boat)
	e.HappenedAt = r.instant()
	e.RecordedAt = r.instant()
	keep(r, &e.Actor)
	keep(r, &e.Cause)
	keep(r, &e.Correlation)
	keep(r, &e.RequestKey)
	e.RequestPart = r.small()
	e.RequestDigest = r.value(-1)
	e.Data = r.value(-1)
	e.PrevHash = r.value(-1)
	e.Hash = r.value(-1)
	if r.err != nil {
		return nil, fmt.Errorf("column %d: %w", r.next, r.err)
	}
	return &r.row, nil
}

// value gives the next column, which must have so many bytes, unless size is -1.
func (r *rowReader) value(size int) []byte {
	if r.err != nil {
		return nil
	}
	if r.next >= len(r.raw) {
		r.err = errors.New("it is not there")
		return nil
	}
	v := r.raw[r.next]
	r.next++
	switch {
	case v == nil:
		r.err = errEmptied
	case size >= 0 && len(v) != size:
		r.err = fmt.Errorf("it has %d bytes and not %d", len(v), size)
	default:
		return v
	}
	return nil
}

func (r *rowReader) number() int64 {
	v := r.value(8)
	if r.err != nil {
		return 0
	}
	return int64(binary.BigEndian.Uint64(v))
}

func (r *rowReader) small() int {
	v := r.value(4)
	if r.err != nil {
		return 0
	}
	return int(int32(binary.BigEndian.Uint32(v)))
}

// instant refuses what is no instant: the server's infinity, before and behind.
func (r *rowReader) instant() time.Time {
	n := r.number()
	if r.err == nil && (n == math.MaxInt64 || n == math.MinInt64) {
		r.err = errors.New("it is no instant")
	}
	return time.UnixMicro(n + year2000).UTC()
}

func (r *rowReader) id(to *string) {
	v := r.value(16)
	if r.err == nil {
		*to = uuid.UUID(v).String()
	}
}

// keep takes a text, the one that is there if it is the same.
func keep[T ~string](r *rowReader, to *T) {
	if v := r.value(-1); r.err == nil && string(*to) != string(v) {
		*to = T(v)
	}
}

// own gives the row with bytes of its own, to be kept.
func (r *Row) own() Row {
	row := *r
	row.RequestDigest, row.Data = bytes.Clone(r.RequestDigest), bytes.Clone(r.Data)
	row.PrevHash, row.Hash = bytes.Clone(r.PrevHash), bytes.Clone(r.Hash)
	return row
}

// copyFrom takes over another row, into the bytes that this one has.
func (r *Row) copyFrom(other *Row) {
	digest, data, prev, hash := r.RequestDigest[:0], r.Data[:0], r.PrevHash[:0], r.Hash[:0]
	*r = *other
	r.RequestDigest, r.Data = append(digest, other.RequestDigest...), append(data, other.Data...)
	r.PrevHash, r.Hash = append(prev, other.PrevHash...), append(hash, other.Hash...)
}

// eachAhead is eachIn with a goroutine that reads ahead of f: while rows are checked,
// the server goes on sending. db must not be used for anything else meanwhile.
func eachAhead(ctx context.Context, db querier, from int64, f func(*Row) error) error {
	const batches, each = 3, 128
	full, empty, enough := make(chan []Row, batches), make(chan []Row, batches), make(chan struct{})
	for range batches {
		empty <- make([]Row, 0, each)
	}
	ended := make(chan error, 1)
	go func() {
		batch := <-empty
		err := eachIn(ctx, db, from, func(row *Row) error {
			batch = batch[:len(batch)+1]
			batch[len(batch)-1].copyFrom(row)
			if len(batch) < each {
				return nil
			}
			full <- batch
			select {
			case batch = <-empty:
				return nil
			case <-enough:
				return errEnough
			}
		})
		full <- batch // room is left: what was taken from empty was taken from full before
		close(full)
		ended <- err
	}()
	err := eachOf(full, empty, f)
	close(enough)
	for range full { // until the reader has noticed
	}
	if readErr := <-ended; err == nil {
		err = readErr
	}
	return err
}

// eachOf hands the rows of full batches to f and gives the batches back.
func eachOf(full <-chan []Row, empty chan<- []Row, f func(*Row) error) error {
	for batch := range full {
		for i := range batch {
			if err := f(&batch[i]); err != nil {
				return err
			}
		}
		empty <- batch[:0]
	}
	return nil
}
