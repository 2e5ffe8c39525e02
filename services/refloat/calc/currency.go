package calc

import (
	"slices"
	"strings"

	"refloat.example/pkg/money"
)

// isoCodes are the alphabetic codes of ISO 4217 list one that stand for money in
// use; from memory, as of 2026. No funds, metals or test codes. The calculators
// only carry minor units, so any of them will do, also one in which no amount is
// kept in the book.
var isoCodes = strings.Fields(`
AED AFN ALL AMD ANG AOA ARS AUD AWG AZN BAM BBD BDT BGN BHD BIF BMD BND BOB BRL
BSD BTN BWP BYN BZD CAD CDF CHF CLP CNY COP CRC CUP CVE CZK DJF DKK DOP DZD EGP
ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GNF GTQ GYD HKD HNL HTG HUF IDR ILS INR
IQD IRR ISK JMD JOD JPY KES KGS KHR KMF KPW KRW KWD KYD KZT LAK LBP LKR LRD LSL
LYD MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR
NZD OMR PAB PEN PGK PHP PKR PLN PYG QAR RON RSD RUB RWF SAR SBD SCR SDG SEK SGD
SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TND TOP TRY TTD TWD TZS UAH UGX
USD UYU UZS VED VES VND VUV WST XAF XCD XCG XOF XPF YER ZAR ZMW ZWG`)

// Currency reads the field "currency", USD where it is left out.
func (o *Object) Currency() money.Currency {
	code := o.TextOr("currency", "USD")
	if o.Err() == nil && !slices.Contains(isoCodes, code) {
		o.Fail("currency", "must be an ISO 4217 code in capitals, such as USD")
	}
	return money.Currency(code)
}
