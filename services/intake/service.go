package intake

import (
	"embed"
	"io/fs"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/people"
	"refloat.example/pkg/photo"
)

// Name is the room's name.
const Name = "intake"

//go:embed migrations/*.sql
var files embed.FS

// Migrations make the room's tables, those of every room included.
func Migrations() fs.FS { return desk.Migrations(Name, files) }

type service struct {
	*desk.Desk
	photos *photo.Store
}

// New makes the room; Start opens it.
func New(kit desk.Kit) *desk.Desk {
	s := &service{desk.New(Name, kit, "person", "name", "ceiling", "appraiser", "departed", "photo"), photo.NewStore(kit.Pool)}
	steward := desk.Allow{Roles: []people.Role{people.Steward}}
	// What is above the ceiling is an administrator's to decide.
	pricing := desk.Allow{Roles: []people.Role{people.Steward, people.Administrator}}

	desk.Take(s.Desk, desk.Allow{Member: true}, s.logBoat)
	desk.Take(s.Desk, steward, s.correctFacts)
	desk.Take(s.Desk, steward, s.beginLookOver)
	desk.Take(s.Desk, steward, s.answerPoints)
	desk.Take(s.Desk, steward, s.noteDefect)
	desk.Take(s.Desk, steward, s.withdrawDefect)
	desk.Take(s.Desk, steward, s.finishLookOver)
	desk.Take(s.Desk, steward, s.matchFindings)
	desk.Take(s.Desk, steward, s.makeAgreement)
	desk.Answer(s.Desk, steward, s.agreementSheet)
	desk.Take(s.Desk, steward, s.setQuarantine)
	desk.Take(s.Desk, pricing, s.offerPrice)
	desk.Take(s.Desk, pricing, s.noteAnswer)
	desk.Take(s.Desk, pricing, s.acceptBoat)
	desk.Take(s.Desk, pricing, s.holdBoat)
	desk.Take(s.Desk, steward, s.declineBoat)
	desk.Take(s.Desk, steward, s.receiveBoat)

	desk.Take(s.Desk, steward, s.showRight)
	desk.Take(s.Desk, steward, s.stateIntent)
	desk.Take(s.Desk, steward, s.noteRegistration)
	desk.Take(s.Desk, desk.Allow{Member: true}, s.raiseDoubt)
	desk.Take(s.Desk, desk.Allow{Roles: []people.Role{people.Administrator}}, s.settleDoubt)
	desk.Take(s.Desk, steward, s.notePossession)
	desk.Take(s.Desk, steward, s.signTransfer)

	desk.Take(s.Desk, desk.Allow{Member: true}, s.addPhoto)
	desk.Take(s.Desk, pricing, s.removePhoto)

	desk.Take(s.Desk, steward, s.setPlace)
	desk.Take(s.Desk, steward, s.closePlace)
	hands := desk.Allow{Roles: []people.Role{people.Steward, people.Repairer}}
	desk.Take(s.Desk, hands, s.moveBoat)
	desk.Take(s.Desk, hands, s.checkJacket)
	desk.Take(s.Desk, hands, s.endJacket)
	s.Projects(project)
	s.Reacts(s.react)
	return s.Desk
}
