package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"html"
	"io"
	"log/slog"
	"net/http"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/google/uuid"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/lifecycle"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	roomofpeople "refloat.example/services/people"
	"refloat.example/services/web"
)

// The limits that are asked for, in milliseconds.
const (
	consumerP50 = 5
	consumerP99 = 50
	seenP99     = 150
)

// benchFollow measures how long after an append was answered its event reaches a
// consumer, and the tables of a room, at 1,000 events a second; and how long after
// a click on one page another page shows it.
func benchFollow(ctx context.Context, s *session, sc *scene) error {
	kit, stop, err := sc.kit(ctx, s)
	if err != nil {
		return err
	}
	defer stop()
	a, err := open(ctx, s, sc, kit)
	if err != nil {
		return err
	}
	defer a.close()
	events, clicks := 5000, 200
	if s.quick {
		events, clicks = 2000, 60
	}
	if err := a.reachConsumers(ctx, s, events); err != nil {
		return err
	}
	return a.seeClicks(ctx, s, clicks)
}

// atWork is a small installation: the book with writer and relay, the people room
// and the pages.
type atWork struct {
	kit      desk.Kit
	group    *lifecycle.Group
	embedded *bus.Embedded
	listener *bus.Conn
	site     *web.Site
}

func open(ctx context.Context, s *session, sc *scene, kit desk.Kit) (*atWork, error) {
	log := slog.New(slog.DiscardHandler)
	a := &atWork{kit: kit, group: lifecycle.New(log)}
	var err error
	names := []string{bus.Relay, bus.Operator, roomofpeople.Name, web.Name}
	if a.embedded, err = bus.StartEmbedded(ctx, filepath.Join(s.scratch, "bus"), names, log); err != nil {
		return nil, err
	}
	conns := map[string]*bus.Conn{}
	for _, name := range names {
		if conns[name], err = bus.Connect(ctx, name, a.embedded.Access(name), log); err != nil {
			return nil, err
		}
	}
	a.listener = conns[bus.Operator]
	a.kit.Log = ledger.NewLog(kit.Pool, conns[bus.Relay], clock.System{}, log)
	if err := a.kit.Log.CheckStream(ctx, 1); err != nil {
		return nil, err
	}
	writer, relay := a.kit.Log.Parts(1)
	a.group.Add("writer", writer)
	a.group.Add("relay", relay)
	inPeople, inWeb := a.kit, a.kit
	inPeople.Bus, inWeb.Bus = conns[roomofpeople.Name], conns[web.Name]
	a.group.Add(roomofpeople.Name, roomofpeople.New(roomofpeople.Config{BaseURL: "http://club.example"})(inPeople))
	if a.site, err = web.New(web.Config{Listen: "127.0.0.1:0"}, inWeb); err != nil {
		return nil, err
	}
	a.group.Add(web.Name, a.site)
	return a, a.group.Start(ctx)
}

func (a *atWork) close() {
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	_ = a.group.Stop(ctx)
	_ = a.embedded.Stop(ctx)
}

// say writes one event.
func (a *atWork) say(ctx context.Context, stream string, body message.Body) (int64, error) {
	event, err := ledger.Event(stream, "", body)
	if err != nil {
		return 0, err
	}
	receipt, err := a.kit.Log.Append(ctx, ledger.Append{Key: uuid.NewString(), Digest: ledger.DigestOf([]byte("bench")), Actor: "room/bench", Events: []ledger.New{event}})
	return receipt.Position(), err
}

// arrivals notes when each position was answered, heard and shown.
type arrivals struct {
	mu       sync.Mutex
	answered map[int64]time.Time
	heard    map[int64]time.Time
	shown    map[int64]time.Time
}

func (r *arrivals) note(of map[int64]time.Time, position int64) {
	now := time.Now()
	r.mu.Lock()
	defer r.mu.Unlock()
	of[position] = now
}

// after gives how long after its answer each position was noted, in milliseconds,
// sorted; 0 for what came before its answer.
func (r *arrivals) after(of map[int64]time.Time) []float64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	var all []float64
	for position, at := range r.answered {
		if noted, ok := of[position]; ok {
			all = append(all, max(0, noted.Sub(at).Seconds()*1000))
		}
	}
	slices.Sort(all)
	return all
}

// reachConsumers appends one event a millisecond and watches where it arrives.
func (a *atWork) reachConsumers(ctx context.Context, s *session, events int) error {
	head, err := a.kit.Log.Head(ctx)
	if err != nil {
		return err
	}
	r := &arrivals{answered: map[int64]time.Time{}, heard: map[int64]time.Time{}, shown: map[int64]time.Time{}}
	last := head.Position + int64(events)
	following, enough := context.WithCancel(ctx)
	defer enough()
	followed := make(chan error, 1)
	go func() {
		followed <- a.listener.Follow(following, head.Position, func(_ context.Context, batch []message.Event) error {
			for _, e := range batch {
				r.note(r.heard, e.Position)
			}
			if batch[len(batch)-1].Position >= last {
				enough()
			}
			return nil
		})
	}()
	var working sync.WaitGroup
	working.Go(func() { // how far the pages' tables have come
		for at := head.Position + 1; at <= last; {
			if a.site.Heard(ctx, at) != nil && ctx.Err() != nil {
				return
			}
			for ; at <= min(last, a.site.Position()); at++ {
				r.note(r.shown, at)
			}
		}
	})
	tick := time.NewTicker(time.Millisecond)
	defer tick.Stop()
	slots := make(chan struct{}, 64)
	failed := make(chan error, events)
	begun := time.Now()
	for n := range events {
		<-tick.C
		slots <- struct{}{}
		working.Go(func() {
			defer func() { <-slots }()
			position, err := a.say(ctx, message.Person(people.ID(fmt.Sprint("p", n%500))), message.ConsentGiven{Person: people.ID(fmt.Sprint("p", n%500)), Text: "privacy 2026-1", How: "form"})
			if err != nil {
				failed <- err
				return
			}
			r.note(r.answered, position)
		})
	}
	rate := float64(events) / time.Since(begun).Seconds()
	working.Wait()
	close(failed)
	if err := errors.Join(<-failed, <-followed); err != nil {
		return err
	}
	heard, shown := r.after(r.heard), r.after(r.shown)
	note := fmt.Sprintf("%d events at %.0f a second; the people room and the pages follow too", len(heard), rate)
	return errors.Join(
		limit(s, "ledger/commit-to-consumer-p50", quantile(heard, 0.50), consumerP50, note),
		limit(s, "ledger/commit-to-consumer-p99", quantile(heard, 0.99), consumerP99, note),
		limit(s, "ledger/commit-to-tables-p50", quantile(shown, 0.50), 0, note),
		limit(s, "ledger/commit-to-tables-p99", quantile(shown, 0.99), 0, note))
}

// limit reports a time against the longest that is asked for; 0 asks for none.
func limit(s *session, name string, ours, most float64, note string) error {
	r := result{Bench: name, Ours: ours, Reference: most, Against: "the longest that is asked for", Unit: "ms", Better: lower, Demand: 1, Note: note}
	if most == 0 {
		r.Reference, r.Against, r.Demand = ours, "nothing: it is noted", 0
	}
	return s.report(r)
}

// quantile gives a quantile of sorted values.
func quantile(sorted []float64, q float64) float64 {
	return sorted[min(len(sorted)-1, int(q*float64(len(sorted))))]
}

// asItStood finds what a form says that it started from.
var asItStood = regexp.MustCompile(`name="as-it-stood" value="([^"]*)"`)

// seeClicks changes a setting on one page, as an administrator does, and reads
// another page as an auditor until it shows it.
func (a *atWork) seeClicks(ctx context.Context, s *session, clicks int) error {
	doer, err := a.enter(ctx, people.Administrator)
	if err != nil {
		return err
	}
	reader, err := a.enter(ctx, people.Auditor)
	if err != nil {
		return err
	}
	var took []float64
	for n := range clicks {
		value := fmt.Sprint(60 + n)
		form, err := doer.get(ctx, "/club/link-days")
		if err != nil {
			return err
		}
		stood := asItStood.FindStringSubmatch(form)
		if stood == nil {
			return errors.New("the form of a setting does not say what it started from")
		}
		begun := time.Now()
		if err := doer.send(ctx, "/club/link-days", url.Values{"value": {value}, "key": {uuid.NewString()}, "as-it-stood": {html.UnescapeString(stood[1])}}); err != nil {
			return err
		}
		for {
			page, err := reader.get(ctx, "/club")
			if err != nil {
				return err
			}
			if strings.Contains(page, ">"+value+"<") {
				break
			}
			if time.Since(begun) > 10*time.Second {
				return fmt.Errorf("a page does not show %s", value)
			}
		}
		took = append(took, time.Since(begun).Seconds()*1000)
	}
	slices.Sort(took)
	note := fmt.Sprintf("%d clicks: from sending the form until another reader's page, asked for again and again, shows it; no browser draws it", clicks)
	return errors.Join(
		limit(s, "ledger/click-to-seen-p50", quantile(took, 0.50), 0, note),
		limit(s, "ledger/click-to-seen-p99", quantile(took, 0.99), seenP99, note))
}

// reader is somebody at the pages, signed in.
type reader struct {
	base   string
	cookie string
}

// enter puts a member into the book and their session beside it.
func (a *atWork) enter(ctx context.Context, role people.Role) (*reader, error) {
	id := people.ID(uuid.NewString())
	position, err := a.say(ctx, message.Person(id), message.RoleGiven{Person: id, Role: role})
	if err != nil {
		return nil, err
	}
	if err := a.site.Heard(ctx, position); err != nil {
		return nil, err
	}
	secret := uuid.NewString()
	sum := sha256.Sum256([]byte(secret))
	_, err = a.kit.Pool.Exec(ctx, `INSERT INTO web.session (hash, person, link, expires, seen) VALUES ($1, $2, '', $3, 0)`, hex.EncodeToString(sum[:]), id, time.Now().Add(time.Hour))
	return &reader{"http://" + a.site.Addr(), secret}, err
}

func (r *reader) get(ctx context.Context, path string) (string, error) {
	return r.do(ctx, http.MethodGet, path, nil)
}

func (r *reader) send(ctx context.Context, path string, form url.Values) error {
	_, err := r.do(ctx, http.MethodPost, path, strings.NewReader(form.Encode()))
	return err
}

// noRedirects is a browser that does not go where a form leads.
var noRedirects = &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}

func (r *reader) do(ctx context.Context, method, path string, body io.Reader) (string, error) {
	request, err := http.NewRequestWithContext(ctx, method, r.base+path, body)
	if err != nil {
		return "", err
	}
	request.AddCookie(&http.Cookie{Name: "refloat", Value: r.cookie})
	request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	answer, err := noRedirects.Do(request)
	if err != nil {
		return "", err
	}
	defer func() { _ = answer.Body.Close() }()
	page, err := io.ReadAll(answer.Body)
	if err == nil && answer.StatusCode >= http.StatusBadRequest {
		err = fmt.Errorf("%s %s: %s", method, path, answer.Status)
	}
	return string(page), err
}
