package mail

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/mail"
	"os"
	"path/filepath"
)

// Folder writes each letter to a file "KEY.eml" instead of sending it: for a
// club without a mail server, which carries them itself, and for trying things
// out. Mail programs open such files.
type Folder struct {
	path string
	from *mail.Address
}

var _ Sender = Folder{}

// NewFolder makes the folder, readable for this user alone because letters hold
// private links. from is the club's own address, with or without a name.
func NewFolder(path, from string) (Folder, error) {
	address, err := checkFrom(from)
	if err != nil {
		return Folder{}, err
	}
	if err := os.MkdirAll(path, 0o700); err != nil {
		return Folder{}, fmt.Errorf("make the folder for letters: %w", err)
	}
	return Folder{path, address}, nil
}

// Send writes the file. The name appears with the whole letter behind it.
func (f Folder) Send(_ context.Context, l Letter) error {
	m, err := message(f.from, l)
	if err != nil {
		return err
	}
	draft, err := os.CreateTemp(f.path, ".draft-")
	if err != nil {
		return fmt.Errorf("write the letter %s: %w", l.Key, err)
	}
	_, err = m.WriteTo(draft)
	err = errors.Join(err, draft.Sync(), draft.Close())
	if err == nil {
		err = os.Rename(draft.Name(), filepath.Join(f.path, l.Key+".eml"))
	}
	if err != nil {
		if gone := os.Remove(draft.Name()); gone != nil && !errors.Is(gone, fs.ErrNotExist) {
			err = errors.Join(err, gone)
		}
		return fmt.Errorf("write the letter %s: %w", l.Key, err)
	}
	return nil
}

// Repeats is true: the same letter is the same file.
func (Folder) Repeats() bool { return true }
