package main

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"time"
)

// manifest is the note in a backup folder.
type manifest struct {
	Made   time.Time `json:"made"`
	Events int64     `json:"events"` // the head of the book, at least this far
	Head   string    `json:"head"`
}

// What a backup folder holds. The sums are of every file but themselves and the
// manifest, in the form that sha256sum -c checks.
const (
	dumpFile     = "database.dump"
	settingsFile = "settings.env"
	sumsFile     = "files.sha256"
	manifestFile = "manifest.json"
)

// backup copies the database, as it is at one instant, the settings, and the keys.
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
	now := time.Now().UTC().Truncate(time.Second)
	folder := filepath.Join(to, stamp(now))
	for _, err := os.Stat(folder); err == nil; _, err = os.Stat(folder) { // two within a second
		now = now.Add(time.Second)
		folder = filepath.Join(to, stamp(now))
	}
	making := folder + ".making"
	if err := os.MkdirAll(making, 0o700); err != nil {
		return "", err
	}
	if err := b.fill(ctx, cfg, making, now); err != nil {
		return "", err
	}
	if keysTo != "" {
		if err := b.backupKeys(ctx, cfg, keysTo); err != nil {
			return "", err
		}
	}
	if err := os.Rename(making, folder); err != nil {
		return "", err
	}
	return folder, syncFolder(to)
}

// fill fills a backup's folder. Photos stand in the database and come with it.
func (b *opened) fill(ctx context.Context, cfg config, folder string, now time.Time) error {
	head, err := b.reader().Head(ctx)
	if err != nil {
		return err
	}
	// The vault's tables are left out: each backup that held them would bring
	// people back who were erased after it.
	words := []string{"--format=custom", "--no-owner", "--file=" + filepath.Join(folder, dumpFile)}
	for _, table := range vaultTables {
		words = append(words, "--exclude-table-data="+table)
	}
	if err := postgresTool(ctx, cfg, b.database.OwnerURL, "pg_dump", words...); err != nil {
		return err
	}
	err = os.WriteFile(filepath.Join(folder, settingsFile), []byte(settingsText(settingsInForce(cfg), hideSecrets)), 0o600)
	if err == nil {
		err = writeSums(folder)
	}
	if err != nil {
		return err
	}
	note, err := json.MarshalIndent(manifest{now, head.Position, hex.EncodeToString(head.Hash)}, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(folder, manifestFile), note, 0o600)
}

func readManifest(folder string) (manifest, error) {
	var note manifest
	raw, err := os.ReadFile(filepath.Join(folder, manifestFile))
	if err != nil {
		return note, fmt.Errorf("%s is not a backup: %w", folder, err)
	}
	return note, json.Unmarshal(raw, &note)
}
