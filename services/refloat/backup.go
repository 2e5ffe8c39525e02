package main

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"refloat.example/pkg/ledger"
	"refloat.example/pkg/postgres"
)

// manifest is the note in a backup folder.
type manifest struct {
	Made   time.Time `json:"made"`
	Events int64     `json:"events"` // the head of the book, at least this far
	Head   string    `json:"head"`
}

const (
	dumpFile     = "database.dump"
	manifestFile = "manifest.json"
	masterFile   = "master.key"
	personsFile  = "person-keys.dump"
)

// backup copies the database, as it is at one instant, and the keys.
func backup(ctx context.Context, args []string, c console) int {
	var keysTo string
	cfg, rest, err := readConfig("backup", args, c.env, c.problems, func(f *flag.FlagSet) {
		f.StringVar(&keysTo, "keys-to", "", "where the keys go")
	})
	if err == nil && len(rest) != 1 {
		err = errors.New("say where to: refloat backup FOLDER")
	}
	if err != nil {
		return usage(c, err)
	}
	b, err := openBook(ctx, cfg, newLog(cfg, c.problems))
	if err != nil {
		return c.complain(err)
	}
	defer b.close()
	folder, err := b.backup(ctx, cfg, rest[0], keysTo)
	if err != nil {
		return c.complain(err)
	}
	fmt.Fprintln(c.out, folder)
	if keysTo == "" {
		fmt.Fprintln(c.problems, "refloat: the keys were not copied (--keys-to); without them nobody can read the names in this backup")
	}
	return exitOK
}

// backup writes into a folder under another name first, so that a half-made
// backup never looks like one.
func (b *opened) backup(ctx context.Context, cfg config, to, keysTo string) (string, error) {
	head, err := b.reader().Head(ctx)
	if err != nil {
		return "", err
	}
	now := time.Now().UTC().Truncate(time.Second)
	folder := filepath.Join(to, stamp(now))
	making := folder + ".making"
	if err := os.MkdirAll(making, 0o700); err != nil {
		return "", err
	}
	// The persons' keys are left out: each backup that held them would bring people
	// back who were erased after it.
	err = postgresTool(ctx, cfg, b.database.OwnerURL, "pg_dump", "--format=custom", "--no-owner", "--exclude-table-data=vault.person_key",
		"--file="+filepath.Join(making, dumpFile))
	if err != nil {
		return "", err
	}
	note, err := json.MarshalIndent(manifest{now, head.Position, hex.EncodeToString(head.Hash)}, "", "  ")
	if err != nil {
		return "", err
	}
	if err := os.WriteFile(filepath.Join(making, manifestFile), note, 0o600); err != nil {
		return "", err
	}
	if keysTo != "" {
		if err := b.backupKeys(ctx, cfg, keysTo); err != nil {
			return "", err
		}
	}
	return folder, os.Rename(making, folder)
}

// backupKeys copies the master key and the persons' keys as they are now. There
// is only ever one copy of the latter, the newest: whoever was erased is not in
// it, whichever database backup it is later used with.
func (b *opened) backupKeys(ctx context.Context, cfg config, to string) error {
	if err := copyKey(cfg.Keys, to); err != nil {
		return err
	}
	making := filepath.Join(to, personsFile+".making")
	err := postgresTool(ctx, cfg, b.database.OwnerURL, "pg_dump", "--format=custom", "--data-only", "--table=vault.person_key", "--file="+making)
	if err == nil {
		err = os.Chmod(making, 0o600) // the folder may be an older one that others read
	}
	if err != nil {
		return err
	}
	return os.Rename(making, filepath.Join(to, personsFile))
}

// postgresTool runs one of PostgreSQL's programs on a database and gives its own
// words when it fails. The password is neither in them nor among the program's
// words, which every user of the machine can read.
func postgresTool(ctx context.Context, cfg config, database, name string, args ...string) error {
	bin, err := postgres.Programs(cfg.PostgresBin)
	if err != nil {
		return err
	}
	address, password := partPassword(database)
	cmd := exec.CommandContext(ctx, filepath.Join(bin, name), append([]string{"--dbname=" + address}, args...)...)
	cmd.Env = append(os.Environ(), "PGPASSWORD="+password)
	if said, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("%s: %w: %s", name, err, strings.TrimSpace(string(said)))
	}
	return nil
}

// partPassword takes the password out of a database's URL. An address of another
// form stays as it is.
func partPassword(database string) (address, password string) {
	u, err := url.Parse(database)
	if err != nil || u.User == nil {
		return database, os.Getenv("PGPASSWORD")
	}
	password, given := u.User.Password()
	if !given {
		return database, os.Getenv("PGPASSWORD")
	}
	u.User = url.User(u.User.Username())
	return u.String(), password
}

func copyKey(from, to string) error {
	if err := os.MkdirAll(to, 0o700); err != nil {
		return err
	}
	key, err := os.ReadFile(filepath.Join(from, masterFile))
	if err != nil {
		return err
	}
	path := filepath.Join(to, masterFile)
	if there, err := os.ReadFile(path); err == nil {
		if string(there) != string(key) {
			return fmt.Errorf("%s holds another key; choose another folder", to)
		}
		return nil
	}
	return os.WriteFile(path, key, 0o600)
}

// restore makes a new data folder from a backup.
func restore(ctx context.Context, args []string, c console) int {
	var keysFrom string
	cfg, rest, err := readConfig("restore", args, c.env, c.problems, func(f *flag.FlagSet) {
		f.StringVar(&keysFrom, "keys-from", "", "where the keys of the backup are")
	})
	if err == nil && (len(rest) != 1 || keysFrom == "") {
		err = errors.New("say from where: refloat restore BACKUP-FOLDER --keys-from FOLDER --data NEW-FOLDER")
	}
	if err != nil {
		return usage(c, err)
	}
	if err := restoreInto(ctx, cfg, rest[0], keysFrom, c); err != nil {
		return c.complain(err)
	}
	return exitOK
}

func restoreInto(ctx context.Context, cfg config, from, keysFrom string, c console) error {
	note, err := readManifest(from)
	if err != nil {
		return err
	}
	if err := mustBeNew(cfg.Data); err != nil {
		return err
	}
	if err := copyKey(keysFrom, cfg.Keys); err != nil {
		return fmt.Errorf("the keys: %w", err)
	}
	if err := os.MkdirAll(cfg.Data, 0o755); err != nil { //nolint:gosec // the user of PostgreSQL passes through
		return err
	}
	cluster, access, err := startPrivate(ctx, cfg, newLog(cfg, c.problems))
	if cluster == nil {
		return err
	}
	for _, dump := range []string{filepath.Join(from, dumpFile), filepath.Join(keysFrom, personsFile)} {
		if err == nil {
			err = postgresTool(ctx, cfg, access.OwnerURL, "pg_restore", "--no-owner", "--exit-on-error", dump)
		}
	}
	stopping, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopFor)
	defer cancel()
	if err := errors.Join(err, cluster.Stop(stopping)); err != nil {
		return err
	}
	return checkRestored(ctx, cfg, note, c)
}

// checkRestored verifies the book against the backup's note and fills the read
// tables anew.
func checkRestored(ctx context.Context, cfg config, note manifest, c console) error {
	b, err := openBook(ctx, cfg, newLog(cfg, c.problems))
	if err != nil {
		return err
	}
	defer b.close()
	var known []ledger.Known
	if note.Events > 0 {
		hash, err := hex.DecodeString(note.Head)
		if err != nil {
			return fmt.Errorf("the backup's manifest: %w", err)
		}
		known = append(known, ledger.Known{Position: note.Events, Hash: hash})
	}
	outcome, err := b.reader().Verify(ctx, known...)
	if err != nil {
		return err
	}
	if !outcome.OK {
		return fmt.Errorf("the restored book is wrong at position %d: %s", outcome.Finding.Position, outcome.Finding.What)
	}
	if err := b.rebuildAll(ctx, cfg, c); err != nil {
		return err
	}
	return printJSON(c.out, outcome)
}

func readManifest(folder string) (manifest, error) {
	var note manifest
	raw, err := os.ReadFile(filepath.Join(folder, manifestFile))
	if err != nil {
		return note, fmt.Errorf("%s is not a backup: %w", folder, err)
	}
	return note, json.Unmarshal(raw, &note)
}

func mustBeNew(folder string) error {
	entries, err := os.ReadDir(folder)
	if errors.Is(err, os.ErrNotExist) || err == nil && len(entries) == 0 {
		return nil
	}
	if err != nil {
		return err
	}
	return fmt.Errorf("%s is not empty: a restore goes into a new data folder (--data)", folder)
}
