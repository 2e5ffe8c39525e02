package web

import (
	"bytes"
	"context"
	"crypto/subtle"
	"errors"
	"strconv"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/proof"
)

// checkpointsShown is how many checkpoints stand on one page.
const checkpointsShown = 50

func proofRoutes() []route {
	paper := get(message.PaperPath+"{serial}/{code}", anybody, (*visit).checkPaper)
	paper.held = true
	return []route{
		paper,
		get("/book/checkpoints", anyMember, (*visit).checkpoints),
		get("/book/checkpoints/{size}", anyMember, (*visit).checkpoint),
		get("/papers/{paper}/proof", treasurers, (*visit).paperProof),
		get("/my/papers/{paper}/proof", donor, (*visit).myPaperProof),
	}
}

// lodged is a paper as whoever holds it may check it.
type lodged struct {
	Serial    string
	Code      string
	Digest    string
	File      string
	On        time.Time
	Position  int64
	Cancelled bool
}

// Day is the day of the paper.
func (l lodged) Day() clock.Date { return clock.DateOf(l.On) }

// projectLodged keeps what is told of a paper to whoever holds it. Papers of the
// first layout bear no address to check them at.
func projectLodged(ctx context.Context, tx pgx.Tx, e message.Event, body message.Body) error {
	exec := desk.Exec(ctx, tx)
	switch m := body.(type) {
	case message.PaperIssued:
		if m.Template < 2 {
			return nil
		}
		return exec(`INSERT INTO web.lodged (serial, code, digest, issued_on, position) VALUES ($1, $2, $3, $4, $5)`,
			m.Serial, m.Salt, m.Digest, m.On.Time(), e.Position)
	case message.PaperLodged:
		return exec(`UPDATE web.lodged SET file_digest = $2, position = $3 WHERE serial = $1`, m.Serial, m.File, e.Position)
	case message.PaperCancelled:
		return exec(`UPDATE web.lodged SET cancelled = true WHERE serial = $1`, m.Serial)
	}
	return nil
}

func (s *Site) findLodged(ctx context.Context, serial string) (l lodged, err error) {
	rows, err := s.Pool.Query(ctx, `SELECT serial, code, digest, file_digest, issued_on, position, cancelled FROM web.lodged WHERE serial = $1`, serial)
	if err != nil {
		return l, err
	}
	l, err = pgx.CollectExactlyOneRow(rows, pgx.RowToStructByPos[lodged])
	if errors.Is(err, pgx.ErrNoRows) {
		return l, nil
	}
	return l, err
}

// checkedPage is what anybody who holds a paper may know: that it stands in the
// book, since when, and the hashes to hold it against. Nobody is named.
type checkedPage struct {
	Frame
	Paper lodged
	Since *proof.Signed // the first checkpoint that covers it
	Key   proof.Key
}

// checkPaper answers the address behind a paper's code. A serial that there is not
// and one with a wrong code are answered alike.
func (v *visit) checkPaper() error {
	l, err := v.findLodged(v.ctx, v.param("serial"))
	if err != nil {
		return err
	}
	if subtle.ConstantTimeCompare([]byte(l.Code), []byte(v.param("code"))) != 1 {
		return fault.New(fault.Unknown, "The club's book has no paper with this number and code. Compare the address with the one printed on the paper, letter by letter; if it is the same, ask the club.")
	}
	p := checkedPage{Frame: v.frame("Paper " + l.Serial), Paper: l}
	since, err := v.Log.FirstOver(v.ctx, l.Position)
	switch {
	case fault.Is(err, fault.Unknown):
	case err != nil:
		return err
	default:
		p.Since, p.Key = &since, since.By[0]
	}
	return v.show("paper", p)
}

// checkpointsPage shows the book's checkpoints, the keys that sign them, and how to
// check with them.
type checkpointsPage struct {
	Frame
	Events      int64
	Checkpoints []proof.Signed
	Earlier     int64 // smaller checkpoints stand before this size; 0 for none
	Keys        []ledger.SigningKey
	Newest      string // the newest checkpoint's note
}

func (v *visit) checkpoints() error {
	p := checkpointsPage{Frame: v.frame("The book’s checkpoints")}
	head, err := v.Log.Head(v.ctx)
	if err != nil {
		return err
	}
	p.Events = head.Position
	before, err := strconv.ParseInt(v.r.URL.Query().Get("before"), 10, 64)
	if err != nil || before < 0 {
		before = 0
	}
	if p.Checkpoints, err = v.Log.Checkpoints(v.ctx, before, checkpointsShown); err != nil {
		return err
	}
	if n := len(p.Checkpoints); n == checkpointsShown {
		p.Earlier = p.Checkpoints[n-1].Size
	}
	if before == 0 && len(p.Checkpoints) > 0 {
		p.Newest = string(p.Checkpoints[0].Note)
	}
	if p.Keys, err = v.Log.SigningKeys(v.ctx); err != nil {
		return err
	}
	return v.show("checkpoints", p)
}

// checkpoint gives the checkpoints of a size as a file: two where a key was changed.
func (v *visit) checkpoint() error {
	size, err := strconv.ParseInt(v.param("size"), 10, 64)
	if err != nil {
		size = 0 // of which there is none
	}
	found, err := v.Log.CheckpointsOf(v.ctx, size)
	if err != nil {
		return err
	}
	if len(found) == 0 {
		return fault.New(fault.Unknown, "There is no checkpoint of this many events.")
	}
	var notes [][]byte
	for _, c := range found {
		notes = append(notes, c.Note)
	}
	return v.download("checkpoint-"+strconv.FormatInt(size, 10)+".txt", "text/plain; charset=utf-8", bytes.Join(notes, []byte("\n")))
}

// paperProof gives the file by which a paper can be checked without the club.
func (v *visit) paperProof() error {
	p, err := find[Paper](v.ctx, v.Site, "paper", v.param("paper"), "paper")
	if err != nil {
		return err
	}
	l, err := v.findLodged(v.ctx, p.Serial)
	if err == nil && l.Serial == "" {
		err = fault.New(fault.Unknown, "This paper is of the first layout; a proof for it is made at the machine: refloat prove %s", p.Serial)
	}
	if err != nil {
		return err
	}
	file, err := v.Log.Prove(v.ctx, l.Position)
	if fault.Is(err, fault.Unknown) {
		err = fault.New(fault.Unavailable, "The book’s next checkpoint will cover this paper; it is made within seconds. Try again.")
	}
	if err != nil {
		return err
	}
	return v.download(p.Serial+".proof.txt", "text/plain; charset=utf-8", file)
}

func (v *visit) myPaperProof() error {
	if err := v.mustBeOwnPaper(); err != nil {
		return err
	}
	return v.paperProof()
}
