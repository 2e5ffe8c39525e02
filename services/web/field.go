package web

import (
	"net/url"
	"regexp"
	"slices"
	"strings"
)

// The sorts of input that a Field can be.
const (
	kindText    = "text"
	kindArea    = "area"
	kindNumber  = "number" // typed as text, with point or comma
	kindDay     = "day"
	kindMail    = "mail"
	kindPhone   = "phone"
	kindPick    = "pick"  // one of a long list
	kindOne     = "one"   // one of a few, all in sight
	kindSome    = "some"  // any of a list
	kindTick    = "tick"  // yes, or nothing
	kindFresh   = "fresh" // hidden: the id of something new
	kindPreset  = "preset"
	kindFile    = "file"
	maxOneInRow = 6
)

// Field is one input of a form. Its name is the JSON path of the command's
// field, so that a fault that names the field is shown beside it.
type Field struct {
	Name, Label, Hint string
	Kind              string
	Options           []Option
	Required          bool
	Autocomplete      string
	// Value is what a fresh form starts with.
	Value string

	// Reads is the address, up to the value, of a page that says what the value
	// says; Reading is that, where the value is known already.
	Reads   string
	Reading *hullReading

	// What follows is filled when the form is made.
	ID     string
	Values []string
	Error  string
}

// Option is a choice of a Field.
type Option struct{ Value, Label string }

// Section is a group of fields that belong together. Without a legend it is not
// shown as a group.
type Section struct {
	Legend string
	Words  string
	Fields []Field
	Close  bool // short inputs, several beside each other
	// Folded sections are shut until their legend is pressed, unless something in
	// them is filled in or wrong.
	Folded bool
}

// Open says whether a folded section is shown open.
func (s Section) Open() bool {
	return slices.ContainsFunc(s.Fields, func(f Field) bool { return f.Error != "" || saysSomething(strings.Join(f.Values, "")) })
}

// Describedby names the elements that explain the field to a screen reader.
func (f Field) Describedby() string {
	var ids []string
	if f.Hint != "" {
		ids = append(ids, f.ID+"-hint")
	}
	if f.Error != "" {
		ids = append(ids, f.ID+"-error")
	}
	return strings.Join(ids, " ")
}

// OptionID is the id of the n-th choice. The first has the field's own, so that
// the list of problems leads to it.
func (f Field) OptionID(n int) string {
	if n == 0 {
		return f.ID
	}
	return f.ID + "-" + string(rune('a'+n%26)) + strings.Repeat("z", n/26)
}

// Chosen says whether a choice is made.
func (f Field) Chosen(value string) bool { return slices.Contains(f.Values, value) }

// Typed is the field's single value.
func (f Field) Typed() string {
	if len(f.Values) == 0 {
		return ""
	}
	return f.Values[0]
}

// With gives the field with a hint.
func (f Field) With(hint string) Field { f.Hint = hint; return f }

// Needed gives the field marked as required.
func (f Field) Needed() Field { f.Required = true; return f }

// Starts gives the field with a value to start from.
func (f Field) Starts(value string) Field { f.Value = value; return f }

// Fills gives the field with the browser's name for what it holds.
func (f Field) Fills(autocomplete string) Field { f.Autocomplete = autocomplete; return f }

func text(name, label string) Field   { return Field{Name: name, Label: label, Kind: kindText} }
func area(name, label string) Field   { return Field{Name: name, Label: label, Kind: kindArea} }
func number(name, label string) Field { return Field{Name: name, Label: label, Kind: kindNumber} }
func day(name, label string) Field    { return Field{Name: name, Label: label, Kind: kindDay} }
func mail(name, label string) Field {
	return Field{Name: name, Label: label, Kind: kindMail, Autocomplete: "email"}
}
func phone(name, label string) Field {
	return Field{Name: name, Label: label, Kind: kindPhone, Autocomplete: "tel"}
}
func tick(name, label string) Field { return Field{Name: name, Label: label, Kind: kindTick} }

// fresh is the hidden id of something that the form makes.
func fresh(name string) Field { return Field{Name: name, Kind: kindFresh} }

// preset is a hidden value that the page knows.
func preset(name, value string) Field { return Field{Name: name, Kind: kindPreset, Value: value} }

// one offers a choice of one: few are all in sight, many are in a list.
func one(name, label string, options []Option) Field {
	if len(options) > maxOneInRow {
		return Field{Name: name, Label: label, Kind: kindPick, Options: options}
	}
	return Field{Name: name, Label: label, Kind: kindOne, Options: options}
}

// some offers any number of choices.
func some(name, label string, options []Option) Field {
	return Field{Name: name, Label: label, Kind: kindSome, Options: options}
}

// words makes options of the trade's words, which are their own labels.
func words[W ~string](list []W) []Option {
	options := make([]Option, len(list))
	for i, w := range list {
		options[i] = Option{string(w), string(w)}
	}
	return options
}

// Form is a form as a template shows it.
type Form struct {
	Name     string // the id of the form element
	Action   string
	Button   string
	More     string // words of a second button, sent as "more", that does nothing yet: more rows, or reading a number
	MoreAt   string // where the page that comes of it is shown from
	Sections []Section
	Hidden   []pair
	Problems []problem
	Weighty  bool // what the button does cannot be taken back
	// Receipt asks for the photo of a receipt; nil: the form has none.
	Receipt *receiptInput
	// Files lets files come with the form.
	Files bool
	// Keep lets the phone keep what was entered while there is no link (keep.js).
	Keep bool
}

// form dresses sections with what was typed, or with what the form starts from.
// Every form carries a fresh request key, so that sending it twice is safe.
func (v *visit) form(name, action, button string, start url.Values, sections ...Section) Form {
	typed, speaks := v.typed, v.voiceTyped()
	if typed != nil && v.r.URL.Path != action {
		typed, speaks = nil, v.voice() // another form of the same page was sent
	}
	f := Form{Name: name, Action: action, Button: speaks.say(button)}
	f.hide("key", typed)
	if v.shared {
		stood := typed.Get(stoodInput)
		if typed == nil {
			stood = stoodOf(start, sections)
		}
		f.Hidden = append(f.Hidden, pair{Name: stoodInput, Value: stood})
	}
	if !v.Who.Member() && slices.ContainsFunc(inputsOf(sections), Field.measures) {
		f.Hidden = append(f.Hidden, pair{Name: unitsInput, Value: speaks.unitsName()})
	}
	var shown []Field
	for _, s := range sections {
		dressed := Section{Legend: speaks.say(s.Legend), Words: speaks.say(s.Words), Close: s.Close, Folded: s.Folded}
		for _, field := range s.Fields {
			if field.Kind == kindFresh || field.Kind == kindPreset {
				f.hideField(field, typed)
				continue
			}
			field.dress(typed, start)
			field.speak(speaks, typed == nil)
			field.Error = v.problemAt(field.Name)
			shown = append(shown, field)
			dressed.Fields = append(dressed.Fields, field)
		}
		if len(dressed.Fields) > 0 || dressed.Legend != "" || dressed.Words != "" {
			f.Sections = append(f.Sections, dressed)
		}
	}
	f.Problems = inOrder(v.problems, shown)
	return f
}

// inOrder gives problems as a reader meets their inputs, each with the input's
// id and label; those that blame no input of the form come first.
func inOrder(problems []problem, shown []Field) []problem {
	at := func(p problem) int {
		return slices.IndexFunc(shown, func(f Field) bool { return f.Name == p.Field || f.Name == bare(p.Field) })
	}
	told := slices.Clone(problems)
	slices.SortStableFunc(told, func(a, b problem) int { return at(a) - at(b) })
	for i, p := range told {
		if n := at(p); n >= 0 {
			told[i].ID, told[i].Label = shown[n].ID, shown[n].Label
		}
	}
	return told
}

// bare is the name of the input that a problem's field belongs to: choices of
// one list share an input.
func bare(field string) string { return choiceNumber.ReplaceAllString(field, "") }

var choiceNumber = regexp.MustCompile(`\[\d+\]$`)

// button is a form without inputs.
func (v *visit) button(name, action, label string, hidden ...Field) Form {
	return v.form(name, action, label, nil, Section{Fields: hidden})
}

func (f *Form) hide(name string, typed url.Values) {
	value := typed.Get(name)
	if value == "" {
		value = freshID()
	}
	f.Hidden = append(f.Hidden, pair{name, value, true})
}

func (f *Form) hideField(field Field, typed url.Values) {
	if field.Kind == kindFresh {
		f.hide(field.Name, typed)
		return
	}
	f.Hidden = append(f.Hidden, pair{Name: field.Name, Value: field.Value})
}

// measures says whether readers choose in which units they fill the field in.
func (f Field) measures() bool {
	return strings.HasSuffix(f.Name, "_g") || strings.HasSuffix(f.Name, "_mm")
}

func (f *Field) dress(typed, start url.Values) {
	f.ID = inputID(f.Name)
	switch {
	case typed != nil:
		f.Values = typed[f.Name]
	case start[f.Name] != nil:
		f.Values = start[f.Name]
	case f.Value != "":
		f.Values = []string{f.Value}
	}
	if f.Kind == kindOne && !f.Required {
		f.allowNone()
	}
}

// speak says what stands around the input in the reader's language, and the number
// in it, when it is ours, as the reader writes numbers.
func (f *Field) speak(in voice, ours bool) {
	if in == plain {
		return
	}
	f.Label, f.Hint = in.label(f.Label), in.say(f.Hint)
	options := make([]Option, len(f.Options))
	for i, o := range f.Options {
		options[i] = Option{o.Value, in.say(o.Label)}
	}
	f.Options = options
	if f.Kind == kindNumber && ours {
		for i, value := range f.Values {
			f.Values[i] = in.number(value)
		}
	}
}

// allowNone lets a choice that was made be taken back, which radio buttons by
// themselves do not.
func (f *Field) allowNone() {
	if !slices.ContainsFunc(f.Options, func(o Option) bool { return o.Value == "" }) {
		f.Options = append(slices.Clone(f.Options), Option{"", "not stated"})
	}
	if f.Typed() == "" {
		f.Values = []string{""}
	}
}

func (v *visit) problemAt(name string) string {
	for _, p := range v.problems {
		if p.Field == name || bare(p.Field) == name {
			return p.Text
		}
	}
	return ""
}

// inputID is the id of the input for a field: "f-facts-length_mm".
func inputID(name string) string {
	return "f-" + strings.Trim(strings.NewReplacer(".", "-", "[", "-", "]", "").Replace(name), "-")
}
