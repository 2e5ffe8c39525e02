package people

import (
	"slices"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/mail"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// Limits on what is kept of a person, in characters.
const (
	maxName    = 120
	maxPhone   = 40
	maxAddress = 300
	maxConsent = 80
)

var (
	sorts     = []message.Sort{message.MemberSort, message.DonorSort, message.HouseholdSort, message.GuardianSort}
	languages = []string{"en", "es", "fr"}
	purposes  = []people.Purpose{people.OwnRequest, people.OwnPapers, people.Deadlines}
	reasons   = []string{asked, retention}
)

// Why a person is erased.
const (
	asked     = "asked"
	retention = "retention"
)

// checkDetails gives details as they are kept, or the first thing that is wrong
// with them.
func checkDetails(d message.PersonDetails) (message.PersonDetails, error) {
	d.Name, d.Phone, d.Address = strings.TrimSpace(d.Name), strings.TrimSpace(d.Phone), strings.TrimSpace(d.Address)
	err := desk.First(
		desk.Needed("details.name", d.Name, "write the name"),
		desk.OneLine("details.name", d.Name, maxName),
		desk.OneLine("details.phone", d.Phone, maxPhone),
		goodPhone(d.Phone),
		desk.NotLonger("details.address", d.Address, maxAddress),
		goodLanguage(d.Language),
	)
	if d.Mail = strings.TrimSpace(d.Mail); err == nil && d.Mail != "" {
		d.Mail, err = mail.CheckAddress("details.mail", d.Mail)
	}
	return d, err
}

func goodLanguage(language string) error {
	if language == "" {
		return nil
	}
	return boat.Known("details.language", language, languages)
}

func goodPhone(phone string) error {
	if strings.ContainsFunc(phone, notOfAPhone) {
		return fault.Field("details.phone", "write digits, and what parts them")
	}
	return nil
}

func notOfAPhone(c rune) bool { return (c < '0' || c > '9') && !strings.ContainsRune("+-()/. x", c) }

// keeper is the role that enters and corrects persons of a sort.
func keeper(sort message.Sort) people.Role {
	switch sort {
	case message.MemberSort:
		return people.Administrator
	case message.DonorSort:
		return people.Steward
	}
	return people.Coordinator
}

// mayKeep says whether a caller looks after persons of a sort.
func mayKeep(c desk.Caller, sort message.Sort) error {
	if c.Actor.Room == desk.AtMachine || c.Has(people.Administrator) || c.Has(keeper(sort)) {
		return nil
	}
	return fault.New(fault.Forbidden, "this is not yours to do: for a %s it needs the role of %s", sort, keeper(sort))
}

// mayLink says whether a caller gives, shows and ends links for a purpose.
func mayLink(c desk.Caller, purpose people.Purpose) error {
	needed := people.Coordinator
	if purpose == people.OwnPapers || purpose == people.Deadlines {
		needed = people.Treasurer
	}
	if c.Actor.Room == desk.AtMachine || c.Has(people.Administrator) || c.Has(needed) {
		return nil
	}
	return fault.New(fault.Forbidden, "this is not yours to do: for this link it needs the role of %s", needed)
}

// onlyThemselves refuses who came by a private link and means somebody else.
func onlyThemselves(c desk.Caller, person people.ID) error {
	if c.Link == nil || c.Link.Person == person {
		return nil
	}
	return fault.New(fault.Forbidden, "this private link is for your own data only")
}

// signInStays refuses to let a private link, which others may have held, move
// the address with which its person signs in.
func signInStays() error {
	f := fault.New(fault.Forbidden, "you sign in with this address; ask an administrator to change it")
	f.Field = "details.mail"
	return f
}

// checkNewcomer holds a registration against its rules and gives the details as
// they are kept.
func checkNewcomer(c message.RegisterPerson) (message.PersonDetails, error) {
	err := desk.First(desk.GoodID("person", c.Person), boat.Known("sort", c.Sort, sorts))
	if err != nil {
		return c.Details, err
	}
	details, err := checkDetails(c.Details)
	if err == nil {
		err = desk.First(goodConsent("consent", c.Consent), notTheirOwn(c), checkRoles(c))
	}
	return details, err
}

func goodConsent(field, text string) error {
	return desk.First(
		desk.Needed(field, text, "say which text was agreed to, with its version"),
		desk.OneLine(field, text, maxConsent),
	)
}

func notTheirOwn(c message.RegisterPerson) error {
	if c.Guardian == c.Person {
		return fault.Field("guardian", "nobody is their own guardian")
	}
	return nil
}

func checkRoles(c message.RegisterPerson) error {
	if len(c.Roles) > 0 && c.Sort != message.MemberSort {
		return fault.Field("roles", "only members have roles; register a member, or give the role afterwards")
	}
	for i, role := range c.Roles {
		if err := boat.Known("roles", role, people.Roles); err != nil {
			return err
		}
		if slices.Contains(c.Roles[:i], role) {
			return fault.Field("roles", "%s stands twice", role)
		}
	}
	return nil
}

// introduce says what a newcomer's arrival means.
func introduce(n message.NewPerson, how string, roles []people.Role) (desk.Decision, error) {
	bodies := []message.Body{
		message.PersonRegistered{Person: n.Person, Sort: n.Sort, Sealed: n.Sealed},
		message.ConsentGiven{Person: n.Person, Text: n.Consent, How: how, By: n.Guardian},
	}
	if n.Guardian != "" {
		bodies = append(bodies, message.GuardianNamed{Person: n.Person, Guardian: n.Guardian})
	}
	for _, role := range roles {
		bodies = append(bodies, message.RoleGiven{Person: n.Person, Role: role})
	}
	return say(message.Person(n.Person), bodies...)
}

// say makes a decision out of what is said in one stream.
func say(stream string, bodies ...message.Body) (desk.Decision, error) {
	var d desk.Decision
	for _, body := range bodies {
		if err := d.Say(stream, "", body); err != nil {
			return d, err
		}
	}
	return d, nil
}

// mustStand refuses a person who is not in the book or was erased.
func mustStand(field string, p person) error {
	switch {
	case p.Erased:
		return desk.Unknown(field, "this person was erased")
	case !p.known():
		return desk.Unknown(field, "the club does not know this person; register them first")
	}
	return nil
}
