package ledger

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/proof"
)

// line is an event as a proof file shows it: every field that its hash covers.
type line struct {
	Position      int64           `json:"position"`
	ID            string          `json:"id"`
	Stream        string          `json:"stream"`
	Version       int64           `json:"version"`
	Kind          message.Kind    `json:"kind"`
	Schema        int             `json:"schema"`
	Boat          boat.ID         `json:"boat,omitempty"`
	HappenedAt    time.Time       `json:"happened_at"`
	RecordedAt    time.Time       `json:"recorded_at"`
	Actor         string          `json:"actor"`
	Cause         string          `json:"cause,omitempty"`
	Correlation   string          `json:"correlation,omitempty"`
	RequestKey    string          `json:"request_key,omitempty"`
	RequestPart   int             `json:"request_part"`
	RequestDigest []byte          `json:"request_digest"`
	Data          json.RawMessage `json:"data"`
	PrevHash      []byte          `json:"prev_hash"`
}

// writeLine writes a row on one line.
func writeLine(r *Row) (string, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	err := enc.Encode(line{
		r.Position, r.ID, r.Stream, r.Version, r.Kind, r.Schema, r.Boat, r.HappenedAt.UTC(), r.RecordedAt.UTC(), r.Actor, r.Cause, r.Correlation,
		r.RequestKey, r.RequestPart, r.RequestDigest, json.RawMessage(r.Data), r.PrevHash,
	})
	if err != nil {
		return "", fmt.Errorf("writing event %d on a line: %w", r.Position, err)
	}
	return string(bytes.TrimSuffix(b.Bytes(), []byte("\n"))), nil
}

// readLine reads what writeLine wrote, and nothing else, and computes the hash.
func readLine(text string) (*Row, error) {
	var l line
	dec := json.NewDecoder(bytes.NewReader([]byte(text)))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&l); err != nil {
		return nil, fmt.Errorf("the event in the file cannot be read: %w", err)
	}
	r := &Row{RequestPart: l.RequestPart, RequestDigest: l.RequestDigest, Event: message.Event{
		Position: l.Position, ID: l.ID, Stream: l.Stream, Version: l.Version, Kind: l.Kind, Schema: l.Schema, Boat: l.Boat,
		HappenedAt: l.HappenedAt, RecordedAt: l.RecordedAt, Actor: l.Actor, Cause: l.Cause, Correlation: l.Correlation,
		RequestKey: l.RequestKey, Data: l.Data, PrevHash: l.PrevHash,
	}}
	if again, err := writeLine(r); err != nil || again != text {
		return nil, fmt.Errorf("the event in the file is not written as it should be")
	}
	r.Hash = newChainer().hash(r)
	return r, nil
}

// Prove makes a file that shows an event and proves that the newest checkpoint
// covers it. It reads the event, the checkpoint and as many hashes as the tree has
// levels. An event that no checkpoint covers yet is a fault of kind Unknown.
func (r *Reader) Prove(ctx context.Context, position int64) ([]byte, error) {
	rows, err := collect(r.pool.Query(ctx, `SELECT `+columns+` FROM ledger.event WHERE position = $1`, position))
	if err != nil {
		return nil, fmt.Errorf("reading the book: %w", err)
	}
	if len(rows) == 0 {
		return nil, fault.New(fault.Unknown, "the book has no event %d", position)
	}
	newest, err := r.LastCheckpoint(ctx)
	if err != nil {
		return nil, err
	}
	if newest.Size < position {
		return nil, fault.New(fault.Unknown, "no checkpoint covers event %d yet; one is made within seconds, try again", position)
	}
	p := proof.Inclusion{Note: newest.Note}
	if p.Path, err = tlog.ProveRecord(newest.Size, position-1, treeReader{ctx, r.pool}); err != nil {
		return nil, fmt.Errorf("proving event %d: %w", position, err)
	}
	if p.Event, err = writeLine(&rows[0]); err != nil {
		return nil, err
	}
	file := p.Marshal()
	if _, err := CheckProof(file, newest.By...); err != nil {
		return nil, fmt.Errorf("event %d or the stored tree is not as it was sealed, run refloat verify --tree: %w", position, err)
	}
	return file, nil
}

// Proved is what a proof file was found to prove.
type Proved struct {
	Event      message.Event
	Checkpoint proof.Signed
}

// CheckProof reads a file that Prove made and checks it with public keys: that the
// event has the hash that the checkpoint covers at its position. It needs nothing
// but the file and the keys.
func CheckProof(file []byte, keys ...proof.Key) (out Proved, err error) {
	p, err := proof.ParseInclusion(file)
	if err != nil {
		return out, err
	}
	row, err := readLine(p.Event)
	if err != nil {
		return out, err
	}
	out.Event = row.Event
	out.Checkpoint, err = p.Check(row.Position, row.Hash, keys...)
	return out, err
}

// ProveContinues makes a file which proves that the newest checkpoint continues an
// older one. A checkpoint that this book does not continue is a fault of kind
// Conflict.
func (r *Reader) ProveContinues(ctx context.Context, older proof.Signed) ([]byte, error) {
	newest, err := r.LastCheckpoint(ctx)
	if err != nil {
		return nil, err
	}
	if older.Size > newest.Size {
		return nil, fault.New(fault.Conflict, "the checkpoint covers %d events, and the newest one of this book only %d: the book lost events, or no checkpoint was made since", older.Size, newest.Size)
	}
	p := proof.Consistency{Older: older.Note, Newer: newest.Note}
	if p.Path, err = tlog.ProveTree(newest.Size, older.Size, treeReader{ctx, r.pool}); err != nil {
		return nil, fmt.Errorf("proving that a checkpoint is continued: %w", err)
	}
	if err := proof.Continues(older.Checkpoint, newest.Checkpoint, p.Path); err != nil {
		return nil, fault.Because(fault.Conflict, err, "this book does not continue the checkpoint of %d events", older.Size)
	}
	return p.Marshal(), nil
}
