package matching

import (
	"slices"
	"time"

	"refloat.example/pkg/message"
)

// The score only chooses between boats that fit. Checked facts weigh more than
// wishes, so that hiding a usable type gains little. The points are the club's
// own.
const (
	typePoints = 30 // for the first type named, a step less for each further
	typeStep   = 10
	loadPoints = 40 // in the comfortable middle
	waitPoints = 30 // at most: one a whole week waited
	workPoints = 10 // for a boat to which nothing has to be added, one less an hour

	// The comfortable middle is a share of the rated load, per cent: too empty a
	// boat blows about, too full a one sits deep. Common practice, no source.
	middleLow, middleHigh = 35, 60
)

// score gives the named parts of a boat's score for a request at an instant.
func score(m match, now time.Time) []message.ScorePart {
	return []message.ScorePart{scoreType(m), scoreLoad(m), scoreWork(m), scoreWait(m, now)}
}

func total(parts []message.ScorePart) int64 {
	var sum int64
	for _, p := range parts {
		sum += p.Points
	}
	return sum
}

func scoreType(m match) message.ScorePart {
	place := slices.Index(m.ask.wish.Types, m.craft.facts.Type)
	if place < 0 {
		return message.ScorePart{Name: "type", Words: "not a type that was asked for"}
	}
	return message.ScorePart{Name: "type", Points: int64(max(0, typePoints-typeStep*place)), Words: m.say("choice %d", place+1)}
}

// scoreLoad takes two points off for each per cent outside the middle.
func scoreLoad(m match) message.ScorePart {
	rated := m.craft.facts.RatedLoadG
	if rated == 0 {
		return message.ScorePart{Name: "load", Words: "no rated load to compare with"}
	}
	load, _ := m.load()
	percent := load * 100 / rated
	off := max(0, middleLow-percent, percent-middleHigh)
	return message.ScorePart{Name: "load", Points: int64(max(0, loadPoints-2*off)), Words: m.say("%d %% of the rated load", percent)}
}

// scoreWork puts a boat that has what is needed before one to which the workshop
// has to add it.
func scoreWork(m match) message.ScorePart {
	minutes := 0
	for _, f := range lacking(m) {
		minutes += m.club.fitting[f]
	}
	if minutes == 0 {
		return message.ScorePart{Name: "work", Points: workPoints, Words: "nothing has to be added"}
	}
	return message.ScorePart{Name: "work", Points: int64(max(0, workPoints-(minutes+59)/60)), Words: "about " + hours(minutes) + " of work to add what is needed"}
}

func scoreWait(m match, now time.Time) message.ScorePart {
	weeks := max(0, int(now.Sub(m.ask.made)/(7*24*time.Hour)))
	return message.ScorePart{Name: "wait", Points: int64(min(waitPoints, weeks)), Words: plural(weeks, "week", "weeks") + " waited"}
}
