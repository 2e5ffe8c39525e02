package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/photo"
	"refloat.example/pkg/postgres"
	"refloat.example/pkg/vault"
	"refloat.example/services/web"
)

const (
	findingsPerBoat = 20
	// pageLimit is what the slowest twentieth of the answers has to stay below.
	pageLimit = 30.0 // milliseconds
)

// benchPages measures what somebody at a browser waits for: the pages as they are
// served over the loopback, signed in, with their names opened, beside the rows
// that they show, read by a bare statement over the same kind of connection.
func benchPages(ctx context.Context, s *session) error {
	return inScene(ctx, s, measurePages)
}

// club is the pages of a large club.
type club struct {
	*scene
	server *httptest.Server
	cookie *http.Cookie
	boats  []web.Boat
	random *rand.Rand
	keys   *vault.Vault
}

func measurePages(ctx context.Context, s *session, sc *scene) error {
	boats, requests := 10_000, 400
	if s.quick {
		boats, requests = 1000, 100
	}
	c := &club{scene: sc, random: rand.New(rand.NewPCG(7, 11))}
	if err := c.fill(ctx, s, boats); err != nil {
		return err
	}
	defer c.server.Close()
	for _, figure := range []struct {
		name string
		draw func() (address, sql string, args []any)
	}{
		{"list", c.drawList}, {"search", c.drawSearch}, {"boat", c.drawBoat},
	} {
		medians, err := s.inTurn(ctx,
			func(ctx context.Context) (float64, error) {
				return slowTwentieth(requests, func() error { address, _, _ := figure.draw(); return c.get(ctx, address) })
			},
			func(ctx context.Context) (float64, error) {
				return slowTwentieth(requests, func() error { _, sql, args := figure.draw(); return c.read(ctx, sql, args) })
			})
		if err != nil {
			return fmt.Errorf("%s: %w", figure.name, err)
		}
		size := fmt.Sprintf("%d boats, %d findings", boats, boats*findingsPerBoat)
		err = s.report(result{Bench: "pages/" + figure.name + "-p95", Ours: medians[0], Reference: medians[1],
			Against: "a bare SELECT of the same rows", Unit: "ms", Better: lower, Note: size})
		if err == nil {
			err = s.report(result{Bench: "pages/" + figure.name + "-limit", Ours: medians[0], Reference: pageLimit,
				Against: "the limit for the slowest twentieth", Unit: "ms", Better: lower, Demand: 1, Note: size})
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// slowTwentieth gives the 95th percentile of the time that something takes, in
// milliseconds.
func slowTwentieth(times int, do func() error) (float64, error) {
	took := make([]float64, times)
	for i := range took {
		begin := time.Now()
		if err := do(); err != nil {
			return 0, err
		}
		took[i] = float64(time.Since(begin).Microseconds()) / 1000
	}
	slices.Sort(took)
	return took[times*95/100], nil
}

// The words of the generated boats; makers and waters are invented.
var (
	makers  = []string{"Oxlip", "Thrushcraft", "Brindle & Vane"}
	colours = []string{"red", "green", "blue", "cream", "red over cream", "yellow"}
	birds   = []string{"Heron", "Wren", "Tern", "Loon", "Osprey", "Grebe", "Dipper", "Moorhen", "Egret", "Bittern"}
)

func pick[E any](c *club, list []E) E { return list[c.random.IntN(len(list))] }

func (c *club) drawList() (string, string, []any) {
	state, kind := pick(c, web.States), pick(c, boat.Types)
	q := url.Values{"state": {string(state)}, "type": {string(kind)}}
	return "/boats?" + q.Encode(),
		`SELECT id, name, type, state, maker, colour, open FROM web.boat WHERE state = $1 AND type = $2 ORDER BY lower(name), id LIMIT 50`, []any{state, kind}
}

func (c *club) drawSearch() (string, string, []any) {
	bird, colour := strings.ToLower(pick(c, birds)), pick(c, colours[:4])
	return "/boats?" + url.Values{"q": {bird + " " + colour}}.Encode(),
		`SELECT id, name, type, state, maker, colour, open FROM web.boat WHERE strpos(search, $1) > 0 AND strpos(search, $2) > 0 ORDER BY lower(name), id LIMIT 50`,
		[]any{bird, colour}
}

func (c *club) drawBoat() (string, string, []any) {
	id := string(pick(c, c.boats).ID)
	return "/boats/" + id + "?findings=shown", `SELECT doc FROM web.boat WHERE id = $1`, []any{id}
}

func (c *club) get(ctx context.Context, address string) error {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, c.server.URL+address, nil)
	if err != nil {
		return err
	}
	req.AddCookie(c.cookie)
	res, err := c.server.Client().Do(req)
	if err != nil {
		return err
	}
	defer func() { _ = res.Body.Close() }()
	if _, err := io.Copy(io.Discard, res.Body); err != nil {
		return err
	}
	if res.StatusCode != http.StatusOK {
		return fmt.Errorf("%s: %s", address, res.Status)
	}
	return nil
}

func (c *club) read(ctx context.Context, sql string, args []any) error {
	rows, err := c.pool.Query(ctx, sql, args...)
	if err != nil {
		return err
	}
	for rows.Next() {
		rows.RawValues()
	}
	return rows.Err()
}

// fill makes the tables of a large club, and lets its pages be served.
func (c *club) fill(ctx context.Context, s *session, boats int) error {
	if err := postgres.Migrate(ctx, c.access.OwnerURL, vault.Schema, vault.Migrations); err != nil {
		return err
	}
	if err := postgres.Migrate(ctx, c.access.OwnerURL, photo.Schema, photo.Migrations); err != nil {
		return err
	}
	if err := postgres.Migrate(ctx, c.access.OwnerURL, web.Name, web.Migrations()); err != nil {
		return err
	}
	keys, err := vault.Open(ctx, c.pool, filepath.Join(s.scratch, "master.key"))
	if err != nil {
		return err
	}
	c.keys = keys
	members, err := c.addPeople(ctx, keys)
	if err != nil {
		return err
	}
	for i := range boats {
		c.boats = append(c.boats, c.boat(i, members))
	}
	err = pgx.BeginFunc(ctx, c.pool, func(tx pgx.Tx) error {
		for i, b := range c.boats {
			if err := web.SaveBoat(ctx, tx, b, int64(i)); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	if err := c.exec(ctx, "VACUUM ANALYZE web.boat"); err != nil {
		return err
	}
	site, err := web.New(web.Config{}, desk.Kit{Pool: c.pool, Vault: keys, Clock: clock.System{}, Slog: slog.New(slog.DiscardHandler)})
	if err != nil {
		return err
	}
	c.server = httptest.NewServer(site.Router())
	return nil
}

// addPeople puts members and givers into the tables, the first signed in as a
// steward.
func (c *club) addPeople(ctx context.Context, keys *vault.Vault) ([]people.ID, error) {
	var all []people.ID
	for i := range 40 {
		id := people.ID(fmt.Sprintf("person-%d", i))
		sealed, err := keys.Seal(ctx, string(id), message.SealDetails, message.PersonDetails{Name: fmt.Sprintf("Member %d", i)})
		if err != nil {
			return nil, err
		}
		_, err = c.pool.Exec(ctx, `INSERT INTO web.person (id, sort, erased, position, doc) VALUES ($1, 'member', false, 1, $2)`,
			id, web.Person{ID: id, Sort: message.MemberSort, Sealed: string(sealed)})
		if err != nil {
			return nil, err
		}
		all = append(all, id)
	}
	c.cookie = &http.Cookie{Name: "refloat", Value: "bench"}
	sum := sha256.Sum256([]byte(c.cookie.Value))
	_, err := c.pool.Exec(ctx, `INSERT INTO web.session (hash, person, link, expires, seen) VALUES ($1, $2, '', now() + interval '1 day', 0)`, hex.EncodeToString(sum[:]), all[0])
	if err == nil {
		_, err = c.pool.Exec(ctx, `INSERT INTO web.roster_role (person, role) VALUES ($1, 'steward')`, all[0])
	}
	return all, err
}

// boat makes a boat that two members have looked over.
func (c *club) boat(i int, members []people.ID) web.Boat {
	id := boat.ID(fmt.Sprintf("boat-%d", i))
	at := time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC).Add(time.Duration(i) * time.Minute)
	b := web.Boat{
		ID: id, Name: fmt.Sprintf("%s %d", pick(c, birds), i), State: pick(c, web.States), Taking: message.Gift, Giver: pick(c, members),
		Right: "owner's declaration", Logged: at, Logger: people.Member(members[1]).String(),
		Facts: message.BoatFacts{
			Type: pick(c, boat.Types), Seats: 1 + c.random.IntN(2), LengthMM: 3000 + c.random.IntN(2500), BeamMM: 600 + c.random.IntN(300), MassG: 15_000 + c.random.IntN(20_000),
			Material: pick(c, boat.Materials), Maker: pick(c, makers), Model: fmt.Sprintf("Model %d", c.random.IntN(40)), Colour: pick(c, colours),
			HullNumber: fmt.Sprintf("OXL%05dA717", i), StoredWhere: fmt.Sprintf("rack %d", c.random.IntN(60)),
		},
	}
	for n := range 2 {
		look := fmt.Sprintf("look-%d", n+1)
		b.Looks = append(b.Looks, web.Look{ID: look, Inspector: members[2+n], Begun: at, Finished: &message.LookOverFinished{
			Boat: id, Look: look, Inspector: members[2+n], Grade: 3, Findings: findingsPerBoat / 2}})
		for f := range findingsPerBoat / 2 {
			b.Findings = append(b.Findings, web.Finding{Found: at, DefectFound: message.DefectFound{
				Boat: id, Finding: fmt.Sprintf("%s-%s-%d", id, look, f), Look: look, Defect: pick(c, boat.Defects), LengthMM: c.random.IntN(200), Severity: pick(c, boat.Severities),
				Place: message.Place{Zone: pick(c, boat.Zones), Side: pick(c, boat.Sides), Face: pick(c, boat.Faces), Part: pick(c, boat.Parts)},
				Words: "seen in the morning, with the boat dry and on slings",
			}})
		}
	}
	return b
}
