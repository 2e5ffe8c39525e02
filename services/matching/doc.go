// Package matching is the room that brings boats and households together:
// requests, fit, rounds, offers and the hand-over.
//
// A request's states:
//
//	make-request
//	     │            offer sent              hand-over
//	     ▼ ───────────────────────▶ tied ─────────────────▶ placed
//	   open ◀─────────────────────── │
//	     │   declined, lapsed,       │
//	     │   withdrawn               │
//	     └────── end-request ────────┴──▶ withdrawn, declined
//
// A round's states:
//
//	commit-secret, by two members ─▶ not frozen ── open-round ─▶ opened ── solve-round ─▶ solved ── approve-round ─▶ approved
//	                                                                          ▲            (another member)           │ send-offers
//	                                                                          └── an offer came to nothing ── sent ◀──┘
//	                            close-round, once it was opened and with no offer open ─▶ closed
//
// A round for one boat goes from its second secret to solved at once, and closes
// when the boat is accepted (one_boat.go).
//
// A round that is solved again keeps what was accepted, does not pair again what
// came to nothing, and is best for the rest (fates.go). The lottery is drawn from
// the secrets of two members (secret.go).
//
// An offer is open until exactly one of accepted, declined, lapsed or withdrawn.
// An accepted offer promises the boat until it is handed over or the promise
// ends because the request or the boat did.
//
// Whether a boat fits is decided by rules (fit.go and its neighbours), each of
// which answers fits, fits if something is done first, does not, or ask; what is
// not known is never taken for a yes. The score (score.go) only chooses between boats that fit. The pairing is
// package assign's, and nothing is said before package assigncheck, which shares
// no code with it, has confirmed it.
//
// A wish is sealed under the household's key, and so are reasons that hold the
// household's numbers; what stands in clear in an event says nothing of masses,
// needs or strength.
//
// After the hand-over (handle_after.go) the club asks how it goes, takes reports,
// can stop a boat's use, and notes what did not stay. An applicant may ask that a
// member who decided nothing of it looks again.
//
// What is not promised: that a boat is safe for anybody. The rules keep out what
// is known not to fit; the maker's label, the vehicle's handbook, local law and
// somebody who shows how it is done come before them.
//
// It says every matching.* kind. It hears intake (which boats there are, their
// facts, drying times and failing life jackets), repair.boat-ready and -retired, treasury.boat-sold,
// and people (who is known, who is one person under two ids, who was erased).
package matching
