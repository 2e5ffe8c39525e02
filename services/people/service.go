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
	postEvery  = time.Second
	forgetHour = time.Hour
)

// New makes the room.
func New(cfg Config) func(desk.Kit) *desk.Desk {
	cfg.BaseURL = strings.TrimRight(cfg.BaseURL, "/")
	return func(kit desk.Kit) *desk.Desk {
		r := &room{desk.New(Name, kit, "person", "doubles", "request", "offer", "received", "given", "paper"), cfg}
		r.takeOrders()
		r.answerQuestions()
		r.Projects(r.project)
		r.Reacts(r.react)
		if cfg.Mail != nil {
			r.Every(postEvery, "post", r.post)
		}
		r.Every(forgetHour, "retention", r.forgetWhatIsOver)
		return r.Desk
	}
}

type room struct {
	*desk.Desk
	cfg Config
}

func (r *room) takeOrders() {
	administrator := desk.Allow{Roles: []people.Role{people.Administrator}}
	keepers := desk.Allow{Roles: []people.Role{people.Steward, people.Coordinator, people.Administrator}}
	keepersOrThemselves := keepers
	keepersOrThemselves.AnyLink = true
	linkers := desk.Allow{Roles: []people.Role{people.Coordinator, people.Treasurer, people.Administrator}}
	linkersOrThemselves := linkers
	linkersOrThemselves.AnyLink = true

	desk.Take(r.Desk, keepers, r.registerPerson)
	desk.Take(r.Desk, keepersOrThemselves, r.changePerson)
	desk.Take(r.Desk, administrator, r.giveRole)
	desk.Take(r.Desk, administrator, r.takeRole)
	desk.Take(r.Desk, keepersOrThemselves, r.withdrawConsent)
	desk.Take(r.Desk, linkers, r.giveLink)
	desk.Take(r.Desk, linkersOrThemselves, r.endLink)
	desk.Take(r.Desk, desk.Allow{Roles: []people.Role{people.Coordinator, people.Administrator}}, r.judgeDoubles)
	desk.Take(r.Desk, desk.Allow{Roles: administrator.Roles, AnyLink: true}, r.erasePerson)
	desk.Take(r.Desk, administrator, r.changeSetting)
}

func (r *room) answerQuestions() {
	public := desk.Allow{Public: true}
	desk.Answer(r.Desk, public, r.askSignIn)
	desk.Answer(r.Desk, public, r.redeemSignIn)
	desk.Answer(r.Desk, public, r.openLink)
	desk.Answer(r.Desk, desk.Allow{Roles: []people.Role{people.Coordinator, people.Treasurer, people.Administrator}}, r.linkAddress)
	desk.Answer(r.Desk, desk.Allow{
		Roles:   []people.Role{people.Steward, people.Coordinator, people.Treasurer, people.Administrator},
		AnyLink: true,
	}, r.readPeople)
	desk.Answer(r.Desk, desk.Allow{Roles: []people.Role{people.Coordinator, people.Administrator}}, r.likelyDoubles)
	desk.Answer(r.Desk, desk.Allow{}, r.blindTexts)
}
