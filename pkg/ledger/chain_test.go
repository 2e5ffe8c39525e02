package ledger

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"io"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
)

// hashOf gives the hash that a row ought to carry.
func hashOf(r *Row) []byte { return newChainer().hash(r) }

// The hashes were computed with Python's hashlib and struct from the layout alone:
// each text or byte field as its length in 8 bytes, big-endian, and its bytes; each
// number and instant (microseconds since 1970, UTC) as 8 bytes, two's complement.
// They never change: a book that was written once has to verify for ever.
func TestKnownHashes(t *testing.T) {
	const (
		genesis = "9962f2a75e96096645fcd7dbe12acbdd44ee055dbf4aa3beff85de647546343a"
		first   = "d50550c3d75f58a9a07765573a08bd7b0ea1abca26c3ecf836473dbfe13f2dcc"
		second  = "2b5d76dedac840ea57d6a430fc5adb503893d45bda2730d3fdd24ad0ed531eb8"
	)
	crack, nothing := sha256.Sum256([]byte("a crack")), sha256.Sum256(nil)
	one := Row{RequestDigest: crack[:], Event: message.Event{
		Position: 1, ID: "01985a3e-7c00-7000-8000-000000000001", Stream: "intake.boat/b1", Version: 1, Kind: "intake.noted", Schema: 1, Boat: "b1",
		HappenedAt: time.Date(2026, 3, 30, 9, 15, 0, 250_000_000, time.UTC), RecordedAt: noon,
		Actor: "member/m1", Correlation: "r1", RequestKey: "k1", Data: []byte(`{"words":"a crack"}`), PrevHash: Genesis[:],
	}}
	two := Row{RequestPart: 1, RequestDigest: nothing[:], Event: message.Event{
		Position: 2, ID: "01985a3e-7c00-7000-8000-000000000002", Stream: "repair.boat/b1", Version: 1, Kind: "repair.noted", Schema: 2,
		HappenedAt: time.Date(1969, 12, 31, 23, 59, 59, 999_999_000, time.UTC), RecordedAt: noon.Add(time.Microsecond),
		Actor: "room/repair", Cause: "c1", RequestKey: "k2", Data: []byte(`{"words":"Spläsh €"}`), PrevHash: hashOf(&one),
	}}
	assert.Equal(t, genesis, hex.EncodeToString(Genesis[:]))
	assert.Equal(t, first, hex.EncodeToString(hashOf(&one)))
	assert.Equal(t, second, hex.EncodeToString(hashOf(&two)))
	one.HappenedAt = one.HappenedAt.In(time.FixedZone("east", 7200)).Add(999)
	assert.Equal(t, first, hex.EncodeToString(hashOf(&one)), "the zone and nanoseconds are not part of it")
}

// plainHash says the same as chainer.hash in other words.
func plainHash(r *Row) []byte {
	h := sha256.New()
	put := func(fields ...any) {
		for _, f := range fields {
			switch f := f.(type) {
			case string:
				_ = binary.Write(h, binary.BigEndian, int64(len(f)))
				_, _ = io.WriteString(h, f)
			case []byte:
				_ = binary.Write(h, binary.BigEndian, int64(len(f)))
				_, _ = h.Write(f)
			case int64:
				_ = binary.Write(h, binary.BigEndian, f)
			}
		}
	}
	put("refloat-ledger-v1/sha256", r.PrevHash, r.Position, r.ID, r.Stream, r.Version, string(r.Kind), int64(r.Schema), string(r.Boat),
		r.HappenedAt.UnixMicro(), r.RecordedAt.UnixMicro(), r.Actor, r.Cause, r.Correlation, r.RequestKey, int64(r.RequestPart), r.RequestDigest, []byte(r.Data))
	return h.Sum(nil)
}

func drawRow(t *rapid.T) *Row {
	text := rapid.StringN(0, 6, -1)
	bytes := rapid.SliceOfN(rapid.Byte(), 0, 6)
	number := rapid.Int64()
	instant := rapid.Map(rapid.Int64Range(-1<<50, 1<<50), func(n int64) time.Time { return time.UnixMicro(n).UTC() })
	return &Row{RequestPart: int(number.Draw(t, "part")), RequestDigest: bytes.Draw(t, "digest"), Event: message.Event{
		Position: number.Draw(t, "position"), ID: text.Draw(t, "id"), Stream: text.Draw(t, "stream"), Version: number.Draw(t, "version"),
		Kind: message.Kind(text.Draw(t, "kind")), Schema: int(number.Draw(t, "schema")), Boat: boat.ID(text.Draw(t, "boat")),
		HappenedAt: instant.Draw(t, "happened"), RecordedAt: instant.Draw(t, "recorded"), Actor: text.Draw(t, "actor"), Cause: text.Draw(t, "cause"),
		Correlation: text.Draw(t, "correlation"), RequestKey: text.Draw(t, "key"), Data: bytes.Draw(t, "data"), PrevHash: bytes.Draw(t, "prev"),
	}}
}

func TestHashesOfAnyRows(t *testing.T) {
	c := newChainer()
	rapid.Check(t, func(t *rapid.T) {
		row := drawRow(t)
		require.Equal(t, plainHash(row), c.hash(row))
	})
}

// Guard: the lengths in appendField. A byte that moves from the end of one field
// to the beginning of the next gives another hash.
func TestMovingAByteBetweenFieldsChangesTheHash(t *testing.T) {
	fields := []func(*Row) *string{
		func(r *Row) *string { return &r.ID }, func(r *Row) *string { return &r.Stream }, func(r *Row) *string { return &r.Actor },
		func(r *Row) *string { return &r.Cause }, func(r *Row) *string { return &r.Correlation }, func(r *Row) *string { return &r.RequestKey },
	}
	rapid.Check(t, func(t *rapid.T) {
		row := drawRow(t)
		i := rapid.IntRange(0, len(fields)-2).Draw(t, "field")
		from, to := fields[i](row), fields[i+1](row)
		*from += "x"
		before := slices.Clone(hashOf(row))
		*from, *to = (*from)[:len(*from)-1], "x"+*to
		require.NotEqual(t, before, hashOf(row))
	})
}
