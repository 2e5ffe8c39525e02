package web

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"refloat.example/pkg/desk"
)

// Two people may have the same thing open to change it. A form that starts from
// what stands (act.shared) carries along what it started from; when that is no
// longer so, nothing is written, and the form comes back with what the other one
// wrote beside what was typed. So neither is lost, and a person decides.

// stoodInput is the hidden input with what a form started from.
const stoodInput = "as-it-stood"

// stoodOf gives what the shown fields of a form start from, as one text.
func stoodOf(start url.Values, sections []Section) string {
	stood := url.Values{}
	for _, f := range inputsOf(sections) {
		if list := start[f.Name]; len(list) > 0 {
			stood[f.Name] = list
		}
	}
	return stood.Encode()
}

// inputsOf gives the fields of a form that people see.
func inputsOf(sections []Section) []Field {
	var list []Field
	for _, s := range sections {
		for _, f := range s.Fields {
			if f.Kind != kindFresh && f.Kind != kindPreset {
				list = append(list, f)
			}
		}
	}
	return list
}

// meanwhile compares what a form started from with what stands now. What somebody
// else changed and the viewer left alone is taken over; both are told.
func (v *visit) meanwhile(now url.Values, sections []Section) error {
	stood, err := url.ParseQuery(v.typed.Get(stoodInput))
	if err != nil {
		stood = url.Values{} // the form was changed by hand: everything counts as new
	}
	var told faults
	for _, f := range inputsOf(sections) {
		was, is, mine := stood[f.Name], now[f.Name], v.typed[f.Name]
		switch {
		case alike(was, is) || alike(mine, is):
		case alike(mine, was):
			told = append(told, problem{Field: f.Name, Text: fmt.Sprintf("somebody else wrote “%s” here meanwhile, in place of “%s”; it is taken over", f.shown(is), f.shown(was))})
			v.typed[f.Name] = slices.Clone(is)
		default:
			told = append(told, problem{Field: f.Name, Text: fmt.Sprintf("somebody else wrote “%s” here meanwhile, and you wrote “%s”; leave what shall stand", f.shown(is), f.shown(mine))})
		}
	}
	if len(told) == 0 {
		return nil
	}
	v.typed.Set(stoodInput, stoodOf(now, sections))
	return told
}

// overtaken is meanwhile for an act. Programs that give its order carry no form
// along: what they send stands.
func (v *visit) overtaken(a act) error {
	if v.api {
		return nil
	}
	sections, err := a.fields(v)
	if err != nil {
		return err
	}
	now, err := v.startOf(a)
	if err != nil {
		return err
	}
	return v.meanwhile(now, sections)
}

// alike says whether two values of an input say the same, however they were typed.
func alike(a, b []string) bool {
	tidy := func(list []string) []string {
		var out []string
		for _, each := range list {
			if each = strings.TrimSpace(strings.NewReplacer("\r\n", "\n", ",", ".").Replace(each)); each != "" {
				out = append(out, each)
			}
		}
		slices.SortFunc(out, cmp.Compare)
		return out
	}
	return slices.Equal(tidy(a), tidy(b))
}

// shown writes the values of an input as a reader sees them.
func (f Field) shown(values []string) string {
	var list []string
	for _, value := range values {
		at := slices.IndexFunc(f.Options, func(o Option) bool { return o.Value == value })
		switch {
		case value == "":
		case at >= 0:
			list = append(list, f.Options[at].Label)
		default:
			list = append(list, value)
		}
	}
	if len(list) == 0 {
		return "nothing"
	}
	return strings.Join(list, ", ")
}

// asItStood fills a command from what the form started from, so that the room can
// refuse what somebody else overtook.
func (v *visit) asItStood(command desk.Commanded, u units) error {
	stood, err := url.ParseQuery(v.typed.Get(stoodInput))
	if err != nil || len(stood) == 0 {
		return err
	}
	currency, err := v.Currency(v.ctx)
	if err != nil {
		return err
	}
	return bind(stood, command, currency, u)
}
