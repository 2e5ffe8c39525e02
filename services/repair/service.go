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
	s := &service{desk.New(Name, kit, "boat", "finding", "look", "member", "minor", "timer", "material", "reservation")}
	repairer := desk.Allow{Roles: []people.Role{people.Repairer}}

	administrator := desk.Allow{Roles: []people.Role{people.Administrator}}
	vouchers := desk.Allow{Roles: []people.Role{people.Repairer, people.Administrator}}

	desk.Take(s.Desk, repairer, s.planWork)
	desk.Take(s.Desk, repairer, s.bookPart)
	desk.Take(s.Desk, repairer, s.reversePart)
	desk.Take(s.Desk, repairer, s.bookHours)
	desk.Take(s.Desk, repairer, s.reverseHours)
	desk.Take(s.Desk, repairer, s.finishWork)
	desk.Take(s.Desk, repairer, s.recordTest)
	desk.Take(s.Desk, repairer, s.declareReady)
	desk.Take(s.Desk, repairer, s.retireBoat)
	desk.Take(s.Desk, repairer, s.recoverMoney)
	desk.Take(s.Desk, repairer, s.reverseRecovery)
	desk.Take(s.Desk, administrator, s.waiveTest)
	desk.Take(s.Desk, vouchers, s.signSkill)
	desk.Take(s.Desk, vouchers, s.endSkill)
	desk.Take(s.Desk, repairer, s.doStep)
	desk.Take(s.Desk, repairer, s.setTimer)
	desk.Take(s.Desk, repairer, s.endTimer)
	s.takeStockOrders(repairer)
	desk.Answer(s.Desk, desk.Allow{Member: true}, s.disclosureSheet)
	s.Projects(project)
	s.Reacts(s.react)
	s.Every(ringEvery, "timers", s.ring)
	return s.Desk
}

func (s *service) takeStockOrders(repairer desk.Allow) {
	desk.Take(s.Desk, repairer, s.openBin)
	desk.Take(s.Desk, repairer, s.changeBin)
	desk.Take(s.Desk, repairer, s.buyStock)
	desk.Take(s.Desk, repairer, s.reserveStock)
	desk.Take(s.Desk, repairer, s.takeStock)
	desk.Take(s.Desk, repairer, s.returnStock)
	desk.Take(s.Desk, repairer, s.writeOffStock)
	desk.Take(s.Desk, repairer, s.salvagePart)
}
