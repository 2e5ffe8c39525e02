package main

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"refloat.example/pkg/postgres"
)

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
