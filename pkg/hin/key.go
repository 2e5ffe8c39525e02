package hin

import (
	"strings"
	"unicode"
)

// Key gives the spelling in which numbers are compared: one number may be
// written with and without separators or the prefix of the United States. A
// number of no known form keeps its letters and digits. It is empty for a text
// that tells no boat from another: "illegible", "0". Common practice, no source.
func Key(text string) string {
	n := Decode(text)
	switch {
	case n.Normalised == "":
		return unreadKey(text)
	case n.Country == "US":
		return n.Normalised
	}
	return n.Country + n.Normalised
}

func unreadKey(text string) string {
	key := strings.ToUpper(strings.Map(keepMark, text))
	if len(key) < 5 || !strings.ContainsAny(key, "0123456789") {
		return ""
	}
	return key
}

func keepMark(r rune) rune {
	if unicode.IsLetter(r) || unicode.IsDigit(r) {
		return r
	}
	return -1
}
