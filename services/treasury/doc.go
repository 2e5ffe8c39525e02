// Package treasury is the room of the club's money for boats: what each cost and
// fetched, and the papers that donors get.
//
// A boat's cost book is double entry. Every entry balances to zero in every
// currency, debits being positive, and none is ever changed: a mistake is mended
// by the opposite entry and a right one.
//
//	what happened                        debit                  credit
//	the club paid for a boat             boat:cost              cash
//	a part, paid by the club             boat:parts             cash
//	a part, paid by the donor            boat:parts             gift of parts
//	a part, out of a member's pocket     boat:parts             owed to volunteers
//	outside work, a fee                  boat:outside work…     as for a part
//	money came in for a boat             cash                   boat:recovered
//	something was bought for a bin       stock                  cash, or owed
//	a bin gave something to a boat       boat:parts             stock
//	a bin lost something                 stock losses           stock
//	a retired boat's part was kept       stock                  boat:recovered
//	a member laid out something else     volunteer costs        owed to volunteers
//	the same, for a boat                 boat:volunteer costs   owed to volunteers
//	a member was paid back, or gave it   owed to volunteers     cash, or gifts of volunteers
//	a gift, at its value that day        boat:gift in kind      contributions in kind
//	a boat was sold                      cash                   sales
//	its buyer got money back             sales                  cash
//	a boat is missing, or worth less     boat losses            boat:written down
//
// The accounts are the room's own plain ones, no chart of any standard; volunteers'
// hours never become money. A gift is entered when its value on the day of the
// gift is known, and entered anew when that value is replaced.
//
// A paper's states:
//
//	issue-paper ──▶ issued ── cancel-paper ──▶ cancelled
//	   │               ▲
//	   └──▶ prepared ──┘ sign-paper, above the amount from which two sign
//
// Who signs is appointed by an administrator from day to day; until the first
// appointment every treasurer may.
//
// The rules for a paper are pkg/taxpaper's. A boat has at most one paper that
// stands; one that is issued after a cancelled one names it. Serials are
// COUNTRY-YEAR-number, the year being that of the issue; a cancelled serial stays
// used. What a paper says is sealed under a key of its own, which is destroyed
// when the paper need not be kept any more. Until then it prints the same, byte
// for byte; a cancelled one prints with a mark that says so.
//
// A member's costs of a year that they gave get a paper about the services, where the
// country's rules know one; it is a paper like a boat's, without a boat.
//
// No paper is issued by its donor or by whoever valued the boat, nor on a value that
// its donor gave. Whoever is shown one stands in the book, by ids. Whether
// work is major or a use significant is not judged here: a paper certifies what a
// member attests, and works that the rules exclude are refused.
// Nothing here is tax advice.
//
// What members lay out, and whether it is paid back or given, stands in a stream for each
// member. It says every treasury.* kind. It hears intake (the boat, its giver, the price,
// the day of the gift), repair (parts and hours), valuation.boat-valued,
// matching.boat-handed-over, and whoever introduces or changes a person, because
// a paper bears the donor's name.
package treasury
