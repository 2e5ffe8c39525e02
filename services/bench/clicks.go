package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"sync"
	"time"

	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/services/web"
)

const (
	clickers = 20
	// betweenClicks is how long somebody looks at a page, at the mean.
	betweenClicks = 400 * time.Millisecond
	// clickLimit is what the slowest twentieth of a page's answers has to stay below.
	clickLimit = 50.0 // milliseconds
	// firstLimit is how much the first page of a visit may bring over the line.
	firstLimit = 60_000.0 // bytes, gzipped
)

// clicked are the pages that answer from the pages' own tables, by whose session
// they are opened; "" is nobody's. Pages that ask a room wait for that room as well
// and are not measured here.
var clicked = []struct{ who, path string }{
	{"", "/"}, {"", "/ask"}, {"", "/sign-in"}, {"", "/not-sent"},
	{"hands", "/"}, {"hands", "/boats"}, {"hands", "/boats?q=heron+red"}, {"hands", "/boats?state=offered"}, {"hands", "/boats?as=csv&type=canoe"},
	{"hands", "/search?q=heron"}, {"office", "/search?q=member+31"}, {"hands", "/boats/tags?state=offered"}, {"hands", "/boats/boat-17"}, {"hands", "/boats/boat-18?findings=shown"}, {"hands", "/boats/boat-19/history"}, {"hands", "/boats/boat-20/facts"},
	{"hands", "/boats/boat-21/photos"}, {"hands", "/boats/boat-22/methods"}, {"hands", "/boats/boat-23/sheet"}, {"hands", "/boats/new"},
	{"hands", "/racks"}, {"hands", "/stock"}, {"hands", "/comparables"}, {"hands", "/shop"}, {"hands", "/tokens"},
	{"office", "/people"}, {"office", "/people?q=member"}, {"office", "/people/person-311"}, {"office", "/requests"}, {"office", "/rounds"}, {"office", "/papers"},
	{"office", "/club"}, {"office", "/skills"},
}

// benchClicks measures every page of a club with 2,000 boats and 5,000 people while
// twenty people click, each after looking for a moment, beside a bare handler that
// gives the same bytes to the same clicks.
func benchClicks(ctx context.Context, s *session) error {
	return inScene(ctx, s, measureClicks)
}

func measureClicks(ctx context.Context, s *session, sc *scene) error {
	boats, crowd, each := 2000, 5000, 60
	if s.quick {
		boats, crowd, each = 300, 300, 20
	}
	c := &club{scene: sc, random: rand.New(rand.NewPCG(7, 11))}
	if err := c.fill(ctx, s, boats); err != nil {
		return err
	}
	defer c.server.Close()
	if err := c.addCrowd(ctx, crowd); err != nil {
		return err
	}
	bodies, err := c.everyPage(ctx)
	if err != nil {
		return err
	}
	bare := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { _, _ = w.Write(bodies[r.Header.Get("X-Page")]) }))
	defer bare.Close()
	ours, err := clicks(ctx, c.server.URL, each)
	if err != nil {
		return err
	}
	reference, err := clicks(ctx, bare.URL, each)
	if err != nil {
		return err
	}
	size := fmt.Sprintf("%d boats, %d people, %d clicking", boats, crowd, clickers)
	worst := 0.0
	for i, p := range clicked {
		worst = max(worst, ours[i])
		if err := s.report(result{Bench: "clicks/" + p.who + p.path, Ours: ours[i], Reference: reference[i], Against: "a bare handler that writes the same bytes", Unit: "ms", Better: lower, Note: "p95, " + size}); err != nil {
			return err
		}
	}
	if err := s.report(result{Bench: "clicks/slowest-page", Ours: worst, Reference: clickLimit, Against: "the limit for the slowest twentieth", Unit: "ms", Better: lower, Demand: 1, Note: size}); err != nil {
		return err
	}
	return c.firstPages(ctx, s, bodies)
}

// firstPages weighs a page with everything that it brings on a first visit.
func (c *club) firstPages(ctx context.Context, s *session, bodies map[string][]byte) error {
	worst, where := 0, ""
	for _, p := range clicked {
		body := bodies[p.who+p.path]
		total := gzipped(body)
		for _, asset := range regexp.MustCompile(`(?:href|src)="(/static/[^"]+)"`).FindAllSubmatch(body, -1) {
			data, err := fetch(ctx, c.server.URL+string(asset[1]), "")
			if err != nil {
				return err
			}
			total += gzipped(data)
		}
		if total > worst {
			worst, where = total, p.who+p.path
		}
	}
	return s.report(result{Bench: "clicks/first-page-bytes", Ours: float64(worst), Reference: firstLimit, Against: "the limit for a first page, gzipped, without photos", Unit: "bytes", Better: lower, Demand: 1,
		Note: "the heaviest page with style, script and icon: " + where})
}

func gzipped(data []byte) int {
	var out bytes.Buffer
	z := gzip.NewWriter(&out)
	_, _ = z.Write(data) // into memory
	_ = z.Close()
	return out.Len()
}

func fetch(ctx context.Context, address, who string) ([]byte, error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil {
		return nil, err
	}
	if who != "" {
		req.AddCookie(&http.Cookie{Name: "refloat", Value: who})
	}
	return answered(http.DefaultClient, req)
}

func answered(client *http.Client, req *http.Request) ([]byte, error) {
	res, err := client.Do(req)
	if err != nil {
		return nil, err
	}
	defer func() { _ = res.Body.Close() }()
	body, err := io.ReadAll(res.Body)
	if err == nil && res.StatusCode != http.StatusOK {
		err = fmt.Errorf("%s: %s", req.URL, res.Status)
	}
	return body, err
}

// everyPage opens each page once, so that nothing is measured cold.
func (c *club) everyPage(ctx context.Context) (map[string][]byte, error) {
	bodies := map[string][]byte{}
	for _, p := range clicked {
		body, err := fetch(ctx, c.server.URL+p.path, p.who)
		if err != nil {
			return nil, err
		}
		bodies[p.who+p.path] = body
	}
	return bodies, nil
}

// clicks lets the clickers open each page so many times, in an order of their own,
// and gives the 95th percentile of each page's time in milliseconds.
func clicks(ctx context.Context, base string, each int) ([]float64, error) {
	var mu sync.Mutex
	var group sync.WaitGroup
	took, failed := make([][]float64, len(clicked)), error(nil)
	client := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: clickers}, Timeout: time.Minute}
	for n := range clickers {
		random := rand.New(rand.NewPCG(uint64(n), 3))
		group.Go(func() {
			for range each * len(clicked) / clickers {
				at := random.IntN(len(clicked))
				time.Sleep(time.Duration(random.Float64() * 2 * float64(betweenClicks)))
				p := clicked[at]
				req, err := http.NewRequestWithContext(ctx, http.MethodGet, base+p.path, nil)
				if err == nil {
					req.Header.Set("X-Page", p.who+p.path)
					if p.who != "" {
						req.AddCookie(&http.Cookie{Name: "refloat", Value: p.who})
					}
					begin := time.Now()
					_, err = answered(client, req)
					mu.Lock()
					took[at] = append(took[at], float64(time.Since(begin).Microseconds())/1000)
					mu.Unlock()
				}
				if err != nil {
					mu.Lock()
					failed = err
					mu.Unlock()
					return
				}
			}
		})
	}
	group.Wait()
	p95 := make([]float64, len(clicked))
	for i, times := range took {
		if slices.Sort(times); len(times) > 0 {
			p95[i] = times[len(times)*95/100]
		}
	}
	return p95, failed
}

// addCrowd adds people, requests, and the two sessions of those who click.
func (c *club) addCrowd(ctx context.Context, crowd int) error {
	for i := range crowd {
		id := people.ID(fmt.Sprintf("person-%d", 100+i))
		sealed, err := c.keys.Seal(ctx, string(id), message.SealDetails, message.PersonDetails{Name: fmt.Sprintf("Member %d", 100+i), Mail: fmt.Sprintf("m%d@quillwater.example", i)})
		if err != nil {
			return err
		}
		if err := c.put(ctx, `INSERT INTO web.person (id, sort, erased, position, doc) VALUES ($1, 'household', false, 1, $2)`, id, web.Person{ID: id, Sort: message.HouseholdSort, Sealed: string(sealed)}); err != nil {
			return err
		}
		if i%10 == 0 {
			r := web.Request{ID: fmt.Sprintf("request-%d", i), Household: id, Boats: 1, Made: time.Date(2026, 4, 1, 12, i%60, 0, 0, time.UTC), Tier: 1 + i%3}
			if err := c.put(ctx, `INSERT INTO web.request (id, household, state, tier, position, doc) VALUES ($1, $2, 'open', $3, 1, $4)`, r.ID, id, r.Tier, r); err != nil {
				return err
			}
		}
	}
	for who, roles := range map[string][]people.Role{"hands": {people.Steward, people.Repairer}, "office": people.Roles} {
		sum := sha256.Sum256([]byte(who))
		if err := c.put(ctx, `INSERT INTO web.session (hash, person, link, expires, seen) VALUES ($1, $2, '', now() + interval '1 day', 0)`, hex.EncodeToString(sum[:]), "member-"+who); err != nil {
			return err
		}
		for _, role := range roles {
			if err := c.put(ctx, `INSERT INTO web.roster_role (person, role) VALUES ($1, $2)`, "member-"+who, role); err != nil {
				return err
			}
		}
	}
	return c.exec(ctx, "VACUUM ANALYZE")
}

func (c *club) put(ctx context.Context, sql string, args ...any) error {
	_, err := c.pool.Exec(ctx, sql, args...)
	return err
}
