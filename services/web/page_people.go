package web

import (
	"fmt"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

var administrators = only(people.Administrator)

// maxPeople bounds whose names are searched at once, and shownPeople who is shown.
const (
	maxPeople   = 10_000
	shownPeople = 100
)

// memberConsent names the text that members agree to; its words are on the form.
const memberConsent = "member-data-2026-1"

func peopleRoutes() []route {
	return []route{
		get("/people", administrators, (*visit).peoplePage),
		get("/people/{person}", administrators, (*visit).personPage),
	}
}

func toPerson(v *visit, _ desk.Commanded) string { return "/people/" + v.param("person") }

var sortOptions = words([]message.Sort{message.MemberSort, message.DonorSort, message.HouseholdSort, message.GuardianSort})

// detailsFields asks for what the club knows of a person.
func detailsFields() []Field {
	return []Field{
		text("details.name", "Name").Needed().Fills("off"),
		mail("details.mail", "Mail").Fills("off").With("Members sign in with it."),
		phone("details.phone", "Telephone").Fills("off"),
		area("details.address", "Address").With("As it should stand on papers."),
		one("details.language", "Language for letters", []Option{{"en", "English"}, {"es", "español"}, {"fr", "français"}}),
	}
}

func peopleActs() []act {
	return []act{
		{
			name: "register-person", path: "/people/new", may: administrators, title: "Add somebody", button: "Add", done: "They are in the book.",
			words:   "Members sign in with their mail address; there are no passwords. Givers and households usually come in with their boat or request.",
			command: func() desk.Commanded { return &message.RegisterPerson{} },
			fields: func(v *visit) ([]Section, error) {
				guardians, err := v.choosePeople(message.GuardianSort, message.MemberSort)
				return []Section{
					{Fields: append([]Field{fresh("person"), one("sort", "They are a", sortOptions).Needed().Starts(string(message.MemberSort))}, detailsFields()...)},
					{Fields: []Field{
						some("roles", "A member's roles", roleOptions()),
						{Name: "guardian", Label: "Guardian, for somebody under age", Kind: kindPick, Options: guardians},
						tick("consent", "They agree that the club keeps name and contact for its work, and know that both are erased on request as far as law allows").Needed(),
					}},
				}, err
			},
			finish: func(_ *visit, c desk.Commanded) error {
				c.(*message.RegisterPerson).Consent = memberConsent
				return nil
			},
			to: func(_ *visit, c desk.Commanded) string {
				return "/people/" + string(c.(*message.RegisterPerson).Person)
			},
		},
		{
			name: "change-person", path: "/people/{person}/details", may: administrators, title: "Correct the details", button: "Correct", done: "The details are corrected.",
			command: func() desk.Commanded { return &message.ChangePerson{} },
			shared:  true,
			start: func(v *visit) (any, error) {
				details, err := v.details(v.ctx, people.ID(v.param("person")))
				return message.ChangePerson{Details: details}, v.noSuchPerson(err)
			},
			fields: func(*visit) ([]Section, error) { return []Section{{Fields: detailsFields()}}, nil },
			to:     toPerson,
		},
		{
			name: "give-role", path: "/people/{person}/give-role", may: administrators, title: "Give a role", button: "Give it", done: "The role is given.",
			command: func() desk.Commanded { return &message.GiveRole{} }, fields: roleField, to: toPerson,
		},
		{
			name: "take-role", path: "/people/{person}/take-role", may: administrators, title: "Take a role", button: "Take it", done: "The role is taken.",
			command: func() desk.Commanded { return &message.TakeRole{} }, fields: roleField, to: toPerson,
		},
		{
			name: "withdraw-consent", path: "/people/{person}/withdraw-consent", may: administrators, title: "Take an agreement back", button: "Write it down", done: "It is written down that the agreement is taken back.",
			words:   "On the person's word. It does not erase anything by itself.",
			command: func() desk.Commanded { return &message.WithdrawConsent{} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{text("text", "Which text").Needed()}}}, nil
			},
			to: toPerson,
		},
		{
			name: "end-link", path: "/people/{person}/links/{link}/end", may: administrators, title: "End a private link", button: "End it", done: "The link works no more.",
			command: func() desk.Commanded { return &message.EndLink{} }, fields: noFields, to: toPerson,
		},
		{
			name: "erase-person", path: "/people/{person}/erase", may: administrators, title: "Erase a person", button: "Erase for good", done: "The person's data is erased. Nobody can read it any more.", weighty: true,
			words:   "Only when the person asks for it. The key of their data is destroyed: name, contacts, masses and needs cannot be read any more, by nobody. Open requests end; roles are gone.",
			command: func() desk.Commanded { return &message.ErasePerson{Why: "asked"} },
			fields: func(v *visit) ([]Section, error) {
				kept, err := v.keptPapers(people.ID(v.param("person")))
				return []Section{{Words: "The person: " + v.directory().Name(people.ID(v.param("person"))) + ". " + keptWords(kept)}}, err
			},
			to: toPerson,
		},
	}
}

// noSuchPerson turns the database's word for it into a fault.
func (v *visit) noSuchPerson(err error) error {
	if err != nil {
		_, err = find[Person](v.ctx, v.Site, "person", v.param("person"), "person")
	}
	return err
}

func roleOptions() []Option { return words(people.Roles) }

func roleField(*visit) ([]Section, error) {
	return []Section{{Fields: []Field{one("role", "Role", roleOptions()).Needed()}}}, nil
}

// keptWords says which papers outlive an erasure.
func keptWords(kept []Paper) string {
	text := "What stays: the history of boats and requests, without any name."
	for _, p := range kept {
		text += fmt.Sprintf(" Paper %s stays until %s, because the club must be able to show it.", p.Serial, p.KeepTo)
	}
	return text
}

// peoplePage lists people by name.
type peoplePage struct {
	Frame
	Words string
	Sort  message.Sort
	Sorts []Option
	Rows  []personRow
	More  bool // there are more than are shown
}

// personRow is somebody in the list.
type personRow struct {
	ID    people.ID
	Sort  message.Sort
	Name  string
	Roles []people.Role
}

// Count says how many people are shown.
func (p peoplePage) Count() string { return count(len(p.Rows), "person", "people") }

func (v *visit) peoplePage() error {
	p := peoplePage{Frame: v.frame("People"), Sort: message.Sort(v.r.URL.Query().Get("sort")), Sorts: sortOptions}
	var err error
	if p.Words, err = v.wordsAsked(); err != nil {
		return err
	}
	if p.Rows, err = v.peopleRows(p.Words, p.Sort); err != nil {
		return err
	}
	if len(p.Rows) > shownPeople {
		p.More, p.Rows = true, p.Rows[:shownPeople]
	}
	if v.wantsTable() {
		return writeTable(v, "people", []string{"name", "came_as", "roles"}, p.Rows, func(r personRow) []string {
			return []string{r.Name, string(r.Sort), joined(plainWords(r.Roles)...)}
		})
	}
	return v.show("people", p)
}

// peopleRows gives by name who has all the words in their name, or without words the
// latest in the book; one more than a page shows tells that there are more.
func (v *visit) peopleRows(words string, sort message.Sort) ([]personRow, error) {
	roles, err := v.rolesOf()
	if err != nil {
		return nil, err
	}
	var rows []personRow
	if words != "" {
		found, err := v.called(v.ctx, words)
		for _, n := range found {
			if sort == "" || n.Sort == sort {
				rows = append(rows, personRow{n.ID, n.Sort, n.Name, roles[n.ID]})
			}
		}
		return rows[:min(len(rows), shownPeople+1)], err
	}
	list, err := findAll[Person](v.ctx, v.Site, `
		SELECT doc FROM web.person WHERE NOT erased AND ($1 = '' OR sort = $1) ORDER BY position DESC, id LIMIT $2`, sort, shownPeople+1)
	if err != nil {
		return nil, err
	}
	d := v.directory()
	if err := d.learn(list); err != nil {
		return nil, err
	}
	for _, p := range list {
		rows = append(rows, personRow{p.ID, p.Sort, d.Name(p.ID), roles[p.ID]})
	}
	if len(rows) > shownPeople {
		rows = append(byName(rows[:shownPeople]), rows[shownPeople])
		return rows, nil
	}
	return byName(rows), nil
}

func byName(rows []personRow) []personRow {
	slices.SortStableFunc(rows, func(a, b personRow) int { return strings.Compare(plainLetters(a.Name), plainLetters(b.Name)) })
	return rows
}

// rolesOf reads who has which roles.
func (v *visit) rolesOf() (map[people.ID][]people.Role, error) {
	rows, err := v.Pool.Query(v.ctx, `SELECT person, role FROM web.roster_role ORDER BY person, role`)
	if err != nil {
		return nil, err
	}
	all := map[people.ID][]people.Role{}
	var id people.ID
	var role people.Role
	_, err = pgx.ForEachRow(rows, []any{&id, &role}, func() error {
		all[id] = append(all[id], role)
		return nil
	})
	return all, err
}

// personPage is everything about one person.
type personPage struct {
	Frame
	Person   Person
	Details  message.PersonDetails
	Roles    []roleRow
	Missing  []Form // each gives a role
	Consents []consentRow
	Links    []linkRow
	Papers   []paperRow
	Requests []Request
	Boats    []Boat
	Sessions []sessionRow
	SignOut  Form
	Passkeys []passkeyRow
}

// roleRow is a role that somebody has, with a button to take it from them.
type roleRow struct {
	Role people.Role
	Take Form
}

// consentRow is an agreement with a button to take it back.
type consentRow struct {
	Consent
	Withdraw Form
}

// linkRow is a private link with a button to end it.
type linkRow struct {
	message.LinkGiven
	End Form
}

func (v *visit) personPage() error {
	person, err := find[Person](v.ctx, v.Site, "person", v.param("person"), "person")
	if err != nil {
		return err
	}
	p := personPage{Frame: v.frame("Person"), Person: person}
	p.Title = capital(p.People.Name(person.ID))
	if person.Erased == nil {
		if p.Details, err = v.details(v.ctx, person.ID); err != nil {
			return err
		}
	}
	if err := v.fillPerson(&p); err != nil {
		return err
	}
	return v.show("person", p)
}

// fillPerson adds what the person may do, agreed to, and has to do with.
func (v *visit) fillPerson(p *personPage) error {
	id := p.Person.ID
	at := "/people/" + string(id)
	all, err := v.rolesOf()
	if err != nil {
		return err
	}
	for _, role := range people.Roles {
		if slices.Contains(all[id], role) {
			p.Roles = append(p.Roles, roleRow{role, v.button("take-"+string(role), at+"/take-role", "No longer "+string(role), preset("role", string(role)))})
		} else if p.Person.Sort == message.MemberSort && p.Person.Erased == nil {
			p.Missing = append(p.Missing, v.button("give-"+string(role), at+"/give-role", "Make "+string(role), preset("role", string(role))))
		}
	}
	if p.Sessions, err = v.sessionsOf(v.ctx, id, ""); err != nil {
		return err
	}
	if p.Person.Erased == nil {
		if p.Passkeys, err = v.passkeysOf(id, at); err != nil {
			return err
		}
	}
	p.SignOut = v.button("sign-out-member", at+"/sign-out", "Sign them out everywhere")
	for i, c := range p.Person.Consents {
		p.Consents = append(p.Consents, consentRow{c, v.button(fmt.Sprintf("withdraw-%d", i), at+"/withdraw-consent", "Take back", preset("text", c.Text))})
	}
	for _, l := range p.Person.Links {
		p.Links = append(p.Links, linkRow{l, v.button("end-"+l.Link, at+"/links/"+l.Link+"/end", "End this link")})
	}
	papers, err := findAll[Paper](v.ctx, v.Site, `SELECT doc FROM web.paper WHERE donor = $1 ORDER BY serial`, id)
	if err != nil {
		return err
	}
	if p.Papers, err = v.paperRows(papers); err != nil {
		return err
	}
	p.Requests, err = findAll[Request](v.ctx, v.Site, `SELECT doc FROM web.request WHERE household = $1 ORDER BY doc->>'made'`, id)
	if err != nil {
		return err
	}
	p.Boats, err = findAll[Boat](v.ctx, v.Site, `SELECT doc FROM web.boat WHERE doc->>'giver' = $1 ORDER BY lower(name)`, id)
	return err
}
