package matching

import (
	"embed"
	"io/fs"
	"time"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/people"
)

// Name is the room's name.
const Name = "matching"

//go:embed migrations/*.sql
var files embed.FS

// Migrations make the room's tables, those of every room included.
func Migrations() fs.FS { return desk.Migrations(Name, files) }

// lapseEvery is how often the room looks for offers whose time is over.
const lapseEvery = 30 * time.Second

type service struct{ *desk.Desk }

// New makes the room; Start opens it.
func New(kit desk.Kit) *desk.Desk {
	s := &service{desk.New(Name, kit, "boat", "request", "offer", "round", "person", "same_person", "refusal", "one_boat")}
	s.takeOrders()
	s.answerQuestions()
	s.Projects(s.project)
	s.Reacts(s.react)
	s.Every(lapseEvery, "lapse", s.lapse)
	return s.Desk
}

func (s *service) takeOrders() {
	coordinator := desk.Allow{Roles: []people.Role{people.Coordinator}}
	orApplicant := desk.Allow{Roles: coordinator.Roles, Link: people.OwnRequest}
	// A second member has to agree, and a small club has one coordinator.
	second := desk.Allow{Roles: []people.Role{people.Coordinator, people.Administrator}}

	// Whoever does work in the club can help to draw lots.
	members := desk.Allow{Roles: []people.Role{people.Coordinator, people.Administrator, people.Steward, people.Repairer, people.Treasurer}}

	desk.Take(s.Desk, desk.Allow{Public: true, Member: true}, s.makeRequest)
	desk.Take(s.Desk, orApplicant, s.changeRequest)
	desk.Take(s.Desk, coordinator, s.setTier)
	desk.Take(s.Desk, orApplicant, s.endRequest)
	desk.Take(s.Desk, members, s.commitSecret)
	desk.Take(s.Desk, coordinator, s.rulePair)
	desk.Take(s.Desk, coordinator, s.openRound)
	desk.Take(s.Desk, coordinator, s.solveRound)
	desk.Take(s.Desk, second, s.approveRound)
	desk.Take(s.Desk, coordinator, s.sendOffers)
	desk.Take(s.Desk, orApplicant, s.answerOffer)
	desk.Take(s.Desk, coordinator, s.closeRound)
	desk.Take(s.Desk, coordinator, s.handOver)
	desk.Take(s.Desk, desk.Allow{Roles: []people.Role{people.Administrator}}, s.setRelease)
	desk.Take(s.Desk, coordinator, s.keepBack)
	desk.Take(s.Desk, coordinator, s.agreeFetching)
	desk.Take(s.Desk, orApplicant, s.noteFollowUp)
	desk.Take(s.Desk, coordinator, s.noteComeback)
	desk.Take(s.Desk, desk.Allow{Roles: []people.Role{people.Coordinator, people.Steward}}, s.stopUse)
	desk.Take(s.Desk, orApplicant, s.reportIncident)
	desk.Take(s.Desk, orApplicant, s.makeAppeal)
	desk.Take(s.Desk, second, s.decideAppeal)
	desk.Take(s.Desk, coordinator, s.letOut)
}

func (s *service) answerQuestions() {
	coordinator := desk.Allow{Roles: []people.Role{people.Coordinator}}
	orApplicant := desk.Allow{Roles: coordinator.Roles, Link: people.OwnRequest}

	desk.Answer(s.Desk, orApplicant, s.readWish)
	desk.Answer(s.Desk, orApplicant, s.explainRequest)
	desk.Answer(s.Desk, coordinator, s.whatIf)
	desk.Answer(s.Desk, coordinator, s.jacketsPromised)
	desk.Answer(s.Desk, desk.Allow{Roles: []people.Role{people.Coordinator, people.Administrator, people.Auditor}}, s.whoWasServed)
	desk.Answer(s.Desk, coordinator, s.checkList)
	desk.Answer(s.Desk, desk.Allow{Roles: people.Roles}, s.readReleases)
	desk.Answer(s.Desk, coordinator, s.handOverSheet)
}
