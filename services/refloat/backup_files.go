package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// notKept is what stands in the data folder. None of it has to be copied: the
// database is dumped, the bus is filled again from the book, letters have left, and
// running.json is only true while a process runs.
var notKept = []string{"postgres", "bus", "mail", "running.json"}

// eachFile gives the regular files below a folder, if there is one, by their names
// from there. One whose name ends in .making is not a file yet.
func eachFile(folder string, f func(name string) error) error {
	err := filepath.WalkDir(folder, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || !entry.Type().IsRegular() || strings.HasSuffix(path, ".making") {
			return err
		}
		name, err := filepath.Rel(folder, path)
		if err != nil {
			return err
		}
		return f(name)
	})
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

// copyFile copies a file for its owner alone; it is whole or not there.
func copyFile(from, to string) (err error) {
	source, err := os.Open(from)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, source.Close()) }()
	making := to + ".making"
	target, err := os.OpenFile(making, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(target, source)
	if err = errors.Join(err, target.Sync(), target.Close()); err != nil {
		return err
	}
	return os.Rename(making, to)
}

func syncFolder(path string) error {
	folder, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(folder.Sync(), folder.Close())
}

// sumOf gives a file's SHA-256 in hexadecimal digits.
func sumOf(path string) (sum string, err error) {
	file, err := os.Open(path)
	if err != nil {
		return "", err
	}
	digest := sha256.New()
	_, err = io.Copy(digest, file)
	return hex.EncodeToString(digest.Sum(nil)), errors.Join(err, file.Close())
}

func writeSums(folder string) error {
	var text strings.Builder
	err := eachFile(folder, func(name string) error {
		sum, err := sumOf(filepath.Join(folder, name))
		fmt.Fprintf(&text, "%s  %s\n", sum, filepath.ToSlash(name))
		return err
	})
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(folder, sumsFile), []byte(text.String()), 0o600)
}

// readSums gives the sums of a backup's files by their names.
func readSums(folder string) (map[string]string, error) {
	if folder == "" {
		return nil, nil
	}
	raw, err := os.ReadFile(filepath.Join(folder, sumsFile))
	if err != nil {
		return nil, err
	}
	sums := map[string]string{}
	for line := range strings.Lines(string(raw)) {
		sum, name, ok := strings.Cut(strings.TrimSuffix(line, "\n"), "  ")
		if !ok || !filepath.IsLocal(name) {
			return nil, fmt.Errorf("%s: the line %q is none of a file's sum", filepath.Join(folder, sumsFile), line)
		}
		sums[filepath.FromSlash(name)] = sum
	}
	return sums, nil
}

// checkSums says which file of a backup is not as it was. A backup from before
// there were sums has none to check.
func checkSums(folder string) error {
	sums, err := readSums(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	for name, want := range sums {
		got, err := sumOf(filepath.Join(folder, name))
		if err == nil && got != want {
			err = errors.New("it was changed since the backup was made; take another backup")
		}
		if err != nil {
			return fmt.Errorf("the backup's file %s: %w", name, err)
		}
	}
	return nil
}
