package treasury_test

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sync/errgroup"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/bus"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/lifecycle"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
	"refloat.example/pkg/people"
	"refloat.example/pkg/postgres"
	"refloat.example/pkg/postgrestest"
	"refloat.example/pkg/vault"
	"refloat.example/services/treasury"
)

// childSetting tells this test binary, run again, to issue papers until it is
// killed or done.
const childSetting = "REFLOAT_TEST_TREASURY_CHILD"

// workers issue papers at the same time.
const workers = 16

// batch is what a child is to do: papers for so many gifts, each printed into the
// folder.
type batch struct {
	URL, Folder string
	Papers      int
	InOneGo     bool // by one order, for Canadian gifts alone
}

func TestMain(m *testing.M) {
	if told := os.Getenv(childSetting); told != "" {
		var b batch
		err := json.Unmarshal([]byte(told), &b)
		if err == nil {
			err = b.issue(context.Background())
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// A country's part of the batch: so many of ten papers, the club being there.
type stretch struct {
	country, currency string
	tenths            int
}

var stretches = []stretch{{"US", "USD", 6}, {"CA", "CAD", 3}, {"UK", "GBP", 1}}

// of gives the country's gifts, by number.
func (b batch) of(n int) (from, to int) {
	tenths := 0
	for _, s := range stretches[:n] {
		tenths += s.tenths
	}
	return b.Papers * tenths / 10, b.Papers * (tenths + stretches[n].tenths) / 10
}

func (b batch) country(i int) stretch {
	if b.InOneGo {
		return stretches[1]
	}
	for n := range stretches {
		if _, to := b.of(n); i < to {
			return stretches[n]
		}
	}
	return stretch{}
}

// donorOf gives names that papers have to bear whole: one of 60 characters, a
// Vietnamese and a Polish one among them.
func donorOf(i int) string {
	return [...]string{
		"Odalys Fenwright", "Nguyễn Thị Thuỳ Dương", "Maximiliana-Theodora Featherstonehaugh-Cholmondeley Winterbou",
		"Łucja Żółkiewska", "Ærøskøbing-Þórsdóttir, Ása",
	}[i%5]
}

func boatNo(i int) boat.ID { return boat.ID(fmt.Sprintf("b%d", i)) }
func hull(i int) string    { return fmt.Sprintf("XYZ%05dL495", i) }

// issue opens the room over a bus of its own, brings the gifts into the book, lets
// all workers issue and print, and says what was acknowledged. All of it may have
// been done before.
func (b batch) issue(ctx context.Context) error {
	quiet := slog.New(slog.DiscardHandler)
	pool, err := postgres.Open(ctx, b.URL, 24)
	if err != nil {
		return err
	}
	keys, err := vault.Open(ctx, pool, filepath.Join(b.Folder, "master.key"))
	if err != nil {
		return err
	}
	names := []string{bus.Relay, bus.Operator, treasury.Name}
	server, err := bus.StartEmbedded(ctx, filepath.Join(b.Folder, "bus"), names, quiet)
	if err != nil {
		return err
	}
	conns := map[string]*bus.Conn{}
	for _, name := range names {
		if conns[name], err = bus.Connect(ctx, name, server.Access(name), quiet); err != nil {
			return err
		}
	}
	log := ledger.NewLog(pool, conns[bus.Relay], clock.System{}, quiet)
	if err := log.CheckStream(ctx, 1); err != nil {
		return err
	}
	group := lifecycle.New(quiet)
	writer, relay := log.Parts(1)
	group.Add("writer", writer)
	group.Add("relay", relay)
	group.Add(treasury.Name, treasury.New(treasury.Config{BaseURL: "https://quillwater.example"})(desk.Kit{
		Log: log, Pool: pool, Bus: conns[treasury.Name], Vault: keys, Clock: clock.System{}, Slog: quiet}))
	if err := group.Start(ctx); err != nil {
		return err
	}
	i := issuing{b, log, keys, desk.Client{Conn: conns[bus.Operator]}}
	if err := i.bringGifts(ctx); err != nil {
		return err
	}
	if b.InOneGo {
		err = i.inOneGo(ctx)
	} else {
		err = i.stretches(ctx)
	}
	if err != nil {
		return err
	}
	stopping, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	return group.Stop(stopping)
}

// issuing is a child at work.
type issuing struct {
	batch
	log    *ledger.Log
	vault  *vault.Vault
	client desk.Client
}

// say writes events under a key, once.
func (i issuing) say(ctx context.Context, key string, bodies ...streamed) (int64, error) {
	a := ledger.Append{Key: key, Digest: ledger.DigestOf([]byte(key)), Actor: "room/test"}
	for _, s := range bodies {
		event, err := ledger.Event(s.stream, s.of, s.body)
		if err != nil {
			return 0, err
		}
		a.Events = append(a.Events, event)
	}
	receipt, err := i.log.Append(ctx, a)
	return receipt.Position(), err
}

type streamed struct {
	stream string
	of     boat.ID
	body   message.Body
}

func (i issuing) bringGifts(ctx context.Context) error {
	for n := range i.Papers {
		life, err := i.lifeOf(ctx, n)
		if err != nil {
			return err
		}
		if _, err := i.say(ctx, fmt.Sprint("gift-", n), life...); err != nil {
			return err
		}
	}
	return nil
}

// lifeOf is a gift of one of the sorts that get different papers: in the United
// States a claim below the threshold, a sale, and a decision for neither.
func (i issuing) lifeOf(ctx context.Context, n int) ([]streamed, error) {
	id, donor := boatNo(n), people.ID(fmt.Sprintf("donor-%d", n))
	sealed, err := i.vault.Seal(ctx, string(donor), message.SealDetails, message.PersonDetails{Name: donorOf(n), Address: "12 Quay Street\nAmberjay"})
	if err != nil {
		return nil, err
	}
	in, c := message.IntakeBoat(id), money.Currency(i.country(n).currency)
	life := []streamed{
		{in, id, message.BoatLogged{Boat: id, Name: "Heron " + string(id), Taking: message.Gift, Giver: donor, Right: "owner's declaration",
			NewGiver: &message.NewPerson{Person: donor, Sort: message.DonorSort, Sealed: string(sealed), Consent: "2026-1"},
			Facts:    message.BoatFacts{Type: boat.SitInside, Seats: 1, LengthMM: 4300, Material: boat.Rotomoulded, HullNumber: hull(n)}}},
		{in, id, message.BoatAccepted{Boat: id, Price: money.Of(0, c)}},
		{in, id, message.BoatReceived{Boat: id, Possession: giftOn, Signed: giftOn, On: giftOn}},
		{message.ValuationBoat(id), id, message.BoatValued{Boat: id, Value: "v-" + string(id), On: giftOn, Valuer: "steward", Purpose: message.ForReceipt, Used: []string{},
			AsItLies: message.Worth{Status: "ok", Value: money.Of(90_000+int64(n), c)}}},
	}
	switch n % 3 {
	case 0:
		life = append(life, streamed{message.TreasuryBoat(id), id, message.ClaimStated{Boat: id, Claim: money.Of(45_000, c), On: giftOn}})
	case 1:
		life = append(life, streamed{message.TreasuryBoat(id), id, message.BoatSold{Boat: id, On: giftOn.AddDays(2), Gross: money.Of(70_000, c), ArmsLength: true}})
	}
	return life, nil
}

func (i issuing) stretches(ctx context.Context) error {
	for n := range stretches {
		if err := i.stretch(ctx, n); err != nil {
			return err
		}
	}
	return nil
}

// inOneGo asks once for all papers, and says of each that it is there until none is
// left.
func (i issuing) inOneGo(ctx context.Context) error {
	seen, err := i.set(ctx, 1)
	if err != nil {
		return err
	}
	year := message.IssueYear{Batch: "all", Year: 2026, On: today}
	for n := range i.Papers {
		year.Boats = append(year.Boats, boatNo(n))
	}
	if err := i.order(ctx, seen, year, ""); err != nil {
		return err
	}
	asking := desk.Asking{By: people.Service(desk.AtMachine), Seen: seen}
	for {
		list, err := desk.Ask[message.PapersOfYear](ctx, i.client, asking, message.YearPapers{Year: 2026})
		if err != nil && !fault.Is(err, fault.Busy) && !fault.Is(err, fault.Unavailable) {
			return err
		}
		for _, g := range list.Gifts {
			if g.Paper != "" {
				fmt.Fprintf(os.Stdout, "acked %s\n", g.Paper)
			}
		}
		if len(list.Batches) == 1 && list.Batches[0].Left() == 0 {
			return nil
		}
	}
}

// stretch issues a country's papers, 16 at a time, and prints them. Each tenth is
// cancelled and replaced.
func (i issuing) stretch(ctx context.Context, n int) error {
	seen, err := i.set(ctx, n)
	if err != nil {
		return err
	}
	from, to := i.of(n)
	work, ctx := errgroup.WithContext(ctx)
	work.SetLimit(workers)
	for gift := from; gift < to; gift++ {
		work.Go(func() error { return i.papers(ctx, gift, seen) })
	}
	return work.Wait()
}

// set brings the club into a country.
func (i issuing) set(ctx context.Context, n int) (int64, error) {
	club := []streamed{}
	for name, value := range map[string]string{
		"legal-name": "Quillwater Paddlers", "address": "4 Mill Lane; Amberjay", "registration-number": "00-0000000", "place": "Amberjay",
		"signatory": "T. Reed, treasurer", "qualified": "yes", "country": stretches[n].country, "currency": stretches[n].currency,
	} {
		club = append(club, streamed{message.Club, "", message.SettingChanged{Name: name, Value: value}})
	}
	return i.say(ctx, fmt.Sprint("club-", n, "-", os.Getpid()), club...)
}

func (i issuing) papers(ctx context.Context, n int, seen int64) error {
	id, p := boatNo(n), fmt.Sprintf("p%d", n)
	order := func(paper string) message.IssuePaper {
		return message.IssuePaper{Boat: id, Paper: paper, On: today, Final: n%3 == 2}
	}
	if err := i.order(ctx, seen, order(p), p); err != nil || n%10 != 0 {
		return err
	}
	if err := i.order(ctx, seen, message.CancelPaper{Paper: p, Why: "the address was wrong"}, ""); err != nil {
		return err
	}
	return i.order(ctx, seen, order(p+"-anew"), p+"-anew")
}

// order gives an order until it is taken: the first after a start waits for the
// room to hear of all gifts. Then the paper is printed.
func (i issuing) order(ctx context.Context, seen int64, c desk.Commanded, paper string) error {
	asking := desk.Asking{By: people.Service(desk.AtMachine), Key: fmt.Sprintf("%s-%x", c.Verb(), sha256.Sum256(fmt.Append(nil, c))), Seen: seen}
	var reply message.Reply
	for {
		var err error
		if reply, err = i.client.Do(ctx, asking, c); err == nil {
			break
		}
		if !fault.Is(err, fault.Busy) && !fault.Is(err, fault.Unavailable) {
			return fmt.Errorf("%v: %w", c, err)
		}
	}
	if paper == "" {
		return nil
	}
	fmt.Fprintf(os.Stdout, "acked %s\n", paper)
	file := filepath.Join(i.Folder, paper+".pdf")
	if _, err := os.Stat(file); err == nil {
		return nil // printed before the process was killed
	}
	asking.Seen = reply.Position
	sheet, err := desk.Ask[message.Sheet](ctx, i.client, asking, message.PrintPaper{Paper: paper})
	if err != nil {
		return err
	}
	if err := os.WriteFile(file+".part", sheet.PDF, 0o600); err != nil {
		return err
	}
	return os.Rename(file+".part", file)
}

// run starts a child and kills it, with SIGKILL, when so many papers were
// acknowledged; 0: never. It gives the papers that were acknowledged.
func (b batch) run(t *testing.T, after int) map[string]bool {
	t.Helper()
	told, err := json.Marshal(b)
	require.NoError(t, err)
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), childSetting+"="+string(told))
	var complaint bytes.Buffer
	child.Stderr = &complaint
	out, err := child.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, child.Start())
	acked := map[string]bool{}
	killed := false
	for lines := bufio.NewScanner(out); lines.Scan(); {
		if paper, ok := strings.CutPrefix(lines.Text(), "acked "); ok {
			acked[paper] = true
		}
		if after > 0 && len(acked) >= after && !killed {
			killed = true
			require.NoError(t, child.Process.Kill())
		}
	}
	err = child.Wait()
	if killed {
		require.Error(t, err)
	} else {
		require.NoError(t, err, complaint.String())
	}
	return acked
}

// Papers of five sorts (two of them Form 1098-C), issued by 16 workers in a process that is killed twice and
// started again: every number once, every file readable by two programs that did
// not write it (pdfcpu, poppler), each with name, serial, date and description.
// The long run issues 5,000.
func TestManyPapersAtOnceAndKilled(t *testing.T) {
	db := postgrestest.New(t, postgrestest.Migration{Schema: ledger.Schema, Files: ledger.Migrations()},
		postgrestest.Migration{Schema: vault.Schema, Files: vault.Migrations}, postgrestest.Migration{Schema: treasury.Name, Files: treasury.Migrations()})
	b := batch{URL: db.AppURL, Folder: t.TempDir(), Papers: rounds(40, 5000)}
	begin := time.Now()
	acked := b.run(t, b.Papers/4)
	require.Less(t, len(acked), b.Papers, "it was over before it was killed")
	for paper := range b.run(t, b.Papers*3/4) {
		acked[paper] = true
	}
	for paper := range b.run(t, 0) {
		acked[paper] = true
	}
	t.Logf("%d papers in %v", len(acked), time.Since(begin))

	read := ledger.NewReader(db.Pool)
	total, sorts := 0, map[string]int{}
	for n, s := range stretches {
		from, to := b.of(n)
		events, err := read.Stream(t.Context(), message.TreasurySeries(s.country+"-2026"))
		require.NoError(t, err)
		replaced := 0
		for i := from; i < to; i++ {
			if i%10 == 0 {
				replaced++
			}
		}
		require.Len(t, events, to-from+replaced, s.country)
		total += len(events)
		issued := map[string]bool{}
		files := make(chan checked, len(events))
		for k, e := range events {
			body, err := message.Decode(e)
			require.NoError(t, err)
			p := body.(message.PaperIssued)
			require.Equal(t, fmt.Sprintf("%s-2026-%04d", s.country, k+1), p.Serial, "no gap, in order")
			require.False(t, issued[p.Paper], "%s stands twice", p.Paper)
			issued[p.Paper] = true
			require.True(t, acked[p.Paper], p.Paper)
			delete(acked, p.Paper)
			sorts[s.country+" "+p.Names[0]]++
			files <- checked{p, filepath.Join(b.Folder, p.Paper+".pdf")}
		}
		close(files)
		checkFiles(t, files)
	}
	assert.Empty(t, acked, "acknowledged, but not in the book")
	assert.Len(t, sorts, 4, "%v", sorts)
	standing, err := filepath.Glob(filepath.Join(b.Folder, "*.pdf"))
	require.NoError(t, err)
	assert.Len(t, standing, total)
}

// A year's papers asked for once, in a process that is killed twice in the middle:
// whoever starts it again finds each gift with one paper, and no number missing.
func TestAYearsPapersKilledInTheMiddle(t *testing.T) {
	db := postgrestest.New(t, postgrestest.Migration{Schema: ledger.Schema, Files: ledger.Migrations()},
		postgrestest.Migration{Schema: vault.Schema, Files: vault.Migrations}, postgrestest.Migration{Schema: treasury.Name, Files: treasury.Migrations()})
	b := batch{URL: db.AppURL, Folder: t.TempDir(), Papers: rounds(24, 400), InOneGo: true}
	for _, after := range []int{b.Papers / 4, b.Papers / 2} {
		require.Less(t, len(b.run(t, after)), b.Papers, "it was over before it was killed")
	}
	b.run(t, 0)
	read := ledger.NewReader(db.Pool)
	events, err := read.Stream(t.Context(), message.TreasurySeries("CA-2026"))
	require.NoError(t, err)
	require.Len(t, events, b.Papers)
	boats := map[boat.ID]bool{}
	for n, e := range events {
		body, err := message.Decode(e)
		require.NoError(t, err)
		p := body.(message.PaperIssued)
		assert.Equal(t, fmt.Sprintf("CA-2026-%04d", n+1), p.Serial)
		boats[p.Boat] = true
	}
	assert.Len(t, boats, b.Papers)
	withheld, err := read.Stream(t.Context(), message.TreasuryBatch("all"))
	require.NoError(t, err)
	assert.Len(t, withheld, 1, "what was asked, and nothing withheld")
}

type checked struct {
	message.PaperIssued
	file string
}

// checkFiles opens papers with pdfcpu and reads them with pdftotext.
func checkFiles(t *testing.T, files <-chan checked) {
	api.DisableConfigDir()
	var both sync.WaitGroup
	for range 2 {
		both.Go(func() {
			for p := range files {
				assert.NoError(t, api.ValidateFile(p.file, nil), p.Serial)
				out, err := exec.Command("pdftotext", "-raw", p.file, "-").Output()
				assert.NoError(t, err, "deploy/needs pdftotext:poppler-utils installs it")
				text := strings.Join(strings.Fields(string(out)), " ")
				n, err := strconv.Atoi(strings.TrimPrefix(string(p.Boat), "b"))
				assert.NoError(t, err)
				for _, part := range []string{donorOf(n), p.Serial, p.On.String(), giftOn.String(), "sit-inside kayak", hull(n)} {
					assert.Contains(t, text, part, p.Serial)
				}
			}
		})
	}
	both.Wait()
}
