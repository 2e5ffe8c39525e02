package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"refloat.example/pkg/proof"
)

// readKeys reads public keys that are given as they are, or as files with one a
// line, such as the keys.txt beside published checkpoints.
func readKeys(given []string) ([]proof.Key, error) {
	var keys []proof.Key
	for _, text := range given {
		if key, err := proof.ParseKey(text); err == nil {
			keys = append(keys, key)
			continue
		}
		raw, err := readBounded(text, 1<<20)
		if err != nil {
			return nil, fmt.Errorf("%q is neither a public key nor a file of keys: %w", text, err)
		}
		for line := range strings.Lines(string(raw)) {
			if line = strings.TrimSpace(line); line == "" {
				continue
			}
			key, err := proof.ParseKey(line)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", text, err)
			}
			keys = append(keys, key)
		}
	}
	return keys, nil
}

// openOutside reads checkpoints that were kept outside, from files or folders, and
// checks that one of the keys signed each.
func openOutside(paths []string, keys []proof.Key) ([]proof.Signed, error) {
	var all []proof.Signed
	for _, path := range paths {
		notes, err := proof.ReadPublished(path)
		if err == nil && len(notes) == 0 {
			err = errors.New("there is no checkpoint in it")
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		for _, n := range notes {
			c, err := proof.Open(n, keys...)
			if err != nil {
				return nil, fmt.Errorf("a checkpoint in %s: %w", path, err)
			}
			all = append(all, c)
		}
	}
	return all, nil
}

// readBounded reads a file of at most so many bytes.
func readBounded(path string, most int64) ([]byte, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	raw, err := io.ReadAll(io.LimitReader(file, most+1))
	if err = errors.Join(err, file.Close()); err == nil && int64(len(raw)) > most {
		err = fmt.Errorf("%s is longer than %d bytes", path, most)
	}
	return raw, err
}
