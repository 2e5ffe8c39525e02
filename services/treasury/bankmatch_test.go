package treasury

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/message"
)

// Ten days either way are common practice, no source; a person decides in the end.
func TestARowAndAPostingLieAtMostTenDaysApart(t *testing.T) {
	row := func(id string, days int, minor int64) message.BankRow {
		return message.BankRow{Row: id, On: day.AddDays(days), Amount: usd(minor)}
	}
	posted := func(id string, days int, minor int64) message.CashPosting {
		return message.CashPosting{Posting: message.Posting{Entry: id}, On: day.AddDays(days), Amount: usd(minor)}
	}
	for name, row := range map[string]struct {
		rows     []message.BankRow
		postings []message.CashPosting
		pairs    [][2]string
		others   bool
	}{
		"the same day":               {[]message.BankRow{row("r", 0, 100)}, []message.CashPosting{posted("p", 0, 100)}, [][2]string{{"r", "p"}}, false},
		"ten days later":             {[]message.BankRow{row("r", 10, 100)}, []message.CashPosting{posted("p", 0, 100)}, [][2]string{{"r", "p"}}, false},
		"eleven days later":          {[]message.BankRow{row("r", 11, 100)}, []message.CashPosting{posted("p", 0, 100)}, nil, false},
		"ten days earlier":           {[]message.BankRow{row("r", -10, 100)}, []message.CashPosting{posted("p", 0, 100)}, [][2]string{{"r", "p"}}, false},
		"eleven days earlier":        {[]message.BankRow{row("r", -11, 100)}, []message.CashPosting{posted("p", 0, 100)}, nil, false},
		"a cent more":                {[]message.BankRow{row("r", 0, 101)}, []message.CashPosting{posted("p", 0, 100)}, nil, false},
		"the other way":              {[]message.BankRow{row("r", 0, -100)}, []message.CashPosting{posted("p", 0, 100)}, nil, false},
		"two rows, the nearer":       {[]message.BankRow{row("far", 3, 100), row("near", 1, 100)}, []message.CashPosting{posted("p", 0, 100)}, [][2]string{{"near", "p"}}, true},
		"two postings, the nearer":   {[]message.BankRow{row("r", 0, 100)}, []message.CashPosting{posted("far", -3, 100), posted("near", 1, 100)}, [][2]string{{"r", "near"}}, true},
		"two of each, each once":     {[]message.BankRow{row("a", 0, 100), row("b", 1, 100)}, []message.CashPosting{posted("p", 0, 100), posted("q", 1, 100)}, [][2]string{{"a", "p"}, {"b", "q"}}, true},
		"the second is out of reach": {[]message.BankRow{row("a", 0, 100), row("b", 12, 100)}, []message.CashPosting{posted("p", 1, 100)}, [][2]string{{"a", "p"}}, false},
	} {
		pairs, restRows, restPostings := propose(row.rows, row.postings)
		require.Len(t, pairs, len(row.pairs), name)
		for i, p := range pairs {
			assert.Equal(t, row.pairs[i], [2]string{p.Row.Row, p.Posting.Entry}, name)
			assert.Equal(t, row.others, p.Others, name)
		}
		assert.Len(t, restRows, len(row.rows)-len(pairs), name)
		assert.Len(t, restPostings, len(row.postings)-len(pairs), name)
	}
}
