// Package proof is how a stranger checks the club's book without the book: signed
// checkpoints, proofs that an event is covered by one, and proofs that a later
// checkpoint continues an earlier one. It is pure: no database, no network.
//
// The events' hashes are the leaves of a Merkle tree (RFC 6962 section 2.1). A
// checkpoint states how many events it covers, the tree's root over them, the last
// event's own hash and the time, and is a signed note with an Ed25519 signature
// (golang.org/x/mod/sumdb/note; its first three lines are those of the open
// checkpoint format of transparency logs, from memory: c2sp.org/tlog-checkpoint).
//
// It promises that a proof which is read and found right holds for the whole file:
// whatever byte of it is changed, it is refused. What no proof can tell: whether the
// event said the truth, what the book holds beyond the checkpoint, and, unless two
// people compare theirs, whether the club shows everybody the same book.
package proof
