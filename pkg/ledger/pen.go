package ledger

import (
	"context"
	"encoding/binary"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"
)

// A pen writes batches on one connection. It speaks PostgreSQL's binary form itself
// (documentation of version 15, chapter 55; array_recv and record_recv in its source):
// the statement is prepared once, and a batch is laid out in one buffer that is used
// again and again.
type pen struct {
	conn   *pgx.Conn
	entry  uint32 // the type's number in this database
	values [][]byte
	rows   []byte // the array
	head   []byte // the other parameters, behind each other
}

const (
	penStatement = "ledger_write"
	penParts     = 18 // columns of ledger.entry
)

// newPen readies a session for writing. A plan is made once: planning each batch anew,
// by its length, costs more than it can save.
func newPen(ctx context.Context, conn *pgx.Conn) (*pen, error) {
	p := &pen{conn: conn, values: make([][]byte, 7)}
	err := conn.QueryRow(ctx, `SELECT 'ledger.entry'::regtype::oid FROM set_config('plan_cache_mode', 'force_generic_plan', false)`).Scan(&p.entry)
	if err == nil {
		_, err = conn.Prepare(ctx, penStatement, `
			WITH moved AS (
				UPDATE ledger.head SET position = $1, hash = $2, recorded_at = $3
				WHERE position = $4 AND hash = $5 AND epoch = $6
				RETURNING 1)
			INSERT INTO ledger.event (`+columns+`)
			SELECT e.* FROM moved, unnest($7::ledger.entry[]) AS e`)
	}
	if err != nil {
		return nil, fmt.Errorf("setting up the writer's session: %w", err)
	}
	return p, nil
}

// binaryForm says that every parameter is in binary form.
var binaryForm = []int16{pgx.BinaryFormatCode}

// insert writes rows behind the head it was given and moves the head, in one
// statement. moved is false when the head was not where it should have been:
// then nothing is written.
func (p *pen) insert(ctx context.Context, from Head, rows []Row) (moved bool, err error) {
	last := &rows[len(rows)-1]
	p.head = p.head[:0]
	p.set(0, func(b []byte) []byte { return appendWhole(b, last.Position) })
	p.set(1, func(b []byte) []byte { return append(b, last.Hash...) })
	p.set(2, func(b []byte) []byte { return appendInstant(b, last.RecordedAt) })
	p.set(3, func(b []byte) []byte { return appendWhole(b, from.Position) })
	p.set(4, func(b []byte) []byte { return append(b, from.Hash...) })
	p.set(5, func(b []byte) []byte { return appendWhole(b, from.Epoch) })
	p.values[6] = p.layOut(rows)
	done := p.conn.PgConn().ExecPrepared(ctx, penStatement, p.values, binaryForm, nil).Read()
	if done.Err != nil {
		return false, done.Err
	}
	return done.CommandTag.RowsAffected() == int64(len(rows)), nil
}

// set lays out one of the parameters that stand before the array.
func (p *pen) set(i int, lay func([]byte) []byte) {
	from := len(p.head)
	p.head = lay(p.head)
	p.values[i] = p.head[from:len(p.head):len(p.head)]
}

// layOut gives rows as an array of ledger.entry.
func (p *pen) layOut(rows []Row) []byte {
	const dimensions, nulls, lowest = 1, 0, 1
	b := p.rows[:0]
	b = appendInt(b, dimensions)
	b = appendInt(b, nulls)
	b = binary.BigEndian.AppendUint32(b, p.entry)
	b = appendInt(b, len(rows))
	b = appendInt(b, lowest)
	for i := range rows {
		b = appendSized(b, func(b []byte) []byte { return appendEntry(b, &rows[i]) })
	}
	p.rows = b
	return b
}

// appendEntry lays out one row: the number of its columns, and for each its type,
// length and value, in the order of the type ledger.entry.
func appendEntry(b []byte, r *Row) []byte {
	b = appendInt(b, penParts)
	b = appendNumber(b, r.Position)
	b = appendID(b, r.ID)
	b = appendText(b, r.Stream)
	b = appendNumber(b, r.Version)
	b = appendText(b, string(r.Kind))
	b = appendSmall(b, r.Schema)
	b = appendText(b, string(r.Boat))
	b = appendMoment(b, r.HappenedAt)
	b = appendMoment(b, r.RecordedAt)
	b = appendText(b, r.Actor)
	b = appendText(b, r.Cause)
	b = appendText(b, r.Correlation)
	b = appendText(b, r.RequestKey)
	b = appendSmall(b, r.RequestPart)
	b = appendBytes(b, pgtype.ByteaOID, r.RequestDigest)
	b = appendBytes(b, pgtype.TextOID, r.Data)
	b = appendBytes(b, pgtype.ByteaOID, r.PrevHash)
	return appendBytes(b, pgtype.ByteaOID, r.Hash)
}

// appendSized puts the length in 4 bytes before what lay appends.
func appendSized(b []byte, lay func([]byte) []byte) []byte {
	at := len(b)
	b = lay(append(b, 0, 0, 0, 0))
	binary.BigEndian.PutUint32(b[at:], uint32(len(b)-at-4))
	return b
}

func appendInt(b []byte, n int) []byte { return binary.BigEndian.AppendUint32(b, uint32(n)) }

func appendColumn(b []byte, oid uint32, size int) []byte {
	return appendInt(binary.BigEndian.AppendUint32(b, oid), size)
}

func appendBytes[T ~string | ~[]byte](b []byte, oid uint32, value T) []byte {
	return append(appendColumn(b, oid, len(value)), value...)
}

func appendText(b []byte, text string) []byte { return appendBytes(b, pgtype.TextOID, text) }

func appendNumber(b []byte, n int64) []byte {
	return appendWhole(appendColumn(b, pgtype.Int8OID, 8), n)
}

func appendSmall(b []byte, n int) []byte { return appendInt(appendColumn(b, pgtype.Int4OID, 4), n) }

func appendMoment(b []byte, at time.Time) []byte {
	return appendInstant(appendColumn(b, pgtype.TimestamptzOID, 8), at)
}

func appendID(b []byte, id string) []byte {
	parsed := uuid.MustParse(id) // we made it
	return append(appendColumn(b, pgtype.UUIDOID, len(parsed)), parsed[:]...)
}

func appendWhole(b []byte, n int64) []byte { return binary.BigEndian.AppendUint64(b, uint64(n)) }

// year2000 is where PostgreSQL counts microseconds from.
var year2000 = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC).UnixMicro()

func appendInstant(b []byte, at time.Time) []byte { return appendWhole(b, at.UnixMicro()-year2000) }
