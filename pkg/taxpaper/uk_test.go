package taxpaper

import "testing"

var british = []example{
	{"a boat", "ITA 2007 s. 416 and HMRC ch. 3.2: a sum of money",
		of(UK, Boat, "2026-03-28", fair(90000), paid(100)),
		"no | why: Gift Aid needs a payment of a sum of money | thank-you letter {} | keep 2033-12-31 | ! gift-aid-goods"},
	{"paddles, acknowledged in the next year", "HMRC ch. 3.2",
		of(UK, Goods, "2026-12-28", acknowledged("2027-01-03")),
		"no | why: Gift Aid needs a payment of a sum of money | thank-you letter {} | keep 2034-12-31 | ! gift-aid-goods"},
	{"money", "HMRC ch. 3: the declaration, not a receipt",
		of(UK, Cash, "2026-03-28", pays(90000)),
		"no | why: Gift Aid on money rests on the donor's declaration, not on a receipt | thank-you letter {} | keep 2033-12-31"},
	{"before the rule", "from 6 April 2000 (from memory)",
		of(UK, Boat, "2000-04-05", fair(90000)),
		"no | why: the tables have no rule for this date | keep 2007-12-31 | ! table-year-missing"},
}

func TestUnitedKingdom(t *testing.T) { runExamples(t, british) }
