package main

import (
	"bufio"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/postgrestest"
	"refloat.example/pkg/vault"
)

// The books of earlier programs. NAME.jsonl.gz is a whole demonstration club as the
// program of its day wrote it (refloat export), NAME.keys.jsonl.gz the keys of its
// invented people, NAME.facts.txt what the rooms' tables say when they are filled
// from it. None is ever changed; REFLOAT_RECORD=NAME go test ./services/refloat
// -run TestBooksOfEarlierPrograms records one of the program as it is.
const (
	goldenFolder = "../../testdata/ledgers"
	goldenSums   = goldenFolder + "/SHA256SUMS"
	recording    = "REFLOAT_RECORD"
)

// keyLine is a line of the file of keys: the master key first, then one a person.
type keyLine struct {
	Master  string `json:"master,omitempty"`
	Person  string `json:"person,omitempty"`
	Wrapped []byte `json:"wrapped,omitempty"` // none: the key was destroyed
}

func TestBooksOfEarlierProgramsAreReadForEver(t *testing.T) {
	t.Parallel()
	if name := os.Getenv(recording); name != "" {
		recordGolden(t, name)
	}
	books, err := filepath.Glob(goldenFolder + "/*.jsonl.gz")
	require.NoError(t, err)
	read := 0
	for _, book := range books {
		if name, isBook := strings.CutSuffix(filepath.Base(book), ".jsonl.gz"); isBook && !strings.HasSuffix(name, ".keys") {
			t.Run(name, func(t *testing.T) { readGolden(t, name) })
			read++
		}
	}
	assert.Positive(t, read)
}

func TestNoBookOfAnEarlierProgramWasChanged(t *testing.T) {
	sums, err := os.ReadFile(goldenSums)
	require.NoError(t, err)
	listed := map[string]bool{"SHA256SUMS": true}
	for line := range strings.Lines(string(sums)) {
		want, name, _ := strings.Cut(strings.TrimSuffix(line, "\n"), "  ")
		raw, err := os.ReadFile(filepath.Join(goldenFolder, name))
		require.NoError(t, err, "%s was taken away", name)
		assert.Equal(t, want, fmt.Sprintf("%x", sha256.Sum256(raw)), "%s was changed: record another beside it", name)
		listed[name] = true
	}
	files, err := os.ReadDir(goldenFolder)
	require.NoError(t, err)
	for _, f := range files {
		assert.True(t, listed[f.Name()] || strings.HasSuffix(f.Name(), ".facts.txt"), "%s is not in SHA256SUMS", f.Name())
	}
}

// readGolden brings a book into an empty database as it stands, and checks that
// this program verifies it, decodes every event of it, fills every room's tables
// from it, in batches of every size alike, and comes to the facts of its day.
func readGolden(t *testing.T, name string) {
	c := openGolden(t, name)
	outcome, err := ledger.NewReader(c.db.Pool).Verify(t.Context())
	require.NoError(t, err)
	require.True(t, outcome.OK, "%+v", outcome.Finding)
	require.NoError(t, ledger.NewReader(c.db.Pool).Each(t.Context(), 0, 0, func(e message.Event) error {
		_, err := message.Decode(e)
		return err
	}))
	var rooms []*desk.Desk
	for _, r := range roomTable {
		made, err := r.make(c.cfg, c.kit)
		require.NoError(t, err)
		rooms = append(rooms, made.Itself())
	}
	first := map[string]string{}
	for _, batch := range []int{1, 7, 1000} {
		require.NoError(t, desk.Rebuild(t.Context(), desk.Rebuilding{OwnerURL: c.db.OwnerURL, Batch: batch}, rooms...))
		for _, room := range rooms {
			sum := c.tablesOf(t, room)
			if first[room.Room] == "" {
				first[room.Room] = sum
			}
			assert.Equal(t, first[room.Room], sum, "the %s room, in batches of %d", room.Room, batch)
		}
	}
	facts := c.facts(t)
	file := filepath.Join(goldenFolder, name+".facts.txt")
	if os.Getenv(recording) == name {
		require.NoError(t, os.WriteFile(file, []byte(facts), 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, string(want), facts, "a line that is new because a room tells more may be added by hand; none may change")
}

// golden is a book of an earlier program in a database of this one.
type golden struct {
	db  *postgrestest.DB
	cfg config
	kit desk.Kit
}

func openGolden(t *testing.T, name string) *golden {
	t.Helper()
	schemas := []postgrestest.Migration{{Schema: ledger.Schema, Files: ledger.Migrations()}, {Schema: vault.Schema, Files: vault.Migrations}}
	for _, r := range roomTable {
		schemas = append(schemas, postgrestest.Migration{Schema: r.name, Files: r.migrations()})
	}
	db := postgrestest.New(t, schemas...)
	folder := t.TempDir()
	bringIn(t, db, name, filepath.Join(folder, "master.key"))
	v, err := vault.Open(t.Context(), db.Pool, filepath.Join(folder, "master.key"))
	require.NoError(t, err)
	cfg, _, err := readConfig("test", []string{"--mail", filepath.Join(folder, "mail"), "--data", folder}, func(string) string { return "" }, nil, nil)
	require.NoError(t, err)
	log := quietLog()
	return &golden{db, cfg, desk.Kit{Log: ledger.NewLog(db.Pool, nil, clock.System{}, log), Pool: db.Pool, Vault: v, Clock: clock.System{}, Slog: log}}
}

// bringIn writes the rows of a book and its keys as they stand.
func bringIn(t *testing.T, db *postgrestest.DB, name, master string) {
	t.Helper()
	var rows [][]any
	var last ledger.Row
	require.NoError(t, ledger.EachLine(unpacked(t, name+".jsonl.gz"), func(r *ledger.Row) error {
		last = *r
		rows = append(rows, []any{r.Position, r.ID, r.Stream, r.Version, string(r.Kind), r.Schema, string(r.Boat), r.HappenedAt, r.RecordedAt, r.Actor,
			r.Cause, r.Correlation, r.RequestKey, r.RequestPart, r.RequestDigest, string(r.Data), r.PrevHash, r.Hash})
		return nil
	}))
	_, err := db.Pool.CopyFrom(t.Context(), pgx.Identifier{"ledger", "event"}, []string{"position", "id", "stream", "version", "kind", "schema", "boat", "happened_at",
		"recorded_at", "actor", "cause", "correlation", "request_key", "request_part", "request_digest", "data", "prev_hash", "hash"}, pgx.CopyFromRows(rows))
	require.NoError(t, err)
	_, err = db.Pool.Exec(t.Context(), `UPDATE ledger.head SET position = $1, hash = $2, recorded_at = $3`, last.Position, last.Hash, last.RecordedAt)
	require.NoError(t, err)
	lines := bufio.NewScanner(unpacked(t, name+".keys.jsonl.gz"))
	for lines.Scan() {
		var k keyLine
		require.NoError(t, json.Unmarshal(lines.Bytes(), &k))
		if k.Master != "" {
			require.NoError(t, os.WriteFile(master, []byte(k.Master+"\n"), 0o600))
			continue
		}
		_, err := db.Pool.Exec(t.Context(), `INSERT INTO vault.person_key (person, wrapped) VALUES ($1, $2)`, k.Person, k.Wrapped)
		require.NoError(t, err)
	}
	require.NoError(t, lines.Err())
}

func unpacked(t *testing.T, name string) io.Reader {
	t.Helper()
	file, err := os.Open(filepath.Join(goldenFolder, name))
	require.NoError(t, err)
	t.Cleanup(func() { _ = file.Close() })
	r, err := gzip.NewReader(file)
	require.NoError(t, err)
	return r
}

// tablesOf gives a hash of all rows of a room's read tables.
func (c *golden) tablesOf(t *testing.T, room *desk.Desk) string {
	t.Helper()
	sum := sha256.New()
	for _, table := range append(room.Tables(), "cursor", "passed_over") {
		fmt.Fprintf(sum, "%s\n%s\n", table, c.db.Dump(room.Room+"."+table))
	}
	return fmt.Sprintf("%x", sum.Sum(nil))
}

// factQueries ask the tables for what the club would be asked: which boats it has
// and in what state, what they cost and fetched, who asked and got what, which
// papers were issued. Ids and days that follow from the day of recording are theirs
// for ever.
var factQueries = []string{
	`SELECT 'money', account, currency, sum(minor)::text FROM treasury.line GROUP BY account, currency`,
	`SELECT 'boat of the treasury', name, state, price_minor::text || ' ' || price_currency FROM treasury.boat`,
	`SELECT 'hours', boat, sum(minutes)::text, '' FROM treasury.hours GROUP BY boat`,
	`SELECT 'paper', serial, state, '' FROM web.paper`,
	`SELECT 'request', request, ended, tier::text FROM matching.request`,
	`SELECT 'offer', offer, boat, answer FROM matching.offer`,
	`SELECT 'boat of the workshop', name, accepted::text || ' ' || received::text || ' ' || departed::text, type FROM repair.boat`,
	`SELECT 'finding', boat, defect || ' ' || severity, withdrawn FROM repair.finding`,
	`SELECT 'sale', comparable, type, sold_on::text FROM valuation.comparable`,
	`SELECT 'person', person, sort || ' ' || erased::text, (mail_blind <> '')::text FROM people.person`,
	`SELECT 'role', person, role, '' FROM people.roster_role`,
}

func (c *golden) facts(t *testing.T) string {
	t.Helper()
	var lines []string
	for _, query := range factQueries {
		rows, err := c.db.Pool.Query(t.Context(), query)
		require.NoError(t, err, query)
		found, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (string, error) {
			var words [4]string
			err := row.Scan(&words[0], &words[1], &words[2], &words[3])
			return strings.TrimRight(strings.Join(words[:], " | "), " |"), err
		})
		require.NoError(t, err, query)
		lines = append(lines, found...)
	}
	slices.Sort(lines)
	return strings.Join(lines, "\n") + "\n"
}

// recordGolden plays the demonstration club with the binary and keeps its book.
func recordGolden(t *testing.T, name string) {
	t.Helper()
	i := newInstallation(t)
	i.play()
	require.NoError(t, os.MkdirAll(goldenFolder, 0o755))
	book, keys := name+".jsonl.gz", name+".keys.jsonl.gz"
	_, problems, code := i.run("export", filepath.Join(goldenFolder, book))
	require.Equal(t, exitOK, code, problems)
	require.NoError(t, os.Chmod(filepath.Join(goldenFolder, book), 0o644))
	i.recordKeys(filepath.Join(goldenFolder, keys))
	sums, err := os.OpenFile(goldenSums, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	require.NoError(t, err)
	for _, file := range []string{book, keys} {
		raw, err := os.ReadFile(filepath.Join(goldenFolder, file))
		require.NoError(t, err)
		_, err = fmt.Fprintf(sums, "%x  %s\n", sha256.Sum256(raw), file)
		require.NoError(t, err)
	}
	require.NoError(t, sums.Close())
}

// recordKeys writes the keys of an installation that does not run. They open what
// invented people are made to say, and nothing else.
func (i *installation) recordKeys(path string) {
	i.t.Helper()
	cfg, _, err := readConfig("test", nil, i.setting, nil, nil)
	require.NoError(i.t, err)
	master, err := os.ReadFile(filepath.Join(cfg.Keys, "master.key"))
	require.NoError(i.t, err)
	b, err := openBook(i.t.Context(), cfg, quietLog())
	require.NoError(i.t, err)
	defer b.close()
	rows, err := b.pool.Query(context.Background(), `SELECT person, wrapped FROM vault.person_key WHERE wrapped IS NOT NULL ORDER BY person`)
	require.NoError(i.t, err)
	people, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (k keyLine, err error) {
		err = row.Scan(&k.Person, &k.Wrapped)
		return k, err
	})
	require.NoError(i.t, err)
	file, err := os.Create(path)
	require.NoError(i.t, err)
	packed := gzip.NewWriter(file)
	out := json.NewEncoder(packed)
	for _, k := range append([]keyLine{{Master: strings.TrimSpace(string(master))}}, people...) {
		require.NoError(i.t, out.Encode(k))
	}
	require.NoError(i.t, packed.Close())
	require.NoError(i.t, file.Close())
}
