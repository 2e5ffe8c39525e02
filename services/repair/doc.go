// Package repair is the room where findings become work, parts, hours and tests,
// and where a boat is declared ready or retired.
//
// A finding's states:
//
//	noted (by the intake room)
//	   │
//	   ▼      plan-work            finish-work
//	 open ──────────────▶ planned ─────────────▶ ended
//	   ▲                   │    ▲                  │
//	   │                   └────┘                  │
//	   │              plan-work anew               │
//	   └───────────── record-test, failed ─────────┘
//
// A boat's states, as far as they are this room's:
//
//	(accepted) ──▶ on the bench ── declare-ready ──▶ ready
//	                    │  ▲                           │
//	                    │  └── work, a failed test ────┘
//	                    └── retire-boat ──▶ retired
//
// Work and tests are for a boat that the club has accepted and that is still
// there. Money and hours can be booked on any boat that was ever accepted,
// because bills come late.
//
// Two inspectors who saw the same thing made two findings; they are planned,
// ended and reopened together, and both stay on the honest page that goes with
// the boat. Nothing is ever left off that page: not what was left as it was, and
// not what was withdrawn as a mistake.
//
// Which method suits which material, and which tests a boat needs, stand in
// methods.go and needed.go as tables with reasons and with marks of where they
// come from. They catch what is known to fail; they do not say that work will
// hold, and they are no instruction: the makers of boat and materials, local
// rules and licensed trades govern.
//
// Declaring a boat ready needs every test that it needs, passed after the last
// work, and no open finding that forbids use. The decision rests on the version
// of the boat's stream in the intake room as well, so that a finding noted in
// the same moment is not overlooked.
//
// It says every repair.* kind. It hears the intake room (boats, facts, findings,
// acceptance), the people room (who is a member), and matching.boat-handed-over
// and treasury.boat-sold (which boats have left).
package repair
