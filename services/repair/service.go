package repair

import (
	"embed"
	"io/fs"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/people"
)

// Name is the room's name.
const Name = "repair"

//go:embed migrations/*.sql
var files embed.FS

// Migrations make the room's tables, those of every room included.
func Migrations() fs.FS { return desk.Migrations(Name, files) }

type service struct{ *desk.Desk }

// New makes the room; Start opens it.
func New(kit desk.Kit) *desk.Desk {
	s := &service{desk.New(Name, kit, "boat", "finding", "member")}
	repairer := desk.Allow{Roles: []people.Role{people.Repairer}}

	desk.Take(s.Desk, repairer, s.planWork)
	desk.Take(s.Desk, repairer, s.bookPart)
	desk.Take(s.Desk, repairer, s.reversePart)
	desk.Take(s.Desk, repairer, s.bookHours)
	desk.Take(s.Desk, repairer, s.finishWork)
	desk.Take(s.Desk, repairer, s.recordTest)
	desk.Take(s.Desk, repairer, s.declareReady)
	desk.Take(s.Desk, repairer, s.retireBoat)
	s.Projects(project)
	return s.Desk
}
