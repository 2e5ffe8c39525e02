package valuation

import (
	"embed"
	"io/fs"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/people"
)

// Name is the room's name.
const Name = "valuation"

//go:embed migrations/*.sql
var files embed.FS

// Migrations make the room's tables, those of every room included.
func Migrations() fs.FS { return desk.Migrations(Name, files) }

type service struct{ *desk.Desk }

// New makes the room; Start opens it.
func New(kit desk.Kit) *desk.Desk {
	s := &service{desk.New(Name, kit, "boat", "look_over", "comparable", "waiting", "same_person", "finding", "mending", "mended", "newest", "repair")}
	valuers := desk.Allow{Roles: []people.Role{people.Treasurer, people.Steward}}

	desk.Take(s.Desk, valuers, s.recordComparable)
	desk.Take(s.Desk, valuers, s.refuseComparable)
	desk.Take(s.Desk, valuers, s.valueBoat)
	desk.Take(s.Desk, valuers, s.setCeiling)
	shop := desk.Allow{Roles: []people.Role{people.Repairer, people.Steward, people.Treasurer}}
	desk.Take(s.Desk, shop, s.proposeRepair)
	desk.Take(s.Desk, shop, s.dropRepair)
	desk.Take(s.Desk, shop, s.makePlan)
	readers := desk.Allow{Roles: []people.Role{people.Repairer, people.Steward, people.Treasurer, people.Administrator, people.Auditor}}
	desk.Answer(s.Desk, readers, s.tryPlan)
	desk.Answer(s.Desk, valuers, s.printValue)
	s.Projects(project)
	s.Reacts(s.react)
	return s.Desk
}
