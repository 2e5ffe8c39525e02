package message

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"unicode/utf16"
	"unicode/utf8"
)

// Limits on one event's canonical text: its bytes, and how deep lists and
// objects may stand in each other.
const (
	MaxData  = 1 << 20
	MaxDepth = 64
)

// maxWhole is the largest whole number that every JSON reader keeps exactly
// (RFC 7493 §2.2).
const maxWhole = 1<<53 - 1

// Canonical gives v as canonical JSON text in the sense of RFC 8785, restricted
// to what events may hold: objects, lists, texts, truth values, null and whole
// numbers of at most 2^53−1 in magnitude. Floats are refused, because their
// printed form differs between programs; say decimals as text or in a smaller
// unit. Bytes of a Go string that are not UTF-8 become U+FFFD, as encoding/json
// has it.
func Canonical(v any) ([]byte, error) {
	var raw bytes.Buffer
	enc := json.NewEncoder(&raw)
	enc.SetEscapeHTML(false) // the limit is on what is written down
	if err := enc.Encode(v); err != nil {
		return nil, err
	}
	return Recanonical(bytes.TrimSuffix(raw.Bytes(), []byte("\n")))
}

// Recanonical gives the canonical form of a JSON text. Refused are repeated
// keys, ill-formed UTF-8 and lone surrogates, floats, texts longer than MaxData
// or nested deeper than MaxDepth, and anything behind the value. So is the
// character U+0000, which no column of text can hold.
func Recanonical(raw []byte) ([]byte, error) {
	return appendCanonical(make([]byte, 0, len(raw)), raw)
}

// IsCanonical says, by an error, why a text is not in canonical form.
func IsCanonical(text string) error {
	canonical, err := Recanonical([]byte(text))
	if err == nil && string(canonical) != text {
		err = errors.New("the data is not canonical JSON")
	}
	return err
}

func appendCanonical(out, raw []byte) ([]byte, error) {
	if len(raw) > MaxData {
		return nil, fmt.Errorf("the text is longer than %d bytes", MaxData)
	}
	if !utf8.Valid(raw) {
		return nil, errors.New("the text is not UTF-8")
	}
	c := canoniser{in: raw, out: out}
	err := c.value(0)
	if c.space(); err == nil && c.at < len(c.in) {
		err = errors.New("something follows the value")
	}
	if err != nil {
		return nil, fmt.Errorf("at byte %d: %w", c.at, err)
	}
	return c.out, nil
}

// A canoniser reads a JSON text (RFC 8259) once and writes its canonical form
// behind what is there. It is written by hand because encoding/json mends lone
// surrogates silently, takes repeated keys, and needs five times as long, in the
// path of every append.
type canoniser struct {
	in  []byte
	at  int
	out []byte
}

var (
	errEnds  = errors.New("the text ends too early")
	errDepth = fmt.Errorf("lists and objects stand more than %d deep in each other", MaxDepth)
)

func (c *canoniser) space() {
	for c.at < len(c.in) {
		switch c.in[c.at] {
		case ' ', '\t', '\n', '\r':
			c.at++
		default:
			return
		}
	}
}

// next passes over space and gives the byte behind it, 0 at the end.
func (c *canoniser) next() byte {
	c.space()
	if c.at == len(c.in) {
		return 0
	}
	return c.in[c.at]
}

func (c *canoniser) value(depth int) error {
	switch b := c.next(); {
	case b == '{' || b == '[':
		if depth == MaxDepth {
			return errDepth
		}
		c.at++
		if b == '[' {
			return c.list(depth + 1)
		}
		return c.object(depth + 1)
	case b == '"':
		return c.text()
	case b == '-' || '0' <= b && b <= '9':
		return c.whole()
	case b == 't':
		return c.word("true")
	case b == 'f':
		return c.word("false")
	case b == 'n':
		return c.word("null")
	}
	if c.at == len(c.in) {
		return errEnds
	}
	return errors.New("no JSON value begins here")
}

func (c *canoniser) word(word string) error {
	if !bytes.HasPrefix(c.in[c.at:], []byte(word)) {
		return errors.New("no JSON value begins here")
	}
	c.at += len(word)
	c.out = append(c.out, word...)
	return nil
}

// whole reads the grammar of JSON numbers without fraction and exponent.
func (c *canoniser) whole() error {
	begin := c.at
	if c.in[c.at] == '-' {
		c.at++
	}
	digits := c.at
	for c.at < len(c.in) && '0' <= c.in[c.at] && c.in[c.at] <= '9' {
		c.at++
	}
	switch {
	case c.at == digits:
		return errors.New("a number needs digits")
	case c.in[digits] == '0' && c.at > digits+1:
		return errors.New("a number does not begin with 0")
	case c.at < len(c.in) && (c.in[c.at] == '.' || c.in[c.at]|0x20 == 'e'):
		return errors.New("only whole numbers can be written down: say decimals as text or in a smaller unit")
	}
	n, err := strconv.ParseInt(string(c.in[begin:c.at]), 10, 64)
	if err != nil || n > maxWhole || n < -maxWhole {
		return errors.New("whole numbers go to 2^53−1 in magnitude")
	}
	c.out = strconv.AppendInt(c.out, n, 10) // −0 is 0 (RFC 8785, appendix B)
	return nil
}

func (c *canoniser) list(depth int) error {
	c.out = append(c.out, '[')
	if c.next() == ']' {
		c.at++
		c.out = append(c.out, ']')
		return nil
	}
	for {
		if err := c.value(depth); err != nil {
			return err
		}
		more, err := c.more(']')
		if !more {
			return err
		}
	}
}

// more passes over the comma behind a member, or over the closing byte.
func (c *canoniser) more(closing byte) (bool, error) {
	b := c.next()
	if b != ',' && b != closing {
		if c.at == len(c.in) {
			return false, errEnds
		}
		return false, fmt.Errorf("a comma or %c is needed here", closing)
	}
	c.at++
	c.out = append(c.out, b)
	return b == ',', nil
}

// member is a key and where it stands, with its value, in the output.
type member struct {
	key      []byte // as text, without escapes
	from, to int
}

func (c *canoniser) object(depth int) error {
	c.out = append(c.out, '{')
	if c.next() == '}' {
		c.at++
		c.out = append(c.out, '}')
		return nil
	}
	var few [16]member
	members := few[:0]
	for more := true; more; {
		m := member{from: len(c.out)}
		var err error
		if m.key, err = c.key(); err != nil {
			return err
		}
		if err := c.value(depth); err != nil {
			return err
		}
		m.to = len(c.out)
		members = append(members, m)
		if more, err = c.more('}'); err != nil {
			return err
		}
	}
	return c.sort(members)
}

func (c *canoniser) key() ([]byte, error) {
	if c.next() != '"' {
		return nil, errors.New("a key is needed here")
	}
	begin, from := c.at, len(c.out)
	if err := c.text(); err != nil {
		return nil, err
	}
	key := c.in[begin+1 : c.at-1]
	if bytes.IndexByte(key, '\\') >= 0 {
		key = plain(c.out[from+1 : len(c.out)-1])
	}
	if c.next() != ':' {
		return nil, errors.New("a colon is needed here")
	}
	c.at++
	c.out = append(c.out, ':')
	return key, nil
}

// plain takes the escapes out of a canonical text.
func plain(text []byte) []byte {
	var s string
	if err := json.Unmarshal(append(append([]byte{'"'}, text...), '"'), &s); err != nil {
		panic(err) // we have just written it
	}
	return []byte(s)
}

// sort puts the members that stand at the end of the output in order.
func (c *canoniser) sort(members []member) error {
	before := func(a, b member) int { return compareUnits(a.key, b.key) }
	if !slices.IsSortedFunc(members, before) {
		end := len(c.out)
		slices.SortFunc(members, before)
		for i, m := range members {
			if i > 0 {
				c.out = append(c.out, ',')
			}
			c.out = append(c.out, c.out[m.from:m.to]...)
		}
		first := end - 1
		for _, m := range members {
			first = min(first, m.from)
		}
		c.out = append(c.out[:first], c.out[end:]...)
		c.out = append(c.out, '}')
	}
	for i := 1; i < len(members); i++ {
		if bytes.Equal(members[i-1].key, members[i].key) {
			return fmt.Errorf("the key %q stands twice", members[i].key)
		}
	}
	return nil
}

// compareUnits orders keys by their UTF-16 code units (RFC 8785 §3.2.3). That
// is the order of their bytes, but for characters beyond U+FFFF: those are
// written as surrogates, which come before U+E000.
func compareUnits(a, b []byte) int {
	for len(a) > 0 && len(b) > 0 {
		r, n := utf8.DecodeRune(a)
		s, m := utf8.DecodeRune(b)
		if r != s {
			return cmp.Or(cmp.Compare(firstUnit(r), firstUnit(s)), cmp.Compare(r, s))
		}
		a, b = a[n:], b[m:]
	}
	return cmp.Compare(len(a), len(b))
}

func firstUnit(r rune) rune {
	if r < 0x10000 {
		return r
	}
	high, _ := utf16.EncodeRune(r)
	return high
}

// text copies a string, with the shortest escapes (RFC 8785 §3.2.2.2):
// everything from U+0020 up stands as it is, but for the quote and the backslash.
func (c *canoniser) text() error {
	c.at++
	c.out = append(c.out, '"')
	for {
		run := c.at
		for c.at < len(c.in) && c.in[c.at] >= 0x20 && c.in[c.at] != '"' && c.in[c.at] != '\\' {
			c.at++
		}
		c.out = append(c.out, c.in[run:c.at]...)
		switch {
		case c.at == len(c.in):
			return errEnds
		case c.in[c.at] == '"':
			c.at++
			c.out = append(c.out, '"')
			return nil
		case c.in[c.at] < 0x20:
			return errors.New("a control character has to be escaped")
		}
		if err := c.escape(); err != nil {
			return err
		}
	}
}

func (c *canoniser) escape() error {
	if c.at+1 == len(c.in) {
		return errEnds
	}
	b := c.in[c.at+1]
	switch b {
	case '"', '\\', 'b', 't', 'n', 'f', 'r':
		c.out = append(c.out, '\\', b)
	case '/':
		c.out = append(c.out, '/')
	case 'u':
		return c.unicode()
	default:
		return errors.New("there is no such escape")
	}
	c.at += 2
	return nil
}

// unicode reads \uXXXX, and two of them for a character beyond U+FFFF.
func (c *canoniser) unicode() error {
	r, err := c.unit()
	if err != nil {
		return err
	}
	if utf16.IsSurrogate(r) {
		low, err := c.unit()
		if r = utf16.DecodeRune(r, low); err != nil || r == utf8.RuneError {
			return errors.New("half of a surrogate pair is no character")
		}
	}
	switch {
	case r == 0:
		return errors.New("the character U+0000 cannot be written down")
	case r >= 0x20 && r != '"' && r != '\\':
		c.out = utf8.AppendRune(c.out, r)
	default:
		c.out = appendEscape(c.out, byte(r))
	}
	return nil
}

func (c *canoniser) unit() (rune, error) {
	if c.at+6 > len(c.in) || c.in[c.at] != '\\' || c.in[c.at+1] != 'u' {
		return 0, errors.New("an escape is cut off")
	}
	var r rune
	for _, b := range c.in[c.at+2 : c.at+6] {
		digit := hexDigit(b)
		if digit < 0 {
			return 0, fmt.Errorf("%q is not a hexadecimal digit", b)
		}
		r = r<<4 | digit
	}
	c.at += 6
	return r, nil
}

func hexDigit(b byte) rune {
	switch {
	case '0' <= b && b <= '9':
		return rune(b - '0')
	case 'a' <= b|0x20 && b|0x20 <= 'f':
		return rune(b|0x20-'a') + 10
	}
	return -1
}

func appendEscape(out []byte, b byte) []byte {
	const hex = "0123456789abcdef"
	switch b {
	case '"', '\\':
		return append(out, '\\', b)
	case '\b':
		return append(out, `\b`...)
	case '\t':
		return append(out, `\t`...)
	case '\n':
		return append(out, `\n`...)
	case '\f':
		return append(out, `\f`...)
	case '\r':
		return append(out, `\r`...)
	}
	return append(out, '\\', 'u', '0', '0', hex[b>>4], hex[b&15])
}
