// Package ledger is the club's book: one order of events, without gaps, each
// chained to the one before by its hash, kept in PostgreSQL and never changed.
//
// What it promises:
//
//   - An append is all or nothing, across several streams if need be, and is on
//     disk when it is answered (PostgreSQL's commit, with fsync on).
//   - An append that states a version which is not the stream's is refused with
//     a conflict. The same request key gives the first answer again, once
//     written; the same key with other content is refused.
//   - Positions are 1, 2, 3 … in commit order, so a reader that asks for what
//     lies behind the last position it saw never misses an event.
//   - Verify finds any changed, missing, added or reordered row, and says where.
//     What it cannot tell without a copy of the head from outside the house is
//     whether the end of the book was cut off or rewritten as a whole.
//
// How: one writer in the whole installation, elected by a session lock in
// PostgreSQL, gathers what waits and writes it as one statement that compares
// and sets the head row. Processes that do not hold the lock pass their appends
// to it by request and reply. A lost connection is resolved, by fencing the head
// with a new epoch and looking, before anyone is answered.
//
// What it does not do: it knows nothing of boats or people, and it does not read
// an event's payload.
package ledger
