package importer

import (
	"strings"

	"refloat.example/pkg/message"
	who "refloat.example/pkg/people"
)

var sorts = []message.Sort{message.MemberSort, message.DonorSort, message.HouseholdSort, message.GuardianSort}

var people = list{
	kind:  "people",
	about: "Members with their roles, and whomever else the club knows. The first administrator can come in this way, or by the setting REFLOAT_ADMINISTRATOR.",
	order: orderPerson,
	columns: []column{
		referenceColumn("ada"),
		{name: "Name", needed: true, field: "details.name", example: "Ada Oxlip"},
		{name: "Mail", field: "details.mail", single: plainly, example: "ada@example.org", meaning: "A member signs in with it; each has their own."},
		{name: "Phone", field: "details.phone", example: "555-0101"},
		{name: "Address", field: "details.address", example: "2 Quay Street, Lake Amberjay"},
		{name: "Language", field: "details.language", example: "en", meaning: "en, es or fr."},
		{name: "Sort", field: "sort", example: "member", meaning: "member, donor, household or guardian; member when empty."},
		{name: "Roles", field: "roles", example: "administrator steward", meaning: "What a member may do, parted by blanks: steward, repairer, coordinator, treasurer, administrator, auditor."},
		{name: "Guardian reference", field: "guardian", example: "", meaning: "The reference of the adult who acts for somebody under age."},
		consentColumn(),
		{name: "Since", field: "happened_at", example: "2026-01-01", meaning: "A day, YYYY-MM-DD; today when empty."},
	},
}

func orderPerson(r *row) order {
	id := who.ID(ID("person", r.name))
	c := message.RegisterPerson{
		Person: id, Sort: word(r, "Sort", sorts), Consent: r.consent(), Roles: r.roles(),
		Details: message.PersonDetails{
			Name: r.text("Name"), Mail: r.text("Mail"), Phone: r.text("Phone"), Address: r.text("Address"), Language: r.text("Language"),
		},
	}
	if r.text("Sort") == "" {
		c.Sort = message.MemberSort
	}
	o := order{lane: string(id), introduces: string(id), happened: r.instant("Since")}
	if guardian := r.text("Guardian reference"); guardian != "" {
		c.Guardian = who.ID(ID("person", guardian))
		o.lane, o.late, o.restsOn = string(c.Guardian), true, string(c.Guardian)
	}
	o.command = c
	return o
}

func (r *row) roles() []who.Role {
	var all []who.Role
	for _, text := range strings.FieldsFunc(r.text("Roles"), func(c rune) bool { return c == ' ' || c == ';' || c == ',' }) {
		all = append(all, wordOf(r, "Roles", text, who.Roles))
	}
	return all
}
