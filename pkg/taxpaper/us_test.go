package taxpaper

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
)

type example struct {
	name, source string
	gift         Gift
	want         string
}

func runExamples(t *testing.T, examples []example) {
	t.Helper()
	for _, e := range examples {
		t.Run(e.name, func(t *testing.T) {
			l, err := Decide(e.gift)
			require.NoError(t, err)
			assert.Equal(t, e.want, summary(l), e.source)
		})
	}
}

// Wanted answers are worked out by hand from the named text.
var usBoats = []example{
	{"sold for less than its value", "Notice 2005-44 s. 3, worked example: value 1,600, sold 1,300", // 28 Feb 2027 is a Sunday
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), sold("2026-04-18", 130000)),
		"yes | cap 130000 | 1098-C BC{1=2026-03-28, 4a=true, 4b=2026-04-18, 4c=130000, 6a=false} 2026-05-18 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31"},
	{"sold for more than its value", "IRC 170(f)(12)(A)(ii): lesser of gross and fair value",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), sold("2026-04-18", 170000), acknowledged("2026-04-20")),
		"yes | cap 160000 | 1098-C BC{1=2026-03-28, 4a=true, 4b=2026-04-18, 4c=170000, 6a=false} 2026-05-18 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31"},
	{"kept for use", "Notice 2005-44 s. 3, worked example: value 1,600 counts, 30 days from the gift",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), use("2026-04-01", "2027-04-01", "R. Alder")),
		"yes | cap 160000 | 1098-C BC{1=2026-03-28, 5a=true, 5c=Use: learn-to-paddle fleet, weekly, from 2026-04-01 to 2027-04-01, 6a=false} 2026-04-27 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31"},
	{"placed with a person in need", "Notice 2005-44 s. 3, worked example; Form 1098-C: 4c stays empty",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), needy("T. Reed", true, 0)),
		"yes | cap 160000 | 1098-C BC{1=2026-03-28, 5b=true, 6a=false} 2026-04-27 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31"},
	{"sold to that person for a little", "Notice 2005-44 s. 3.02(3)",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), needy("T. Reed", true, 60000), soldToAFriend("2026-05-01", 60000)),
		"yes | cap 160000 | 1098-C BC{1=2026-03-28, 5b=true, 6a=false} 2026-04-27 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31"},
	{"an auction is never that placement", "Notice 2005-44 s. 3.02(3)",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), needy("T. Reed", true, 60000), auctioned("2026-05-01", 60000)),
		"yes | cap 60000 | 1098-C BC{1=2026-03-28, 4a=true, 4b=2026-05-01, 4c=60000, 6a=false} 2026-05-31 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31"},
	{"a price not below the value is no placement", "IRC 170(f)(12)(B)(iv)",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), needy("T. Reed", true, 160000)),
		"no | why: awaiting sale or decision | watch 1098-C 2026-04-27 | keep 2033-12-31"},
	{"need not attested", "policy: default off, a person attests",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), needy("", true, 0)),
		"no | why: awaiting sale or decision | watch 1098-C 2026-04-27 | keep 2033-12-31 | ! needy-not-attested"},
	{"need of something else than transportation", "Notice 2005-44 s. 3.02(3)",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), needy("T. Reed", false, 0)),
		"no | why: awaiting sale or decision | watch 1098-C 2026-04-27 | keep 2033-12-31 | ! needy-not-attested"},
	{"sold for 400", "Notice 2005-44 s. 4.02, worked example: value 800, sold 400, 500 may be claimed",
		of(US, Boat, "2026-03-28", fair(80000), claims(80000), sold("2026-04-18", 40000)),
		"yes | cap 50000 | 1098-C C{1=2026-03-28, 6a=false, 7=true} 2027-04-15 | keep 2034-12-31"},
	{"sold for 500.00", "Notice 2005-44 s. 4.02: at most 500",
		of(US, Boat, "2026-03-28", fair(80000), claims(80000), sold("2026-04-18", 50000)),
		"yes | cap 50000 | 1098-C C{1=2026-03-28, 6a=false, 7=true} 2027-04-15 | keep 2034-12-31"},
	{"sold for 500.01", "IRC 170(f)(12)(A): above 500",
		of(US, Boat, "2026-03-28", fair(80000), claims(80000), sold("2026-04-18", 50001)),
		"yes | cap 50001 | 1098-C BC{1=2026-03-28, 4a=true, 4b=2026-04-18, 4c=50001, 6a=false} 2026-05-18 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31"},
	{"sold to a friend of the house", "IRC 170(f)(12)(B)(iii): no arm's length, no box 4a; i1098-C: box 7",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), soldToAFriend("2026-04-18", 130000)),
		"yes | cap 50000 | 1098-C C{1=2026-03-28, 6a=false, 7=true} 2027-04-15 | keep 2034-12-31"},
	{"auctioned at arm's length", "IRC 170(f)(12)(B)(iii)",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), auctioned("2026-04-18", 130000)),
		"yes | cap 130000 | 1098-C BC{1=2026-03-28, 4a=true, 4b=2026-04-18, 4c=130000, 6a=false} 2026-05-18 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31"},
	{"claimed 400", "i1098-C, worked example: letter alone, nothing filed",
		of(US, Boat, "2026-03-28", fair(40000), claims(40000)),
		"yes | cap 40000 | 170(f)(8) letter {} 2027-04-15 | keep 2034-12-31"},
	{"claimed 500.00", "IRC 170(f)(12)(A): more than 500",
		of(US, Boat, "2026-03-28", fair(160000), claims(50000), sold("2026-04-18", 130000)),
		"yes | cap 50000 | 170(f)(8) letter {} 2027-04-15 | keep 2034-12-31"},
	{"claimed 500.01", "IRC 170(f)(12)(A): more than 500",
		of(US, Boat, "2026-03-28", fair(160000), claims(50001)),
		"no | why: awaiting sale or decision | watch 1098-C 2026-04-27 | keep 2033-12-31"},
	{"decided that nothing will be certified", "i1098-C: box 7",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), final),
		"yes | cap 50000 | 1098-C C{1=2026-03-28, 6a=false, 7=true} 2027-04-15 | keep 2034-12-31"},
	{"final, but used", "i1098-C: box 7 only where no other box holds",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), final, needy("T. Reed", true, 0)),
		"yes | cap 160000 | 1098-C BC{1=2026-03-28, 5b=true, 6a=false} 2026-04-27 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31"},
	{"claim not asked, value 500", "policy: as if the fair value were claimed",
		of(US, Boat, "2026-03-28", fair(50000)),
		"yes | cap 50000 | 170(f)(8) letter {} 2027-04-15 | keep 2034-12-31 | ! claim-not-asked"},
	{"claim not asked, bargain", "policy: the fair value less what was paid",
		of(US, Boat, "2026-03-28", fair(60000), paid(10000)),
		"yes | cap 50000 | 170(f)(8) letter {} 2027-04-15 | keep 2034-12-31 | ! claim-not-asked bargain-sale"},
	{"neither value nor claim", "policy: nothing is guessed",
		of(US, Boat, "2026-03-28"),
		"no | why: neither the value nor the claim is known | keep 2033-12-31 | ! value-unknown claim-not-asked"},
	{"value unknown, claim known", "IRC 170(f)(12): the papers do not need the value",
		of(US, Boat, "2026-03-28", claims(160000), sold("2026-04-18", 130000)),
		"yes | 1098-C BC{1=2026-03-28, 4a=true, 4b=2026-04-18, 4c=130000, 6a=false} 2026-05-18 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31 | ! value-unknown"},
	{"bargain", "Form 1098-C 6a and 6b, 6c is for goods and services; the cap less what was paid is our reading, no source",
		of(US, Boat, "2026-03-28", fair(200000), claims(160000), paid(40000), sold("2026-04-18", 180000)),
		"yes | cap 140000 | 1098-C BC{1=2026-03-28, 4a=true, 4b=2026-04-18, 4c=180000, 6a=true, 6b=40000} 2026-05-18 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31 | ! bargain-sale"},
	{"bargain above the price made", "not below 0: our reading, no source",
		of(US, Boat, "2026-03-28", fair(200000), claims(160000), paid(150000), sold("2026-04-18", 100000)),
		"yes | cap 0 | 1098-C BC{1=2026-03-28, 4a=true, 4b=2026-04-18, 4c=100000, 6a=true, 6b=150000} 2026-05-18 | file 1098-C copy A 2027-03-01 2027-03-31 | keep 2033-12-31 | ! bargain-sale"},
	{"paid in full", "IRC 170(c): nothing given",
		of(US, Boat, "2026-03-28", fair(200000), claims(160000), paid(200000)),
		"no | why: the club paid the whole value: nothing was given | cap 0 | keep 2033-12-31 | ! bargain-sale"},
	{"bargain, limited to 500", "Notice 2005-44 s. 4.02: lesser of 500 and value; what was paid comes off that as it does off the gross: our reading, no source",
		of(US, Boat, "2026-03-28", fair(80000), claims(70000), paid(10000), sold("2026-04-18", 40000)),
		"yes | cap 40000 | 1098-C C{1=2026-03-28, 6a=true, 6b=10000, 7=true} 2027-04-15 | keep 2034-12-31 | ! bargain-sale"},
	{"a dinner in return, and money", "Form 1098-C 6a to 6c",
		of(US, Boat, "2026-03-28", fair(200000), claims(160000), paid(40000), benefit(Service, 5000), needy("T. Reed", true, 0)),
		"yes | cap 160000 | 1098-C BC{1=2026-03-28, 5b=true, 6a=true, 6b=45000, 6c=money and services} 2026-04-27 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31 | ! bargain-sale"},
	{"30 days over a leap year's February", "IRC 170(f)(12)(C)(i): 30 January 2028 and 30 days",
		of(US, Boat, "2028-01-02", fair(160000), claims(160000), sold("2028-01-30", 130000), acknowledged("2028-02-01")),
		"yes | cap 130000 | 1098-C BC{1=2028-01-02, 4a=true, 4b=2028-01-30, 4c=130000, 6a=false} 2028-02-29 | file 1098-C copy A 2029-02-28 2029-04-02 | forms 8283 section A | keep 2035-12-31"},
	{"30 days over a common year's February", "IRC 170(f)(12)(C)(ii): 30 January 2027 and 30 days",
		of(US, Boat, "2027-01-30", fair(160000), claims(160000)),
		"no | why: awaiting sale or decision | watch 1098-C 2027-03-01 | keep 2034-12-31"},
	{"30 days over the end of a year", "IRC 170(f)(12)(C)(ii): 2 December 2026 and 30 days",
		of(US, Boat, "2026-12-02", fair(160000), claims(160000)),
		"no | why: awaiting sale or decision | watch 1098-C 2027-01-01 | keep 2033-12-31"},
	{"before the law of 2005", "IRC 170(f)(12), gifts after 31 December 2004",
		of(US, Boat, "2004-12-31", fair(160000), claims(160000), sold("2005-01-18", 130000)),
		"no | why: the tables have no rule for this date | keep 2012-12-31 | ! table-year-missing"},
	{"first day of the law", "IRC 170(f)(12)",
		of(US, Boat, "2005-01-01", fair(160000), claims(160000), sold("2005-01-18", 130000), acknowledged("2005-02-01")),
		"yes | cap 130000 | 1098-C BC{1=2005-01-01, 4a=true, 4b=2005-01-18, 4c=130000, 6a=false} 2005-02-17 | file 1098-C copy A 2006-02-28 2006-03-31 | forms 8283 section A | keep 2012-12-31"},
}

var usExceptions = []example{
	{"hull rebuilt", "Notice 2005-44 s. 7.01(2): major repair",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), work("hull reconstruction", "Cleaning")),
		"yes | cap 160000 | 1098-C BC{1=2026-03-28, 5a=true, 5c=Improvement: hull reconstruction, Cleaning, 6a=false} 2026-04-27 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31"},
	{"only excluded items", "Notice 2005-44 s. 7.01(2)",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), work(" Dents  and scratches", "WAX")),
		"no | why: awaiting sale or decision | watch 1098-C 2026-04-27 | keep 2033-12-31 | ! not-material-improvement"},
	{"excluded items in other words", "Notice 2005-44 s. 7.01(2): dents and scratches, cleaning or repair of upholstery; bungee derived",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), work("Dents & scratches", "cleaning of upholstery", "repair of upholstery", "bungee cord")),
		"no | why: awaiting sale or decision | watch 1098-C 2026-04-27 | keep 2033-12-31 | ! not-material-improvement"},
	{"paid by the donor", "Notice 2005-44 s. 7.01(2)",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), workBy("donor", true, "hull reconstruction")),
		"no | why: awaiting sale or decision | watch 1098-C 2026-04-27 | keep 2033-12-31 | ! not-material-improvement"},
	{"not major, so the price counts", "Notice 2005-44 s. 7.01(2)",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), workBy("club", false, "hull reconstruction"), sold("2026-04-18", 130000)),
		"yes | cap 130000 | 1098-C BC{1=2026-03-28, 4a=true, 4b=2026-04-18, 4c=130000, 6a=false} 2026-05-18 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31 | ! not-material-improvement"},
	{"rebuilt, then sold", "i1098-C 5a: the exception comes before the price",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), work("new deck"), sold("2026-06-18", 40000)),
		"yes | cap 160000 | 1098-C BC{1=2026-03-28, 5a=true, 5c=Improvement: new deck, 6a=false} 2026-04-27 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31"},
	{"used for a year, then sold", "i1098-C 5a, worked example: 10,000 miles in a year delivering meals, then sold",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), use("2026-04-01", "2027-04-01", "R. Alder"), sold("2027-04-01", 90000)),
		"yes | cap 160000 | 1098-C BC{1=2026-03-28, 5a=true, 5c=Use: learn-to-paddle fleet, weekly, from 2026-04-01 to 2027-04-01, 6a=false} 2026-04-27 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2034-12-31"},
	{"sold a day before the use was over", "IRC 170(f)(12)(B)(iv): no transfer before completion",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), use("2026-04-01", "2027-04-01", "R. Alder"), sold("2027-03-31", 90000)),
		"yes | cap 90000 | 1098-C BC{1=2026-03-28, 4a=true, 4b=2027-03-31, 4c=90000, 6a=false} 2027-04-30 | file 1098-C copy A 2028-02-28 2028-03-31 | forms 8283 section A | keep 2034-12-31"},
	{"sold before an open use began", "i1098-C 5a: an intended use must be actual",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), openUse("2026-05-01"), sold("2026-05-01", 90000)),
		"yes | cap 90000 | 1098-C BC{1=2026-03-28, 4a=true, 4b=2026-05-01, 4c=90000, 6a=false} 2026-05-31 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31"},
	{"an open use, not sold", "i1098-C 5a and 5c",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), openUse("2026-05-01")),
		"yes | cap 160000 | 1098-C BC{1=2026-03-28, 5a=true, 5c=Use: learn-to-paddle fleet, from 2026-05-01 to (open), 6a=false} 2026-04-27 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31"},
	{"incidental use", "i1098-C 5a: incidental use fails",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), idleUse("2026-04-01", "2026-04-02"), sold("2026-04-18", 90000)),
		"yes | cap 90000 | 1098-C BC{1=2026-03-28, 4a=true, 4b=2026-04-18, 4c=90000, 6a=false} 2026-05-18 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31"},
	{"nobody attests that the use is significant", "Notice 2005-44 s. 7.01(1): significant; policy: a person attests",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), use("2026-04-01", "2027-04-01", " ")),
		"no | why: awaiting sale or decision | watch 1098-C 2026-04-27 | keep 2033-12-31"},
}

var usPenalties = []example{
	{"improvement certified, sold on the last day of six months", "i1098-C: 31 August and six months is the month's end",
		of(US, Boat, "2026-08-31", fair(160000), claims(160000), certified("5a"), sold("2027-02-28", 130000)),
		"yes | cap 130000 | 1098-C BC{1=2026-08-31, 4a=true, 4b=2027-02-28, 4c=130000, 6a=false} 2027-03-30 | file 1098-C copy A 2028-02-28 2028-03-31 | forms 8283 section A | keep 2034-12-31 | ! sold-within-six-months penalty-6720"},
	{"sold a day later", "IRC 6720: the certificate is still without what it certifies",
		of(US, Boat, "2026-08-31", fair(160000), claims(160000), certified("5a"), sold("2027-03-01", 130000)),
		"yes | cap 130000 | 1098-C BC{1=2026-08-31, 4a=true, 4b=2027-03-01, 4c=130000, 6a=false} 2027-03-31 | file 1098-C copy A 2028-02-28 2028-03-31 | forms 8283 section A | keep 2034-12-31 | ! penalty-6720"},
	{"a leap year's month end", "i1098-C",
		of(US, Boat, "2027-08-31", fair(160000), claims(160000), certified("5b"), sold("2028-02-29", 40000)),
		"yes | cap 50000 | 1098-C C{1=2027-08-31, 6a=false, 7=true} 2028-04-15 | keep 2035-12-31 | ! sold-within-six-months penalty-6720"},
	{"improvement certified and made", "i1098-C: presumption only without improvement or use",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), certified("5a"), work("new deck"), sold("2026-04-18", 130000)),
		"yes | cap 160000 | 1098-C BC{1=2026-03-28, 5a=true, 5c=Improvement: new deck, 6a=false} 2026-04-27 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31"},
	{"placement certified, improvement made", "IRC 6720: the box is wrong; i1098-C: but nothing is presumed",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), certified("5b"), work("new deck"), sold("2026-04-18", 130000)),
		"yes | cap 160000 | 1098-C BC{1=2026-03-28, 5a=true, 5c=Improvement: new deck, 6a=false} 2026-04-27 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31 | ! penalty-6720"},
	{"sale certified", "IRC 6720 concerns 5a and 5b here",
		of(US, Boat, "2026-03-28", fair(160000), claims(160000), certified("4a"), sold("2026-04-18", 130000)),
		"yes | cap 130000 | 1098-C BC{1=2026-03-28, 4a=true, 4b=2026-04-18, 4c=130000, 6a=false} 2026-05-18 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31"},
	{"no top rate in the table", "i1098-C states rates from 2013 on",
		of(US, Boat, "2012-03-28", fair(160000), claims(160000), certified("5a"), sold("2012-04-18", 130000)),
		"yes | cap 130000 | 1098-C BC{1=2012-03-28, 4a=true, 4b=2012-04-18, 4c=130000, 6a=false} 2012-05-18 | file 1098-C copy A 2013-02-28 2013-04-01 | forms 8283 section A | keep 2019-12-31 | ! sold-within-six-months penalty-6720 table-year-missing"},
}

var usForms = []example{
	{"at 5,000.00", "IRC 170(f)(11)(C): more than 5,000",
		of(US, Goods, "2026-05-02", fair(500000), claims(500000)),
		"yes | cap 500000 | 170(f)(8) letter {} 2027-04-15 | forms 8283 section A | keep 2034-12-31"},
	{"at 5,000.01", "IRC 170(f)(11)(C); Form 8282: three years",
		of(US, Goods, "2026-05-02", fair(600000), claims(500001)),
		"yes | cap 600000 | 170(f)(8) letter {} 2027-04-15 | forms 8283 section B + qualified appraisal | watch 8282 2029-05-02 | keep 2034-12-31 | ! return-within-three-years"},
	{"sold at 5,000.01: section A at any amount", "i8283 section A item 2.e",
		of(US, Boat, "2026-05-02", fair(900000), claims(900000), sold("2026-06-01", 800000)),
		"yes | cap 800000 | 1098-C BC{1=2026-05-02, 4a=true, 4b=2026-06-01, 4c=800000, 6a=false} 2026-07-01 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section A | keep 2033-12-31"},
	{"used boat", "i8283 section B; Form 8282",
		of(US, Boat, "2026-05-02", fair(900000), claims(900000), use("2026-05-03", "2027-05-03", "R. Alder")),
		"yes | cap 900000 | 1098-C BC{1=2026-05-02, 5a=true, 5c=Use: learn-to-paddle fleet, weekly, from 2026-05-03 to 2027-05-03, 6a=false} 2026-06-01 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section B + qualified appraisal | watch 8282 2029-05-02 | keep 2033-12-31 | ! return-within-three-years"},
	{"placed for nothing", "Form 8282: distributed without consideration in furtherance of the purpose",
		of(US, Boat, "2026-05-02", fair(900000), claims(900000), needy("T. Reed", true, 0)),
		"yes | cap 900000 | 1098-C BC{1=2026-05-02, 5b=true, 6a=false} 2026-06-01 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section B + qualified appraisal | keep 2033-12-31"},
	{"placed for a price", "Form 8282",
		of(US, Boat, "2026-05-02", fair(900000), claims(900000), needy("T. Reed", true, 10000)),
		"yes | cap 900000 | 1098-C BC{1=2026-05-02, 5b=true, 6a=false} 2026-06-01 | file 1098-C copy A 2027-03-01 2027-03-31 | forms 8283 section B + qualified appraisal | watch 8282 2029-05-02 | keep 2033-12-31 | ! return-within-three-years"},
	{"sold on the last day of three years", "Form 8282: 125 days, 2029-09-04 is a Tuesday",
		of(US, Goods, "2026-05-02", fair(600000), claims(600000), sold("2029-05-02", 100000)),
		"yes | cap 600000 | 170(f)(8) letter {} 2027-04-15 | file 8282 2029-09-04 | forms 8283 section B + qualified appraisal | keep 2036-12-31 | ! return-within-three-years"},
	{"sold a day later", "Form 8282: within three years",
		of(US, Goods, "2026-05-02", fair(600000), claims(600000), sold("2029-05-03", 100000)),
		"yes | cap 600000 | 170(f)(8) letter {} 2027-04-15 | forms 8283 section B + qualified appraisal | keep 2036-12-31"},
	{"given on 29 February", "three years end on the month's last day",
		of(US, Goods, "2028-02-29", fair(600000), claims(600000)),
		"yes | cap 600000 | 170(f)(8) letter {} 2029-04-15 | forms 8283 section B + qualified appraisal | watch 8282 2031-02-28 | keep 2036-12-31 | ! return-within-three-years"},
	{"claim capped below", "i8283: the deduction, after reductions",
		of(US, Goods, "2026-05-02", fair(500000), claims(900000)),
		"yes | cap 500000 | 170(f)(8) letter {} 2027-04-15 | forms 8283 section A | keep 2034-12-31"},
	{"similar items: 500.00 in all", "IRC 170(f)(11)(F)",
		of(US, Goods, "2026-05-02", fair(30000), claims(30000), similar(20000)),
		"yes | cap 30000 | 170(f)(8) letter {} 2027-04-15 | keep 2034-12-31"},
	{"similar items: 500.01 in all", "IRC 170(f)(11)(F)",
		of(US, Goods, "2026-05-02", fair(30000), claims(30000), similar(20001)),
		"yes | cap 30000 | 170(f)(8) letter {} 2027-04-15 | forms 8283 section A | keep 2034-12-31"},
	{"similar items above 5,000, this one at 500.00", "IRC 170(f)(11)(F); Form 8282: items of at most 500",
		of(US, Goods, "2026-05-02", fair(50000), claims(50000), similar(450001)),
		"yes | cap 50000 | 170(f)(8) letter {} 2027-04-15 | forms 8283 section B + qualified appraisal | keep 2034-12-31"},
	{"similar items above 5,000, this one at 500.01", "Form 8282",
		of(US, Goods, "2026-05-02", fair(50001), claims(50001), similar(450000)),
		"yes | cap 50001 | 170(f)(8) letter {} 2027-04-15 | forms 8283 section B + qualified appraisal | watch 8282 2029-05-02 | keep 2034-12-31 | ! return-within-three-years"},
	{"before the appraisal rule", "IRC 170(f)(11), 4 June 2004: the forms are left open, the letter stands",
		of(US, Goods, "2004-06-03", fair(60000), claims(60000)),
		"yes | cap 60000 | 170(f)(8) letter {} 2005-04-15 | forms unknown | keep 2012-12-31 | ! table-year-missing"},
}

var usGoodsAndCash = []example{
	{"paddles at 249.99", "IRC 170(f)(8)(A)",
		of(US, Goods, "2026-05-02", fair(30000), claims(24999)),
		"no | why: below 250 USD no acknowledgment is required | cap 30000 | keep 2033-12-31"},
	{"paddles at 250.00", "IRC 170(f)(8)(A)",
		of(US, Goods, "2026-05-02", fair(30000), claims(25000)),
		"yes | cap 30000 | 170(f)(8) letter {} 2027-04-15 | keep 2034-12-31"},
	{"paddles of unknown value", "IRC 170(f)(8)(B): the club states no value",
		of(US, Goods, "2026-05-02", claims(30000)),
		"yes | 170(f)(8) letter {} 2027-04-15 | keep 2034-12-31 | ! value-unknown"},
	{"paddles bought below their value", "our reading",
		of(US, Goods, "2026-05-02", fair(40000), paid(10000)),
		"yes | cap 30000 | 170(f)(8) letter {} 2027-04-15 | keep 2034-12-31 | ! claim-not-asked bargain-sale"},
	{"paddles with a dinner in return", "IRC 6115: money and the value of property",
		of(US, Goods, "2026-05-02", fair(20000), claims(15000), benefit(Service, 5000)),
		"yes | cap 20000 | quid pro quo statement {} 2026-05-02 | keep 2033-12-31"},
	{"paddles for goods of their value", "IRC 6115: no part of it a gift, so nothing to disclose",
		of(US, Goods, "2026-05-02", fair(20000), claims(20000), benefit(Thing, 20000)),
		"no | why: below 250 USD no acknowledgment is required | cap 20000 | keep 2033-12-31"},
	{"money at 249.99", "IRC 170(f)(8)(A)", of(US, Cash, "2026-05-02", pays(24999)),
		"no | why: below 250 USD no acknowledgment is required | eligible 24999 | keep 2033-12-31"},
	{"money at 250.00", "IRC 170(f)(8)(A); 15 April 2028 is a Saturday and stays",
		of(US, Cash, "2027-05-02", pays(25000)),
		"yes | eligible 25000 | 170(f)(8) letter {} 2028-04-15 | keep 2035-12-31"},
	{"100 for a 40 ticket", "Pub. 1771 and 557, worked example: 60, disclosure since 100 is more than 75",
		of(US, Cash, "2026-05-02", pays(10000), benefit(Service, 4000)),
		"yes | eligible 6000 | quid pro quo statement {} 2026-05-02 | keep 2033-12-31"},
	{"75.00 for a 40 ticket", "IRC 6115: exactly 75 does not need it",
		of(US, Cash, "2026-05-02", pays(7500), benefit(Service, 4000)),
		"no | why: below 250 USD no acknowledgment is required | eligible 3500 | keep 2033-12-31"},
	{"75.01 for a 40 ticket", "IRC 6115: the payment, not the deductible part",
		of(US, Cash, "2026-05-02", pays(7501), benefit(Service, 4000)),
		"yes | eligible 3501 | quid pro quo statement {} 2026-05-02 | keep 2033-12-31"},
	{"300 for goods of 50.00", "IRC 170(f)(8)(A) on the gift, 6115 on the payment",
		of(US, Cash, "2026-05-02", pays(30000), benefit(Thing, 5000)),
		"yes | eligible 25000 | 170(f)(8) letter {} 2027-04-15 | quid pro quo statement {} 2026-05-02 | keep 2034-12-31"},
	{"300 for goods of 50.01", "IRC 170(f)(8)(A) on the gift (Pub. 526, from memory)",
		of(US, Cash, "2026-05-02", pays(30000), benefit(Thing, 5001)),
		"yes | eligible 24999 | quid pro quo statement {} 2026-05-02 | keep 2033-12-31"},
	{"bought at its value", "IRC 6115: no donative element",
		of(US, Cash, "2026-05-02", pays(10000), benefit(Thing, 10000)),
		"no | why: the benefit is worth the whole payment: nothing was given | eligible 0 | keep 2033-12-31"},
	{"a thing worth nothing, in a year that the table lacks", "Rev. Proc. 90-12: below 2 percent of any payment and any year's largest benefit",
		of(US, Cash, "2027-05-02", pays(20000), benefit(Thing, 0)),
		"no | why: below 250 USD no acknowledgment is required | eligible 20000 | keep 2034-12-31"},
	{"2 percent exactly", "Rev. Proc. 90-12",
		of(US, Cash, "2026-05-02", pays(20000), benefit(Thing, 400)),
		"no | why: below 250 USD no acknowledgment is required | eligible 20000 | keep 2033-12-31"},
	{"a cent above 2 percent", "Rev. Proc. 90-12",
		of(US, Cash, "2026-05-02", pays(20000), benefit(Thing, 401)),
		"yes | eligible 19599 | quid pro quo statement {} 2026-05-02 | keep 2033-12-31"},
	{"the year's largest benefit", "Rev. Proc. 2025-32: 139",
		of(US, Cash, "2026-05-02", pays(1000000), benefit(Thing, 13900)),
		"yes | eligible 1000000 | 170(f)(8) letter {} 2027-04-15 | keep 2034-12-31"},
	{"a cent above it", "Rev. Proc. 2025-32: 139",
		of(US, Cash, "2026-05-02", pays(1000000), benefit(Thing, 13901)),
		"yes | eligible 986099 | 170(f)(8) letter {} 2027-04-15 | quid pro quo statement {} 2026-05-02 | keep 2034-12-31"},
	{"2025's largest benefit", "Rev. Proc. 2024-40: 136",
		of(US, Cash, "2025-05-02", pays(1000000), benefit(Thing, 13601)),
		"yes | eligible 986399 | 170(f)(8) letter {} 2026-04-15 | quid pro quo statement {} 2025-05-02 | keep 2033-12-31"},
	{"2024's largest benefit", "Rev. Proc. 2023-34: 132",
		of(US, Cash, "2024-12-31", pays(1000000), benefit(Thing, 13200)),
		"yes | eligible 1000000 | 170(f)(8) letter {} 2025-04-15 | keep 2032-12-31"},
	{"2023's token", "Rev. Proc. 90-12 as indexed for 2023: 12.50 for 62.50",
		of(US, Cash, "2023-05-02", pays(6250), token(2500, 1250)),
		"no | why: below 250 USD no acknowledgment is required | eligible 6250 | keep 2030-12-31"},
	{"2017's token", "Rev. Proc. 90-12 as indexed for 2017: 10.70 for 53.50",
		of(US, Cash, "2017-05-02", pays(5350), token(2500, 1070)),
		"no | why: below 250 USD no acknowledgment is required | eligible 5350 | keep 2024-12-31"},
	{"a token for the smallest payment", "Rev. Proc. 2025-32: 13.90 for 69.50",
		of(US, Cash, "2026-05-02", pays(6950), token(2500, 1390)),
		"no | why: below 250 USD no acknowledgment is required | eligible 6950 | keep 2033-12-31"},
	{"a cent less was paid", "Rev. Proc. 2025-32",
		of(US, Cash, "2026-05-02", pays(6949), token(2500, 1390)),
		"no | why: below 250 USD no acknowledgment is required | eligible 4449 | keep 2033-12-31"},
	{"the token cost a cent more", "Rev. Proc. 2025-32",
		of(US, Cash, "2026-05-02", pays(6950), token(2500, 1391)),
		"no | why: below 250 USD no acknowledgment is required | eligible 4450 | keep 2033-12-31"},
	{"a token without the club's emblem", "Rev. Proc. 90-12",
		of(US, Cash, "2026-05-02", pays(6950), plainToken(2500, 1390)),
		"no | why: below 250 USD no acknowledgment is required | eligible 4450 | keep 2033-12-31"},
	{"a year that the table lacks", "policy: never extrapolated; the donor gets what may be needed",
		of(US, Cash, "2027-05-02", pays(10000), token(2500, 1390)),
		"yes | quid pro quo statement {} 2027-05-02 | keep 2034-12-31 | ! table-year-missing"},
	{"a year that the table lacks, but any year refuses it", "Rev. Proc. 90-12: 2 percent holds in every year",
		of(US, Cash, "2027-05-02", pays(10000), benefit(Service, 4000)),
		"yes | eligible 6000 | quid pro quo statement {} 2027-05-02 | keep 2034-12-31"},
	{"money before 1994", "P.L. 103-66",
		of(US, Cash, "1993-12-31", pays(30000)),
		"no | why: the tables have no rule for this date | keep 2000-12-31 | ! table-year-missing"},
}

func TestUnitedStates(t *testing.T) {
	runExamples(t, usBoats)
	runExamples(t, usExceptions)
	runExamples(t, usPenalties)
	runExamples(t, usForms)
	runExamples(t, usGoodsAndCash)
}

// Notice 2006-1 and the 2006 instructions: an acknowledgment furnished in 2007
// is filed by 28 February 2008 on paper and 31 March 2008 electronically; the
// official guide moves 28 February 2026 (a Saturday) to 2 March.
func TestCopyAGoesByTheYearOfTheAcknowledgment(t *testing.T) {
	for _, c := range []struct{ acknowledged, paper, electronic string }{
		{"2007-01-01", "2008-02-28", "2008-03-31"},
		{"2007-12-31", "2008-02-28", "2008-03-31"},
		{"2025-06-01", "2026-03-02", "2026-03-31"},
		{"2026-06-01", "2027-03-01", "2027-03-31"},
		{"2012-06-01", "2013-02-28", "2013-04-01"}, // 31 March 2013 is a Sunday
	} {
		l, err := Decide(of(US, Boat, "2006-12-15", fair(160000), claims(160000), sold("2006-12-20", 130000), acknowledged(c.acknowledged)))
		require.NoError(t, err)
		require.Len(t, l.Filings, 1)
		assert.Equal(t, c.paper, l.Filings[0].PaperDue.String(), c.acknowledged)
		assert.Equal(t, c.electronic, l.Filings[0].ElectronicDue.String(), c.acknowledged)
	}
}

// IRC 6720 as told in the instructions of Form 1098-C, both readings.
func TestThePenaltyIsShownInBothReadings(t *testing.T) {
	for _, c := range []struct {
		name          string
		date, sale    string
		gross, claims int64
		first, second string
	}{
		{"37 percent, floor", "2026-03-28", "2026-04-18", 130000, 160000, "(1300.00 USD)", "(5000.00 USD)"},
		{"39.6 percent of a large claim", "2017-12-31", "2018-01-18", 130000, 2000000, "(1300.00 USD)", "(7920.00 USD)"},
		{"37 percent of a large claim", "2018-01-01", "2018-01-18", 130000, 2000000, "(1300.00 USD)", "(7400.00 USD)"},
	} {
		t.Run(c.name, func(t *testing.T) {
			l, err := Decide(of(US, Boat, c.date, fair(c.claims), claims(c.claims), certified("5a"), sold(c.sale, c.gross)))
			require.NoError(t, err)
			text := l.Warnings[1].Text
			assert.Contains(t, text, c.first)
			assert.Contains(t, text, c.second)
		})
	}
}

// The list of 2027 and of New Year 2028 as published by the Office of Personnel
// Management (from memory): the day kept, and the next business day.
var holidays = map[string]string{
	"2027-01-01": "2027-01-04", "2027-01-18": "2027-01-19", "2027-02-15": "2027-02-16", "2027-05-31": "2027-06-01",
	"2027-06-18": "2027-06-21", "2027-07-05": "2027-07-06", "2027-09-06": "2027-09-07", "2027-10-11": "2027-10-12",
	"2027-11-11": "2027-11-12", "2027-11-25": "2027-11-26", "2027-12-24": "2027-12-27", "2027-12-31": "2028-01-03",
}

func TestFilingsAvoidWeekendsAndFederalHolidays(t *testing.T) {
	moved := 0
	for d := clock.MustDate("2027-01-01"); d.Year() == 2027; d = d.AddDays(1) {
		next := published.businessDay(d)
		if want, holiday := holidays[d.String()]; holiday {
			assert.Equal(t, want, next.String(), d)
			moved++
			continue
		}
		assert.Equal(t, !isWeekend(d), next == d, d)
	}
	assert.Equal(t, len(holidays), moved)
	var shown []string
	for _, h := range FilingHolidays(US, 2027) {
		shown = append(shown, h.On.String())
		assert.Contains(t, h.Source, "5 U.S.C. 6103")
	}
	assert.Subset(t, slices.Collect(maps.Keys(holidays)), shown, "those that are listed are those that move a filing")
	assert.Len(t, shown, 12, "eleven, and New Year's Day of 2028, a Saturday, kept on 31 December 2027")
	assert.True(t, slices.IsSorted(shown))
	assert.Empty(t, FilingHolidays(CA, 2027))
	assert.Len(t, FilingHolidays(US, 2020), 10, "before Juneteenth")
}

// Memorial Day is the last Monday of May: the fifth in 2027, the fourth in 2026
// (published list of the Office of Personnel Management, from memory).
func TestTheLastMondayMayBeTheFourth(t *testing.T) {
	assert.Equal(t, "2026-05-26", published.businessDay(clock.MustDate("2026-05-25")).String())
}

// Form 8282 is due 125 days after the sale; a sale 125 days before a holiday
// shows that the filing moves.
func holidayExamples() []Gift {
	var gifts []Gift
	for day := range holidays {
		gifts = append(gifts, of(US, Goods, "2026-01-02", fair(600000), claims(600000), sold(clock.MustDate(day).AddDays(-125).String(), 100000)))
	}
	return gifts
}

// IRC 6115: a payment of more than 75 USD, in money or property, part purchase. Rev.
// Proc. 90-12 ignores a benefit of at most 2 percent of it and at most the year's amount
// (139.00 for 2026, Rev. Proc. 2025-32). A boat's one paper carries the disclosure.
func TestABoatsPaperDisclosesWhatTheDonorGot(t *testing.T) {
	const limited = "The amount that can be deducted is limited to what was given"
	for name, row := range map[string]struct {
		gift Gift
		want bool
	}{
		"nothing in return":         {of(US, Boat, "2026-05-02", fair(45000), claims(45000)), false},
		"a boat of 75.00":           {of(US, Boat, "2026-05-02", fair(7500), claims(7500), benefit(Thing, 4000)), false},
		"of 300.00, a benefit of 6": {of(US, Boat, "2026-05-02", fair(30000), claims(30000), benefit(Thing, 600)), false},
		"a cent above 2 percent":    {of(US, Boat, "2026-05-02", fair(30000), claims(30000), benefit(Thing, 601)), true},
		"on a 1098-C after a sale":  {of(US, Boat, "2026-05-02", fair(160000), claims(160000), benefit(Thing, 4000), sold("2026-05-18", 130000)), true},
		"on box 7":                  {of(US, Boat, "2026-05-02", fair(160000), claims(160000), benefit(Thing, 4000), final), true},
		"the boat's value unknown":  {of(US, Boat, "2026-05-02", claims(45000), benefit(Thing, 4000)), true},
		"a year without amounts":    {of(US, Boat, "2028-05-02", fair(45000), claims(45000), benefit(Thing, 600)), true},
	} {
		l, err := Decide(row.gift)
		require.NoError(t, err)
		said := 0
		for _, p := range l.Papers {
			for _, s := range p.Says {
				if strings.HasPrefix(s, limited) {
					said++
				}
			}
		}
		assert.Equal(t, row.want, said == 1, name)
		assert.LessOrEqual(t, len(l.Papers), 1, name)
	}
}

func TestWhatThePapersSay(t *testing.T) {
	says := func(g Gift) []string {
		l, err := Decide(g)
		require.NoError(t, err)
		return l.Papers[0].Says
	}
	// IRC 170(f)(8)(B)(i) to (iii): description, not value; whether anything was given in return; its value.
	letter := says(of(US, Goods, "2026-05-02", fair(30000), claims(30000)))
	assert.Equal(t, []string{"The club gave no goods or services in return for this gift.", noValueHere}, letter)
	assert.Contains(t, says(of(US, Goods, "2026-05-02", fair(30000), claims(30000), benefit(Thing, 700)))[0], "estimates the value at 7.00 USD")
	// IRC 6115: limited to the excess, and a good-faith estimate.
	assert.Contains(t, says(of(US, Cash, "2026-05-02", pays(10000), benefit(Service, 4000)))[1], "40.00 USD")
	// Regulations s. 3501(1): the words of an official receipt.
	assert.Contains(t, says(of(CA, Goods, "2026-05-02", fair(30000)))[0], "fficial receipt for income tax purposes")
	// HMRC ch. 3.2.
	assert.Contains(t, says(of(UK, Boat, "2026-05-02", fair(30000)))[0], "do not qualify for Gift Aid")
}
