// Package valuation is the room where prices of boats like ours are collected,
// a boat is valued for a day, and the most that may be offered for it is worked
// out.
//
// A comparable's states:
//
//	record-comparable ──▶ used ── refuse-comparable ──▶ refused
//
// A value is a record that never changes. A new opinion for the same day is a
// new record that names the one before; a value used a comparable even if that
// is refused later. The whole computation stands in the record: its input is what
// `refloat calc value` reads, its output what that prints, so anybody can work
// it out again to the cent. The same holds for a ceiling and `refloat calc offer`.
//
// What counts of a boat is its age, its grade and its length. What is not known
// of the boat counts for nothing; a sale of which the same is not known is left
// out and listed. How much a grade and a year change a price are the club's
// settings, as opinions; from nine sales on the sales correct them. Length has no
// opinion of the club's: it counts only as far as the sales teach it. Asking
// prices are kept, listed with a value, and never used for one.
//
// Whoever values a boat, or sets its ceiling, neither gives it nor waits for a
// boat, and says so. A value is an opinion for the club's own books, no appraisal
// in the sense of any tax law.
//
// The cost of a defect that two inspectors both missed is taken from the repairs
// that the ceiling reckons with. Missed defects are often the dear ones, so that
// is a floor (common practice, no source). Where there is no estimate, the club's
// rule stands in its place.
//
// It says every valuation.* kind. It hears intake (what a boat is, who gives it,
// what a look-over found), repair.boat-ready (the grade at which it leaves the
// workshop), matching (who waits for a boat), people.doubles-judged (two entries
// that are one person) and treasury.boat-sold, which it answers by taking the
// club's own sale into the collection.
package valuation
