package web

import (
	"strings"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/settings"
)

var overseers = only(people.Administrator, people.Auditor)

func clubRoutes() []route {
	return []route{get("/club", overseers, (*visit).clubPage)}
}

// choicesOf are the settings that have only some values.
var choicesOf = map[string][]string{
	"country": {"US", "CA", "UK"}, "qualified": {"yes", "no"}, "paper-format": {"letter", "A4"}, "drying-rule": {"utah", "thirty", "days"},
}

func clubActs() []act {
	return []act{{
		name: "change-setting", path: "/club/{name}", may: administrators, title: "Change a setting", button: "Change it", done: "The setting is changed.",
		command: func() desk.Commanded { return &message.ChangeSetting{} },
		shared:  true,
		start: func(v *visit) (any, error) {
			value, err := v.settingNow(v.param("name"))
			return message.ChangeSetting{Value: value}, err
		},
		fields: func(v *visit) ([]Section, error) {
			s, ok := settings.Find(v.param("name"))
			if !ok {
				return nil, fault.New(fault.Unknown, "There is no such setting.")
			}
			field := text("value", settingLabel(s.Name))
			if choices := choicesOf[s.Name]; choices != nil {
				field = one("value", settingLabel(s.Name), words(choices))
			}
			field.Required = s.Default != ""
			return []Section{{Fields: []Field{field.With(s.Effect)}}}, nil
		},
		to: func(*visit, desk.Commanded) string { return "/club" },
	}}
}

// settingNow gives the value of a setting that may not exist.
func (v *visit) settingNow(name string) (string, error) {
	if _, ok := settings.Find(name); !ok {
		return "", fault.New(fault.Unknown, "There is no such setting.")
	}
	return v.Setting(v.ctx, name)
}

// settingLabel writes a setting's name as words.
func settingLabel(name string) string { return capital(strings.ReplaceAll(name, "-", " ")) }

// clubPage lists the club's settings.
type clubPage struct {
	Frame
	Settings []settingRow
}

// settingRow is a setting as it stands.
type settingRow struct {
	Name, Label, Value, Effect string
	Changed                    bool // from the default
}

func (v *visit) clubPage() error {
	p := clubPage{Frame: v.frame("The club")}
	for _, s := range settings.Club {
		value, err := v.Setting(v.ctx, s.Name)
		if err != nil {
			return err
		}
		p.Settings = append(p.Settings, settingRow{s.Name, settingLabel(s.Name), value, s.Effect, value != s.Default})
	}
	return v.show("club", p)
}
