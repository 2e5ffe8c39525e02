package web

import (
	"bytes"
	"context"
	"net/http"
	"net/url"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// maxForm bounds what a form may send, in bytes.
const maxForm = 1 << 20

// visit is one request, with who asks and what they typed.
type visit struct {
	*Site
	Who     Who
	w       http.ResponseWriter
	r       *http.Request
	ctx     context.Context
	route   route
	session *session

	typed    url.Values // of the form that was sent; nil for a page that is only read
	problems []problem  // what was wrong with it
	status   int        // of the answer
	boat     *Boat      // of a route with {boat}
	shared   bool       // the form carries what it started from
	api      bool       // a program asks, with a token of its own
	begun    int64      // how far the tables were when it was asked
}

// handle answers a route: recognise, check, do, and turn what went wrong into a
// page.
func (s *Site) handle(rt route) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		v := &visit{Site: s, w: w, r: r, ctx: r.Context(), route: rt, status: http.StatusOK}
		if err := v.answer(); err != nil {
			v.fail(err)
		}
	}
}

func (v *visit) answer() error {
	v.begun = v.Position()
	recognise := v.recognise
	if v.api {
		recognise = v.recogniseToken
	}
	if err := recognise(); err != nil {
		return err
	}
	if err := v.route.may.check(v.Who); err != nil {
		return err
	}
	if v.route.body > 0 {
		v.r.Body = http.MaxBytesReader(v.w, v.r.Body, v.route.body)
	} else if v.r.Method == http.MethodPost {
		v.r.Body = http.MaxBytesReader(v.w, v.r.Body, maxForm)
		if err := v.r.ParseForm(); err != nil {
			return fault.Because(fault.Invalid, err, "The form could not be read; it may be too long.")
		}
		v.typed = v.r.PostForm
	}
	if id := v.param("boat"); id != "" {
		b, err := v.findBoat(id)
		if err != nil {
			return err
		}
		v.boat = &b
	}
	return v.route.do(v)
}

// param gives a part of the address that the route names in braces.
func (v *visit) param(name string) string { return chi.URLParam(v.r, name) }

// asking is how the viewer gives orders and asks rooms.
func (v *visit) asking() desk.Asking {
	a := desk.Asking{By: v.Who.Actor(), Key: v.typed.Get("key")}
	if v.session != nil {
		a.Seen = v.session.seen
	}
	return a
}

// order gives a command and waits until the pages' own tables show what came of
// it.
func (v *visit) order(command desk.Commanded) (message.Reply, error) {
	return v.orderAs(v.asking(), command)
}

// orderAs gives a command for somebody else than the viewer.
func (v *visit) orderAs(asking desk.Asking, command desk.Commanded) (message.Reply, error) {
	if asking.Key == "" {
		return message.Reply{}, fault.New(fault.Invalid, "The form was not complete. Open it again and send it from there.")
	}
	reply, err := v.rooms.Do(v.ctx, asking, command)
	if err != nil {
		return reply, err
	}
	if err := v.remember(reply.Position); err != nil {
		return reply, err
	}
	// What was asked is written. When the tables are slow, the next page waits
	// again, so this is no reason to say that it failed.
	_ = v.Heard(v.ctx, reply.Position)
	return reply, nil
}

// ask asks a room a question for the viewer.
func ask[A any](v *visit, question desk.Commanded) (A, error) {
	return askAs[A](v, v.asking(), question)
}

// askAs asks a room a question for somebody else than the viewer.
func askAs[A any](v *visit, asking desk.Asking, question desk.Commanded) (A, error) {
	return desk.Ask[A](v.ctx, v.rooms, asking, question)
}

// goTo sends the browser on after a form, with a code from said that the next
// page turns into a sentence.
func (v *visit) goTo(address, code string) error {
	if code != "" {
		address += "?done=" + url.QueryEscape(code)
	}
	http.Redirect(v.w, v.r, address, http.StatusSeeOther)
	return nil
}

// show writes a page from the template of that name. data embeds a Frame.
func (v *visit) show(name string, data any) error {
	var page bytes.Buffer
	if err := v.look.page(&page, v.voice(), name, data); err != nil {
		return err
	}
	return v.write("text/html; charset=utf-8", page.Bytes())
}

func (v *visit) write(contentType string, body []byte) error {
	v.w.Header().Set("Content-Type", contentType)
	v.w.WriteHeader(v.status)
	_, _ = v.w.Write(body) // the reader has gone: nobody left to tell
	return nil
}

// Frame is what every page has around its own content.
type Frame struct {
	Title    string
	Club     string
	Who      Who
	People   directory
	Demo     bool
	Path     string
	Done     string // what was done by the form before
	Problems []problem
	Table    string // where the page stands as a table
	Sought   string // what stands in the field at the head of the page
	// Neutral marks a page that is shown when nothing can be reached; Kept marks
	// whose the things are that the browser keeps.
	Neutral bool
	Kept    string
	// Voice is how the page speaks. Here, when set, is the page's own address, to
	// come back to after choosing another language.
	Voice voice
	Here  string
	// Live, when set, is the address of the stream that says when the page changed,
	// and At the position up to which it shows the book (live.go).
	Live string
	At   int64
}

// frame gives the frame of a page.
func (v *visit) frame(title string) Frame {
	club, err := v.Setting(v.ctx, "legal-name")
	if err != nil || club == "" {
		club = v.say("The club's boats")
	}
	here := ""
	if v.r.Method == http.MethodGet && !v.Who.Member() {
		here = v.r.URL.Path
	}
	return Frame{
		Title: v.say(title), Voice: v.voice(), Here: here, Club: club, Who: v.Who, People: v.directory(), Demo: v.cfg.Demo, Path: v.r.URL.Path, Table: v.tableAddress(),
		Done: v.say(v.said[v.r.URL.Query().Get("done")]), Problems: v.problems, Kept: keptFor(v.Who),
	}
}

// freshID makes an id for something new, or a request key.
func freshID() string { return uuid.Must(uuid.NewV7()).String() }
