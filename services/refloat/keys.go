package main

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/vault"
)

// rotateMasterKey replaces the key that wraps the persons' keys.
func rotateMasterKey(ctx context.Context, args []string, c console) int {
	var newLinks, prepare bool
	cfg, rest, err := readConfig("rotate-master-key", args, c.env, c.problems, func(f *flag.FlagSet) {
		f.BoolVar(&newLinks, "new-links", false, "end every private link that was sent")
		f.BoolVar(&prepare, "prepare", false, "only make the next key, for other machines")
	})
	if err != nil || len(rest) > 0 {
		return usage(c, errors.Join(err, tooMany("rotate-master-key", rest)))
	}
	rotation := vault.Rotation{Path: filepath.Join(cfg.Keys, masterFile), EndTokens: newLinks, Progress: func(done int) {
		fmt.Fprintf(c.problems, "%d persons' keys are wrapped anew\n", done)
	}}
	if prepare {
		file, err := rotation.Prepare()
		if err != nil {
			return c.complain(err)
		}
		fmt.Fprintf(c.out, "The next master key is in %s. Put a copy beside the master key of every other machine, then run this without --prepare.\n", file)
		return exitOK
	}
	if err := rotate(ctx, cfg, c, rotation); err != nil {
		return c.complain(err)
	}
	fmt.Fprintln(c.out, "The master key is replaced. Copy the keys now: refloat backup FOLDER --keys-to DIR.")
	return exitOK
}

func rotate(ctx context.Context, cfg config, c console, rotation vault.Rotation) error {
	b, err := openBook(ctx, cfg, newLog(cfg, c.problems))
	if err != nil {
		return err
	}
	defer b.close()
	if err := migrateAll(ctx, b.database.OwnerURL); err != nil {
		return err
	}
	owner, err := pgx.Connect(ctx, b.database.OwnerURL)
	if err != nil {
		return err
	}
	defer func() { _ = owner.Close(context.WithoutCancel(ctx)) }()
	return rotation.Run(ctx, owner)
}

// natsUsers prints the users of an outside NATS server, as its configuration wants
// them, from the file of their passwords. A file that is not there is made, with
// passwords that nobody has seen.
func natsUsers(ctx context.Context, args []string, c console) int {
	_, rest, err := readConfig("nats-users", args, c.env, c.problems, nil)
	if err == nil && len(rest) != 1 {
		err = errors.New("say where the passwords are, or shall be: refloat nats-users FILE")
	}
	if err != nil {
		return usage(c, err)
	}
	passwords, err := busPasswords(rest[0])
	if err != nil {
		return c.complain(err)
	}
	fmt.Fprintln(c.out, "authorization { users: [")
	for _, name := range busNames() {
		password, ok := passwords[name]
		if !ok {
			return c.complain(fmt.Errorf("%s has no password for %q", rest[0], name))
		}
		fmt.Fprintln(c.out, "  "+bus.UserConfig(name, password))
	}
	fmt.Fprintln(c.out, "] }")
	return exitOK
}

// busNames names everybody who connects to the bus.
func busNames() []string { return append(append([]string{}, allRooms...), bus.Relay, bus.Operator) }

func busPasswords(file string) (map[string]string, error) {
	passwords := map[string]string{}
	raw, err := os.ReadFile(file)
	if err == nil {
		return passwords, json.Unmarshal(raw, &passwords)
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	for _, name := range busNames() {
		passwords[name] = rand.Text()
	}
	raw, err = json.MarshalIndent(passwords, "", "  ")
	if err != nil {
		return nil, err
	}
	return passwords, os.WriteFile(file, append(raw, '\n'), 0o600)
}
