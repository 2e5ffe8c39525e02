package desk

import (
	"context"

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
	rows   map[string]*keptRow
}

// keptRow is a row that was written whole in this transaction.
type keptRow struct {
	doc  any
	sent *pgx.QueuedQuery // the statement, while it is kept
}

// mostKept bounds what is kept, in statements.
const mostKept = 1000

func (d *Desk) writing(tx pgx.Tx, schema string) *writing {
	return &writing{Tx: tx, d: d, schema: schema, kept: &pgx.Batch{}, seen: map[string]string{}, rows: map[string]*keptRow{}}
}

// Keep runs a statement that writes a whole row from a document. key names the row.
// When the same row is written again in the same transaction only the last
// statement is sent, so that a document into which a batch folds many events is
// written once. Everything else that writes the row has to come this way too.
func Keep(ctx context.Context, tx pgx.Tx, key string, doc any, sql string, args ...any) error {
	w, ok := tx.(*writing)
	if !ok {
		return Exec(ctx, tx)(sql, args...)
	}
	if row := w.rows[key]; row != nil && row.sent != nil && row.sent.SQL == w.redirect(sql) {
		row.doc, row.sent.Arguments = doc, args
		return nil
	}
	row := &keptRow{doc: doc}
	w.rows[key] = row
	row.sent = w.kept.Queue(w.redirect(sql), args...)
	return w.flushFull(ctx)
}

// Kept gives the document of a row that was written in this transaction. The
// caller may change it, and writes it again then.
func Kept[D any](tx pgx.Tx, key string) (doc D, ok bool) {
	w, ok := tx.(*writing)
	if !ok || w.rows[key] == nil {
		return doc, false
	}
	doc, ok = w.rows[key].doc.(D)
	return doc, ok
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
	if w.kept.Len() < mostKept {
		return nil
	}
	return w.flush(ctx)
}

// flush sends what was kept.
func (w *writing) flush(ctx context.Context) error {
	if w.kept.Len() == 0 {
		return nil
	}
	kept := w.kept
	w.kept = &pgx.Batch{}
	for _, row := range w.rows {
		row.sent = nil
	}
	return w.Tx.SendBatch(ctx, kept).Close()
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
