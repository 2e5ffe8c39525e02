package money

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestParse(t *testing.T) {
	for text, want := range map[string]Amount{
		"120.50 USD": {12050, "USD"},
		"USD 120.5":  {12050, "USD"},
		"120,5":      {12050, "CAD"},
		"-3 GBP":     {-300, "GBP"},
		"900 JPY":    {900, "JPY"},
		"0.07 EUR":   {7, "EUR"},
	} {
		got, err := Parse(text, "CAD")
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	for _, bad := range []string{"", "USD", "1,234.50 USD", "1.234 USD", "1.5 JPY", "12x", "1 2 USD", ".5", "99999999999999999999"} {
		_, err := Parse(bad, "USD")
		assert.Error(t, err, bad)
	}
}

func TestAmountsReadBackWhatTheyWrite(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := Of(rapid.Int64Range(math.MinInt64/16, math.MaxInt64/16).Draw(t, "minor"), rapid.SampledFrom([]Currency{"USD", "JPY", "CAD"}).Draw(t, "currency"))
		back, err := Parse(a.String(), "GBP")
		require.NoError(t, err)
		require.Equal(t, a, back)
	})
}

func TestAddRefusesMixingAndOverflow(t *testing.T) {
	_, err := Of(1, "USD").Add(Of(1, "CAD"))
	assert.ErrorContains(t, err, "currencies differ")
	_, err = Of(math.MaxInt64, "USD").Add(Of(1, "USD"))
	assert.ErrorContains(t, err, "too large")
	_, err = Of(math.MinInt64, "USD").Add(Of(-1, "USD"))
	assert.ErrorContains(t, err, "too large")
	sum, err := Amount{}.Add(Of(5, "USD"))
	require.NoError(t, err)
	assert.Equal(t, Of(5, "USD"), sum)
}
