package web

import (
	"slices"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// mandateReaders see who may sign papers.
var mandateReaders = only(people.Administrator, people.Treasurer, people.Auditor)

func signatoryRoutes() []route {
	return []route{get("/club/signatories", mandateReaders, (*visit).signatories)}
}

func toSignatories(*visit, desk.Commanded) string { return "/club/signatories" }

func signatoryActs() []act {
	return []act{
		{
			name: "give-mandate", path: "/club/signatories/new", may: administrators, title: "Appoint a signatory", button: "Appoint them", done: "They may sign papers.",
			words:   "Whoever signs papers for the club, from which day to which. Only members with the role of treasurer can be appointed. From the first day of the club’s first appointment on nobody else signs; until then every treasurer does.",
			command: func() desk.Commanded { return &message.GiveMandate{} },
			fields: func(v *visit) ([]Section, error) {
				treasurers, err := v.membersWith(people.Treasurer)
				return []Section{{Fields: []Field{
					fresh("mandate"),
					Field{Name: "person", Label: "Who", Kind: kindPick, Options: treasurers}.Needed(),
					text("office", "In which office they sign").Needed().With("Like “treasurer”. It stands with their name below the signature."),
					day("from", "First day").Needed().Starts(v.today().String()),
					day("to", "Last day").With("Leave it empty when no end is set."),
				}}}, err
			},
			to: toSignatories,
		},
		{
			name: "end-mandate", path: "/club/signatories/{mandate}/end", may: administrators, title: "End an appointment", button: "End it", done: "The last day is set.",
			words:   "What was signed under it stays signed.",
			command: func() desk.Commanded { return &message.EndMandate{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Fields: []Field{day("to", "Last day").Needed().Starts(v.today().String()), area("why", "Why").Needed()}}}, nil
			},
			to: toSignatories,
		},
	}
}

// membersWith gives the members who have a role, by name.
func (v *visit) membersWith(role people.Role) ([]Option, error) {
	members, err := v.choosePeople(message.MemberSort)
	if err != nil {
		return nil, err
	}
	roles, err := v.rolesOf()
	kept := []Option{}
	for _, m := range members {
		if slices.Contains(roles[people.ID(m.Value)], role) {
			kept = append(kept, m)
		}
	}
	return kept, err
}

// signatoriesPage says who may sign papers, and who might once.
type signatoriesPage struct {
	Frame
	Rows []mandateRow
}

// mandateRow is an appointment, and whether it can still be ended.
type mandateRow struct {
	message.MandateGiven
	State string
	Open  bool
}

func (v *visit) signatories() error {
	list, err := ask[message.MandateList](v, message.Mandates{})
	if err != nil {
		return err
	}
	p := signatoriesPage{Frame: v.frame("Who signs papers")}
	for _, g := range list.Mandates {
		p.Rows = append(p.Rows, mandateRowOf(g, v.today()))
	}
	return v.show("signatories", p)
}

func mandateRowOf(g message.MandateGiven, today clock.Date) mandateRow {
	row := mandateRow{MandateGiven: g, State: "may sign", Open: true}
	switch {
	case !g.To.IsZero() && g.To.Before(today):
		row.State, row.Open = "ended", false
	case g.From.After(today):
		row.State = "to come"
	}
	return row
}
