// Package people is the room that knows persons: members and what they may do,
// donors, households that ask for a boat, guardians; what they agreed to; the
// private links by which those without an account come in; and the end of it
// all, erasure.
//
// Words: a person has a sort, the part in which they first came. Details are
// name, mail, phone, address and language; they leave this room only sealed
// under the person's own key. A private link is bound to a person, a purpose
// and a subject, and its secret can be made from its id with the master key
// alone, so it stands nowhere.
//
//	         register-person, or introduced by another room
//	(none) ───────────────────────────────────────────────▶ known ──erase-person──▶ erased
//	                                     change-person, roles ↺        (the key is destroyed)
//
// It says: person-registered, person-changed, role-given, role-taken,
// consent-given, consent-withdrawn, guardian-named, link-given, link-ended,
// doubles-judged, person-erased, setting-changed, skip-allowed,
// letter-settled, passkey-added, passkey-removed.
//
// It hears: intake.boat-logged and matching.request-made, which introduce
// persons; matching.offer-made and treasury.paper-issued, upon which it writes
// letters; matching.request-ended, offer-answered, promise-ended and boat-handed-over, from
// which it knows how long a household's data is needed.
//
// It does not promise that a letter arrives, nor that backups forget what an
// erasure destroyed before they are overwritten.
package people
