package people_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/mail"
	"refloat.example/pkg/message"
	who "refloat.example/pkg/people"
	"refloat.example/services/people"
)

// unsettled gives the letters that wait for a decision.
func (c *club) unsettled() []message.LetterFound {
	return desktest.Ask[message.LettersFound](c.Club, desktest.Operator, message.UnsettledLetters{}).Letters
}

// loseAnswer lets the mail server fall silent after the last line of a letter, and
// waits until the letter is known to be in doubt.
func (c *club) loseAnswer() message.LetterFound {
	c.t.Helper()
	c.post.refuses(fmt.Errorf("%w: the line is dead", mail.ErrUnknown))
	c.ask(c.introduced(message.HouseholdSort, "Cam Sedge", "cam@example.org"))
	require.Eventually(c.t, func() bool { return c.post.asked() == 1 }, time.Minute, 10*time.Millisecond)
	c.post.refuses(nil)
	assert.Empty(c.t, c.unsettled(), "not at once: another process may be at it")
	c.Clock.Advance(time.Minute)
	require.Eventually(c.t, func() bool { return len(c.unsettled()) == 1 }, time.Minute, 10*time.Millisecond)
	return c.unsettled()[0]
}

func TestALetterInDoubtIsNotSentTwice(t *testing.T) {
	c := start(t)
	in := c.loseAnswer()
	assert.Equal(t, "request", in.Sort)
	c.Clock.Advance(24 * time.Hour)
	c.Restart(people.Name)
	c.ask(c.introduced(message.HouseholdSort, "Dan Reed", "dan@example.org"))
	assert.Equal(t, "dan@example.org", c.waitForLetters(1)[0].To, "others are sent, it is not")

	coordinator := c.Member(who.Coordinator)
	c.Do(coordinator, message.SettleLetter{Letter: in.Letter, Again: true})
	c.Settle()
	letter := c.waitForLetters(2)[1]
	assert.Equal(t, in.Letter, letter.Key, "the same key, and so the same Message-ID")
	assert.Equal(t, "cam@example.org", letter.To)
	require.Eventually(t, func() bool { return strings.Count(c.DB.Dump("people.letter"), ",sent,") == 2 }, time.Minute, 10*time.Millisecond)
	assert.Empty(t, c.unsettled())
	again := c.fault(coordinator, message.SettleLetter{Letter: in.Letter, Again: true})
	assert.Equal(t, fault.Conflict, again.Kind)

	// The decision is heard again, as after a lost cursor.
	c.DB.Exec(`UPDATE people.cursor SET position = 0 WHERE name = 'reactions'`)
	c.Restart(people.Name)
	c.Settle()
	c.ask(c.introduced(message.HouseholdSort, "Eve Fen", "eve@example.org"))
	assert.Equal(t, "eve@example.org", c.waitForLetters(3)[2].To, "and nothing before it")
}

func TestALetterInDoubtCanBeLeft(t *testing.T) {
	c := start(t)
	in := c.loseAnswer()
	c.Do(c.Member(who.Treasurer), message.SettleLetter{Letter: in.Letter})
	c.Settle()
	require.Eventually(t, func() bool { return len(c.unsettled()) == 0 }, time.Minute, 10*time.Millisecond)
	c.ask(c.introduced(message.HouseholdSort, "Dan Reed", "dan@example.org"))
	c.waitForLetters(1)
	assert.Equal(t, fault.Forbidden, c.fault(c.Member(who.Steward), message.SettleLetter{Letter: in.Letter}).Kind)
	assert.Equal(t, "letter", c.fault(desktest.Operator, message.SettleLetter{Letter: "../x"}).Field)
}

// A one-time link in doubt is never sent again: its reader asks for another.
func TestAOneTimeLinkInDoubtIsDropped(t *testing.T) {
	c := start(t)
	c.register(message.MemberSort, "Ada Oxlip", "ada@example.org", who.Steward)
	c.Settle()
	c.post.refuses(fmt.Errorf("%w: the line is dead", mail.ErrUnknown))
	desktest.Ask[message.SignInAsked](c.Club, pages, message.AskSignIn{Mail: "ada@example.org"})
	require.Eventually(t, func() bool { return c.post.asked() == 1 }, time.Minute, 10*time.Millisecond)
	c.post.refuses(nil)
	c.Clock.Advance(time.Minute)
	require.Eventually(t, func() bool { return strings.Contains(c.DB.Dump("people.letter"), "nobody knows whether it left") }, time.Minute, 10*time.Millisecond)
	assert.Empty(t, c.unsettled(), "nobody has to decide")
	desktest.Ask[message.SignInAsked](c.Club, pages, message.AskSignIn{Mail: "ada@example.org"})
	c.waitForLetters(1)
}

// A program that was killed between the attempt and its outcome has left the
// attempt behind.
func TestAnAttemptThatWasCutOffIsInDoubt(t *testing.T) {
	c := start(t)
	c.post.refuses(fmt.Errorf("no route"))
	c.ask(c.introduced(message.HouseholdSort, "Cam Sedge", "cam@example.org"))
	require.Eventually(t, func() bool { return c.post.asked() > 0 }, time.Minute, 10*time.Millisecond)
	require.NoError(t, c.Rooms[people.Name].Stop(t.Context()))
	c.post.refuses(nil)
	c.DB.Exec(`UPDATE people.letter SET attempt_at = $1`, c.Clock.Now())
	c.Clock.Advance(time.Minute)
	require.NoError(t, c.Rooms[people.Name].Start(t.Context()))
	require.Eventually(t, func() bool { return len(c.unsettled()) == 1 }, time.Minute, 10*time.Millisecond)
	assert.Empty(t, c.post.all())
}

// In a folder the same letter twice is one file: there is nothing to decide.
func TestAFolderOfLettersIsInNoDoubt(t *testing.T) {
	t.Parallel()
	folder, err := mail.NewFolder(t.TempDir(), "book@quillwater.example")
	require.NoError(t, err)
	room := desktest.Room{Name: people.Name, Migrations: people.Migrations(), New: people.New(people.Config{BaseURL: base, Mail: folder})}
	c := &club{desktest.Start(t, room), t, &postOffice{}}
	require.NoError(t, c.Rooms[people.Name].Stop(t.Context()))
	c.DB.Exec(`INSERT INTO people.letter (key, sort, person, link, until, made_at, next_at, attempt_at) VALUES ('link-x', 'request', 'p', 'x', $1, $1, $1, $1)`, c.Clock.Now())
	c.Clock.Advance(time.Minute)
	require.NoError(t, c.Rooms[people.Name].Start(t.Context()))
	require.Eventually(t, func() bool { return strings.Contains(c.DB.Dump("people.letter"), "its link has ended") }, time.Minute, 10*time.Millisecond, "it is looked at again")
}
