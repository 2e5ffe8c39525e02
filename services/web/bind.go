package web

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"net/url"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/money"
)

// faults is several things that are wrong with one form.
type faults []problem

func (f faults) Error() string { return f[0].Field + ": " + f[0].Text }

// Unwrap lets fault.Of see what kind of error this is.
func (f faults) Unwrap() error {
	return &fault.Fault{Kind: fault.Invalid, Field: f[0].Field, Text: f[0].Text}
}

// problemsOf gives everything that an error says about a form.
func problemsOf(f *fault.Fault, err error) []problem {
	var all faults
	if errors.As(err, &all) {
		return all
	}
	return []problem{{Field: f.Field, Text: f.Text}}
}

// unit is what people type in, against what commands carry.
type unit struct {
	Word string
	Per  int64 // how many of the command's units one of these is
}

// ratio is, for a unit that is no power of ten of the command's, how many of the
// command's units one of it is; for others it is 0. What is typed in it has as many
// digits as Per has noughts, and is rounded to the command's unit. A pound is
// 453.59237 g and a foot 304.8 mm, exactly (NIST Special Publication 811, 2008).
func (u unit) ratio() float64 {
	switch u {
	case poundsTyped:
		return 453.59237
	case feetTyped:
		return 304.8
	}
	return 0
}

// The units that forms use.
var (
	metres      = unit{"m", 1000}
	centimetres = unit{"cm", 10}
	kilograms   = unit{"kg", 1000}
	litres      = unit{"l", 1000}
	ones        = unit{"", 1}
	poundsTyped = unit{"lb", 100}
	feetTyped   = unit{"ft", 100}
)

// units overrules, by the JSON path or by its ending ("_g"), the unit in which a
// field is typed.
type units map[string]unit

// of gives the unit of a field: by default metres for _mm, kilograms for _g and
// litres for _ml.
func (u units) of(path string) unit {
	if own, ok := u[path]; ok {
		return own
	}
	bare := strings.TrimRight(path, "[]0123456789")
	if own, ok := u[bare[max(0, strings.LastIndex(bare, "_")):]]; ok {
		return own
	}
	switch {
	case strings.HasSuffix(bare, "_mm"):
		return metres
	case strings.HasSuffix(bare, "_ml"):
		return litres
	case strings.HasSuffix(bare, "_g"):
		return kilograms
	}
	return ones
}

// bind fills a command from a form whose fields are named by JSON path:
// "facts.length_mm", "wish.adults[0].mass_g". What cannot be read is told field
// by field. Fields that the form does not have stay as they are; rows of a list
// that were left empty at its end are dropped.
func bind(values url.Values, command any, currency money.Currency, u units) error {
	b := binder{values: values, currency: currency, units: u}
	b.fill(reflect.ValueOf(command).Elem(), "")
	if len(b.wrong) > 0 {
		return b.wrong
	}
	return nil
}

type binder struct {
	values   url.Values
	currency money.Currency
	units    units
	wrong    faults
}

// has says whether the form says something at or below a path.
func (b *binder) has(path string) bool {
	for name, list := range b.values {
		below := strings.HasPrefix(name, path+".") || strings.HasPrefix(name, path+"[")
		if (name == path || below) && slices.ContainsFunc(list, saysSomething) {
			return true
		}
	}
	return false
}

func (b *binder) text(path string) string { return strings.TrimSpace(b.values.Get(path)) }

func (b *binder) fail(path, format string, args ...any) {
	b.wrong = append(b.wrong, problem{Field: path, Text: fmt.Sprintf(format, args...)})
}

// fill sets one value. Types that are written as one word come first.
func (b *binder) fill(v reflect.Value, path string) {
	switch p := v.Addr().Interface().(type) {
	case *clock.Date:
		b.day(p, path)
		return
	case *time.Time:
		b.instant(p, path)
		return
	case *money.Amount:
		b.amount(p, path)
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		b.fields(v, path)
	case reflect.Pointer:
		if b.has(path) {
			v.Set(reflect.New(v.Type().Elem()))
			b.fill(v.Elem(), path)
		}
	case reflect.Slice:
		b.list(v, path)
	default:
		if _, sent := b.values[path]; sent {
			b.plain(v, path)
		}
	}
}

func (b *binder) plain(v reflect.Value, path string) {
	switch v.Kind() {
	case reflect.String:
		v.SetString(strings.ReplaceAll(b.text(path), "\r\n", "\n"))
	case reflect.Bool:
		v.SetBool(slices.Contains([]string{"yes", "on", "true"}, b.text(path)))
	case reflect.Int, reflect.Int64:
		n, err := parseMeasure(b.text(path), b.units.of(path))
		if err != nil {
			b.fail(path, "%s", err)
		}
		v.SetInt(n)
	}
}

func (b *binder) fields(v reflect.Value, path string) {
	for i := range v.NumField() {
		field := v.Type().Field(i)
		if !field.IsExported() {
			continue
		}
		at := path
		if name := jsonName(field); name != "" {
			at = strings.TrimPrefix(path+"."+name, ".")
		}
		b.fill(v.Field(i), at)
	}
}

// jsonName is a field's name in JSON; an embedded struct has none.
func jsonName(field reflect.StructField) string {
	name, _, _ := strings.Cut(field.Tag.Get("json"), ",")
	if name == "" && field.Anonymous {
		return ""
	}
	return cmp.Or(name, field.Name)
}

// maxRows bounds a list in a form.
const maxRows = 200

// list reads either rows, "path[0].x", "path[1].x", or the repeated value of
// check boxes and of lines in a text.
func (b *binder) list(v reflect.Value, path string) {
	if sent, ok := b.values[path]; ok {
		v.Set(reflect.MakeSlice(v.Type(), 0, len(sent)))
		for _, text := range sent {
			if text = strings.TrimSpace(text); text != "" && v.Type().Elem().Kind() == reflect.String {
				v.Set(reflect.Append(v, reflect.ValueOf(text).Convert(v.Type().Elem())))
			}
		}
		return
	}
	rows := b.rows(path)
	if rows == 0 {
		return
	}
	v.Set(reflect.MakeSlice(v.Type(), rows, rows))
	for i := range rows {
		b.fill(v.Index(i), fmt.Sprintf("%s[%d]", path, i))
	}
}

// rows counts the rows of a list up to the last that says something. It goes
// through the form once, however long a stranger has made it.
func (b *binder) rows(path string) int {
	rows := 0
	for name, list := range b.values {
		if row, ok := rowIn(name, path); ok && row >= rows && slices.ContainsFunc(list, saysSomething) {
			rows = row + 1
		}
	}
	return rows
}

// rowIn gives the row of a list in which a field stands: 3 for "path[3].x".
func rowIn(name, path string) (int, bool) {
	rest, in := strings.CutPrefix(name, path+"[")
	digits, below, closed := strings.Cut(rest, "]")
	row, err := strconv.Atoi(digits)
	deeper := below == "" || below[0] == '.' || below[0] == '['
	return row, in && closed && deeper && err == nil && row >= 0 && row < maxRows && strconv.Itoa(row) == digits
}

func saysSomething(text string) bool { return strings.TrimSpace(text) != "" }

func (b *binder) day(to *clock.Date, path string) {
	text := b.text(path)
	if text == "" {
		return
	}
	day, err := clock.ParseDate(text)
	if err != nil {
		b.fail(path, "write the day as year-month-day, like 2026-04-01")
	}
	*to = day
}

func (b *binder) instant(to *time.Time, path string) {
	var day clock.Date
	if b.day(&day, path); !day.IsZero() {
		*to = day.Time()
	}
}

func (b *binder) amount(to *money.Amount, path string) {
	text := b.text(path)
	if text == "" {
		if _, sent := b.values[path]; sent {
			*to = money.Of(0, b.currency)
		}
		return
	}
	amount, err := money.Parse(text, b.currency)
	if err != nil {
		b.fail(path, "write an amount like 120.50, without grouping")
	}
	*to = amount
}

// maxMeasure is far beyond every length and mass of the trade.
const maxMeasure = 1_000_000_000

// parseMeasure reads a decimal number, with point or comma, and gives it in the
// command's unit. More digits than that unit has are refused, never rounded.
func parseMeasure(text string, u unit) (int64, error) {
	if text == "" {
		return 0, nil
	}
	number := strings.TrimSpace(strings.TrimSuffix(text, u.Word))
	negative := strings.HasPrefix(number, "-")
	whole, fraction, cut := strings.Cut(strings.ReplaceAll(strings.TrimPrefix(number, "-"), ",", "."), ".")
	digits := len(strconv.FormatInt(u.Per, 10)) - 1
	switch {
	case digits == 0 && cut:
		return 0, fmt.Errorf("write a whole number")
	case len(strings.TrimRight(fraction, "0")) > digits:
		return 0, fmt.Errorf("write at most %s after the point", count(digits, "digit", "digits"))
	}
	fraction = (fraction + strings.Repeat("0", digits))[:digits]
	n, err := strconv.ParseUint(whole+fraction, 10, 63)
	if err != nil || whole == "" || n > maxMeasure {
		return 0, fmt.Errorf("write a number%s", inUnit(u))
	}
	if u.ratio() > 0 {
		n = uint64(math.Round(float64(n) / float64(u.Per) * u.ratio()))
	}
	if negative {
		return -int64(n), nil
	}
	return int64(n), nil
}

func inUnit(u unit) string {
	if u.Word == "" {
		return ""
	}
	return " in " + u.Word + ", like 4.5"
}

// spread is the opposite of bind: what a form shows of a command that is there
// already.
func spread(command any, u units) (url.Values, error) {
	raw, err := json.Marshal(command)
	if err != nil {
		return nil, err
	}
	var tree any
	dec := json.NewDecoder(strings.NewReader(string(raw)))
	dec.UseNumber()
	if err := dec.Decode(&tree); err != nil {
		return nil, err
	}
	values := url.Values{}
	spreadInto(values, tree, "", u)
	return values, nil
}

func spreadInto(values url.Values, tree any, path string, u units) {
	switch t := tree.(type) {
	case map[string]any:
		if amount, ok := amountOf(t); ok {
			values.Set(path, amount)
			return
		}
		for name, below := range t {
			spreadInto(values, below, strings.TrimPrefix(path+"."+name, "."), u)
		}
	case []any:
		for i, below := range t {
			if text, plain := below.(string); plain {
				values.Add(path, text)
				continue
			}
			spreadInto(values, below, fmt.Sprintf("%s[%d]", path, i), u)
		}
	case json.Number:
		if n, err := t.Int64(); err == nil && n != 0 {
			values.Set(path, measure(n, u.of(path)))
		}
	case bool:
		if t {
			values.Set(path, "yes")
		}
	case string:
		values.Set(path, t)
	}
}

// amountOf recognises a money.Amount in JSON.
func amountOf(tree map[string]any) (string, bool) {
	minor, hasMinor := tree["minor"].(json.Number)
	currency, hasCurrency := tree["currency"].(string)
	if len(tree) != 2 || !hasMinor || !hasCurrency {
		return "", false
	}
	n, err := minor.Int64()
	if err != nil || n == 0 {
		return "", true
	}
	return money.Of(n, money.Currency(currency)).Number(), true
}

// measure writes a number of the command's units in the unit that people type.
func measure(n int64, u unit) string {
	if u.Per <= 1 {
		return strconv.FormatInt(n, 10)
	}
	if u.ratio() > 0 {
		n = int64(math.Round(float64(n) / u.ratio() * float64(u.Per)))
	}
	sign := ""
	if n < 0 {
		sign, n = "-", -n
	}
	digits := len(strconv.FormatInt(u.Per, 10)) - 1
	text := fmt.Sprintf("%s%d.%0*d", sign, n/u.Per, digits, n%u.Per)
	return strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
}
