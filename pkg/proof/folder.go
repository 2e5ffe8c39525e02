package proof

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"mime/quotedprintable"
	"net/mail"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// keysFile lists the public keys of the book, one a line, the oldest first.
const keysFile = "keys.txt"

// A Folder is where checkpoints are published on disk: one text file a month,
// checkpoints-YYYY-MM.txt, to which they are only ever appended, and keys.txt with
// the public keys. Whoever copies it elsewhere can later tell a changed book from
// the true one. Everything that Add returned from is on disk.
type Folder struct {
	path string
	last []byte
}

// OpenFolder makes the folder where there is none, and finds the newest note in it.
func OpenFolder(path string) (*Folder, error) {
	if err := os.MkdirAll(path, 0o755); err != nil { //nolint:gosec // what is published is for everybody
		return nil, fmt.Errorf("making the folder of checkpoints: %w", err)
	}
	files, err := monthsIn(path)
	if err != nil {
		return nil, err
	}
	f := &Folder{path: path}
	for _, file := range slices.Backward(files) {
		text, err := os.ReadFile(file)
		if err != nil {
			return nil, fmt.Errorf("reading the published checkpoints: %w", err)
		}
		if notes := Notes(text); len(notes) > 0 {
			f.last = notes[len(notes)-1]
			break
		}
	}
	return f, nil
}

func monthsIn(path string) ([]string, error) {
	files, err := filepath.Glob(filepath.Join(path, "checkpoints-????-??.txt")) // in order of the months
	if err != nil {
		return nil, fmt.Errorf("reading the published checkpoints: %w", err)
	}
	return files, nil
}

// Last gives the newest note, nil for none.
func (f *Folder) Last() []byte { return f.last }

// Add appends a note.
func (f *Folder) Add(text string) error {
	c, err := Read([]byte(text))
	if err != nil {
		return err
	}
	if err := f.append("checkpoints-"+c.At.Format("2006-01")+".txt", text+"\n"); err != nil {
		return fmt.Errorf("publishing a checkpoint: %w", err)
	}
	f.last = []byte(text)
	return nil
}

// AddKeys appends the public keys that are not listed yet.
func (f *Folder) AddKeys(keys []Key) error {
	listed, err := os.ReadFile(filepath.Join(f.path, keysFile))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("publishing the public keys: %w", err)
	}
	for _, k := range keys {
		if bytes.Contains(listed, []byte(k)) {
			continue
		}
		if err := f.append(keysFile, string(k)+"\n"); err != nil {
			return fmt.Errorf("publishing the public keys: %w", err)
		}
	}
	return nil
}

// append adds text to a file and waits until it is on disk. What a crash left
// unfinished at the end of the file is parted from it by empty lines.
func (f *Folder) append(name, text string) error {
	file, err := os.OpenFile(filepath.Join(f.path, name), os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o644) //nolint:gosec // for everybody
	if err != nil {
		return err
	}
	info, err := file.Stat()
	if err == nil && info.Size() > 0 {
		end := make([]byte, 1)
		if _, err = file.ReadAt(end, info.Size()-1); err == nil && end[0] != '\n' {
			text = "\n\n" + text
		}
	}
	if err == nil {
		_, err = file.WriteString(text)
	}
	if err := errors.Join(err, file.Sync(), file.Close()); err != nil {
		return err
	}
	return syncFolder(f.path)
}

func syncFolder(path string) error {
	folder, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(folder.Sync(), folder.Close())
}

// ReadPublished gives every note in a file, or in the month files of a folder, in
// order, each once. The file may be a mail as it is saved.
func ReadPublished(path string) ([][]byte, error) {
	files := []string{path}
	info, err := os.Stat(path)
	if err == nil && info.IsDir() {
		files, err = monthsIn(path)
	}
	if err != nil {
		return nil, err
	}
	var notes [][]byte
	seen := map[string]bool{}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			return nil, err
		}
		for _, n := range Notes(letterText(text)) {
			if !seen[string(n)] {
				seen[string(n)] = true
				notes = append(notes, n)
			}
		}
	}
	return notes, nil
}

// letterText gives the text of a saved mail; any other text stays as it is.
func letterText(text []byte) []byte {
	m, err := mail.ReadMessage(bytes.NewReader(text))
	if err != nil || !strings.EqualFold(m.Header.Get("Content-Transfer-Encoding"), "quoted-printable") {
		return text
	}
	plain, err := io.ReadAll(quotedprintable.NewReader(m.Body))
	if err != nil {
		return text
	}
	return plain
}
