package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/people"
)

// The streams of the book, one owner each: room.noun/id.

// IntakeBoat is a boat's stream in the intake room.
func IntakeBoat(id boat.ID) string { return "intake.boat/" + string(id) }

// RepairBoat is a boat's stream in the repair room.
func RepairBoat(id boat.ID) string { return "repair.boat/" + string(id) }

// ValuationBoat is a boat's stream in the valuation room.
func ValuationBoat(id boat.ID) string { return "valuation.boat/" + string(id) }

// ValuationComparable is a comparable's stream.
func ValuationComparable(id string) string { return "valuation.comparable/" + id }

// MatchingBoat is a boat's stream in the matching room: its offers and its
// hand-over. An offer's answer is written here, so that a boat can only ever be
// promised once.
func MatchingBoat(id boat.ID) string { return "matching.boat/" + string(id) }

// MatchingRequest is a request's stream.
func MatchingRequest(id string) string { return "matching.request/" + id }

// MatchingRound is a round's stream.
func MatchingRound(id string) string { return "matching.round/" + id }

// MatchingRelease is the stream of the club's own release text.
const MatchingRelease = "matching.release"

// TreasuryBoat is a boat's stream in the treasury room: its cost book, its sale.
func TreasuryBoat(id boat.ID) string { return "treasury.boat/" + string(id) }

// TreasuryBin is a bin's cost book: what was bought for it and what was lost. What
// it gives to a boat stands in the boat's.
func TreasuryBin(id string) string { return "treasury.bin/" + id }

// TreasurySeries is a series of papers; its version is the last serial number.
func TreasurySeries(series string) string { return "treasury.series/" + series }

// TreasuryPaper is a paper's own stream, for what happens to it after its issue.
func TreasuryPaper(id string) string { return "treasury.paper/" + id }

// TreasuryBooks is the stream in which periods are closed.
const TreasuryBooks = "treasury.books/books"

// TreasuryMandates is the stream of who may sign papers.
const TreasuryMandates = "treasury.mandates/mandates"

// Person is a person's stream.
func Person(id people.ID) string { return "people.person/" + string(id) }

// PrivateLink is a private link's stream.
func PrivateLink(id string) string { return "people.link/" + id }

// Doubles is the stream of judgements about two persons; the order of the two
// does not matter.
func Doubles(one, other people.ID) string {
	return "people.doubles/" + string(min(one, other)) + "+" + string(max(one, other))
}

// Club is the stream of the club's settings.
const Club = "people.club/club"
