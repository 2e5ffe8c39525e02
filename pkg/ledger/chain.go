package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"time"

	"refloat.example/pkg/message"
)

// format names the way in which hashes are made. It is part of every hash, so
// that a later way can never be mistaken for this one.
const format = "refloat-ledger-v1/sha256"

// Genesis is what the first event chains to: SHA-256 of the format's name.
var Genesis = sha256.Sum256([]byte(format))

// Row is an event as the table holds it: the event, plus what the table knows of
// the request that brought it.
type Row struct {
	message.Event
	RequestPart   int    // 0, 1, … within the request
	RequestDigest []byte // SHA-256 of what was asked
}

// chainer computes hashes and is reused from row to row.
type chainer struct{ buf []byte }

func newChainer() *chainer { return &chainer{make([]byte, 0, 1024)} }

// hash gives the row's hash as bytes of its own.
func (c *chainer) hash(r *Row) []byte {
	sum := c.sum(r)
	return sum[:]
}

// fits says whether the row has the hash that its content asks for.
func (c *chainer) fits(r *Row) bool {
	sum := c.sum(r)
	return bytes.Equal(sum[:], r.Hash)
}

// sum hashes a row. Every field is preceded by its length, so that no two different
// rows are hashed from the same bytes.
func (c *chainer) sum(r *Row) [sha256.Size]byte {
	b := c.buf[:0]
	b = appendField(b, format)
	b = appendField(b, r.PrevHash)
	b = binary.BigEndian.AppendUint64(b, uint64(r.Position))
	b = appendField(b, r.ID)
	b = appendField(b, r.Stream)
	b = binary.BigEndian.AppendUint64(b, uint64(r.Version))
	b = appendField(b, string(r.Kind))
	b = binary.BigEndian.AppendUint64(b, uint64(r.Schema))
	b = appendField(b, string(r.Boat))
	b = binary.BigEndian.AppendUint64(b, uint64(r.HappenedAt.UnixMicro()))
	b = binary.BigEndian.AppendUint64(b, uint64(r.RecordedAt.UnixMicro()))
	b = appendField(b, r.Actor)
	b = appendField(b, r.Cause)
	b = appendField(b, r.Correlation)
	b = appendField(b, r.RequestKey)
	b = binary.BigEndian.AppendUint64(b, uint64(r.RequestPart))
	b = appendField(b, r.RequestDigest)
	b = appendField(b, r.Data)
	c.buf = b
	return sha256.Sum256(b)
}

func appendField[T ~string | ~[]byte](b []byte, field T) []byte {
	b = binary.BigEndian.AppendUint64(b, uint64(len(field)))
	return append(b, field...)
}

// laterOf gives the later of two instants.
func laterOf(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
