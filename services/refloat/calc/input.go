package calc

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"refloat.example/pkg/clock"
)

// BadInput is an input that breaks its contract. Field is the path of what is
// to blame ("comparables[2].price_minor"), empty for malformed JSON.
type BadInput struct {
	Row    int    `json:"row,omitempty"`
	Field  string `json:"field"`
	Reason string `json:"reason"`
}

func (b *BadInput) Error() string { return b.Field + ": " + b.Reason }

// An Object is one JSON object of an input, read field by field. The first
// fault is kept and every later read gives a zero value, so that a reader is a
// plain list of fields followed by one call of Done on the outermost object.
type Object struct {
	path   string
	names  []string // in input order
	values map[string]any
	taken  map[string]bool
	bad    **BadInput // shared by all objects of one input
	lacks  bool       // the fault kept is that a field of this object is missing
}

// list and the standard library's types are what a field's value can be.
type list []any

// Parse reads one JSON object. Numbers keep their text; text that is not
// UTF-8, a repeated key, a number that no float64 can hold, and anything after
// the object are faults. NaN and Infinity are no JSON, but programs write them:
// such a field is named.
func Parse(raw []byte) (*Object, error) {
	if err := wellFormed(raw); err != nil {
		marked := nonNumber.ReplaceAllFunc(raw, markNonNumber)
		if wellFormed(marked) != nil {
			return nil, err
		}
		raw = marked
	}
	var bad *BadInput
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.UseNumber()
	value, err := parseValue(dec, "", &bad)
	if err != nil {
		return nil, err
	}
	o, ok := value.(*Object)
	if !ok {
		return nil, &BadInput{Reason: "not a JSON object"}
	}
	return o, nil
}

// nonNumber finds texts, to pass them over, and the words that stand for no number.
var nonNumber = regexp.MustCompile(`"(?:[^"\\]|\\.)*"|-?(?:NaN|Infinity)`)

// markNonNumber puts a number that no float64 can hold in place of such a word.
func markNonNumber(match []byte) []byte {
	if match[0] == '"' {
		return match
	}
	return []byte("1e999")
}

// wellFormed asks for one JSON value before any of it is read, because the
// token reader takes broken bytes for U+FFFD and has no bound on depth.
func wellFormed(raw []byte) error {
	if !utf8.Valid(raw) {
		return &BadInput{Reason: "not JSON: the text is not UTF-8"}
	}
	var whole json.RawMessage
	if err := json.Unmarshal(raw, &whole); err != nil {
		return &BadInput{Reason: "not JSON: " + err.Error()}
	}
	return nil
}

func parseValue(dec *json.Decoder, path string, bad **BadInput) (any, error) {
	token, err := dec.Token()
	if err != nil {
		return nil, err
	}
	switch token := token.(type) {
	case json.Delim:
		if token == '{' {
			return parseObject(dec, path, bad)
		}
		return parseList(dec, path, bad)
	case json.Number:
		if _, err := strconv.ParseFloat(token.String(), 64); err != nil {
			return nil, &BadInput{Field: path, Reason: "must be a finite number"}
		}
	}
	return token, nil
}

func parseObject(dec *json.Decoder, path string, bad **BadInput) (*Object, error) {
	o := &Object{path: path, values: map[string]any{}, taken: map[string]bool{}, bad: bad}
	for dec.More() {
		key, err := dec.Token()
		if err != nil {
			return nil, err
		}
		name := key.(string)
		if _, again := o.values[name]; again {
			return nil, &BadInput{Field: o.at(name), Reason: "stands twice"}
		}
		value, err := parseValue(dec, o.at(name), bad)
		if err != nil {
			return nil, err
		}
		o.names = append(o.names, name)
		o.values[name] = value
	}
	_, err := dec.Token()
	return o, err
}

func parseList(dec *json.Decoder, path string, bad **BadInput) (list, error) {
	items := list{}
	for dec.More() {
		value, err := parseValue(dec, fmt.Sprintf("%s[%d]", path, len(items)), bad)
		if err != nil {
			return nil, err
		}
		items = append(items, value)
	}
	_, err := dec.Token()
	return items, err
}

func (o *Object) at(name string) string {
	if o.path == "" {
		return name
	}
	return o.path + "." + name
}

// Fail records a fault of a field, unless one was recorded before.
func (o *Object) Fail(name, format string, args ...any) {
	if *o.bad == nil {
		*o.bad = &BadInput{Field: o.at(name), Reason: fmt.Sprintf(format, args...)}
	}
}

// Err gives the first fault recorded so far, or nil.
func (o *Object) Err() error {
	if *o.bad != nil {
		return *o.bad
	}
	return nil
}

// Done gives the first fault of this input. Fields of this object or of one
// inside it that nothing has read are unknown, which is a fault too; beside a
// missing field of the same object the unknown one is named, for that is the
// name that the sender mistyped.
func (o *Object) Done() error {
	o.refuseUnread()
	return o.Err()
}

func (o *Object) refuseUnread() {
	for _, name := range o.names {
		if !o.taken[name] {
			o.failUnknown(name)
			continue
		}
		switch value := o.values[name].(type) {
		case *Object:
			value.refuseUnread()
		case list:
			for _, item := range value {
				if inner, ok := item.(*Object); ok {
					inner.refuseUnread()
				}
			}
		}
	}
}

func (o *Object) failUnknown(name string) {
	if o.lacks {
		*o.bad, o.lacks = nil, false
	}
	o.Fail(name, "unknown field")
}

// Names gives the object's field names in input order.
func (o *Object) Names() []string { return slices.Clone(o.names) }

// Has says whether a field stands there and is not null.
func (o *Object) Has(name string) bool {
	o.taken[name] = true
	return o.values[name] != nil
}

// Stands says whether a field stands there, null or not.
func (o *Object) Stands(name string) bool {
	o.taken[name] = true
	_, ok := o.values[name]
	return ok
}

func (o *Object) need(name string) (any, bool) {
	o.taken[name] = true
	value, ok := o.values[name]
	if !ok {
		o.failMissing(name)
		return nil, false
	}
	return value, true
}

func (o *Object) failMissing(name string) {
	o.lacks = o.lacks || *o.bad == nil
	o.Fail(name, "missing")
}

// A Rule narrows what a number may be; it gives the reason of a refusal, or "".
type Rule func(float64) string

// Positive refuses zero and below.
func Positive(x float64) string {
	if x <= 0 {
		return "must be greater than 0"
	}
	return ""
}

// NotNegative refuses numbers below zero.
func NotNegative(x float64) string {
	if x < 0 {
		return "must not be negative"
	}
	return ""
}

// Within refuses numbers outside [low, high].
func Within(low, high float64) Rule {
	return func(x float64) string {
		if x < low || x > high {
			return "must be from " + plain(low) + " to " + plain(high)
		}
		return ""
	}
}

// plain writes a number without an exponent.
func plain(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// Float reads a required number.
func (o *Object) Float(name string, rules ...Rule) float64 {
	value, ok := o.need(name)
	if !ok {
		return 0
	}
	number, ok := value.(json.Number)
	if !ok {
		o.Fail(name, "must be a number")
		return 0
	}
	x, err := number.Float64()
	if err != nil || math.IsInf(x, 0) || math.IsNaN(x) {
		o.Fail(name, "must be a finite number")
		return 0
	}
	for _, rule := range rules {
		if reason := rule(x); reason != "" {
			o.Fail(name, "%s", reason)
			return 0
		}
	}
	return x
}

// FloatOr reads a number, or gives fallback where it is missing or null.
func (o *Object) FloatOr(name string, fallback float64, rules ...Rule) float64 {
	if !o.Has(name) {
		return fallback
	}
	return o.Float(name, rules...)
}

// Int reads a required whole number of at most ±(2^63−1). 3.0 and 3e2 are
// whole numbers too.
func (o *Object) Int(name string, rules ...Rule) int64 {
	x := o.Float(name, rules...)
	if o.Err() != nil {
		return 0
	}
	if n, err := strconv.ParseInt(o.values[name].(json.Number).String(), 10, 64); err == nil {
		return n
	}
	if x != math.Trunc(x) {
		o.Fail(name, "must be a whole number")
		return 0
	}
	if math.Abs(x) > 1<<53 {
		o.Fail(name, "too large a whole number")
		return 0
	}
	return int64(x)
}

// IntOr reads a whole number, or gives fallback where it is missing or null.
func (o *Object) IntOr(name string, fallback int64, rules ...Rule) int64 {
	if !o.Has(name) {
		return fallback
	}
	return o.Int(name, rules...)
}

// Text reads a required string. When words are given it must be one of them.
func (o *Object) Text(name string, words ...string) string {
	value, ok := o.need(name)
	if !ok {
		return ""
	}
	text, ok := value.(string)
	if !ok {
		o.Fail(name, "must be a text")
		return ""
	}
	if len(words) > 0 && !slices.Contains(words, text) {
		o.Fail(name, "must be one of %s", strings.Join(words, ", "))
		return ""
	}
	return text
}

// TextOr reads a string, or gives fallback where it is missing or null.
func (o *Object) TextOr(name, fallback string, words ...string) string {
	if !o.Has(name) {
		return fallback
	}
	return o.Text(name, words...)
}

// Bool reads a required true or false.
func (o *Object) Bool(name string) bool {
	value, ok := o.need(name)
	if !ok {
		return false
	}
	yes, ok := value.(bool)
	if !ok {
		o.Fail(name, "must be true or false")
	}
	return yes
}

// BoolOr reads true or false, or gives fallback where it is missing or null.
func (o *Object) BoolOr(name string, fallback bool) bool {
	if !o.Has(name) {
		return fallback
	}
	return o.Bool(name)
}

// Date reads a required day written YYYY-MM-DD.
func (o *Object) Date(name string) clock.Date {
	text := o.Text(name)
	if o.Err() != nil {
		return clock.Date{}
	}
	date, err := clock.ParseDate(text)
	if err != nil {
		o.Fail(name, "must be a date written YYYY-MM-DD")
	}
	return date
}

// DateOr reads a day, or gives the zero date where it is missing or null.
func (o *Object) DateOr(name string) clock.Date {
	if !o.Has(name) {
		return clock.Date{}
	}
	return o.Date(name)
}

// Object reads a required inner object. After a fault it gives an empty one,
// so that the caller need not ask.
func (o *Object) Object(name string) *Object {
	value, _ := o.need(name)
	inner, ok := value.(*Object)
	if !ok {
		o.Fail(name, "must be an object")
		inner = &Object{path: o.at(name), values: map[string]any{}, taken: map[string]bool{}, bad: o.bad}
	}
	return inner
}

// Objects reads a required list of objects.
func (o *Object) Objects(name string) []*Object {
	var objects []*Object
	for i, item := range o.list(name) {
		inner, ok := item.(*Object)
		if !ok {
			o.Fail(fmt.Sprintf("%s[%d]", name, i), "must be an object")
			return nil
		}
		objects = append(objects, inner)
	}
	return objects
}

// Floats reads a required list of numbers.
func (o *Object) Floats(name string, rules ...Rule) []float64 {
	items := o.list(name)
	numbers := make([]float64, 0, len(items))
	for i := range items {
		numbers = append(numbers, o.item(name, i, items).Float(fmt.Sprintf("%s[%d]", name, i), rules...))
	}
	return numbers
}

// Texts reads a required list of strings.
func (o *Object) Texts(name string, words ...string) []string {
	items := o.list(name)
	texts := make([]string, 0, len(items))
	for i := range items {
		texts = append(texts, o.item(name, i, items).Text(fmt.Sprintf("%s[%d]", name, i), words...))
	}
	return texts
}

func (o *Object) list(name string) list {
	value, ok := o.need(name)
	if !ok {
		return nil
	}
	items, ok := value.(list)
	if !ok {
		o.Fail(name, "must be a list")
	}
	return items
}

// item wraps one element of a list as a field, so that the scalar readers
// serve for lists as well.
func (o *Object) item(name string, i int, items list) *Object {
	field := fmt.Sprintf("%s[%d]", name, i)
	return &Object{path: o.path, values: map[string]any{field: items[i]}, taken: map[string]bool{}, bad: o.bad}
}
