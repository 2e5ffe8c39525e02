package main

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/prometheus/client_golang/prometheus"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/watch"
)

// watching is what a program knows of itself.
type watching struct {
	figures *watch.Figures
	relay   *bus.Conn // the book's connection to the bus
	rooms   []tended
	health  func(context.Context) watch.Health
	server  *watch.Server // nil when nobody may look
	traces  func(context.Context) error
}

// tended is a room of this process.
type tended struct {
	name string
	room roomPart
}

func (p *program) startWatching(ctx context.Context) (err error) {
	p.figures = watch.NewFigures()
	p.health = watch.Latest(p.look)
	p.figures.Add(standings{p.health})
	if p.traces, err = watch.StartTraces(ctx, p.cfg.TracesTo); err != nil {
		return fmt.Errorf("the collector of traces: %w", err)
	}
	return nil
}

// addWatcher lets others look, behind the rooms: it answers for as long as they
// run.
func (p *program) addWatcher() {
	if p.cfg.WatchListen != "" {
		p.server = watch.NewServer(p.cfg.WatchListen, p.figures, p.health)
		p.group.Add("health and figures", p.server)
	}
}

func (w *watching) watchAddress() string {
	if w.server == nil {
		return ""
	}
	return "http://" + w.server.Addr()
}

func (w *watching) stopTraces(ctx context.Context) error {
	if w.traces == nil {
		return nil
	}
	return w.traces(ctx)
}

const (
	// lookFor bounds the questions that readiness needs.
	lookFor = 2 * time.Second
	// late is how long an event may stand in the book before a room that has not
	// heard it is not ready: people would not see what they have just done.
	late = 10 * time.Second
)

// look finds out how the process stands.
func (p *program) look(ctx context.Context) watch.Health {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), lookFor)
	defer cancel()
	h := watch.Health{Ready: true, Rooms: []watch.RoomHealth{}}
	positions := make([]int64, len(p.rooms))
	for i, r := range p.rooms {
		positions[i] = r.room.Position()
	}
	head, waits, err := waitingSince(ctx, p.pool, positions)
	if err != nil {
		h.Ready, h.Why = false, "the database does not answer"
	}
	h.Head = head
	if last, err := p.relay.BookLast(ctx); err == nil {
		h.Relayed = last
	}
	for i, r := range p.rooms {
		room := standingOf(r, positions[i], head, waits[positions[i]+1])
		if h.Why != "" {
			room.Ready, room.Why = false, h.Why
		}
		h.Ready = h.Ready && room.Ready
		h.Rooms = append(h.Rooms, room)
	}
	return h
}

// standingOf says how a room stands whose next event was written at an instant.
func standingOf(r tended, position, head int64, next time.Time) watch.RoomHealth {
	h := watch.RoomHealth{Room: r.name, Position: position, Behind: max(0, head-position), Why: r.room.Lost()}
	if !next.IsZero() {
		h.Late = max(0, time.Since(next).Seconds())
	}
	if h.Why == "" && h.Late > late.Seconds() {
		h.Why = fmt.Sprintf("it is %d events behind the book", h.Behind)
	}
	h.Ready = h.Why == ""
	return h
}

// waitingSince gives where the book ends, and for each position when the event
// behind it was written, if there is one.
func waitingSince(ctx context.Context, pool *pgxpool.Pool, positions []int64) (head int64, written map[int64]time.Time, err error) {
	h, err := ledger.NewReader(pool).Head(ctx)
	if err != nil {
		return 0, nil, err
	}
	next := make([]int64, len(positions))
	for i, position := range positions {
		next[i] = position + 1
	}
	rows, err := pool.Query(ctx, `SELECT position, recorded_at FROM ledger.event WHERE position = ANY ($1)`, next)
	if err != nil {
		return h.Position, nil, err
	}
	written = map[int64]time.Time{}
	var position int64
	var at time.Time
	_, err = pgx.ForEachRow(rows, []any{&position, &at}, func() error { written[position] = at; return nil })
	return h.Position, written, err
}

// standings are figures that need a question to the database or the bus.
type standings struct {
	health func(context.Context) watch.Health
}

var (
	bookPosition  = prometheus.NewDesc("refloat_book_position", "Position at which the book ends.", nil, nil)
	relayPosition = prometheus.NewDesc("refloat_relay_position", "Position up to which the event stream holds the book.", nil, nil)
	relayLag      = prometheus.NewDesc("refloat_relay_lag_events", "Events that the event stream lacks.", nil, nil)
	roomReady     = prometheus.NewDesc("refloat_room_ready", "1 when the room works and is not late.", []string{"room"}, nil)
	roomPosition  = prometheus.NewDesc("refloat_projection_position", "Position that the room's tables have come to in this process.", []string{"room"}, nil)
	roomLag       = prometheus.NewDesc("refloat_projection_lag_events", "Events that the room's tables have not heard.", []string{"room"}, nil)
	roomLate      = prometheus.NewDesc("refloat_projection_lag_seconds", "How long the oldest event that the room's tables have not heard stands in the book.", []string{"room"}, nil)
)

// Describe names the figures.
func (s standings) Describe(to chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{bookPosition, relayPosition, relayLag, roomReady, roomPosition, roomLag, roomLate} {
		to <- d
	}
}

// Collect gives them as they are now.
func (s standings) Collect(to chan<- prometheus.Metric) {
	h := s.health(context.Background())
	say := func(d *prometheus.Desc, value float64, labels ...string) {
		to <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, value, labels...)
	}
	if h.Why == "" {
		say(bookPosition, float64(h.Head))
	}
	if h.Why == "" && h.Relayed > 0 {
		say(relayPosition, float64(h.Relayed))
		say(relayLag, float64(max(0, h.Head-h.Relayed)))
	}
	for _, r := range h.Rooms {
		ready := 0.
		if r.Ready {
			ready = 1
		}
		say(roomReady, ready, r.Room)
		say(roomPosition, float64(r.Position), r.Room)
		if h.Why == "" {
			say(roomLag, float64(r.Behind), r.Room)
			say(roomLate, r.Late, r.Room)
		}
	}
}
