package importer

import (
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/google/uuid"

	"refloat.example/pkg/desk"
)

// Options says how a file comes in.
type Options struct {
	// DryRun rehearses every row and changes nothing.
	DryRun bool
	// AllOrNothing brings nothing in when any row is wrong.
	AllOrNothing bool
}

// Summary is what came of a file.
type Summary struct {
	Kind     string `json:"kind"`
	File     string `json:"file"`
	DryRun   bool   `json:"dry_run,omitempty"`
	Rows     int    `json:"rows"`
	Good     int    `json:"good"`     // in a rehearsal: rows that would come in
	Imported int    `json:"imported"` // rows that came in now
	Already  int    `json:"already"`  // rows that an earlier import brought in
	Bad      int    `json:"bad"`      // rows that did not come in because they are wrong
	// Left counts good rows that did not come in because others are bad.
	Left     int       `json:"left,omitempty"`
	Problems []Problem `json:"problems"` // in the order of lines
	Position int64     `json:"position"` // what came in stands in the book up to here
}

// Problem is one thing wrong with a file.
type Problem struct {
	File   string `json:"file"`
	Line   int    `json:"line"` // as an editor or a spreadsheet counts; 0 for the file itself
	Column string `json:"column,omitempty"`
	Reason string `json:"reason"`
}

// String gives one line for people.
func (p Problem) String() string {
	text := p.File
	if p.Line > 0 {
		text += fmt.Sprintf(" line %d", p.Line)
	}
	if p.Column != "" {
		text += fmt.Sprintf(", column %s", p.Column)
	}
	return text + ": " + p.Reason
}

// Kinds names the lists that can be brought in.
func Kinds() []string {
	kinds := make([]string, len(lists))
	for i, l := range lists {
		kinds[i] = l.kind
	}
	return kinds
}

// ID gives the id that the import gives to the thing of a kind (boat, person,
// request, link, comparable) with a reference. The same reference always gives
// the same id.
func ID(kind, reference string) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "refloat import %q %q", kind, reference))
	id := uuid.UUID(sum[:16])
	id[6], id[8] = id[6]&0x0f|0x80, id[8]&0x3f|0x80 // RFC 9562 §5.8: UUIDv8
	return id.String()
}

// Run brings a file in. What is wrong with the file stands in the summary; the
// error is for what keeps the import from going on at all: a file that cannot be
// opened, a room that does not answer. Running it again afterwards is safe.
// progress is told now and then how far a long import is.
func Run(ctx context.Context, client desk.Client, kind, path string, opts Options, progress io.Writer) (Summary, error) {
	i := slices.IndexFunc(lists, func(l *list) bool { return l.kind == kind })
	if i < 0 {
		return Summary{}, fmt.Errorf("there is no list called %q; choose one of %s", kind, strings.Join(Kinds(), ", "))
	}
	t, problems, err := readTable(path)
	if err != nil {
		return Summary{}, err
	}
	r := &run{
		client: client, opts: opts, progress: progress, list: lists[i], table: t,
		summary: Summary{Kind: kind, File: filepath.Base(path), DryRun: opts.DryRun, Problems: []Problem{}},
	}
	r.add(problems...)
	if err := r.all(ctx); err != nil {
		return r.finish(), err
	}
	return r.finish(), nil
}

// run is one import at work.
type run struct {
	client   desk.Client
	opts     Options
	progress io.Writer
	list     *list
	table    *table
	orders   []order
	summary  Summary
}

func (r *run) add(problems ...Problem) {
	for _, p := range problems {
		p.File = r.summary.File
		r.summary.Problems = append(r.summary.Problems, p)
	}
}

func (r *run) finish() Summary {
	slices.SortStableFunc(r.summary.Problems, func(a, b Problem) int { return a.Line - b.Line })
	return r.summary
}

// all checks the whole file before it sends anything.
func (r *run) all(ctx context.Context) error {
	if len(r.summary.Problems) > 0 { // the file cannot be read as a whole
		return nil
	}
	columns, problems := r.list.match(r.table)
	if r.add(problems...); len(problems) > 0 {
		return nil
	}
	r.summary.Rows = len(r.table.lines)
	rows := readRows(r.list, r.table, columns)
	if err := r.nameRows(ctx, rows); err != nil {
		return err
	}
	r.writeOrders(rows)
	if r.opts.DryRun || r.opts.AllOrNothing {
		if err := r.give(ctx, true); err != nil {
			return err
		}
	}
	if r.opts.DryRun {
		return nil
	}
	if r.opts.AllOrNothing && r.summary.Bad > 0 {
		r.summary.Left, r.summary.Good = r.summary.Good, 0
		return nil
	}
	r.summary.Good, r.summary.Already = 0, 0
	return r.give(ctx, false)
}

// writeOrders turns rows into orders and keeps those that are good.
func (r *run) writeOrders(rows []*row) {
	refuseTwins(r.list, rows)
	for _, row := range rows {
		o := r.list.order(row)
		if len(row.problems) > 0 {
			r.add(row.problems...)
			r.summary.Bad++
			continue
		}
		o.line, o.key = row.line, "import/"+r.list.kind+"/"+row.name
		r.orders = append(r.orders, o)
	}
}
