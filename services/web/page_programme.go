package web

import (
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/settings"
)

// programmeAct puts a boat under one of the programmes that the club names.
var programmeAct = act{
	name: "choose-programme", path: "/boats/{boat}/programme", may: treasurers, title: "What the club has it for", button: "Write it down", done: "It is written down; statements go by it from now on.",
	part: partPlacing, label: "Choose its programme", fits: func(b *Boat) bool { return b.Received != nil },
	words:   "Statements part by programmes what boats cost. The club names them: an administrator does so on the page of the club. Nothing in the books moves by it.",
	command: func() desk.Commanded { return &message.ChooseProgramme{} },
	fields: func(v *visit) ([]Section, error) {
		value, err := v.Setting(v.ctx, "programmes")
		if err != nil {
			return nil, err
		}
		named := append([]Option{{"", "none of them"}}, words(settings.Programmes(value))...)
		return []Section{{Fields: []Field{one("programme", "Programme", named).Starts(v.boat.Programme)}}}, nil
	},
}
