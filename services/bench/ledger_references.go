package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"time"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/postgres"
)

// What the answer to an append has to be.
func good(r ledger.Receipt, err error) error {
	if err == nil && r.Repeated {
		return errors.New("a new append is answered as a repeated one")
	}
	return err
}

func repeated(r ledger.Receipt, err error) error {
	if err == nil && !r.Repeated {
		return errors.New("a repeated append was written again")
	}
	return err
}

func conflict(_ ledger.Receipt, err error) error {
	if !fault.Is(err, fault.Conflict) {
		return fmt.Errorf("a stale append is not refused with a conflict: %w", err)
	}
	return nil
}

// makePassable lets PostgreSQL's user through a folder.
func makePassable(folder string) error { return os.Chmod(folder, 0o711) }

// references are other ways of writing the same row in the same cluster.
type references struct {
	folder string
	env    []string
}

// messageDB is the package measured beside ours, from the npm registry.
const messageDB = "@eventide/message-db@1.3.1"

func newReferences(ctx context.Context, s *session, sc *scene) (*references, error) {
	if err := s.need(ctx, "npm:npm"); err != nil {
		return nil, err
	}
	u, err := url.Parse(sc.cluster.URL(postgres.Super, postgres.Database))
	if err != nil {
		return nil, err
	}
	password, _ := u.User.Password()
	r := &references{folder: s.scratch, env: append(os.Environ(), "PGHOST="+u.Query().Get("host"), "PGPORT="+u.Query().Get("port"),
		"PGUSER="+u.User.Username(), "PGPASSWORD="+password, "PGDATABASE="+postgres.Database)}
	// The same columns, constraints and indexes; only the position is drawn.
	err = sc.exec(ctx, `CREATE SCHEMA plain`, `CREATE TABLE plain.event (LIKE ledger.event INCLUDING ALL)`,
		`ALTER TABLE plain.event ALTER position ADD GENERATED ALWAYS AS IDENTITY`)
	if err != nil {
		return nil, err
	}
	return r, r.installMessageDB(ctx, sc)
}

// installMessageDB fetches the package into the scratch folder and runs its SQL in
// the order of its own installing script.
func (r *references) installMessageDB(ctx context.Context, sc *scene) error {
	cmd := exec.CommandContext(ctx, "npm", "install", "--silent", "--no-audit", "--no-fund", "--ignore-scripts", "--prefix", r.folder, messageDB)
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("fetching %s: %w: %s", messageDB, err, out)
	}
	root := os.DirFS(filepath.Join(r.folder, "node_modules/@eventide/message-db/database"))
	statements := []string{"SET search_path = message_store, public"}
	for _, file := range []string{"roles/message-store", "schema/message-store", "extensions/pgcrypto", "tables/messages", "types/message",
		"functions/message-store-version", "functions/hash-64", "functions/acquire-lock", "functions/category", "functions/is-category",
		"functions/id", "functions/cardinal-id", "functions/stream-version", "functions/write-message",
		"indexes/messages-id", "indexes/messages-stream", "indexes/messages-category"} {
		text, err := fs.ReadFile(root, file+".sql")
		if err != nil {
			return err
		}
		statements = append(statements, string(text))
	}
	return sc.exec(ctx, statements...)
}

// insert gives a load of single-row inserts.
func (r *references) insert(clients int) func(context.Context, time.Duration) (sample, error) {
	return r.pgbench(clients, `INSERT INTO plain.event (id, stream, version, kind, schema, boat, happened_at, recorded_at, actor, cause, correlation,
	request_key, request_part, request_digest, data, prev_hash, hash)
VALUES (gen_random_uuid(), 'intake.boat/' || gen_random_uuid(), 1, 'intake.noted', 1, 'b-1', now(), now(), 'member/m1', 'c1', 'r1',
	gen_random_uuid()::text, 0, sha256(''), :data, sha256(''), sha256(''));
`)
}

// message gives a load of that package's writes, each to a new stream of one
// category, with the version stated.
func (r *references) message(clients int) func(context.Context, time.Duration) (sample, error) {
	return r.pgbench(clients, `SELECT write_message(gen_random_uuid()::varchar, 'intakeBoat-' || gen_random_uuid(), 'noted', :data, NULL, -1);
`)
}

var tps = regexp.MustCompile(`(?m)^tps = ([0-9.]+)`)

// pgbench gives a load of one statement a transaction, with :data sent as a
// parameter.
func (r *references) pgbench(clients int, script string) func(context.Context, time.Duration) (sample, error) {
	return func(ctx context.Context, d time.Duration) (sample, error) {
		folder, err := os.MkdirTemp(r.folder, "pgbench-")
		if err != nil {
			return sample{}, err
		}
		defer func() { _ = os.RemoveAll(folder) }()
		if err := os.WriteFile(filepath.Join(folder, "script"), []byte(script), 0o600); err != nil {
			return sample{}, err
		}
		seconds := strconv.Itoa(int((d + time.Second - 1) / time.Second))
		cmd := exec.CommandContext(ctx, "pgbench", "-n", "-M", "prepared", "-c", strconv.Itoa(clients), "-j", strconv.Itoa(min(clients, runtime.NumCPU())),
			"-T", seconds, "-f", "script", "-D", "data="+noted, "-l", "--log-prefix=took")
		cmd.Dir = folder
		cmd.Env = append(r.env, "PGOPTIONS=-c search_path=message_store,public")
		out, err := cmd.CombinedOutput()
		if err != nil {
			return sample{}, fmt.Errorf("pgbench: %w: %s", err, out)
		}
		rate := tps.FindSubmatch(out)
		if rate == nil {
			return sample{}, fmt.Errorf("pgbench does not say its rate: %s", out)
		}
		n, err := strconv.ParseFloat(string(rate[1]), 64)
		if err != nil {
			return sample{}, err
		}
		times, err := latencies(folder)
		return sample{n, percentile(times, 99)}, err
	}
}

// latencies reads pgbench's logs: the third word of a line is the time of one
// transaction in microseconds (PostgreSQL 15 documentation, pgbench, "Per-Transaction
// Logging").
func latencies(folder string) ([]time.Duration, error) {
	logs, err := filepath.Glob(filepath.Join(folder, "took.*"))
	if err != nil {
		return nil, err
	}
	var times []time.Duration
	for _, log := range logs {
		text, err := os.ReadFile(log)
		if err != nil {
			return nil, err
		}
		for lines := bufio.NewScanner(bytes.NewReader(text)); lines.Scan(); {
			words := strings.Fields(lines.Text())
			if len(words) < 3 {
				continue
			}
			us, err := strconv.ParseInt(words[2], 10, 64)
			if err != nil {
				return nil, fmt.Errorf("pgbench's log: %w", err)
			}
			times = append(times, time.Duration(us)*time.Microsecond)
		}
	}
	return times, nil
}
