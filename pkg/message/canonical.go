package message

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"unicode/utf16"
	"unicode/utf8"
)

// MaxData bounds one event's canonical text, in bytes.
const MaxData = 256 << 10

// maxWhole is the largest whole number that every JSON reader keeps exactly
// (RFC 7493 §2.2).
const maxWhole = 1<<53 - 1

// Canonical gives v as canonical JSON text in the sense of RFC 8785, restricted
// to what events may hold: objects, lists, texts, truth values, null and whole
// numbers of at most 2^53−1 in magnitude. Floats are refused, because their
// printed form differs between programs; say decimals as text or in a smaller
// unit.
func Canonical(v any) ([]byte, error) {
	raw, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	return Recanonical(raw)
}

// Recanonical gives the canonical form of a JSON text, and refuses repeated
// keys, ill-formed UTF-8, floats, and anything behind the value.
func Recanonical(raw []byte) ([]byte, error) {
	if !utf8.Valid(raw) {
		return nil, fmt.Errorf("the text is not UTF-8")
	}
	if len(raw) > MaxData {
		return nil, fmt.Errorf("the text is longer than %d bytes", MaxData)
	}
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.UseNumber()
	out, err := appendValue(nil, dec)
	if err != nil {
		return nil, err
	}
	if dec.More() {
		return nil, fmt.Errorf("something follows the value")
	}
	return out, nil
}

func appendValue(out []byte, dec *json.Decoder) ([]byte, error) {
	token, err := dec.Token()
	if err != nil {
		return nil, err
	}
	switch token := token.(type) {
	case json.Delim:
		if token == '{' {
			return appendObject(out, dec)
		}
		return appendList(out, dec)
	case string:
		return appendText(out, token), nil
	case json.Number:
		return appendWhole(out, token)
	case bool:
		return strconv.AppendBool(out, token), nil
	}
	return append(out, "null"...), nil
}

func appendWhole(out []byte, number json.Number) ([]byte, error) {
	n, err := strconv.ParseInt(number.String(), 10, 64)
	if err != nil || n > maxWhole || n < -maxWhole {
		return nil, fmt.Errorf("%s is not a whole number of at most 2^53−1", number)
	}
	return strconv.AppendInt(out, n, 10), nil
}

func appendList(out []byte, dec *json.Decoder) ([]byte, error) {
	out = append(out, '[')
	for first := true; dec.More(); first = false {
		if !first {
			out = append(out, ',')
		}
		var err error
		if out, err = appendValue(out, dec); err != nil {
			return nil, err
		}
	}
	_, err := dec.Token()
	return append(out, ']'), err
}

type member struct {
	name  string
	units []uint16 // RFC 8785 §3.2.3 orders keys by UTF-16 code units
	value []byte
}

func appendObject(out []byte, dec *json.Decoder) ([]byte, error) {
	var members []member
	for dec.More() {
		token, err := dec.Token()
		if err != nil {
			return nil, err
		}
		name := token.(string)
		value, err := appendValue(nil, dec)
		if err != nil {
			return nil, err
		}
		members = append(members, member{name, utf16.Encode([]rune(name)), value})
	}
	if _, err := dec.Token(); err != nil {
		return nil, err
	}
	slices.SortFunc(members, func(a, b member) int { return slices.Compare(a.units, b.units) })
	out = append(out, '{')
	for i, m := range members {
		if i > 0 {
			if members[i-1].name == m.name {
				return nil, fmt.Errorf("the key %q stands twice", m.name)
			}
			out = append(out, ',')
		}
		out = append(append(appendText(out, m.name), ':'), m.value...)
	}
	return append(out, '}'), nil
}

// appendText writes a string as RFC 8785 §3.2.2.2 wants it: the shortest escape,
// and everything from U+0020 up as it is.
func appendText(out []byte, text string) []byte {
	const hex = "0123456789abcdef"
	out = append(out, '"')
	for i := range len(text) {
		switch c := text[i]; {
		case c == '"' || c == '\\':
			out = append(out, '\\', c)
		case c == '\b':
			out = append(out, `\b`...)
		case c == '\t':
			out = append(out, `\t`...)
		case c == '\n':
			out = append(out, `\n`...)
		case c == '\f':
			out = append(out, `\f`...)
		case c == '\r':
			out = append(out, `\r`...)
		case c < 0x20:
			out = append(out, '\\', 'u', '0', '0', hex[c>>4], hex[c&15])
		default:
			out = append(out, c)
		}
	}
	return append(out, '"')
}
