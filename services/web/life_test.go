package web

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"refloat.example/pkg/message"
)

func TestALifeInShort(t *testing.T) {
	day := func(d int) time.Time { return time.Date(2026, 3, d, 23, 30, 0, 0, time.UTC) }
	lines := []Line{
		{Kind: message.BoatLogged{}.Kind(), HappenedAt: day(1)},
		{Kind: message.LookOverFinished{}.Kind(), HappenedAt: day(3)},
		{Kind: message.LookOverFinished{}.Kind(), HappenedAt: day(3)}, // on the same day: told once
		{Kind: message.LookOverFinished{}.Kind(), HappenedAt: day(4)},
		{Kind: message.HoursBooked{}.Kind(), HappenedAt: day(5)}, // no turn
		{Kind: message.WorkPlanned{}.Kind(), HappenedAt: day(6)},
		{Kind: message.WorkPlanned{}.Kind(), HappenedAt: day(9)}, // piece by piece: told once
		{Kind: message.BoatReady{}.Kind(), HappenedAt: day(31)},
	}
	life := lifeOf(lines)
	var told []string
	for _, l := range life {
		told = append(told, l.On.String()+" "+l.What)
	}
	assert.Equal(t, []string{"2026-03-01 offered to the club", "2026-03-03 looked over", "2026-03-04 looked over", "2026-03-06 work planned", "2026-03-31 ready"}, told)
	assert.Equal(t, []int{0, 2, 1, 2, 25}, []int{life[0].After, life[1].After, life[2].After, life[3].After, life[4].After})

	line := drawLife(life)
	assert.Equal(t, "From 2026-03-01 to 2026-03-31, 5 turns; the table has the same", line.Title)
	for i, m := range line.Marks {
		assert.True(t, 24 <= m.X && m.X <= 576, "mark %d at %d is on the line", i, m.X)
		if i > 0 {
			assert.GreaterOrEqual(t, m.X-line.Marks[i-1].X, markRoom, "marks leave each other room")
		}
	}
	assert.Empty(t, drawLife(life[:1]).Marks, "one day is no line")
}

func TestBarsAreAsLongAsTheirCounts(t *testing.T) {
	rows := barChart{Rows: ages([]int{0, 30, 31, 60, 61, 200, 400, 400})}.scaled().Rows
	var n, part []int
	for _, r := range rows {
		n, part = append(n, r.N), append(part, r.Part)
	}
	assert.Equal(t, []int{2, 2, 1, 0, 1, 2}, n)
	assert.Equal(t, []int{100, 100, 50, 0, 50, 100}, part)
}
