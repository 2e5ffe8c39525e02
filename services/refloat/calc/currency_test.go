package calc

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/currency"
)

// The currencies that CLDR, as in golang.org/x/text, gives as legal tender of a
// region, but for those withdrawn since; and four that came later (from memory).
func TestCurrencyKnowsTheCodesOfISO4217(t *testing.T) {
	want := map[string]bool{"SLE": true, "VED": true, "XCG": true, "ZWG": true, "MRU": true, "STN": true, "VES": true}
	for tender := currency.Query(); tender.Next(); {
		want[tender.Unit().String()] = true
	}
	for _, withdrawn := range []string{"CUC", "HRK", "MRO", "SLL", "STD", "VEF", "BYR"} {
		delete(want, withdrawn)
	}
	var got []string
	for _, code := range isoCodes {
		require.NotContains(t, got, code)
		got = append(got, code)
	}
	var codes []string
	for code := range want {
		codes = append(codes, code)
	}
	assert.Subset(t, got, codes)
	assert.InDelta(t, len(codes), len(got), 3)
}

func TestCurrencyOfAnInput(t *testing.T) {
	for _, c := range []struct{ input, want, blamed string }{
		{`{}`, "USD", ""},
		{`{"currency":null}`, "USD", ""},
		{`{"currency":"INR"}`, "INR", ""},
		{`{"currency":"inr"}`, "", "currency"},
		{`{"currency":" USD"}`, "", "currency"},
		{`{"currency":"XXX"}`, "", "currency"},
		{`{"currency":"ABC"}`, "", "currency"},
		{`{"currency":840}`, "", "currency"},
	} {
		in, err := Parse([]byte(c.input))
		require.NoError(t, err)
		got := in.Currency()
		if c.blamed == "" {
			require.NoError(t, in.Done(), c.input)
			assert.Equal(t, c.want, string(got))
			continue
		}
		var bad *BadInput
		require.ErrorAs(t, in.Done(), &bad, c.input)
		assert.Equal(t, c.blamed, bad.Field)
	}
}
