package web

import (
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/fault"
)

// A page that shows something that changes listens to a stream of server-sent
// events (HTML Standard, §9.2) at its own address with /live behind it. The stream
// says that something changed and nothing of what: the page then fetches itself,
// as its reader may see it (static/live.js). Without the script the page is as it
// was when it was opened.

const (
	// liveBeat is how often a stream shows that it is alive, and looks whether its
	// reader is still signed in and may still open the page.
	liveBeat = 20 * time.Second
	// livePause gathers changes that come together.
	livePause = 200 * time.Millisecond
	// liveWrite bounds one write: a reader who takes nothing is gone.
	liveWrite = 10 * time.Second
	// livesOfOne bounds the streams of a session: pages that are in sight in several
	// windows. livesOfAll bounds those of the process.
	livesOfOne = 8
	livesOfAll = 1000
)

// lives are the streams that are open.
type lives struct {
	beat time.Duration
	// Under mu.
	mu      sync.Mutex
	open    map[string]int // by session
	all     int
	stopped bool
	called  chan struct{} // closed and replaced when every stream is to look who it is for
}

func newLives() *lives {
	return &lives{beat: liveBeat, open: map[string]int{}, called: make(chan struct{})}
}

// enter counts a stream in, unless there are too many.
func (l *lives) enter(session string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.stopped || l.all >= livesOfAll || l.open[session] >= livesOfOne {
		return false
	}
	l.open[session]++
	l.all++
	return true
}

func (l *lives) leave(session string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.all--
	if l.open[session]--; l.open[session] == 0 {
		delete(l.open, session)
	}
}

// call lets every stream look whether its reader may still listen.
func (l *lives) call() {
	l.mu.Lock()
	defer l.mu.Unlock()
	close(l.called)
	l.called = make(chan struct{})
}

// stop ends every stream: the server waits for requests under way.
func (l *lives) stop() {
	l.mu.Lock()
	l.stopped = true
	l.mu.Unlock()
	l.call()
}

func (l *lives) now() (called <-chan struct{}, stopped bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.called, l.stopped
}

// topic is what of the book a page shows: a condition on web.history, in which $1
// is subject's. Coarse is fine: a page that has not changed is fetched in vain.
type topic struct {
	where   string
	subject func(v *visit) string
	beats   bool // shows what no event tells, too, and is fetched at each beat
}

var (
	anythingNew = topic{where: `$1 = ''`, subject: func(*visit) string { return "" }}
	// roomsHealth is whether rooms keep up, of which nothing is said in the book.
	roomsHealth = topic{where: `$1 = ''`, subject: func(*visit) string { return "" }, beats: true}
	ofTheBoat   = topic{where: `boat = $1`, subject: func(v *visit) string { return v.param("boat") }}
	// ofPlacing is all that rounds, requests, offers and their boats go through.
	ofPlacing = topic{where: `$1 = '' AND stream LIKE 'matching.%'`, subject: func(*visit) string { return "" }}
	// ofTheRequest is the request's own, and what becomes of boats offered for it.
	ofTheRequest = topic{
		where:   `(stream = 'matching.request/' || $1 OR boat IN (SELECT boat FROM web.offer WHERE request = $1))`,
		subject: func(v *visit) string { return v.Who.Link.Subject },
	}
)

// liveBehind is what stands behind a page's address in that of its stream.
const liveBehind = "/live"

// alive gives the stream of a page, for the page's own readers.
func alive(page route, about topic) route {
	path := page.path + liveBehind
	if page.path == "/" {
		path = liveBehind
	}
	return get(path, page.may, func(v *visit) error { return v.listen(about) })
}

func liveRoutes() []route {
	return []route{
		alive(get("/", anyMember, nil), anythingNew),
		alive(get("/boats/{boat}", anyMember, nil), ofTheBoat),
		alive(get("/rounds/{round}", placing, nil), ofPlacing),
		alive(get("/my/request", applicant, nil), ofTheRequest),
		alive(get("/book", overseers, nil), roomsHealth),
	}
}

// listens marks a page that is read as one that keeps itself up to date, by the
// stream of a page.
func (f *Frame) listens(v *visit, page string) {
	if v.r.Method != http.MethodGet {
		return
	}
	if page == "/" {
		page = ""
	}
	f.Live, f.At = page+liveBehind, v.begun
}

// listen keeps a stream open until its reader leaves, signs out or may no longer,
// or the server stops. The browser opens it anew by itself.
func (v *visit) listen(about topic) error {
	if v.session == nil || !v.lives.enter(v.session.hash) {
		return fault.New(fault.Busy, "too many pages listen at once")
	}
	defer v.lives.leave(v.session.hash)
	s := stream{v: v, out: http.NewResponseController(v.w), about: about, at: after(v.r)}
	// The whole of an answer has a time limit, which a stream has not; each of its
	// writes has one. What is read says only that the reader has gone.
	if err := s.out.SetReadDeadline(time.Time{}); err != nil {
		return err
	}
	v.w.Header().Set("Content-Type", "text/event-stream")
	v.w.Header().Set("X-Accel-Buffering", "no") // a proxy before the pages is not to gather it
	v.w.WriteHeader(http.StatusOK)
	if err := s.run(); err != nil && v.ctx.Err() == nil {
		v.Slog.InfoContext(v.ctx, "a stream of changes ended", "route", v.route.path, "err", err)
	}
	return nil
}

// after says up to where the reader has seen: told by the page, or, after a break,
// by the browser.
func after(r *http.Request) int64 {
	page, _ := strconv.ParseInt(r.URL.Query().Get("after"), 10, 64)
	last, _ := strconv.ParseInt(r.Header.Get("Last-Event-ID"), 10, 64)
	return max(page, last, 0)
}

// stream is one reader's.
type stream struct {
	v     *visit
	out   *http.ResponseController
	about topic
	at    int64 // up to where was looked
}

func (s *stream) run() error {
	beat := time.NewTicker(s.v.lives.beat)
	defer beat.Stop()
	if err := s.say(": here\n\n"); err != nil {
		return err
	}
	for {
		called, stopped := s.v.lives.now()
		position, moved := s.v.Moved()
		if stopped {
			return nil
		}
		if position > s.at {
			if done, err := s.look(position); done || err != nil {
				return err
			}
		}
		var err error
		select {
		case <-s.v.ctx.Done():
			return nil
		case <-moved:
			err = s.pause()
		case <-called:
			err = s.v.stillMay()
		case <-beat.C:
			if err = s.v.stillMay(); err == nil {
				err = s.beat()
			}
		}
		if err != nil {
			return err
		}
	}
}

// look tells the reader if something of theirs changed up to a position. It is done
// when they may not be told.
func (s *stream) look(position int64) (done bool, err error) {
	var changed, oneself bool
	err = s.v.Pool.QueryRow(s.v.ctx, `
		SELECT EXISTS (SELECT FROM web.history WHERE position > $2 AND position <= $3 AND `+s.about.where+`),
		       EXISTS (SELECT FROM web.history WHERE position > $2 AND position <= $3 AND stream = 'people.person/' || $4)`,
		s.about.subject(s.v), s.at, position, s.v.Who.Person).Scan(&changed, &oneself)
	if err != nil {
		return false, err
	}
	s.at = position
	if !changed && !oneself {
		return false, nil
	}
	if err := s.v.stillMay(); err != nil {
		return true, err
	}
	if !changed {
		return false, nil
	}
	return false, s.tell()
}

func (s *stream) tell() error {
	return s.say(fmt.Sprintf("id: %d\nevent: changed\ndata: \n\n", s.at))
}

func (s *stream) beat() error {
	if s.about.beats {
		return s.tell()
	}
	return s.say(": here\n\n")
}

func (s *stream) say(text string) error {
	if err := s.out.SetWriteDeadline(time.Now().Add(liveWrite)); err != nil {
		return err
	}
	if _, err := s.v.w.Write([]byte(text)); err != nil {
		return err
	}
	return s.out.Flush()
}

// pause waits for what comes together with a change.
func (s *stream) pause() error {
	select {
	case <-s.v.ctx.Done():
	case <-time.After(livePause):
	}
	return nil
}

// stillMay looks anew whether the viewer's session stands and opens the route.
func (v *visit) stillMay() error {
	var found session
	err := v.Pool.QueryRow(v.ctx, `SELECT person, link FROM web.session WHERE hash = $1 AND expires > $2`, v.session.hash, v.Clock.Now()).Scan(&found.person, &found.link)
	if errors.Is(err, pgx.ErrNoRows) {
		return fault.New(fault.SignIn, "signed out")
	}
	if err != nil {
		return err
	}
	v.Who = Who{}
	if found.link != "" {
		err = v.recogniseLink(found)
	} else {
		err = v.recogniseMember(found.person)
	}
	if err != nil {
		return err
	}
	return v.route.may.check(v.Who)
}
