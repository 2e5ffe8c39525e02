package people

import (
	"bytes"
	"context"
	"embed"
	"errors"
	"fmt"
	"strings"
	"text/template"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"refloat.example/pkg/mail"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// letterSort says which text a letter has.
type letterSort string

const (
	requestLetter letterSort = "request" // the link to one's own request
	papersLetter  letterSort = "papers"  // the link to one's own papers
	paperLetter   letterSort = "paper"   // a paper is there
	offerLetter   letterSort = "offer"   // a boat is offered
	stopLetter    letterSort = "stop"    // a boat must not be used any more
	signInLetter  letterSort = "sign-in" // the one-time link
	timerLetter   letterSort = "timer"   // what a member waited for is over; Link is the boat

	deadlinesLetter letterSort = "deadlines" // something about papers falls due; Link is the first day
)

// What became of a letter.
const (
	letterSent    = message.LetterSent
	letterErased  = "the person was erased"
	letterNowhere = "the person has no mail address"
	letterOver    = "its link has ended"
	letterRefused = "refused by the mail server"
	letterGivenUp = "given up"
)

const (
	postAtOnce = 20 // letters a look
	postTries  = 60 // with postWait, about two days
	postWait   = time.Hour
)

// queued is a letter that waits. It holds no personal data: the address is
// looked up when it is sent.
type queued struct {
	Key    string
	Sort   letterSort
	Person people.ID
	Link   string
	Until  time.Time // until when the reader has time; zero when only the link has an end
	MadeAt time.Time
	Tries  int
}

// execer is a pool or a transaction.
type execer interface {
	Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error)
}

// enqueue writes a letter down, unless one with its key is or was there.
func enqueue(ctx context.Context, db execer, l queued) error {
	_, err := db.Exec(ctx, `
		INSERT INTO people.letter (key, sort, person, link, until, made_at, next_at) VALUES ($1, $2, $3, $4, $5, $6, $6)
		ON CONFLICT (key) DO NOTHING`, l.Key, l.Sort, l.Person, l.Link, l.Until, l.MadeAt)
	return err
}

// isBrought says whether some letter other than the link's own carries a link.
func (s *service) isBrought(ctx context.Context, link string) (brought bool, err error) {
	err = s.Pool.QueryRow(ctx, `SELECT EXISTS (SELECT FROM people.letter WHERE link = $1 AND key <> 'link-' || link)`, link).Scan(&brought)
	return brought, err
}

// post sends the letters that wait, oldest first. When the server does not answer
// the rest waits for the next look.
func (s *service) post(ctx context.Context) error {
	if err := s.sortOutAttempts(ctx); err != nil {
		return err
	}
	due, err := s.dueLetters(ctx)
	if err != nil || len(due) == 0 {
		return err
	}
	head, err := s.Log.Head(ctx)
	if err != nil {
		return err
	}
	if err := s.Heard(ctx, head.Position); err != nil {
		return err
	}
	for _, l := range due {
		again, err := s.postOne(ctx, l)
		if err != nil || again {
			return err
		}
	}
	return nil
}

func (s *service) dueLetters(ctx context.Context) ([]queued, error) {
	rows, err := s.Pool.Query(ctx, `
		SELECT key, sort, person, link, until, made_at, tries FROM people.letter
		WHERE done_at IS NULL AND attempt_at IS NULL AND next_at <= $1 ORDER BY next_at, key LIMIT $2`, s.Clock.Now(), postAtOnce)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[queued])
}

// postOne sends a letter, or says why it will never be sent. again means that
// the mail server should be left alone for a while.
func (s *service) postOne(ctx context.Context, l queued) (again bool, err error) {
	letter, outcome, err := s.compose(ctx, l)
	if err != nil {
		return false, err
	}
	if outcome != "" {
		return false, s.done(ctx, l, outcome)
	}
	mine, err := s.claim(ctx, l)
	if err != nil || !mine {
		return false, err
	}
	// A conversation that has begun is ended, also when the room is being closed.
	err = s.cfg.Mail.Send(context.WithoutCancel(ctx), letter)
	switch {
	case err == nil:
		return false, s.done(ctx, l, letterSent)
	case errors.Is(err, mail.ErrUnknown):
		return true, nil // sortOutAttempts sees to it
	case errors.Is(err, mail.ErrRefused):
		return false, s.done(ctx, l, letterRefused)
	case l.Tries+1 >= postTries:
		return false, s.done(ctx, l, letterGivenUp)
	}
	s.Slog.Warn("a letter has to wait", "letter", l.Key, "err", strings.ReplaceAll(err.Error(), letter.To, "the address"))
	return true, s.postpone(ctx, l)
}

// done writes down what became of a letter in the end.
func (s *service) done(ctx context.Context, l queued, outcome string) error {
	if outcome == letterRefused || outcome == letterGivenUp {
		s.Slog.Warn("a letter was not sent", "letter", l.Key, "person", l.Person, "why", outcome)
	}
	return s.record(ctx, `UPDATE people.letter SET done_at = $2, outcome = $3 WHERE key = $1`, l.Key, s.Clock.Now(), outcome)
}

// postpone takes back an attempt by which the letter surely did not leave.
func (s *service) postpone(ctx context.Context, l queued) error {
	wait := min(postWait, time.Second<<min(l.Tries, 12))
	return s.record(ctx, `UPDATE people.letter SET attempt_at = NULL, tries = tries + 1, next_at = $2 WHERE key = $1`, l.Key, s.Clock.Now().Add(wait))
}

// compose writes a letter out, or gives the reason why there is none to send.
func (s *service) compose(ctx context.Context, l queued) (letter mail.Letter, outcome string, err error) {
	address, until, err := s.linkOf(ctx, l)
	if err != nil || !s.Clock.Now().Before(until) {
		return letter, letterOver, err
	}
	p, found, err := s.readPerson(ctx, l.Person)
	switch {
	case err != nil:
		return letter, "", err
	case !found || p.Erased:
		return letter, letterErased, nil
	case p.Details.Mail == "":
		return letter, letterNowhere, nil
	}
	letter = mail.Letter{Key: l.Key, To: p.Details.Mail, At: l.MadeAt}
	club, err := s.Setting(ctx, "legal-name")
	day := until.Format(time.DateOnly)
	if l.Sort == deadlinesLetter {
		day = l.Link
	}
	if err == nil {
		letter.Subject, letter.Text, err = write(l.Sort, p.Details.Language, letterFacts{
			Club: club, Address: address, Until: day, Minutes: int(signInFor / time.Minute),
		})
	}
	return letter, "", err
}

// linkOf gives the address that a letter carries and until when it is any use.
func (s *service) linkOf(ctx context.Context, l queued) (address string, until time.Time, err error) {
	if l.Sort == signInLetter {
		return s.cfg.BaseURL + message.SignInPath + s.signInToken(l.Link), l.Until, nil
	}
	if l.Sort == deadlinesLetter {
		return s.cfg.BaseURL + "/papers/clocks", l.Until, nil
	}
	if l.Sort == timerLetter {
		return s.cfg.BaseURL + "/boats/" + l.Link + "/sheet", l.Until, nil
	}
	link, found, err := s.rosterLink(ctx, l.Link)
	if err != nil || !found {
		return "", time.Time{}, err
	}
	if l.Sort == offerLetter && l.Until.Before(link.Until) {
		link.Until = l.Until
	}
	return s.linkURL(l.Link), link.Until, nil
}

//go:embed letters/*.txt
var letterTexts embed.FS

var letterTemplates = func() map[string]*template.Template {
	all := map[string]*template.Template{}
	for _, language := range languages {
		all[language] = template.Must(template.ParseFS(letterTexts, "letters/"+language+".txt"))
	}
	return all
}()

// letterFacts is what a letter may say. It names nobody: who reads mail over
// somebody's shoulder learns no more than they must.
type letterFacts struct {
	Club, Address, Until string
	Minutes              int
}

// write gives subject and text in a language, English when none is known.
func write(sort letterSort, language string, facts letterFacts) (subject, text string, err error) {
	t, ok := letterTemplates[language]
	if !ok {
		t = letterTemplates[languages[0]]
	}
	var out bytes.Buffer
	if err := t.ExecuteTemplate(&out, string(sort), facts); err != nil {
		return "", "", fmt.Errorf("writing the letter %s: %w", sort, err)
	}
	subject, text, _ = strings.Cut(strings.TrimSpace(out.String()), "\n")
	return strings.TrimSpace(subject), strings.TrimSpace(text) + "\n", nil
}
