package main

import (
	"context"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/postgres"
	"refloat.example/pkg/proof"
	"refloat.example/pkg/vault"
)

// restoring is what restore was asked to do.
type restoring struct {
	from     string // a backup's folder
	keysFrom string
	outside  verifying // heads and checkpoints that were kept outside
}

// restore makes a new installation from a backup.
func restore(ctx context.Context, args []string, c console) int {
	var r restoring
	cfg, rest, err := readConfig("restore", args, c.env, c.problems, func(f *flag.FlagSet) {
		f.StringVar(&r.keysFrom, "keys-from", "", "where the keys of the backup are")
		r.outside.outsideFlags(f)
	})
	if err == nil && (len(rest) != 1 || r.keysFrom == "") {
		err = errors.New("say from where: refloat restore BACKUP-FOLDER --keys-from FOLDER --data NEW-FOLDER")
	}
	if err != nil {
		return usage(c, err)
	}
	r.from = rest[0]
	if err := r.run(ctx, cfg, c); err != nil {
		return c.complain(err)
	}
	return exitOK
}

// run restores, then checks what it made.
func (r restoring) run(ctx context.Context, cfg config, c console) error {
	note, err := readManifest(r.from)
	if err == nil {
		err = checkSums(r.from)
	}
	if err == nil {
		err = mustBeNew(cfg.Data)
	}
	if err != nil {
		return err
	}
	if err := bringKeys(r.keysFrom, cfg.Keys); err != nil {
		return fmt.Errorf("the keys: %w", err)
	}
	if err := os.MkdirAll(cfg.Data, 0o755); err != nil { //nolint:gosec // the user of PostgreSQL passes through
		return err
	}
	if err := r.fillDatabase(ctx, cfg, c); err != nil {
		return err
	}
	return r.check(ctx, cfg, note, c)
}

// fillDatabase fills the outside database that the settings name, which has to be
// empty, or a private one in the new data folder.
func (r restoring) fillDatabase(ctx context.Context, cfg config, c console) (err error) {
	access := postgres.Access{OwnerURL: cfg.OwnerURL, AppURL: cfg.DatabaseURL}
	if cfg.DatabaseURL == "" {
		cluster, private, err := startPrivate(ctx, cfg, newLog(cfg, c.problems))
		if cluster == nil {
			return err
		}
		access = private
		defer func() {
			stopping, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopFor)
			defer cancel()
			_ = cluster.Stop(stopping) // the next start recovers from anything left
		}()
		if err != nil {
			return err
		}
	}
	owner, err := pgx.Connect(ctx, access.OwnerURL)
	if err != nil {
		return err
	}
	defer func() { _ = owner.Close(context.WithoutCancel(ctx)) }()
	if err := mustBeEmpty(ctx, owner); err != nil {
		return err
	}
	load := func(dump string) error {
		return postgresTool(ctx, cfg, access.OwnerURL, "pg_restore", "--no-owner", "--exit-on-error", dump)
	}
	if err := load(filepath.Join(r.from, dumpFile)); err != nil {
		return err
	}
	// The keys are newer than the database, and so may be the shape of their tables.
	if err := migrateAll(ctx, access.OwnerURL); err != nil {
		return err
	}
	if _, err := owner.Exec(ctx, `TRUNCATE vault.master_key, vault.past_master_key, vault.root`); err != nil {
		return err
	}
	return load(filepath.Join(r.keysFrom, personsFile))
}

func mustBeEmpty(ctx context.Context, db *pgx.Conn) error {
	var there bool
	if err := db.QueryRow(ctx, `SELECT to_regclass('ledger.event') IS NOT NULL`).Scan(&there); err != nil {
		return err
	}
	if there {
		return errors.New("the database holds a book already: a restore goes into an empty one (REFLOAT_DATABASE_URL, REFLOAT_DATABASE_OWNER_URL)")
	}
	return nil
}

// restored is what restore says in the end.
type restored struct {
	ledger.Verified
	// Keys of persons that open; Erased are those whose key was destroyed again.
	Keys   int `json:"keys"`
	Erased int `json:"erased"`
	// Missing are events that stood in the book by a head from outside and that the
	// backup does not have.
	Missing int64 `json:"missing,omitempty"`
}

// check verifies the book against the backup's note and the heads from outside,
// destroys what was erased, tries the keys, and fills the read tables anew.
func (r restoring) check(ctx context.Context, cfg config, note manifest, c console) error {
	b, err := openBook(ctx, cfg, newLog(cfg, c.problems))
	if err != nil {
		return err
	}
	defer b.close()
	out, err := r.verify(ctx, b.reader(), note)
	if err != nil {
		return err
	}
	v, err := openVault(ctx, cfg, b.pool)
	if err != nil {
		return err
	}
	if out.Erased, err = eraseAgain(ctx, b.reader(), v); err != nil {
		return err
	}
	if out.Keys, err = v.Check(ctx); err != nil {
		return err
	}
	if err := b.rebuildAll(ctx, cfg, c); err != nil {
		return err
	}
	if err := printJSON(c.out, out); err != nil {
		return err
	}
	if out.Missing > 0 {
		return fmt.Errorf("the new installation is ready, and its book lacks the last %d events: they were written after this backup. "+
			"Orders may be given again with their request keys, papers and letters that left the house must be looked through", out.Missing)
	}
	return nil
}

// verify checks the whole book. What was kept outside and lies behind its end is
// younger than the backup, which is no fault of the book.
func (r restoring) verify(ctx context.Context, book *ledger.Reader, note manifest) (out restored, err error) {
	head, err := book.Head(ctx)
	if err != nil {
		return out, err
	}
	check, err := r.outside.against(ctx, book)
	if err != nil {
		return out, err
	}
	if note.Events > 0 {
		hash, err := hex.DecodeString(note.Head)
		if err != nil {
			return out, fmt.Errorf("the backup's manifest: %w", err)
		}
		check.Known = append(check.Known, ledger.Known{Position: note.Events, Hash: hash})
	}
	younger := func(position int64) bool {
		out.Missing = max(out.Missing, position-head.Position)
		return position > head.Position
	}
	check.Known = slices.DeleteFunc(check.Known, func(k ledger.Known) bool { return younger(k.Position) })
	check.Outside = slices.DeleteFunc(check.Outside, func(c proof.Signed) bool { return younger(c.Size) })
	if out.Verified, err = book.VerifyBy(ctx, check); err == nil && !out.OK {
		err = fmt.Errorf("the restored book is wrong at position %d: %s", out.Finding.Position, out.Finding.What)
	}
	return out, err
}

// against gives what was kept outside, with signatures checked.
func (w *verifying) against(ctx context.Context, book *ledger.Reader) (ledger.Check, error) {
	keys, err := w.trusted(ctx, book)
	if err != nil {
		return ledger.Check{}, err
	}
	outside, err := openOutside(w.checkpoints, keys)
	return ledger.Check{Known: slices.Clone(w.known), Outside: outside}, err
}

// eraseAgain destroys the keys of everybody whom the book says was erased: a copy
// of the keys that is older than the book would bring them back.
func eraseAgain(ctx context.Context, book *ledger.Reader, v *vault.Vault) (erased int, err error) {
	err = book.Each(ctx, 0, 0, func(e message.Event) error {
		if e.Kind != (message.PersonErased{}).Kind() {
			return nil
		}
		body, err := message.Decode(e)
		if err != nil {
			return err
		}
		erased++
		return v.Destroy(ctx, string(body.(message.PersonErased).Person))
	})
	return erased, err
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
