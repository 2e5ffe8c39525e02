package people

import (
	"embed"
	"io/fs"
	"strings"
	"time"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/mail"
	"refloat.example/pkg/people"
)

// Name is the room's name.
const Name = "people"

//go:embed migrations/*.sql
var files embed.FS

// Migrations make the room's schema.
func Migrations() fs.FS { return desk.Migrations(Name, files) }

// Config is what the room needs beside what every room is given.
type Config struct {
	// BaseURL is the club's address as people see it, "https://book.example.org".
	// Links in letters begin with it.
	BaseURL string
	// Mail sends letters. Without it they wait.
	Mail mail.Sender
}

// How often the room looks for letters to send and for data to erase.
const (
	postEvery   = time.Second
	forgetEvery = time.Hour
)

// New makes the room.
func New(cfg Config) func(desk.Kit) *desk.Desk {
	cfg.BaseURL = strings.TrimRight(cfg.BaseURL, "/")
	return func(kit desk.Kit) *desk.Desk {
		s := &service{desk.New(Name, kit, "person", "doubles", "request", "offer", "received", "given", "paper"), cfg}
		s.takeOrders()
		s.answerQuestions()
		s.Projects(s.project)
		s.Reacts(s.react)
		if cfg.Mail != nil {
			s.Every(postEvery, "post", s.post)
			s.Every(checkpointEvery, "checkpoint to the auditor", s.mailCheckpoint)
		}
		s.Every(forgetEvery, "retention", s.forgetWhatIsOver)
		return s.Desk
	}
}

type service struct {
	*desk.Desk
	cfg Config
}

func (s *service) takeOrders() {
	administrator := desk.Allow{Roles: []people.Role{people.Administrator}}
	keepers := desk.Allow{Roles: []people.Role{people.Steward, people.Coordinator, people.Administrator}}
	keepersOrThemselves := keepers
	keepersOrThemselves.AnyLink = true
	linkers := desk.Allow{Roles: []people.Role{people.Coordinator, people.Treasurer, people.Administrator}}
	linkersOrThemselves := linkers
	linkersOrThemselves.AnyLink = true

	desk.Take(s.Desk, keepers, s.registerPerson)
	desk.Take(s.Desk, keepersOrThemselves, s.changePerson)
	desk.Take(s.Desk, administrator, s.giveRole)
	desk.Take(s.Desk, administrator, s.takeRole)
	desk.Take(s.Desk, keepersOrThemselves, s.withdrawConsent)
	desk.Take(s.Desk, linkers, s.giveLink)
	desk.Take(s.Desk, linkersOrThemselves, s.endLink)
	desk.Take(s.Desk, desk.Allow{Roles: []people.Role{people.Coordinator, people.Administrator}}, s.judgeDoubles)
	desk.Take(s.Desk, desk.Allow{Roles: administrator.Roles, AnyLink: true}, s.erasePerson)
	desk.Take(s.Desk, administrator, s.changeSetting)
	desk.Take(s.Desk, administrator, s.allowSkip)
	desk.Take(s.Desk, linkers, s.settleLetter)
	desk.Take(s.Desk, desk.Allow{Member: true}, s.addPasskey)
	desk.Take(s.Desk, desk.Allow{Member: true}, s.removePasskey)
}

func (s *service) answerQuestions() {
	public := desk.Allow{Public: true}
	desk.Answer(s.Desk, public, s.askSignIn)
	desk.Answer(s.Desk, public, s.redeemSignIn)
	desk.Answer(s.Desk, public, s.openLink)
	desk.Answer(s.Desk, public, s.askPasskeySignIn)
	desk.Answer(s.Desk, public, s.redeemPasskey)
	desk.Answer(s.Desk, desk.Allow{Member: true}, s.askPasskey)
	desk.Answer(s.Desk, desk.Allow{Member: true}, s.readPasskeys)
	linkers := desk.Allow{Roles: []people.Role{people.Coordinator, people.Treasurer, people.Administrator}}
	desk.Answer(s.Desk, linkers, s.linkAddress)
	desk.Answer(s.Desk, linkers, s.unsettledLetters)
	desk.Answer(s.Desk, linkers, s.letterOutcomes)
	desk.Answer(s.Desk, desk.Allow{
		Roles:   []people.Role{people.Steward, people.Coordinator, people.Treasurer, people.Administrator},
		AnyLink: true,
	}, s.readPeople)
	desk.Answer(s.Desk, desk.Allow{Roles: []people.Role{people.Coordinator, people.Administrator}}, s.likelyDoubles)
	desk.Answer(s.Desk, desk.Allow{}, s.blindTexts)
}
