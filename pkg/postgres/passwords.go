package postgres

import (
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// Passwords are those of the three roles of a private cluster.
type Passwords struct {
	Super string `json:"postgres"`
	Owner string `json:"refloat_owner"`
	App   string `json:"refloat_app"`
}

// of gives the password of a role; unknown roles have none.
func (p Passwords) of(role string) string {
	switch role {
	case Super:
		return p.Super
	case Owner:
		return p.Owner
	case App:
		return p.App
	}
	return ""
}

// newPasswords draws three passwords of at least 128 bits each.
func newPasswords() Passwords {
	return Passwords{Super: rand.Text(), Owner: rand.Text(), App: rand.Text()}
}

// readPasswords reads the file that writePasswords wrote.
func readPasswords(path string) (Passwords, error) {
	var p Passwords
	text, err := os.ReadFile(path)
	if err != nil {
		return p, fmt.Errorf("read the database passwords: %w", err)
	}
	if err := json.Unmarshal(text, &p); err != nil {
		return p, fmt.Errorf("read the database passwords in %s: %w", path, err)
	}
	return p, nil
}

// writePasswords puts the passwords where only this user reads them. The file
// is on disk, whole, before the name appears: a cluster whose password was lost
// is of no use.
func writePasswords(path string, p Passwords) error {
	text, err := json.MarshalIndent(p, "", "  ")
	if err != nil {
		return err
	}
	making := path + ".making"
	if err := removeIfThere(making); err != nil {
		return err
	}
	if err := writeSynced(making, text); err != nil {
		return fmt.Errorf("write the database passwords: %w", err)
	}
	if err := os.Rename(making, path); err != nil {
		return fmt.Errorf("write the database passwords: %w", err)
	}
	return syncFolder(filepath.Dir(path))
}

// writeSynced makes a file that only this user reads. It follows no link and
// takes over no file that somebody put there.
func writeSynced(path string, text []byte) error {
	file, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = file.Write(text)
	return errors.Join(err, file.Sync(), file.Close())
}

// syncFolder makes names in a folder survive a power cut.
func syncFolder(path string) error {
	folder, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(folder.Sync(), folder.Close())
}
