package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/people"
	"refloat.example/services/refloat/importer"
)

// storyFile is what happens in the demonstration club.
const storyFile = "story.jsonl"

// A step is one line of the story: who orders what, as of when (zero: now), or
// "import boats" and so on for the club's lists, which lie in the same folder. In
// the payload "@boat/heron" stands for the id that the import gives to the boat
// with the reference heron, likewise for every other kind of thing, and "@today"
// for the day.
type step struct {
	By   string          `json:"by"` // person/REFERENCE, link/REFERENCE, operator
	At   time.Time       `json:"at"`
	Do   string          `json:"do"` // a command's verb
	With json.RawMessage `json:"with"`
}

// A player plays the demonstration club through the rooms, like the people whom
// it is about. Every order has a key of its own, so that playing again, after
// whatever crash, changes nothing.
type player struct {
	client desk.Client
	pool   *pgxpool.Pool
	folder string
	seen   int64
}

// playFor bounds one step, tries after crashes included.
const playFor = 60 * time.Second

// play tells the story.
func (p *player) play(ctx context.Context) error {
	steps, err := readStory(filepath.Join(p.folder, storyFile))
	if err != nil {
		return err
	}
	for i, s := range steps {
		if err := p.step(ctx, fmt.Sprintf("demo/%d", i+1), s); err != nil {
			return fmt.Errorf("%s line %d (%s): %w", storyFile, i+1, s.Do, err)
		}
	}
	return p.settle(ctx)
}

// bringIn imports one of the club's lists, trying again while something is down.
func (p *player) bringIn(ctx context.Context, kind string) error {
	file := filepath.Join(p.folder, kind+".csv")
	return p.insist(ctx, func() error {
		summary, err := importer.Run(ctx, p.client, kind, file, importer.Options{}, io.Discard)
		if err != nil {
			return err
		}
		if len(summary.Problems) > 0 {
			return fault.New(fault.Invalid, "%s: %s", file, summary.Problems[0])
		}
		p.seen = max(p.seen, summary.Position)
		return p.settle(ctx)
	})
}

func readStory(file string) ([]step, error) {
	raw, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	var steps []step
	number := 0
	for line := range bytes.Lines(raw) {
		number++
		if len(bytes.TrimSpace(line)) == 0 || bytes.HasPrefix(line, []byte("//")) {
			continue
		}
		var s step
		dec := json.NewDecoder(bytes.NewReader(line))
		dec.DisallowUnknownFields()
		if err := dec.Decode(&s); err != nil {
			return nil, fmt.Errorf("%s line %d: %w", file, number, err)
		}
		steps = append(steps, s)
	}
	return steps, nil
}

// step gives one order and waits until every room has heard of it.
func (p *player) step(ctx context.Context, key string, s step) error {
	if kind, ok := strings.CutPrefix(s.Do, "import "); ok {
		return p.bringIn(ctx, kind)
	}
	by, err := actorOf(s.By)
	if err != nil {
		return err
	}
	data := resolve(s.With)
	return p.insist(ctx, func() error {
		reply, err := p.client.DoRaw(ctx, desk.Asking{By: by, Key: key, Seen: p.seen, HappenedAt: s.At}, s.Do, data)
		if err != nil {
			return err
		}
		p.seen = max(p.seen, reply.Position)
		return p.settle(ctx)
	})
}

// insist tries again while a part is down or starting.
func (p *player) insist(ctx context.Context, try func() error) error {
	ctx, cancel := context.WithTimeout(ctx, playFor)
	defer cancel()
	for {
		err := try()
		down := fault.Is(err, fault.Unavailable) || fault.Is(err, fault.Busy) || fault.Is(err, fault.Internal)
		if err == nil || !down {
			return err
		}
		select {
		case <-time.After(100 * time.Millisecond):
		case <-ctx.Done():
			return err
		}
	}
}

func actorOf(by string) (people.Actor, error) {
	kind, reference, _ := strings.Cut(by, "/")
	switch kind {
	case "person":
		return people.Member(people.ID(importer.ID("person", reference))), nil
	case "link":
		return people.Actor{Link: importer.ID("link", reference)}, nil
	case "operator":
		return people.Service(desk.AtMachine), nil
	}
	return people.Actor{}, fmt.Errorf("nobody is called %q", by)
}

var referencePattern = regexp.MustCompile(`"@([a-z]+)(?:/([^"]+))?"`)

// today is the day as the story's "@today" has it.
func today() string { return clock.DateOf(clock.System{}.Now()).String() }

// resolve puts ids where the story has references.
func resolve(data json.RawMessage) json.RawMessage {
	return referencePattern.ReplaceAllFunc(data, func(match []byte) []byte {
		parts := referencePattern.FindSubmatch(match)
		if string(parts[1]) == "today" {
			return fmt.Appendf(nil, "%q", today())
		}
		return fmt.Appendf(nil, "%q", importer.ID(string(parts[1]), string(parts[2])))
	})
}

// settle waits until every room has heard, and reacted to, what stands in the
// book.
func (p *player) settle(ctx context.Context) error {
	var parts []string
	for _, name := range allRooms {
		parts = append(parts, `SELECT position FROM `+name+`.cursor`)
	}
	query := `SELECT (SELECT min(position) FROM (` + strings.Join(parts, " UNION ALL ") + `) AS c), (SELECT position FROM ledger.head)`
	for begin := time.Now(); ; {
		var slowest, head int64
		if err := p.pool.QueryRow(ctx, query).Scan(&slowest, &head); err != nil {
			return fault.Because(fault.Unavailable, err, "the database does not answer")
		}
		if slowest >= head {
			return nil
		}
		if time.Since(begin) > 10*time.Second {
			return fault.New(fault.Unavailable, "some room has not heard beyond position %d of %d", slowest, head)
		}
		select {
		case <-time.After(2 * time.Millisecond):
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// playDemo plays the demonstration club into this process's own rooms.
func (p *program) playDemo(ctx context.Context) (summary, error) {
	conn, err := p.connect(ctx, bus.Operator)
	if err != nil {
		return summary{}, err
	}
	player := &player{client: desk.Client{Conn: conn}, pool: p.pool, folder: p.cfg.Demo}
	if err := player.play(ctx); err != nil {
		return summary{}, fmt.Errorf("playing the demonstration club: %w", err)
	}
	return summarise(ctx, ledger.NewReader(p.pool))
}

// playCommand answers `refloat play DIR`.
func playCommand(ctx context.Context, args []string, c console) int {
	cfg, rest, err := readConfig("play", args, c.env, c.problems, nil)
	if err == nil && len(rest) != 1 {
		err = errors.New("say which folder: refloat play testdata/demo")
	}
	if err != nil {
		return usage(c, err)
	}
	a, err := attach(ctx, cfg, c)
	if err != nil {
		return c.complain(err)
	}
	player := &player{client: a.client, pool: a.pool, folder: rest[0]}
	err = player.play(ctx)
	if err == nil {
		var s summary
		if s, err = summarise(ctx, a.reader()); err == nil {
			err = printJSON(c.out, s)
		}
	}
	if err = errors.Join(err, a.detach()); err != nil {
		return c.complain(err)
	}
	return exitOK
}
