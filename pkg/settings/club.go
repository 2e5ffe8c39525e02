// Package settings lists the settings of the club: what an administrator can
// change while everything runs. (How a process is started is the binary's own
// business.) Each has a default, a sentence that explains its effect, and a
// check.
package settings

import (
	"fmt"
	"net/mail"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/money"
)

// Setting is one of the club's settings. Its value is a text.
type Setting struct {
	Name    string
	Default string
	// Effect says, in a sentence or two, what changes with it and where the
	// default comes from.
	Effect string
	check  func(string) error
}

// Club lists the settings in the order in which pages show them.
var Club = []Setting{
	{"legal-name", "", "The club's name as the authority has it on record. It stands at the head of every paper.", short},
	{"address", "", "The club's address on papers; lines are parted by a semicolon.", short},
	{"contact", "", "How strangers reach the club: a mail address or a telephone number. It is shown to whoever scans a boat's tag without being signed in. Empty: the address.", short},
	{"registration-number", "", "The number under which the club is registered as a charity (EIN in the United States, registration number in Canada).", short},
	{"place", "", "The place where papers are issued.", short},
	{"country", "US", "Whose papers donors get: US, CA or UK.", oneOf("US", "CA", "UK")},
	{"qualified", "no", "Whether gifts to the club are deductible: yes only for a qualified organisation. With no, donors get thank-you letters only.", oneOf("yes", "no")},
	{"currency", "USD", "The currency in which the club keeps its books (ISO 4217).", currency},
	{"signatory", "", "Who signs papers, with office.", short},
	{"two-signatures-above", "none", "Above which amount a gift's paper is signed by two: the value on the day of the gift, the donor's claim or the price it fetched, in the club's currency. One treasurer prepares the paper, another signs and so issues it. With none, one signature is enough.", noneOr(amount)},
	{"paper-format", "letter", "The size of printed papers: letter or A4.", oneOf("letter", "A4")},
	{"priorities", "Children paddle along, or nobody of the household has a boat; everybody else; the household has a boat already", "Who is served first, tier 1 to tier 3 and on, parted by semicolons. A round fixes them together with its list.", short},
	{"programmes", "", "For what the club has boats, as \"youth group; beginners' course; households\": parted by semicolons. A treasurer puts a boat under one of them, and the statement parts by them what boats cost. Empty: it does not.", short},
	{"load-percent", "70", "The share of a boat's rated load that people, animals and gear may use. The club's own rule; 60 to 70 is common trade advice (from memory), makers' labels govern.", whole(10, 100)},
	{"gear-kg", "10", "Gear reckoned with when an applicant states none, in kilograms. The club's own rule.", whole(0, 200)},
	{"fitting-hours", "high seat back 1.5; grip aids can be fitted 1; outriggers can be fitted 3", "In how many hours the workshop adds something that a boat lacks, as \"high seat back 1.5; grip aids can be fitted 1\". A boat then fits a request if it is added before the hand-over. The club's own estimate; empty: the workshop adds nothing.", fittingHours},
	{"jackets", "", "How many life jackets the club lends, by the size on the label, as \"infant 1; child 4; youth 5; adult 12\". Empty: nobody has counted them, and a boat fits on the condition that jackets are found.", jackets},
	{"drying-rule", "utah", "How long a boat dries before it may go to another water: utah (7, 18 or 30 days by season, as the State of Utah publishes), thirty (30 days, the usual default before local weather is looked up) or days (the club's own number). The law of the water that a boat goes to decides.", oneOf("utah", "thirty", "days")},
	{"drying-days", "5", "Days for the drying rule \"days\".", whole(0, 365)},
	{"found-days", "30", "How many days a found or abandoned boat waits for its owner, from the day of the find, before the club can accept it. The club's own rule; the law on found property of the place goes first.", whole(0, 3650)},
	{"margin-percent", "10", "The club's margin in an offer ceiling, per cent of the value as repaired.", whole(0, 100)},
	{"margin-minimum", "30.00", "The least margin in an offer ceiling, in the club's currency.", amount},
	{"valuer-apart", "no", "Whether who valued a boat, or set its ceiling, leaves its price to others: yes keeps them from naming and agreeing one (common practice; it takes a second pair of hands).", oneOf("yes", "no")},
	{"missed-percent", "10", "The allowance for what was not found when only one person looked, per cent of the value as repaired: a rule, not an estimate.", whole(0, 100)},
	{"provisional-percent", "10", "What is added to that allowance when something could not be seen, per cent of the value as repaired: a rule, not an estimate.", whole(0, 100)},
	{"missed-costs", "", "What defects cost that only the workshop finds, as \"70 at 10.00; 30 at 40.00\": shares in per cent, in the club's currency. Empty: from the club's own book, where it says enough.", missedCosts},
	{"grade-effect-percent", "15", "How much one step of condition changes a price, per cent: the club's opinion until sales say better.", whole(0, 100)},
	{"year-effect-percent", "8", "How much a year of age takes off a price, per cent: the club's opinion until sales say better.", whole(0, 100)},
	{"length-effect-percent", "0", "How much a metre more of length adds to a price, per cent: the club's opinion until sales say better; 0 for none.", whole(0, 100)},
	{"time-effect-percent", "0", "By how much prices of used boats rise in a year, per cent, with a minus when they fall: the club's opinion.", whole(-50, 50)},
	{"mended-effect-percent", "5", "How much a repair to the hull, told to the buyer, takes off a price, per cent: the club's own opinion, without a source, until sales say better.", whole(0, 90)},
	{"accessory-effect-percent", "3", "How much each accessory that goes with a boat adds to a price, per cent: the club's opinion until sales say better.", whole(0, 50)},
	{"material-effects", "", "How prices of hull materials differ, as \"ABS sandwich 20; aluminium -15\", per cent against the materials that are not named: the club's opinion until sales say better.", materials},
	{"asking-discount-percent", "none", "How much less is paid than asked, per cent. With none, asking prices are listed and not used.", noneOr(whole(0, 90))},
	{"dealer-premium-percent", "none", "How much more a dealer gets than a private hand, per cent. With none, dealers' prices are listed and not used.", noneOr(whole(0, 200))},
	{"comparable-days", "1095", "How old a comparable sale may be, in days.", whole(1, 36500)},
	{"offer-days", "7", "How long an offer of a boat stands, in days.", whole(1, 90)},
	{"request-kept-days", "180", "How long an applicant's data is kept after the request has ended, in days.", whole(1, 3650)},
	{"link-days", "90", "How long a private link works, in days.", whole(1, 730)},
	{"remind-days", "14", "How many days before something about donors' papers falls due the treasurers get a mail about it, once. With 0 no such mail is sent. The club's own rule.", whole(0, 90)},
	{"auditor-mail", "", "Where the book's newest checkpoint is mailed, once a day at most, so that somebody outside can tell a changed book from the true one. Name an office's address: it stands in the book in clear.", mailOrNone},
	{"hour-value", "0.00", "What an hour of a volunteer's counts for when the program weighs whether mending pays, in the club's currency. For decisions only: it stands on no paper. With 0.00 time is not weighed.", amount},
	{"release-text", "2026-1", "The version of the club's own release text that households sign at hand-over.", short},
}

// Find gives a setting by its name.
func Find(name string) (Setting, bool) {
	i := slices.IndexFunc(Club, func(s Setting) bool { return s.Name == name })
	if i < 0 {
		return Setting{}, false
	}
	return Club[i], true
}

// Default gives a setting's default. It panics on a name that is not in the
// list: that is a mistake of the programmer.
func Default(name string) string {
	s, ok := Find(name)
	if !ok {
		panic("no such setting: " + name)
	}
	return s.Default
}

// Check refuses a value that the setting cannot have; the fault names the field
// "value".
func (s Setting) Check(value string) error {
	if err := s.check(value); err != nil {
		return fault.Field("value", "%s", err)
	}
	return nil
}

func short(value string) error {
	if len(value) > 500 || strings.ContainsAny(value, "\n\r\x00") {
		return fmt.Errorf("write one line of at most 500 bytes")
	}
	return nil
}

func oneOf(words ...string) func(string) error {
	return func(value string) error {
		if !slices.Contains(words, value) {
			return fmt.Errorf("choose one of %s", strings.Join(words, ", "))
		}
		return nil
	}
}

func whole(low, high int) func(string) error {
	return func(value string) error {
		n, err := strconv.Atoi(value)
		if err != nil || n < low || n > high {
			return fmt.Errorf("write a whole number from %d to %d", low, high)
		}
		return nil
	}
}

// mailOrNone takes a bare mail address, or nothing.
func mailOrNone(value string) error {
	if value == "" {
		return nil
	}
	if a, err := mail.ParseAddress(value); err != nil || a.Address != value || len(value) > 254 {
		return fmt.Errorf("write a mail address alone, like auditor@example.org, or nothing")
	}
	return nil
}

// currency takes a code only in its own spelling: rooms compare it as it stands.
func currency(value string) error {
	code, err := money.ParseCurrency(value)
	if err == nil && string(code) != value {
		err = fmt.Errorf("write it as %s", code)
	}
	return err
}

// amount takes a number alone: it is in the club's currency, whichever that is.
func amount(value string) error {
	if strings.ContainsFunc(value, unicode.IsLetter) {
		return fmt.Errorf("write the number alone, like 30.00: it is in the club's currency")
	}
	a, err := money.Parse(value, "USD")
	if err == nil && a.Minor < 0 {
		err = fmt.Errorf("must not be negative")
	}
	return err
}
