// Package hin reads hull identification numbers: the twelve characters on the
// starboard quarter that say who built a boat, when, and for which model year.
//
// Sources: 33 CFR 181.23, 181.25 and 181.27 (text of September 2024) for the
// format in force since 1 August 1984 and the country prefix; published decoder
// articles, which agree with each other, for the two formats of 1 November 1972
// to 31 July 1984; ISO 10087 for numbers of other countries. From memory: the
// model year of 33 CFR 181.3 (1 June to 31 July of the year that names it), on
// which only notices rest.
//
// A number that decodes is well formed, no more: the package knows no register,
// does not say that the boat is the one the number was given to, and never
// mends a number. Its notices are questions to ask, not faults of the boat.
package hin

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"
)

// Format is one of the three ways in which positions 9 to 12 are used. The
// empty Format is that of a number which is not valid.
type Format string

const (
	// Current: month letter, last digit of the year, two-digit model year.
	Current Format = "current"
	// ModelYear: M, two-digit model year, month letter counted from August.
	ModelYear Format = "model-year"
	// StraightYear: two-digit month and year; it says nothing of a model year.
	StraightYear Format = "straight-year"
)

// Notice is something odd about a number that is valid all the same.
type Notice string

const (
	// ModelYearGap: the model year is more than one after the year built.
	ModelYearGap Notice = "model-year-gap"
	// BeforeFormat: the current format, but built before August 1984.
	BeforeFormat Notice = "before-format"
	// Before197211: built before November 1972, when no number was needed.
	Before197211 Notice = "before-1972-11"
	// After198407: an old format, but built after July 1984, when it ended.
	After198407 Notice = "after-1984-07"
	// BeforeModelYear: built before 1 June of the year before the model year.
	BeforeModelYear Notice = "before-model-year"
	// AfterModelYear: built after July of the model year.
	AfterModelYear Notice = "after-model-year"
	// StateIssued: given by a state or the Coast Guard, as to a home-built boat.
	StateIssued Notice = "state-issued"
	// NotUS: another country's number, whose date we do not read.
	NotUS Notice = "not-us"
)

// Month is a month of a year. The zero Month is unknown.
type Month struct {
	Year  int
	Month time.Month
}

// String writes YYYY-MM, or nothing for the zero Month.
func (m Month) String() string {
	if m == (Month{}) {
		return ""
	}
	return fmt.Sprintf("%04d-%02d", m.Year, int(m.Month))
}

// Before says whether m is an earlier month than n.
func (m Month) Before(n Month) bool {
	return m.Year < n.Year || m.Year == n.Year && m.Month < n.Month
}

// Problem says why a number is not valid. Position counts from 1 in the twelve
// characters without country; 0 is a wrong length, or separators.
type Problem struct {
	Position int
	Reason   string
}

// Number is what a hull identification number says. Text fields are empty and
// years 0 where it does not say, or cannot be read.
type Number struct {
	Format      Format
	Country     string // two letters, where a prefix stands
	Maker       string // positions 1 to 3
	Serial      string // positions 4 to 8
	Built       Month
	ModelYear   int
	StateIssued bool
	Normalised  string // the twelve characters, where these are valid
	Problem     *Problem
	Notices     []Notice // in the order of the constants
}

// Valid says whether the number is well formed as it was written.
func (n Number) Valid() bool { return n.Problem == nil }

// Decode reads a number as somebody wrote it down. Small letters are read as
// capitals, blanks around it are dropped. Separators inside make it invalid,
// since 33 CFR 181.25 wants it uninterrupted; Normalised then holds the
// characters without them. Of several problems the leftmost is named.
func Decode(text string) Number {
	country, twelve, problem := split(text)
	n := Number{Country: country, Problem: problem}
	if twelve == nil {
		return n
	}
	offence := firstOffence(twelve)
	n.readParts(twelve, offence)
	if offence == nil {
		n.Normalised = string(twelve)
	}
	if n.Problem == nil {
		n.Problem = offence
	}
	if n.Valid() {
		n.readTail(string(twelve[8:]))
	}
	n.Notices = n.notices()
	return n
}

// split parts the country from the twelve characters, which are nil where there
// are more or fewer. The problem, if any, is one of position 0.
func split(text string) (country string, twelve []rune, problem *Problem) {
	written := []rune(strings.Map(capital, strings.TrimSpace(text)))
	bare := slices.DeleteFunc(slices.Clone(written), isSeparator)
	separators := len(written) - len(bare)
	switch {
	case len(bare) == 12:
		twelve = bare
	case len(bare) == 14 && isLetter(bare[0]) && isLetter(bare[1]):
		country, twelve = string(bare[:2]), bare[2:]
		if written[2] == '-' {
			separators-- // the hyphen of ISO 10087 is printed but not counted
		}
	default:
		return "", nil, &Problem{Reason: wrongLength(bare)}
	}
	if separators > 0 {
		problem = &Problem{Reason: "written with separators; the number must be uninterrupted"}
	}
	return country, twelve, problem
}

func wrongLength(bare []rune) string {
	if len(bare) == 14 {
		return "has 14 characters but does not begin with the two letters of a country"
	}
	return fmt.Sprintf("has %d characters, not 12 (14 with a country)", len(bare))
}

// capital makes capitals of A to Z alone: of other letters that have a capital
// among them, such as the dotless i, it would be a guess.
func capital(r rune) rune {
	if 'a' <= r && r <= 'z' {
		return r - 'a' + 'A'
	}
	return r
}

func isSeparator(r rune) bool { return r == '-' || r == '/' || r == '.' || unicode.IsSpace(r) }
func isLetter(r rune) bool    { return 'A' <= r && r <= 'Z' }
func isDigit(r rune) bool     { return '0' <= r && r <= '9' }

// isSerial says whether a character may stand in positions 4 to 8: I, O and Q
// are barred there, and only there (33 CFR 181.25(b)).
func isSerial(r rune) bool { return isDigit(r) || isLetter(r) && r != 'I' && r != 'O' && r != 'Q' }

func isMonthLetter(r rune) bool { return 'A' <= r && r <= 'L' }

// firstOffence names the leftmost position that breaks a format, or nil.
func firstOffence(twelve []rune) *Problem {
	for i, r := range twelve[:8] {
		switch {
		case !isLetter(r) && !isDigit(r):
			return &Problem{i + 1, fmt.Sprintf("%q is neither a letter nor a digit", r)}
		case i >= 3 && !isSerial(r):
			return &Problem{i + 1, fmt.Sprintf("%q may not stand in the serial number", r)}
		}
	}
	switch r := twelve[8]; {
	case isDigit(r):
		return offenceStraightYear(twelve)
	case r == 'M':
		return offenceModelYear(twelve)
	case isMonthLetter(r):
		return offenceDigits(twelve, 10, 12)
	default:
		return &Problem{9, fmt.Sprintf("%q is no month (A to L), no M and no digit", r)}
	}
}

func offenceStraightYear(twelve []rune) *Problem {
	if p := offenceDigits(twelve, 10, 10); p != nil {
		return p
	}
	if month := number(string(twelve[8:10])); month < 1 || month > 12 {
		return &Problem{9, fmt.Sprintf("%02d is no month", month)}
	}
	return offenceDigits(twelve, 11, 12)
}

func offenceModelYear(twelve []rune) *Problem {
	if p := offenceDigits(twelve, 10, 11); p != nil {
		return p
	}
	if r := twelve[11]; !isMonthLetter(r) {
		return &Problem{12, fmt.Sprintf("after M and a model year comes a month letter A to L, not %q", r)}
	}
	return nil
}

// offenceDigits asks for digits in the positions first to last, from 1.
func offenceDigits(twelve []rune, first, last int) *Problem {
	for position := first; position <= last; position++ {
		if r := twelve[position-1]; !isDigit(r) {
			return &Problem{position, fmt.Sprintf("%q must be a digit", r)}
		}
	}
	return nil
}

// readParts gives maker and serial, each where its own characters are sound.
func (n *Number) readParts(twelve []rune, offence *Problem) {
	if offence == nil || offence.Position > 3 {
		n.Maker = string(twelve[:3])
		n.StateIssued = n.Maker[2] == 'Z' && (n.Maker[:2] == "US" || slices.Contains(states, n.Maker[:2]))
	}
	if offence == nil || offence.Position > 8 {
		n.Serial = string(twelve[3:8])
	}
}

// readTail reads positions 9 to 12, which are sound. In another country's
// number the last two need be no model year (published examples use them
// loosely), and the rest cannot be dated without them.
func (n *Number) readTail(tail string) {
	switch {
	case tail[0] == 'M':
		n.Format = ModelYear
		n.ModelYear = oldYear(number(tail[1:3]))
		n.Built = monthFromAugust(tail[3], n.ModelYear)
	case isDigit(rune(tail[0])):
		n.Format = StraightYear
		n.Built = Month{oldYear(number(tail[2:])), time.Month(number(tail[:2]))}
	default:
		n.Format = Current
		n.ModelYear = currentYear(number(tail[2:]))
		n.Built = Month{yearEndingIn(tail[1], n.ModelYear), time.Month(tail[0] - 'A' + 1)}
	}
	if n.foreign() {
		n.Built, n.ModelYear = Month{}, 0
	}
}

func (n *Number) foreign() bool { return n.Country != "" && n.Country != "US" }

// number reads digits that have been looked at before.
func number(digits string) int {
	n := 0
	for _, r := range digits {
		n = n*10 + int(r-'0')
	}
	return n
}

// currentYear gives the century of a model year: the format began in 1984.
func currentYear(yy int) int {
	if yy >= 84 {
		return 1900 + yy
	}
	return 2000 + yy
}

// oldYear gives the century of a year of the old formats, which began in 1972.
func oldYear(yy int) int {
	if yy >= 72 {
		return 1900 + yy
	}
	return 2000 + yy
}

// yearEndingIn gives the latest year up to the model year with that last digit.
func yearEndingIn(digit byte, modelYear int) int {
	return modelYear - (modelYear-int(digit-'0'))%10
}

// monthFromAugust reads the letter of the model-year format: A is August of the
// year before, L is July of the model year.
func monthFromAugust(letter byte, modelYear int) Month {
	august := time.Date(modelYear-1, time.August+time.Month(letter-'A'), 1, 0, 0, 0, 0, time.UTC)
	return Month{august.Year(), august.Month()}
}

// notices gives every notice that holds, in the order of the constants. A
// number that could not be dated has none about dates.
func (n *Number) notices() []Notice {
	if n.foreign() {
		return []Notice{NotUS}
	}
	var held []Notice
	for _, c := range []struct {
		notice Notice
		holds  bool
	}{
		{ModelYearGap, n.ModelYear-n.Built.Year > 1},
		{BeforeFormat, n.Format == Current && n.Built.Before(Month{1984, time.August})},
		{Before197211, n.Format != "" && n.Built.Before(Month{1972, time.November})},
		{After198407, n.Format != Current && Month{1984, time.July}.Before(n.Built)},
		{BeforeModelYear, n.ModelYear > 0 && n.Built.Before(Month{n.ModelYear - 1, time.June})},
		{AfterModelYear, n.ModelYear > 0 && Month{n.ModelYear, time.July}.Before(n.Built)},
		{StateIssued, n.StateIssued},
	} {
		if c.holds {
			held = append(held, c.notice)
		}
	}
	return held
}

// states are the postal codes of the states, the District of Columbia and the
// territories (United States Postal Service, Publication 28; from memory).
var states = strings.Fields(`
	AL AK AZ AR CA CO CT DE FL GA HI ID IL IN IA KS KY LA ME MD MA MI MN MS MO
	MT NE NV NH NJ NM NY NC ND OH OK OR PA RI SC SD TN TX UT VT VA WA WV WI WY
	DC AS GU MP PR VI`)
