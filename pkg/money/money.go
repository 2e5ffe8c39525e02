// Package money keeps amounts as whole minor units (cents) of one ISO 4217
// currency. There are no floats, no silent mixing of currencies and no silent
// overflow. It does not multiply or divide: how to round is its caller's to say.
package money

import (
	"fmt"
	"math"
	"strings"
)

// Currency is an ISO 4217 code in capitals.
type Currency string

// exponents holds the number of digits after the point. ISO 4217 list one, as
// published 2026; only currencies that a club in one of the covered countries
// or near them is likely to meet.
var exponents = map[Currency]int{
	"USD": 2, "CAD": 2, "GBP": 2, "EUR": 2, "AUD": 2, "NZD": 2, "CHF": 2, "SEK": 2,
	"NOK": 2, "DKK": 2, "PLN": 2, "CZK": 2, "HUF": 2, "MXN": 2, "JPY": 0, "KRW": 0, "ISK": 0,
}

// ParseCurrency reads a code and refuses one that the table does not hold.
func ParseCurrency(code string) (Currency, error) {
	c := Currency(strings.ToUpper(strings.TrimSpace(code)))
	if _, ok := exponents[c]; !ok {
		return "", fmt.Errorf("%q is not a currency in our table", code)
	}
	return c, nil
}

// Digits gives the number of digits after the point.
func (c Currency) Digits() int { return exponents[c] }

// Amount is a number of minor units in a currency. The zero Amount has no
// currency and may be added to any.
type Amount struct {
	Minor    int64    `json:"minor"`
	Currency Currency `json:"currency"`
}

// Of makes an amount.
func Of(minor int64, currency Currency) Amount { return Amount{minor, currency} }

// Parse reads "1234.50 USD", "USD 1234.5", or a bare number in the given
// default currency. A comma may stand for the point, but there is no grouping:
// "1,234.50" is refused rather than guessed at. More digits than the currency
// has are refused, never rounded.
func Parse(text string, fallback Currency) (Amount, error) {
	currency, number := fallback, ""
	for _, word := range strings.Fields(text) {
		if c, err := ParseCurrency(word); err == nil {
			currency = c
			continue
		}
		if number != "" {
			return Amount{}, fmt.Errorf("%q is not an amount of money: write it like 120.50 USD", text)
		}
		number = word
	}
	if _, ok := exponents[currency]; !ok {
		return Amount{}, fmt.Errorf("%q names no currency: write it like 120.50 USD", text)
	}
	minor, err := parseMinor(number, currency.Digits())
	if err != nil {
		return Amount{}, fmt.Errorf("%q is not an amount of money: %w", text, err)
	}
	return Amount{minor, currency}, nil
}

func parseMinor(number string, digits int) (int64, error) {
	negative := strings.HasPrefix(number, "-")
	number = strings.TrimPrefix(number, "-")
	if strings.Count(number, ",")+strings.Count(number, ".") > 1 {
		return 0, fmt.Errorf("leave out the grouping of thousands")
	}
	whole, fraction, _ := strings.Cut(strings.ReplaceAll(number, ",", "."), ".")
	if whole == "" {
		return 0, fmt.Errorf("it has no digits before the point")
	}
	if len(fraction) > digits {
		return 0, fmt.Errorf("it has more than %d digits after the point", digits)
	}
	var minor int64
	for _, r := range whole + fraction + strings.Repeat("0", digits-len(fraction)) {
		if r < '0' || r > '9' {
			return 0, fmt.Errorf("%q is not a digit", r)
		}
		if minor > (math.MaxInt64-9)/10 {
			return 0, fmt.Errorf("it is too large")
		}
		minor = minor*10 + int64(r-'0')
	}
	if negative {
		minor = -minor
	}
	return minor, nil
}

// Add gives a + b. Different currencies and overflow are errors.
func (a Amount) Add(b Amount) (Amount, error) {
	if a.Currency == "" {
		a.Currency = b.Currency
	}
	if b.Currency == "" {
		b.Currency = a.Currency
	}
	if a.Currency != b.Currency {
		return Amount{}, fmt.Errorf("%s and %s cannot be added: the currencies differ", a, b)
	}
	sum := a.Minor + b.Minor
	if (sum > a.Minor) != (b.Minor > 0) && b.Minor != 0 {
		return Amount{}, fmt.Errorf("%s and %s are too large to add", a, b)
	}
	return Amount{sum, a.Currency}, nil
}

// Neg gives the amount with the other sign.
func (a Amount) Neg() Amount { return Amount{-a.Minor, a.Currency} }

// IsZero says whether the amount is nothing.
func (a Amount) IsZero() bool { return a.Minor == 0 }

// String writes the plain form "1234.50 USD", which Parse reads back.
func (a Amount) String() string {
	if a.Currency == "" {
		return a.Number()
	}
	return a.Number() + " " + string(a.Currency)
}

// Number writes the digits alone: "1234.50".
func (a Amount) Number() string {
	digits := exponents[a.Currency]
	magnitude, sign := uint64(a.Minor), ""
	if a.Minor < 0 {
		magnitude, sign = -magnitude, "-"
	}
	text := fmt.Sprintf("%0*d", digits+1, magnitude)
	if digits == 0 {
		return sign + text
	}
	return sign + text[:len(text)-digits] + "." + text[len(text)-digits:]
}
