package desk

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// writing is the transaction that projections see. Statements about the room's
// read tables go to the tables of a schema: the live ones, or those that are being
// filled beside them. Statements that give no rows are kept and sent together,
// before one that does: a projection that asked nothing then costs one round trip
// to the database, not one a statement.
type writing struct {
	pgx.Tx
	d      *Desk
	schema string
	kept   *pgx.Batch
	seen   map[string]string // statements as they were redirected
	known  *memory
	unsent []*keptRow // documents whose rows are not written yet
}

// memory is the documents that were read or written, by key: in one transaction, or
// in all of a rebuild, whose tables nobody else writes.
type memory struct {
	rows  map[string]*keptRow
	whole bool // every row that was ever written is in it
}

// keptRow is a row that is written whole from a document.
type keptRow struct {
	doc    any
	sql    string
	args   []any
	unsent bool
}

const (
	// mostKept bounds what is kept, in statements.
	mostKept = 1000
	// mostKnown bounds the documents that are remembered from batch to batch.
	mostKnown = 10_000
)

func (m *memory) row(key string) *keptRow {
	if m.rows == nil {
		m.rows = map[string]*keptRow{}
	}
	row := m.rows[key]
	if row == nil {
		row = &keptRow{}
		m.rows[key] = row
	}
	return row
}

func (m *memory) forget() { *m = memory{} }

func (d *Desk) writing(tx pgx.Tx, schema string, known *memory) *writing {
	if len(known.rows) > mostKnown {
		known.forget()
	}
	return &writing{Tx: tx, d: d, schema: schema, kept: &pgx.Batch{}, seen: map[string]string{}, known: known}
}

// Keep writes a whole row from a document, with a statement. key names the row. Written
// again in the same transaction it is sent once, as it was last: a document into which
// a batch folds many events costs one statement. Everything else that writes the row
// has to come this way too, and what reads it has to be a question or Document.
func Keep(ctx context.Context, tx pgx.Tx, key string, doc any, sql string, args ...any) error {
	w, ok := tx.(*writing)
	if !ok {
		return Exec(ctx, tx)(sql, args...)
	}
	row := w.known.row(key)
	row.doc, row.sql, row.args = doc, w.redirect(sql), args
	if !row.unsent {
		row.unsent = true
		w.unsent = append(w.unsent, row)
	}
	return w.flushFull(ctx)
}

// Document gives the document of a row that Keep writes under a key, as it stands in
// this transaction; an empty one when there is none. sql asks for it in the database.
// The caller may change it, and keeps it again then.
func Document[D any](ctx context.Context, tx pgx.Tx, key, sql string, args ...any) (doc D, err error) {
	w, ok := tx.(*writing)
	if !ok {
		return stored[D](tx.QueryRow(ctx, sql, args...))
	}
	if row := w.known.rows[key]; row != nil {
		return row.doc.(D), nil
	}
	if w.known.whole {
		return doc, nil
	}
	// What is not sent yet is of other rows.
	return stored[D](w.Tx.QueryRow(ctx, w.redirect(sql), args...))
}

func stored[D any](row pgx.Row) (doc D, err error) {
	if err = row.Scan(&doc); errors.Is(err, pgx.ErrNoRows) {
		err = nil
	}
	return doc, err
}

// redirect names the tables of the schema instead of the live ones.
func (w *writing) redirect(sql string) string {
	if w.schema == w.d.Room {
		return sql
	}
	redirected, ok := w.seen[sql]
	if !ok {
		redirected = w.d.redirect(sql, w.schema)
		w.seen[sql] = redirected
	}
	return redirected
}

func (d *Desk) redirect(sql, schema string) string {
	return d.besides.ReplaceAllString(sql, schema+".$1")
}

// Exec keeps a statement; its error comes with a later one.
func (w *writing) Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error) {
	w.kept.Queue(w.redirect(sql), args...)
	return pgconn.CommandTag{}, w.flushFull(ctx)
}

// flushFull sends what was kept when it has become much.
func (w *writing) flushFull(ctx context.Context) error {
	if w.kept.Len()+len(w.unsent) < mostKept {
		return nil
	}
	return w.flush(ctx)
}

// flush sends what was kept.
func (w *writing) flush(ctx context.Context) error {
	w.queueRows()
	if w.kept.Len() == 0 {
		return nil
	}
	kept := w.kept
	w.kept = &pgx.Batch{}
	return w.Tx.SendBatch(ctx, kept).Close()
}

func (w *writing) queueRows() {
	for _, row := range w.unsent {
		w.kept.Queue(row.sql, row.args...)
		row.unsent, row.args = false, nil
	}
	w.unsent = w.unsent[:0]
}

func (w *writing) Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error) {
	if err := w.flush(ctx); err != nil {
		return nil, err
	}
	return w.Tx.Query(ctx, w.redirect(sql), args...)
}

// QueryRow sends the question together with what was kept, when its answer is
// scanned.
func (w *writing) QueryRow(ctx context.Context, sql string, args ...any) pgx.Row {
	return &question{w, ctx, sql, args}
}

type question struct {
	w    *writing
	ctx  context.Context
	sql  string
	args []any
}

func (q *question) Scan(dest ...any) error {
	var scanned error
	q.w.queueRows()
	q.w.kept.Queue(q.w.redirect(q.sql), q.args...).QueryRow(func(row pgx.Row) error {
		scanned = row.Scan(dest...)
		return nil // a row that is not there is no failure of the others
	})
	if err := q.w.flush(q.ctx); err != nil {
		return err
	}
	return scanned
}

// errOther refuses ways to the database by which a statement would reach the live
// tables while others are being filled.
const errOther = "a projection uses Exec, Query and QueryRow alone"

func (w *writing) Begin(context.Context) (pgx.Tx, error) { panic(errOther) }
func (w *writing) CopyFrom(context.Context, pgx.Identifier, []string, pgx.CopyFromSource) (int64, error) {
	panic(errOther)
}
func (w *writing) SendBatch(context.Context, *pgx.Batch) pgx.BatchResults { panic(errOther) }
func (w *writing) Prepare(context.Context, string, string) (*pgconn.StatementDescription, error) {
	panic(errOther)
}
func (w *writing) Conn() *pgx.Conn                { panic(errOther) }
func (w *writing) LargeObjects() pgx.LargeObjects { panic(errOther) }
func (w *writing) Commit(context.Context) error   { panic(errOther) }
func (w *writing) Rollback(context.Context) error { panic(errOther) }
