package vault

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// ReadSecret reads one line from a file, and refuses a file that others may read.
func ReadSecret(path string) (string, error) {
	info, err := os.Stat(path)
	if err != nil {
		return "", err
	}
	if info.Mode().Perm()&0o077 != 0 {
		return "", fmt.Errorf("others may read %s: run chmod 600 on it", path)
	}
	text, err := os.ReadFile(path)
	return strings.TrimSpace(string(text)), err
}

// WriteSecret writes one line to a new file for this user alone. The name appears
// with the whole line behind it, on disk, and never replaces a file: when there
// is one the error is fs.ErrExist.
func WriteSecret(path, line string) error {
	folder := filepath.Dir(path)
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return err
	}
	making, err := os.CreateTemp(folder, ".making-")
	if err != nil {
		return err
	}
	defer func() { _ = os.Remove(making.Name()) }()
	_, err = fmt.Fprintln(making, line)
	if err := errors.Join(err, making.Sync(), making.Close()); err != nil {
		return err
	}
	if err := os.Link(making.Name(), path); err != nil {
		return err
	}
	return SyncFolder(folder)
}

// SyncFolder makes names in a folder survive a power cut.
func SyncFolder(path string) error {
	folder, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(folder.Sync(), folder.Close())
}
