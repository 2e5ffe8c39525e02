package web

import (
	"context"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/vault"
)

// club is a club with the pages, and with stand-ins for the rooms that a test
// needs.
type club struct {
	*desktest.Club
	t    testing.TB
	site *Site
}

// open starts the pages. rooms are stand-ins; the people room is always there.
func open(t testing.TB, rooms ...desktest.Room) *club {
	t.Helper()
	c := &club{t: t}
	pages := desktest.Room{Name: Name, Migrations: Migrations(), New: func(kit desk.Kit) *desk.Desk {
		site, err := New(Config{Listen: "127.0.0.1:0"}, kit)
		require.NoError(t, err)
		c.site = site
		return site.Desk
	}}
	c.Club = desktest.Start(t, append(rooms, pages, doorkeeper())...)
	c.serve()
	return c
}

// serve lets the pages be asked until the test ends.
func (c *club) serve() {
	require.NoError(c.t, c.site.server.Start(c.t.Context()))
	c.t.Cleanup(func() {
		ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
		defer cancel()
		require.NoError(c.t, c.site.server.Stop(ctx))
	})
}

// noTables stands for the migrations of a room that keeps nothing of its own.
func standIn(name string, take func(d *desk.Desk)) desktest.Room {
	return desktest.Room{Name: name, Migrations: desk.Migrations(name, noFiles{}), New: func(kit desk.Kit) *desk.Desk {
		d := desk.New(name, kit)
		take(d)
		return d
	}}
}

// doorkeeper stands for the people room: the secret of a link is the person, or
// the private link, itself.
func doorkeeper() desktest.Room {
	return standIn("people", func(d *desk.Desk) {
		desk.Answer(d, desk.Allow{Public: true}, func(context.Context, desk.Caller, message.AskSignIn) (message.SignInAsked, error) {
			return message.SignInAsked{Minutes: 20}, nil
		})
		desk.Answer(d, desk.Allow{Public: true}, func(_ context.Context, _ desk.Caller, q message.RedeemSignIn) (message.SignedIn, error) {
			return message.SignedIn{Person: people.ID(q.Token)}, nil
		})
		desk.Answer(d, desk.Allow{Public: true}, func(_ context.Context, _ desk.Caller, q message.OpenLink) (message.OpenedLink, error) {
			return message.OpenedLink{Link: q.Token, Purpose: people.OwnRequest}, nil
		})
	})
}

// knows puts a person with a name into the book.
func (c *club) knows(id people.ID, sort message.Sort, name string) {
	c.t.Helper()
	sealed, err := c.Vault.Seal(c.t.Context(), string(id), message.SealDetails, message.PersonDetails{Name: name, Mail: strings.ToLower(name[:1]) + "@example.org"})
	require.NoError(c.t, err)
	c.Say(message.Person(id), "", message.PersonRegistered{Person: id, Sort: sort, Sealed: string(sealed)})
}

var _ = vault.ErrErased

// browser is somebody with a browser that keeps cookies and does not follow
// redirects by itself.
type browser struct {
	*club
	http *http.Client
	who  people.ID
	// agent is what the browser calls itself; empty: what Go's client does.
	agent string
}

func (c *club) visitor() *browser {
	jar, err := cookiejar.New(nil)
	require.NoError(c.t, err)
	return &browser{c, &http.Client{Jar: jar, Timeout: 20 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}, "", ""}
}

// member signs a new member in, through the door.
func (c *club) member(roles ...people.Role) *browser {
	c.t.Helper()
	actor := c.Member(roles...)
	c.knows(actor.Person, message.MemberSort, "Marigold Finch")
	c.Settle()
	b := c.visitor()
	b.who = actor.Person
	answer := b.send("/sign-in/"+string(actor.Person), url.Values{"key": {freshID()}})
	require.Equal(c.t, http.StatusSeeOther, answer.status, answer.text)
	return b
}

// holder signs in somebody with a private link.
func (c *club) holder(person people.ID, purpose people.Purpose, subject string) *browser {
	c.t.Helper()
	link := c.Link(person, purpose, subject)
	c.Settle()
	b := c.visitor()
	answer := b.send("/link/"+link.Link, url.Values{"key": {freshID()}})
	require.Equal(c.t, http.StatusSeeOther, answer.status, answer.text)
	return b
}

// answer is what came back.
type answer struct {
	*sheet
	status int
	header http.Header
}

// to is where a redirect leads.
func (a answer) to() string { return a.header.Get("Location") }

func (b *browser) get(path string) answer {
	b.t.Helper()
	req, err := http.NewRequestWithContext(b.t.Context(), http.MethodGet, "http://"+b.site.Addr()+path, nil)
	require.NoError(b.t, err)
	return b.do(req)
}

// send sends a form's values as they are.
func (b *browser) send(path string, values url.Values) answer {
	b.t.Helper()
	req, err := http.NewRequestWithContext(b.t.Context(), http.MethodPost, "http://"+b.site.Addr()+path, strings.NewReader(values.Encode()))
	require.NoError(b.t, err)
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return b.do(req)
}

func (b *browser) do(req *http.Request) answer {
	b.t.Helper()
	if b.agent != "" {
		req.Header.Set("User-Agent", b.agent)
	}
	res, err := b.http.Do(req)
	require.NoError(b.t, err)
	defer res.Body.Close()
	if strings.HasPrefix(res.Header.Get("Content-Type"), "text/html") {
		s := readSheet(b.t, res.Body)
		if res.StatusCode != http.StatusSeeOther {
			s.sound(req.Method + " " + req.URL.Path)
		}
		return answer{s, res.StatusCode, res.Header}
	}
	raw, err := io.ReadAll(res.Body)
	require.NoError(b.t, err)
	return answer{&sheet{t: b.t, text: string(raw)}, res.StatusCode, res.Header}
}

// open gets a page that must be there.
func (b *browser) open(path string) answer {
	b.t.Helper()
	a := b.get(path)
	require.Equal(b.t, http.StatusOK, a.status, "%s: %s", path, a.text)
	return a
}

// fill opens a page, fills its form and sends it: what is not typed is sent as
// the page has it.
func (b *browser) fill(path, form string, typed map[string]string) answer {
	b.t.Helper()
	page := b.open(path)
	return b.fillIn(page, form, typed)
}

func (b *browser) fillIn(page answer, form string, typed map[string]string) answer {
	b.t.Helper()
	element := page.byID(form)
	require.NotNil(b.t, element, "no form %s in:\n%s", form, page.text)
	values, named := url.Values{}, map[string]bool{}
	for _, n := range all(element, "input", "select", "textarea") {
		name := attr(n, "name")
		named[name] = true
		switch kind := attr(n, "type"); {
		case n.Data == "textarea":
			values.Set(name, textOf(n))
		case n.Data == "select":
			for _, option := range all(n, "option") {
				if hasAttr(option, "selected") {
					values.Set(name, attr(option, "value"))
				}
			}
		case kind == "radio" || kind == "checkbox":
			if hasAttr(n, "checked") {
				values.Add(name, attr(n, "value"))
			}
		default:
			values.Set(name, attr(n, "value"))
		}
	}
	for name, value := range typed {
		require.True(b.t, named[name], "the form %s has no input %s", form, name)
		values[name] = strings.Split(value, "|")
	}
	return b.send(attr(element, "action"), values)
}

// done fills and sends a form, and opens the page that it leads to.
func (b *browser) done(path, form string, typed map[string]string) answer {
	b.t.Helper()
	a := b.fill(path, form, typed)
	require.Equal(b.t, http.StatusSeeOther, a.status, "%s: %s", path, a.text)
	return b.open(a.to())
}
