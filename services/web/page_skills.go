package web

import (
	"cmp"
	"slices"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/mend"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// vouchers may sign others off. The room asks whether they may for this skill.
var vouchers = only(people.Repairer, people.Administrator)

func skillRoutes() []route {
	return []route{get("/skills", vouchers, (*visit).skillsPage)}
}

func toSkills(*visit, desk.Commanded) string { return "/skills" }

func skillActs() []act {
	return []act{
		{
			name: "sign-skill", path: "/skills/new", may: vouchers, title: "Sign somebody off", button: "Sign them off", done: "They are signed off.",
			words:    "Whoever does hot work or laminates for the club alone was seen to do it well. Nobody signs off themselves, and nobody under age is signed off.",
			cautions: always(heat, fumes),
			command:  func() desk.Commanded { return &message.SignSkill{} },
			fields: func(v *visit) ([]Section, error) {
				members, err := v.choosePeople(message.MemberSort)
				return []Section{{Fields: []Field{
					Field{Name: "person", Label: "Who", Kind: kindPick, Options: members}.Needed(),
					one("skill", "For", words(mend.Skills)).Needed(),
					area("words", "What you saw them do").Needed(),
					tick("of_age", "I know that they are of age").Needed(),
				}}}, err
			},
			to: toSkills,
		},
		{
			name: "end-skill", path: "/skills/{person}/{skill}/end", may: vouchers, title: "Take a sign-off back", button: "Take it back", done: "The sign-off is taken back.",
			words:   "Work that was signed with it stays signed.",
			command: func() desk.Commanded { return &message.EndSkill{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Words: v.directory().Name(people.ID(v.param("person"))) + ", " + v.param("skill"), Fields: []Field{area("why", "Why").Needed()}}}, nil
			},
			to: toSkills,
		},
	}
}

// skillsPage says who is signed off for what, and by whom.
type skillsPage struct {
	Frame
	Members []skilled
}

type skilled struct {
	Person people.ID
	Skills []Skill
}

func (v *visit) skillsPage() error {
	list, err := findAll[Person](v.ctx, v.Site, `SELECT doc FROM web.person WHERE doc ? 'skills' AND NOT erased ORDER BY id`)
	if err != nil {
		return err
	}
	p := skillsPage{Frame: v.frame("Skills")}
	for _, m := range list {
		p.Members = append(p.Members, skilled{m.ID, m.Skills})
	}
	sortBy(p.Members, func(m skilled) string { return p.People.Name(m.Person) })
	if v.wantsTable() {
		return v.skillsTable(p)
	}
	return v.show("skills", p)
}

// skillsTable writes a row for each sign-off.
func (v *visit) skillsTable(p skillsPage) error {
	var rows [][]string
	for _, m := range p.Members {
		for _, s := range m.Skills {
			rows = append(rows, []string{p.People.Name(m.Person), string(s.Skill), p.People.Name(s.By), clock.DateOf(s.At).String(), s.Words})
		}
	}
	return writeTable(v, "skills", []string{"name", "skill", "signed_by", "signed_on", "words"}, rows, func(row []string) []string { return row })
}

// sortBy sorts a list by a text.
func sortBy[E any](list []E, text func(E) string) {
	slices.SortFunc(list, func(a, b E) int { return cmp.Compare(text(a), text(b)) })
}
