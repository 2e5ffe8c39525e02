package ledger

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
	"refloat.example/pkg/postgrestest"
)

// The other side of the binary form is PostgreSQL itself: what is read back through
// pgx is what was laid out, at the ends of each column's range too.
func TestWhatThePenWritesIsReadBack(t *testing.T) {
	b := openBook(t, postgrestest.New(t, schema))
	h := b.hand()
	instants := []time.Time{
		time.Date(1, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(1999, 12, 31, 23, 59, 59, 999_999_000, time.UTC),
		time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(2038, 1, 19, 3, 14, 8, 0, time.UTC),
		time.Date(9999, 12, 31, 23, 59, 59, 999_999_000, time.UTC),
	}
	texts := []string{"", "a", "Spläsh € 😀", `quotes ' " \ {,}`, strings.Repeat("x", 290)}
	var want []Row
	for i, at := range instants {
		want = append(want, Row{RequestPart: i, RequestDigest: []byte{0, 0xff, byte(i)}, Event: message.Event{
			Position: int64(i) + 1, ID: "01985a3e-7c00-7000-8000-00000000000" + texts[1], Stream: "intake.boat/" + texts[i], Version: 1<<62 + int64(i),
			Kind: message.Kind(texts[i]), Schema: 1<<31 - 1 - i, Boat: boat.ID(strings.ToUpper(texts[min(i, 3)])), HappenedAt: at, RecordedAt: at,
			Actor: texts[i], Cause: texts[i], Correlation: texts[i], RequestKey: "k", Data: []byte(strings.Repeat(texts[i], 1000)), PrevHash: Genesis[:], Hash: Genesis[:],
		}})
	}
	moved, err := h.pen.insert(t.Context(), h.head, want)
	require.NoError(t, err)
	require.True(t, moved)
	assert.Equal(t, want, b.all())
	head, err := b.Head(t.Context())
	require.NoError(t, err)
	assert.Equal(t, Head{int64(len(want)), Genesis[:], instants[4], h.head.Epoch}, head)
}
