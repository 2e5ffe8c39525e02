package ledger

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// Guard: the comparison in Writer.conflictOf. Without it the second append of
// each row is taken.
func TestAStaleVersionIsRefused(t *testing.T) {
	for name, row := range map[string]struct {
		expected int64
		taken    bool
	}{
		"the version it is at": {2, true}, "older": {1, false}, "none yet": {0, false}, "newer": {3, false}, "any": {AnyVersion, true},
	} {
		for _, cached := range []bool{true, false} {
			t.Run(fmt.Sprintf("%s, cached %v", name, cached), func(t *testing.T) {
				b := newBook(t)
				h := b.hand()
				h.one(note("b1", 0, key(), "one"))
				h.one(note("b1", 1, key(), "two"))
				if !cached {
					clear(h.versions)
				}
				answers, err := h.write(note("b1", row.expected, key(), "three"))
				require.NoError(t, err)
				if row.taken {
					require.NoError(t, answers[0].err)
					assert.EqualValues(t, 3, answers[0].receipt.Events[0].Version)
					return
				}
				assert.True(t, fault.Is(answers[0].err, fault.Conflict), "%v", answers[0].err)
				assert.ErrorContains(t, answers[0].err, "version 2")
				assert.Len(t, b.all(), 2)
			})
		}
	}
}

// Guards: Writer.version looks at the plan before it looks at what is written;
// behind it stands the constraint event_stream_version.
func TestOfTwoWithOneVersionInABatchOneIsTaken(t *testing.T) {
	b := newBook(t)
	answers, err := b.hand().write(note("b1", 0, "k1", "mine"), note("b1", 0, "k2", "yours"), note("b1", 1, "k3", "next"))
	require.NoError(t, err)
	assert.NoError(t, answers[0].err)
	assert.True(t, fault.Is(answers[1].err, fault.Conflict))
	assert.NoError(t, answers[2].err, "it rests on what stands before it in the batch")
}

// Guard: the constraint event_stream_version, for a writer whose memory is wrong
// and for one that takes a stream for new which is not.
func TestAStreamHasEachVersionOnce(t *testing.T) {
	b := newBook(t)
	h := b.hand()
	h.one(note("b1", 0, key(), "one"))
	for _, memory := range []map[string]int64{{"intake.boat/b1": 0}, {}} {
		h.versions = memory
		answers, err := h.write(note("b1", 0, key(), "one again"), note("b2", AnyVersion, key(), "a neighbour"))
		require.NoError(t, err)
		assert.True(t, fault.Is(answers[0].err, fault.Conflict), "%v", answers[0].err)
		assert.ErrorContains(t, answers[0].err, "b1 is at version 1, not 0")
		assert.NoError(t, answers[1].err)
	}
	assert.Len(t, b.all(), 3)
}

// Guard: each condition in Writer.assume. A stream that is not in memory is taken
// for new only where the table would refuse the batch if it were not.
func TestStreamsAreTakenForNewOnlyWhereThatIsSafe(t *testing.T) {
	restsOn := func(a Append, boat string, version int64) Append {
		a.Expect = append(a.Expect, Expected{"intake.boat/" + boat, version})
		return a
	}
	for name, row := range map[string]struct {
		batch []Append
		want  []string // "" for taken
	}{
		"it is new":                          {[]Append{note("new", 0, "k1", "x")}, []string{""}},
		"it is not":                          {[]Append{note("old", 0, "k1", "x")}, []string{"old is at version 2, not 0"}},
		"it is at the version expected":      {[]Append{note("old", 2, "k1", "x")}, []string{""}},
		"one expects what is so":             {[]Append{note("old", 0, "k1", "x"), note("old", 2, "k2", "x")}, []string{"old is at version 2, not 0", ""}},
		"one expects nothing":                {[]Append{note("old", 0, "k1", "x"), note("old", AnyVersion, "k2", "x")}, []string{"old is at version 2, not 0", ""}},
		"one expects nothing, first":         {[]Append{note("old", AnyVersion, "k1", "x"), note("old", 0, "k2", "x")}, []string{"", "old is at version 3, not 0"}},
		"one rests on it and does not write": {[]Append{restsOn(note("new", 0, "k1", "x"), "old", 0)}, []string{"old is at version 2, not 0"}},
		"one rests on it, another writes": {[]Append{note("old", 0, "k1", "x"), restsOn(note("new", 0, "k2", "x"), "old", 0)},
			[]string{"old is at version 2, not 0", "old is at version 2, not 0"}},
		"the writer is refused for another stream": {[]Append{restsOn(note("old", 0, "k1", "x"), "new", 9), note("old", 2, "k2", "x")},
			[]string{"is at version", ""}},
		"the writer is refused, another rests on it": {[]Append{restsOn(note("old", 0, "k1", "x"), "other", 9), restsOn(note("new", 0, "k2", "x"), "old", 0)},
			[]string{"is at version", "old is at version 2, not 0"}},
		"two make it": {[]Append{note("new", 0, "k1", "x"), note("new", 0, "k2", "x")}, []string{"", "new is at version 1, not 0"}},
		"two think so": {[]Append{note("old", 0, "k1", "x"), note("old", 0, "k2", "x"), note("new", 0, "k3", "x")},
			[]string{"old is at version 2, not 0", "old is at version 2, not 0", ""}},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBook(t)
			h := b.hand()
			h.one(note("old", 0, key(), "one"))
			h.one(note("old", 1, key(), "two"))
			clear(h.versions)
			answers, err := h.write(row.batch...)
			require.NoError(t, err)
			for i, answer := range answers {
				if row.want[i] == "" {
					assert.NoError(t, answer.err)
				} else {
					assert.ErrorContains(t, answer.err, row.want[i])
				}
			}
			for stream, version := range h.versions {
				events, err := b.Stream(t.Context(), stream)
				require.NoError(t, err)
				assert.Len(t, events, int(version), "what the writer remembers of %s", stream)
			}
		})
	}
}

func TestAnAppendIsAllOrNothing(t *testing.T) {
	b := newBook(t)
	h := b.hand()
	h.one(note("b1", 0, key(), "one"))
	both := note("b2", 0, key(), "two")
	both.Events = append(both.Events, note("b1", 0, "", "two").Events...)
	both.Expect = append(both.Expect, Expected{"intake.boat/b1", 0})
	answers, err := h.write(both)
	require.NoError(t, err)
	assert.True(t, fault.Is(answers[0].err, fault.Conflict))
	both.Expect[1].Version = 1
	receipt := h.one(both)
	require.Len(t, receipt.Events, 2)
	assert.EqualValues(t, 3, receipt.Position())
	assert.EqualValues(t, 2, receipt.Events[1].Version)
}

// Guard: the look at p.repeats in Writer.plan (one batch), answerRefused (a stale
// version), the constraint event_request and the thorough plan behind it (a version
// that holds, or none), the comparison of digests in receiptOf.
func TestTheSameKeyGivesTheFirstAnswer(t *testing.T) {
	first := note("b1", 0, "one-intent", "a crack")
	fresh, any, other := first, first, note("b1", 0, "one-intent", "a hole")
	fresh.Expect = []Expected{{"intake.boat/b1", 1}}
	any.Expect = nil
	freshOther := other
	freshOther.Expect = fresh.Expect
	for name, row := range map[string]struct {
		again Append
		taken bool
	}{
		"as it was":                                   {first, true},
		"with a fresh version":                        {fresh, true},
		"with no version":                             {any, true},
		"for something else":                          {other, false},
		"for something else, with a fresh version":    {freshOther, false},
		"for something else, of which there are more": {withMore(other), false},
	} {
		for _, when := range []string{"in the batch", "in a later batch", "in a batch with others", "after a restart"} {
			t.Run(name+" "+when, func(t *testing.T) {
				b := newBook(t)
				was, answer := askAgain(t, b, when, first, row.again)
				if !row.taken {
					assert.True(t, fault.Is(answer.err, fault.Conflict), "%v", answer.err)
					assert.ErrorContains(t, answer.err, "used before for something else")
				} else {
					require.NoError(t, answer.err)
					assert.True(t, answer.receipt.Repeated)
					assert.Equal(t, was.Events, answer.receipt.Events)
				}
				rows, err := byKey(t.Context(), b.pool, "one-intent")
				require.NoError(t, err)
				assert.Len(t, rows, 1)
				again, found, err := b.Repeat(t.Context(), "one-intent", row.again.Digest)
				assert.True(t, found)
				assert.Equal(t, row.taken, err == nil)
				assert.Equal(t, row.taken, again.Repeated)
			})
		}
	}
}

func askAgain(t *testing.T, b *book, when string, first, again Append) (Receipt, outcome) {
	h := b.hand()
	var answers []outcome
	var err error
	switch when {
	case "in the batch":
		answers, err = h.write(first, again)
		require.NoError(t, err)
		require.NoError(t, answers[0].err)
		return answers[0].receipt, answers[1]
	case "in a batch with others":
		was := h.one(first)
		answers, err = h.write(note("b2", 0, key(), "before"), again, note("b3", 0, key(), "behind"))
		require.NoError(t, err)
		require.NoError(t, answers[0].err)
		require.NoError(t, answers[2].err)
		return was, answers[1]
	}
	was := h.one(first)
	if when == "after a restart" {
		h.leave()
		h = b.hand()
	}
	answers, err = h.write(again)
	require.NoError(t, err)
	return was, answers[0]
}

func withMore(a Append) Append {
	a.Events = append(a.Events[:1:1], note("b9", 0, "", "more").Events...)
	return a
}

// Guard: writeOneByOne, and the checks in Append.check for what never reaches it.
func TestABadAppendNeverFailsItsNeighbours(t *testing.T) {
	b := newBook(t)
	h := b.hand()
	h.one(note("b0", 0, "used", "first"))
	rng := rand.New(rand.NewPCG(20260401, 1))
	at := map[string]int64{"b0": 1}
	for range 30 {
		var batch []Append
		var want []fault.Kind
		for range 1 + rng.IntN(12) {
			boat := fmt.Sprint("b", rng.IntN(4))
			switch rng.IntN(5) {
			case 0:
				batch, want = append(batch, note(boat, at[boat]+7, key(), "stale")), append(want, fault.Conflict)
			case 1:
				batch, want = append(batch, note("b0", AnyVersion, "used", "first")), append(want, "repeated")
			case 2:
				batch, want = append(batch, note(boat, at[boat], "used", "something else")), append(want, fault.Conflict)
			default:
				batch, want = append(batch, note(boat, at[boat], key(), "good")), append(want, "")
				at[boat]++
			}
		}
		answers, err := h.write(batch...)
		require.NoError(t, err)
		for i, answer := range answers {
			switch want[i] {
			case "", "repeated":
				require.NoError(t, answer.err, "append %d of %v", i, want)
				require.Equal(t, want[i] == "repeated", answer.receipt.Repeated)
			default:
				require.True(t, fault.Is(answer.err, want[i]), "append %d of %v: %v", i, want, answer.err)
			}
		}
	}
}

// What the database refuses, although the checks let it pass, is refused alone.
func TestAnAppendThatTheDatabaseRefusesIsRefusedAlone(t *testing.T) {
	b := newBook(t)
	h := b.hand()
	b.db.Exec(`ALTER TABLE ledger.event ADD CONSTRAINT toy CHECK (data <> '{"words":"refused"}')`)
	answers, err := h.write(note("b1", 0, key(), "one"), note("b1", AnyVersion, key(), "refused"), note("b1", AnyVersion, key(), "two"))
	require.NoError(t, err)
	assert.NoError(t, answers[0].err)
	assert.True(t, fault.Is(answers[1].err, fault.Internal), "%v", answers[1].err)
	assert.NoError(t, answers[2].err)
	assert.Len(t, b.all(), 2)
}

// Each row is one line of Append.check and what stands behind it.
func TestWhatCannotBeWrittenIsRefusedBeforeItIsQueued(t *testing.T) {
	long := strings.Repeat("x", maxName+1)
	for name, spoil := range map[string]func(a *Append){
		"key":                      func(a *Append) { a.Key = "" },
		"key too long":             func(a *Append) { a.Key = long },
		"key not UTF-8":            func(a *Append) { a.Key = "\xff" },
		"key with zero":            func(a *Append) { a.Key = "a\x00b" },
		"digest":                   func(a *Append) { a.Digest = a.Digest[:31] },
		"actor":                    func(a *Append) { a.Actor = "" },
		"actor too long":           func(a *Append) { a.Actor = long },
		"cause with zero":          func(a *Append) { a.Cause = "\x00" },
		"cause too long":           func(a *Append) { a.Cause = long },
		"correlation with newline": func(a *Append) { a.Correlation = "a\nb" },
		"happened before year 1":   func(a *Append) { a.HappenedAt = time.Date(-1, 1, 1, 0, 0, 0, 0, time.UTC) },
		"happened after year 9999": func(a *Append) { a.HappenedAt = time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC) },
		"happened there in UTC": func(a *Append) {
			a.HappenedAt = time.Date(9999, 12, 31, 23, 0, 0, 0, time.FixedZone("west", -3600*2))
		},
		"no events":             func(a *Append) { a.Events = nil },
		"too many events":       func(a *Append) { a.Events = make([]New, MaxEvents+1) },
		"too many bytes":        func(a *Append) { a.Events = bulky(3) },
		"stream without a room": func(a *Append) { a.Events[0].Stream = "boat/b1" },
		"stream with no noun":   func(a *Append) { a.Events[0].Stream = "intake." },
		"no room at all":        func(a *Append) { a.Events[0].Stream, a.Events[0].Kind = ".x", ".noted" },
		"stream too long":       func(a *Append) { a.Events[0].Stream += long },
		"stream not UTF-8":      func(a *Append) { a.Events[0].Stream += "\xff" },
		"another room's stream": func(a *Append) { a.Events[0].Stream = "repair.boat/b1" },
		"boat too long":         func(a *Append) { a.Events[0].Boat = boat.ID(long) },
		"boat with zero":        func(a *Append) { a.Events[0].Boat = "a\x00" },
		"kind without a room":   func(a *Append) { a.Events[0].Kind = "noted" },
		"kind with no word":     func(a *Append) { a.Events[0].Kind = "intake." },
		"kind with a space":     func(a *Append) { a.Events[0].Kind = "intake.a b" },
		"kind with a wildcard":  func(a *Append) { a.Events[0].Kind = "intake.>" },
		"kind with two points":  func(a *Append) { a.Events[0].Kind = "intake.a.b" },
		"schema 0":              func(a *Append) { a.Events[0].Schema = 0 },
		"schema too large":      func(a *Append) { a.Events[0].Schema = 1<<32 + 1 },
		"data empty":            func(a *Append) { a.Events[0].Data = "" },
		"data not JSON":         func(a *Append) { a.Events[0].Data = `{"a":}` },
		"data not canonical":    func(a *Append) { a.Events[0].Data = `{"a": 1}` },
		"data with a float":     func(a *Append) { a.Events[0].Data = `{"a":1.5}` },
		"data not an object":    func(a *Append) { a.Events[0].Data = `null` },
		"data with U+0000":      func(a *Append) { a.Events[0].Data = `{"a":"\u0000"}` },
		"data too long":         func(a *Append) { a.Events[0].Data = `{"a":"` + strings.Repeat("x", message.MaxData) + `"}` },
		"expects of a bad name": func(a *Append) { a.Expect = []Expected{{"\xff", 0}} },
		"expects below any":     func(a *Append) { a.Expect = []Expected{{"intake.boat/b1", -2}} },
		"expects too much":      func(a *Append) { a.Expect = make([]Expected, MaxEvents+1) },
	} {
		t.Run(name, func(t *testing.T) {
			a := note("b1", 0, key(), "good")
			require.NoError(t, a.check())
			spoil(&a)
			err := a.check()
			assert.True(t, fault.Is(err, fault.Invalid), "%v", err)
			_, err = new(Writer).Append(t.Context(), a)
			assert.True(t, fault.Is(err, fault.Invalid), "%v", err)
			_, err = new(Log).Append(t.Context(), a)
			assert.True(t, fault.Is(err, fault.Invalid), "%v", err)
		})
	}
}

// bulky gives events of about a MiB each.
func bulky(n int) []New {
	events := make([]New, n)
	for i := range events {
		events[i] = note("b1", 0, "", strings.Repeat("<", 1<<20-20)).Events[0]
	}
	return events
}

func TestTheLargestAppendIsTaken(t *testing.T) {
	b := newBook(t)
	h := b.hand()
	large := note("b1", 0, key(), "")
	large.Events = bulky(1)
	h.one(large)
	many := note("b1", 1, key(), "")
	for len(many.Events) < MaxEvents {
		many.Events = append(many.Events, many.Events[0])
	}
	receipt := h.one(many)
	assert.EqualValues(t, MaxEvents+1, receipt.Position())
}

// Guard: laterOf in Writer.now.
func TestRecordedAtNeverDecreases(t *testing.T) {
	b := newBook(t)
	h := b.hand()
	said := new(logged)
	h.log = said.logger()
	var last time.Time
	for i, jump := range []time.Duration{0, time.Hour, -3 * time.Hour, time.Second, -time.Hour, 24 * time.Hour} {
		b.clock.Advance(jump)
		if i == 4 { // a restart forgets nothing
			h.leave()
			h = b.hand()
		}
		h.one(note("b1", AnyVersion, key(), "x"))
		rows := b.all()
		at := rows[len(rows)-1].RecordedAt
		assert.False(t, at.Before(last), "%s came after %s", at, last)
		last = at
	}
	assert.Equal(t, noon.Add(21*time.Hour+time.Second), last)
	assert.Equal(t, 1, strings.Count(said.text(), "the clock went back"), "said once, and by the first writer")
}

// Instants that calendars and counters stumble over are kept as they are: a leap day,
// the hour that a zone leaves out, the end of 32-bit seconds, a leap second's neighbour.
func TestOddInstantsAreKept(t *testing.T) {
	b := newBook(t)
	h := b.hand()
	for i, at := range []time.Time{
		time.Date(2024, 2, 29, 23, 59, 59, 999_999_000, time.UTC), time.Date(2026, 3, 8, 7, 30, 0, 0, time.UTC),
		time.Date(2016, 12, 31, 23, 59, 59, 0, time.UTC), time.Date(2038, 1, 19, 3, 14, 8, 0, time.UTC), time.Date(1969, 12, 31, 0, 0, 0, 1000, time.UTC),
	} {
		a := note("b1", int64(i), key(), "x")
		a.HappenedAt = at.In(time.FixedZone("there", -5*3600))
		h.one(a)
		rows := b.all()
		assert.Equal(t, at, rows[i].HappenedAt)
	}
}

func TestAPayloadThatCannotBeWrittenDownIsRefused(t *testing.T) {
	_, err := Event("intake.boat/b1", "b1", message.DefectWithdrawn{Boat: "b1", Why: "a \x00 in it"})
	assert.True(t, fault.Is(err, fault.Invalid), "%v", err)
	e, err := Event("intake.boat/b1", "b1", message.DefectWithdrawn{Boat: "b1", Finding: "f1", Why: "<seen> twice"})
	require.NoError(t, err)
	assert.Equal(t, New{"intake.boat/b1", "b1", "intake.defect-withdrawn", 1, `{"boat":"b1","finding":"f1","why":"<seen> twice"}`}, e)
}

// Guard: appendField. Without the lengths the two digests are the same.
func TestDigestsTellPartsApart(t *testing.T) {
	assert.NotEqual(t, DigestOf([]byte("ab"), []byte("c")), DigestOf([]byte("a"), []byte("bc")))
	assert.Equal(t, DigestOf([]byte("ab"), []byte("c")), DigestOf([]byte("ab"), []byte("c")))
}
