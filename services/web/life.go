package web

import (
	"strconv"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
)

// turn is a day on which a boat's way through the club took a turn.
type turn struct {
	N     int // from 1
	On    clock.Date
	What  string
	After int // days since the turn before
}

// turns names the events that are told in a boat's life in short. All others stand in
// its history.
var turns = map[message.Kind]string{
	message.BoatLogged{}.Kind():       "offered to the club",
	message.LookOverFinished{}.Kind(): "looked over",
	message.BoatAccepted{}.Kind():     "accepted",
	message.BoatDeclined{}.Kind():     "declined",
	message.BoatReceived{}.Kind():     "received",
	message.WorkPlanned{}.Kind():      "work planned",
	message.BoatReady{}.Kind():        "ready",
	message.OfferMade{}.Kind():        "offered to a household",
	message.BoatHandedOver{}.Kind():   "handed over",
	message.BoatReturned{}.Kind():     "back from its household",
	message.BoatSold{}.Kind():         "sold",
	message.SaleTakenBack{}.Kind():    "brought back by its buyer",
	message.BoatRetired{}.Kind():      "retired for parts",
	message.BoatCameBack{}.Kind():     "came back to the club",
}

// lifeOf tells a boat's life in short from the lines of its history that the reader
// may see. What is done several times in a row on one day, or planned piece by piece,
// is told once.
func lifeOf(lines []Line) []turn {
	var life []turn
	for _, l := range lines {
		what, told := turns[l.Kind]
		if !told {
			continue
		}
		t := turn{N: len(life) + 1, On: clock.DateOf(l.HappenedAt), What: what}
		if len(life) > 0 {
			before := life[len(life)-1]
			if before.What == what && (before.On == t.On || l.Kind == message.WorkPlanned{}.Kind()) {
				continue
			}
			t.After = t.On.DaysSince(before.On)
		}
		life = append(life, t)
	}
	return life
}

// timeLine is a boat's life along a line, to the scale of time as far as the marks
// leave each other room.
type timeLine struct {
	Title string
	Marks []timeMark
	Ends  []chartMark // the days at both ends
}

// timeMark is a turn's place on the line, with its number.
type timeMark struct {
	X     int
	Label string
}

// mostTurns is how many marks a line has room for, each markRoom from the next.
const (
	mostTurns = 16
	markRoom  = 30
)

// drawLife draws turns; none for so few or many that a line tells nothing.
func drawLife(life []turn) timeLine {
	if len(life) < 2 || len(life) > mostTurns {
		return timeLine{}
	}
	first, last := life[0].On, life[len(life)-1].On
	line := timeLine{Title: "From " + first.String() + " to " + last.String() + ", " + count(len(life), "turn", "turns") + "; the table has the same"}
	days := max(last.DaysSince(first), 1)
	const left, right = 24, 576
	for i, t := range life {
		x := left + (right-left)*t.On.DaysSince(first)/days
		if i > 0 {
			x = max(x, line.Marks[i-1].X+markRoom)
		}
		line.Marks = append(line.Marks, timeMark{x, strconv.Itoa(t.N)})
	}
	for i, limit := len(line.Marks)-1, right; i >= 0; i, limit = i-1, limit-markRoom {
		line.Marks[i].X = min(line.Marks[i].X, limit)
	}
	line.Ends = []chartMark{{line.Marks[0].X, first.String()}, {line.Marks[len(life)-1].X, last.String()}}
	return line
}

// barChart is a count for each of some groups, with a bar as long as the count: a chart
// and its table in one.
type barChart struct {
	ID, Title   string
	Group, Unit string // the heads of its columns
	Rows        []bar
}

// bar is one group of a chart.
type bar struct {
	Label   string
	Address string // where what is counted is listed; may be empty
	N       int
	Part    int // of the largest, in hundredths
}

// scaled sets how long the bars are.
func (b barChart) scaled() barChart {
	most := 0
	for _, r := range b.Rows {
		most = max(most, r.N)
	}
	for i := range b.Rows {
		if n := b.Rows[i].N; n > 0 {
			b.Rows[i].Part = max(1, 100*n/most)
		}
	}
	return b
}

// ages counts days in groups.
func ages(days []int) []bar {
	groups := []struct {
		label string
		below int
	}{{"up to 30 days", 31}, {"31 to 60 days", 61}, {"61 to 90 days", 91}, {"91 to 180 days", 181}, {"181 days to a year", 366}, {"longer", 1 << 30}}
	rows := make([]bar, len(groups))
	for i, g := range groups {
		rows[i].Label = g.label
	}
	for _, d := range days {
		for i, g := range groups {
			if d < g.below {
				rows[i].N++
				break
			}
		}
	}
	return rows
}
