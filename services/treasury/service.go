package treasury

import (
	"embed"
	"io/fs"
	"strings"
	"time"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// Name is the room's name.
const Name = "treasury"

//go:embed migrations/*.sql
var files embed.FS

// Migrations make the room's tables, those of every room included.
func Migrations() fs.FS { return desk.Migrations(Name, files) }

// letGoEvery is how often the room looks for papers that need not be kept any more.
const letGoEvery = 24 * time.Hour

// Config is what the room needs beside what every room is given.
type Config struct {
	// BaseURL is the club's address as people see it, "https://book.example.org". The
	// address at which a paper can be checked begins with it.
	BaseURL string
}

type service struct {
	*desk.Desk
	cfg Config
}

// New makes the room; Start opens it.
func New(cfg Config) func(desk.Kit) *desk.Desk {
	cfg.BaseURL = strings.TrimRight(cfg.BaseURL, "/")
	return func(kit desk.Kit) *desk.Desk { return newDesk(cfg, kit) }
}

func newDesk(cfg Config, kit desk.Kit) *desk.Desk {
	s := &service{desk.New(Name, kit, "boat", "value", "person", "entry", "line", "hours", "paper", "batch", "batch_paper", "bank_row", "gift", "boat_said", "boat_count", "member", "pocket", "volunteer_cost"), cfg}
	treasurer := desk.Allow{Roles: []people.Role{people.Treasurer}}
	readers := desk.Allow{Roles: []people.Role{people.Treasurer, people.Auditor}}
	administrators := desk.Allow{Roles: []people.Role{people.Administrator}}
	overseers := desk.Allow{Roles: []people.Role{people.Administrator, people.Treasurer, people.Auditor}}
	donors := desk.Allow{Roles: []people.Role{people.Treasurer}, Link: people.OwnPapers}

	desk.Take(s.Desk, treasurer, s.sellBoat)
	desk.Take(s.Desk, treasurer, s.takeSaleBack)
	desk.Take(s.Desk, treasurer, s.refundBuyer)
	desk.Take(s.Desk, treasurer, s.stateClaim)
	desk.Take(s.Desk, treasurer, s.stateImprovement)
	desk.Take(s.Desk, treasurer, s.stateUse)
	desk.Take(s.Desk, treasurer, s.statePlacement)
	desk.Take(s.Desk, treasurer, s.withdrawException)
	desk.Take(s.Desk, treasurer, s.stateBenefit)
	desk.Take(s.Desk, treasurer, s.stateAppraisal)
	desk.Take(s.Desk, treasurer, s.stateSimilar)
	desk.Take(s.Desk, treasurer, s.stateDonorNumber)
	desk.Take(s.Desk, treasurer, s.issuePaper)
	desk.InTurn(s.Desk, message.IssuePaper{}.Verb()) // each takes the next number
	desk.Take(s.Desk, treasurer, s.issueYear)
	desk.Take(s.Desk, treasurer, s.signPaper)
	desk.InTurn(s.Desk, message.SignPaper{}.Verb())
	desk.Take(s.Desk, treasurer, s.withdrawPreparation)
	desk.Take(s.Desk, treasurer, s.cancelPaper)
	desk.Take(s.Desk, administrators, s.giveMandate)
	desk.Take(s.Desk, administrators, s.endMandate)
	desk.Answer(s.Desk, overseers, s.mandateList)
	desk.Take(s.Desk, treasurer, s.settlePocket)
	desk.Take(s.Desk, treasurer, s.stateVolunteerCost)
	desk.Take(s.Desk, treasurer, s.takeVolunteerCost)
	desk.Take(s.Desk, treasurer, s.payVolunteerCostBack)
	desk.Take(s.Desk, treasurer, s.giveVolunteerCost)
	desk.Take(s.Desk, treasurer, s.withdrawVolunteerCost)
	desk.Take(s.Desk, treasurer, s.issueVolunteerPaper)
	desk.InTurn(s.Desk, message.IssueVolunteerPaper{}.Verb())
	desk.Answer(s.Desk, readers, s.volunteerCosts)
	desk.Take(s.Desk, treasurer, s.closePeriod)
	desk.Take(s.Desk, treasurer, s.countBoat)
	desk.Take(s.Desk, treasurer, s.chooseProgramme)
	desk.Take(s.Desk, treasurer, s.readBank)
	desk.InTurn(s.Desk, message.ReadBank{}.Verb()) // two of the same file: the second finds the rows of the first
	desk.Take(s.Desk, treasurer, s.matchBankRow)
	desk.Take(s.Desk, treasurer, s.setBankRowAside)
	desk.Take(s.Desk, treasurer, s.freeBankRow)
	desk.Answer(s.Desk, donors, s.printPaper)
	desk.Answer(s.Desk, donors, s.donorPapers)
	desk.Answer(s.Desk, treasurer, s.copyA)
	desk.Answer(s.Desk, treasurer, s.copiesA)
	desk.Answer(s.Desk, readers, s.yearTotals)
	desk.Answer(s.Desk, readers, s.paperOutlook)
	desk.Answer(s.Desk, readers, s.yearPapers)
	desk.Answer(s.Desk, readers, s.paperSeries)
	desk.Answer(s.Desk, desk.Allow{Roles: readers.Roles, Link: people.Deadlines}, s.clocks)
	desk.Answer(s.Desk, readers, s.statement)
	desk.Answer(s.Desk, readers, s.exportYear)
	desk.Answer(s.Desk, readers, s.costBook)
	desk.Answer(s.Desk, readers, s.binBook)
	desk.Answer(s.Desk, readers, s.bankList)
	desk.Answer(s.Desk, readers, s.boatStock)
	s.Projects(project)
	s.Reacts(s.react)
	s.Every(remindEvery, "reminders", s.remind)
	s.Every(letGoEvery, "papers past keeping", s.letGo)
	return s.Desk
}
