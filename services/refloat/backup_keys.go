package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/vault"
)

// What the folder of the keys holds beside other files of the key folder. While a
// rotation is under way there is a second master key.
const (
	masterFile  = "master.key"
	personsFile = "person-keys.dump"
)

// vaultTables are the tables whose rows go with the keys and not with the book:
// the persons' keys, and what says which master key fits them.
var vaultTables = []string{"vault.person_key", "vault.master_key", "vault.past_master_key", "vault.root"}

// backupKeys copies the keys as they are now. There is only ever one copy of the
// persons' keys, the newest: whoever was erased is not in it, whichever database
// backup it is later used with.
func (b *opened) backupKeys(ctx context.Context, cfg config, to string) error {
	if err := os.MkdirAll(to, 0o700); err != nil {
		return err
	}
	owner, err := pgx.Connect(ctx, b.database.OwnerURL)
	if err != nil {
		return err
	}
	defer func() { _ = owner.Close(context.WithoutCancel(ctx)) }()
	return vault.Hold(ctx, owner, func() error {
		if err := sameClub(ctx, owner, to); err != nil {
			return err
		}
		return b.copyHeldKeys(ctx, cfg, to)
	})
}

// sameClub refuses a folder with the master key of another book. One that this
// book had before is no stranger's.
func sameClub(ctx context.Context, owner *pgx.Conn, folder string) error {
	there, err := vault.Fingerprint(filepath.Join(folder, masterFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	var ours bool
	err = owner.QueryRow(ctx, `
		SELECT EXISTS (SELECT FROM vault.master_key WHERE fingerprint = $1) OR EXISTS (SELECT FROM vault.past_master_key WHERE fingerprint = $1)`,
		there).Scan(&ours)
	if err == nil && !ours {
		err = fmt.Errorf("%s holds the key of another book; choose another folder", folder)
	}
	return err
}

// copyHeldKeys copies in an order in which the folder can be used at any moment: a
// master key that is new there comes beside the old one first, then the persons'
// keys that may need it, then it takes the old one's place.
func (b *opened) copyHeldKeys(ctx context.Context, cfg config, to string) error {
	making := filepath.Join(to, personsFile+".making")
	words := []string{"--format=custom", "--data-only", "--file=" + making}
	for _, table := range vaultTables {
		words = append(words, "--table="+table)
	}
	err := postgresTool(ctx, cfg, b.database.OwnerURL, "pg_dump", words...)
	if err == nil {
		err = os.Chmod(making, 0o600) // the folder may be an older one that others read
	}
	master, there := filepath.Join(cfg.Keys, masterFile), filepath.Join(to, masterFile)
	if err == nil {
		err = copyFile(master, there+vault.NextKey)
	}
	if err == nil {
		err = os.Rename(making, filepath.Join(to, personsFile))
	}
	if err == nil {
		err = os.Rename(there+vault.NextKey, there)
	}
	if err == nil {
		err = copyKeyFiles(cfg.Keys, to)
	}
	if err == nil {
		err = os.WriteFile(filepath.Join(to, settingsFile), []byte(settingsText(settingsInForce(cfg), showSecrets)), 0o600)
	}
	return errors.Join(err, syncFolder(to))
}

// copyKeyFiles copies the files of a key folder: the master key, in a rotation the
// next one, and whatever else is secret. The newest counts.
func copyKeyFiles(from, to string) error {
	if err := os.MkdirAll(to, 0o700); err != nil {
		return err
	}
	entries, err := os.ReadDir(from)
	if err != nil {
		return err
	}
	for _, e := range entries {
		name := e.Name()
		if !e.Type().IsRegular() || strings.HasPrefix(name, ".") || name == personsFile || name == settingsFile || strings.HasSuffix(name, ".making") {
			continue
		}
		if err := copyFile(filepath.Join(from, name), filepath.Join(to, name)); err != nil {
			return err
		}
	}
	return nil
}

// bringKeys puts the keys of a backup into a new installation's key folder, where
// no other master key may lie.
func bringKeys(from, to string) error {
	wanted, err := vault.Fingerprint(filepath.Join(from, masterFile))
	if err != nil {
		return err
	}
	there, err := vault.Fingerprint(filepath.Join(to, masterFile))
	switch {
	case err == nil && there != wanted:
		return fmt.Errorf("%s holds another key; choose another folder", to)
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return err
	}
	return copyKeyFiles(from, to)
}
