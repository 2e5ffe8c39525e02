package proof

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/tlog"
)

// MaxFile bounds a proof file, in bytes: the largest event there can be, and what
// goes with it.
const MaxFile = 5 << 20

// maxPath bounds the hashes of a proof: a tree of 2^62 events has no more.
const maxPath = 126

// The first lines of the two kinds of file.
const (
	inclusionTitle   = "refloat proof of an event, format 1"
	consistencyTitle = "refloat proof of two checkpoints, format 1"
)

// The marks of the lines that follow. Hashes stand one a line, in base64.
const (
	eventMark = "event "
	olderMark = "older "
)

var errFile = errors.New("this is no proof file, or it was changed")

// Inclusion proves that an event is covered by a checkpoint.
type Inclusion struct {
	// Event is the event on one line; whoever keeps the book knows how it is
	// written and hashed.
	Event string
	Path  tlog.RecordProof
	Note  []byte // the signed checkpoint
}

// Marshal writes the file.
func (p Inclusion) Marshal() []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s\n%s%s\n", inclusionTitle, eventMark, p.Event)
	writePath(&b, p.Path)
	b.WriteByte('\n')
	b.Write(p.Note)
	return b.Bytes()
}

// ParseInclusion reads a file that Marshal wrote, and nothing else.
func ParseInclusion(file []byte) (p Inclusion, err error) {
	rest, ok := bytes.CutPrefix(file, []byte(inclusionTitle+"\n"+eventMark))
	if !ok || len(file) > MaxFile {
		return p, errFile
	}
	event, rest, ok := bytes.Cut(rest, []byte("\n"))
	if !ok {
		return p, errFile
	}
	p.Event = string(event)
	if p.Path, p.Note, err = readPath(rest); err != nil {
		return p, err
	}
	if !bytes.Equal(p.Marshal(), file) {
		return p, errFile
	}
	return p, nil
}

// ErrRefused is in the chain of the error for a proof that does not hold.
var ErrRefused = errors.New("the proof does not hold")

// Check checks the checkpoint's signature and that the event with this position
// and hash is covered.
func (p Inclusion) Check(position int64, hash []byte, keys ...Key) (Signed, error) {
	c, err := Open(p.Note, keys...)
	if err != nil {
		return c, fmt.Errorf("%w: %w", ErrRefused, err)
	}
	if position < 1 || position > c.Size {
		return c, fmt.Errorf("%w: the checkpoint covers the events 1 to %d, and this one is number %d", ErrRefused, c.Size, position)
	}
	if err := tlog.CheckRecord(p.Path, c.Size, c.Root, position-1, tlog.RecordHash(hash)); err != nil {
		return c, fmt.Errorf("%w: the event is not the one that the checkpoint covers: %w", ErrRefused, err)
	}
	return c, nil
}

// Consistency proves that a later checkpoint continues an earlier one.
type Consistency struct {
	Path         tlog.TreeProof
	Older, Newer []byte // signed checkpoints
}

// Marshal writes the file.
func (p Consistency) Marshal() []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s\n%s%d\n", consistencyTitle, olderMark, len(p.Older))
	writePath(&b, p.Path)
	b.WriteByte('\n')
	b.Write(p.Older)
	b.Write(p.Newer)
	return b.Bytes()
}

// ParseConsistency reads a file that Marshal wrote, and nothing else.
func ParseConsistency(file []byte) (p Consistency, err error) {
	rest, ok := bytes.CutPrefix(file, []byte(consistencyTitle+"\n"+olderMark))
	if !ok || len(file) > MaxFile {
		return p, errFile
	}
	length, rest, _ := bytes.Cut(rest, []byte("\n"))
	n, err := strconv.Atoi(string(length))
	if err != nil {
		return p, errFile
	}
	var notes []byte
	if p.Path, notes, err = readPath(rest); err != nil {
		return p, err
	}
	if n < 0 || n > len(notes) {
		return p, errFile
	}
	p.Older, p.Newer = notes[:n], notes[n:]
	if !bytes.Equal(p.Marshal(), file) {
		return p, errFile
	}
	return p, nil
}

// Check checks both signatures and that the newer book begins with the older one.
func (p Consistency) Check(keys ...Key) (older, newer Signed, err error) {
	if older, err = Open(p.Older, keys...); err != nil {
		return older, newer, fmt.Errorf("%w: the older checkpoint: %w", ErrRefused, err)
	}
	if newer, err = Open(p.Newer, keys...); err != nil {
		return older, newer, fmt.Errorf("%w: the newer checkpoint: %w", ErrRefused, err)
	}
	return older, newer, Continues(older.Checkpoint, newer.Checkpoint, p.Path)
}

// Continues checks that a book at a newer checkpoint begins with the book at an
// older one.
func Continues(older, newer Checkpoint, path tlog.TreeProof) error {
	switch {
	case older.Book != newer.Book:
		return fmt.Errorf("%w: one checkpoint is of the book %s, the other of %s", ErrRefused, older.Book, newer.Book)
	case older.Size > newer.Size:
		return fmt.Errorf("%w: the older checkpoint covers more events than the newer one", ErrRefused)
	case older.Size == newer.Size && !older.Same(newer):
		return fmt.Errorf("%w: two different books of %d events", ErrRefused, older.Size)
	}
	if err := tlog.CheckTree(path, newer.Size, newer.Root, older.Size, older.Root); err != nil {
		return fmt.Errorf("%w: the newer book does not begin with the older one: %w", ErrRefused, err)
	}
	return nil
}

// IsConsistency says which kind of file this is.
func IsConsistency(file []byte) bool { return bytes.HasPrefix(file, []byte(consistencyTitle)) }

func writePath(b *bytes.Buffer, path []tlog.Hash) {
	for _, h := range path {
		fmt.Fprintf(b, "%s\n", h)
	}
}

// readPath reads hashes up to the empty line.
func readPath(text []byte) (path []tlog.Hash, rest []byte, err error) {
	head, rest, ok := bytes.Cut(text, []byte("\n\n"))
	if after, none := bytes.CutPrefix(text, []byte("\n")); none { // a book of one event
		return nil, after, nil
	}
	lines := strings.Split(string(head), "\n")
	if !ok || len(lines) > maxPath {
		return nil, nil, errFile
	}
	for _, line := range lines {
		h, err := tlog.ParseHash(line)
		if err != nil {
			return nil, nil, errFile
		}
		path = append(path, h)
	}
	return path, rest, nil
}
