// Package intake is the room where boats are offered, identified, looked over,
// and taken or declined.
//
// A boat's states:
//
//	log-boat
//	   │
//	   ▼          decline-boat
//	offered ───────────────────────┐
//	   │ accept-boat               ▼
//	   │ (looked over)          declined
//	   ▼          decline-boat     ▲
//	accepted ──────────────────────┘
//	   │ receive-boat
//	   ▼
//	received
//
// Facts may be corrected, look-overs made and drying recorded in every state but
// declined. A price is offered only while a boat is offered, and the decision can
// be put off until a day (hold-boat) as often as is wanted; an accepted boat can
// still be declined, because owners change their minds. Possession and the signed
// transfer may also come one by one (note-possession, sign-transfer): the second
// of them receives the boat. A boat that is received leaves by other rooms' words:
// handed over, sold or retired.
//
// What each state needs to be left:
//
//	offered    a look-over, the giver's right shown, nothing below in the way
//	accepted   possession and the signed transfer, no open doubt
//	received   the other rooms' work
//	declined   nothing: it may come back as a new entry
//
// A look-over's states:
//
//	begin-look-over ──▶ open ── finish-look-over ──▶ finished ── match-findings ──▶ matched
//	                     ▲ answer-points,                          (again, when it was wrong)
//	                     │ note-defect
//
// Finishing needs a finding for each point of the guide that was answered "seen".
// It is provisional when something could not be seen or was not answered; a price
// on it needs words. Only the inspector notes defects, and only while it is open. The second
// look-over that is finished by another person matches its findings with the
// first one's and carries the estimate of what both missed. That holds only if
// the two did not see each other's lists: whoever shows look-overs keeps an open
// one to its inspector.
//
// A name belongs to one boat for ever, because papers carry it. A hull number
// should be one boat's as long as that boat is with the club. A second boat with
// it is written down all the same, with a doubt; a number that cannot be read is
// kept as written, and pkg/hin says what is odd about it.
//
// What stops acceptance, and who opens the way:
//
//	nothing shows the giver's right      a steward records the paper (show-right)
//	a doubt: number altered, another     an administrator settles it (settle-doubt);
//	boat's, or a report of theft         otherwise the boat is declined
//	found less than found-days ago       time
//	back, and no last water recorded     a steward keeps it dry (set-quarantine)
//	no look-over                         a steward looks it over
//	a price on a provisional look-over   a look-over that could see all, or words
//
// A doubt stops the transfer, too. A drying time stops nothing here, and the
// hand-over in matching. Everything else goes on meanwhile.
//
// A boat that was declined or has left may come back: as an entry of its own, so
// that its look-over, quarantine, giver and papers are new, tied to the entry of
// the time before, whose name and number it keeps.
//
// The day of a gift or purchase is the later one of possession and the signed
// transfer, as the steward states them, also where the club decided later than
// both; boat-received is said when both exist, in whichever order they come. Which
// day counts for a tax is not for this room to say.
//
// A boat lies at one place or at none: its own stream says where. A place holds
// what fits beside each other by length and beam, and gives its room back when a
// boat has left the club.
//
// A life jacket that came with a boat is held against 33 CFR 175.23. One that
// fails, or of which something could not be checked, is never passed on: it is
// cut up, or given back while the boat is still its giver's.
//
// It says every intake.* kind. It hears valuation.ceiling-set (the most that may
// be offered), the rooms that introduce people (who may be named as a giver),
// and matching.boat-handed-over, treasury.boat-sold and repair.boat-retired
// (which boats have left).
package intake
