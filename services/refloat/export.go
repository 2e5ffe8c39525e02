package main

import (
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"os"
)

const exportDetail = `The file, which must not be there yet, gets one JSON object a line, compressed with gzip: everything that stands in the book and
that its hashes cover. It is for archives and for programs of others; refloat backup is what refloat restore reads. Personal data stay sealed in it:
without the keys they open for nobody, and after an erasure not with them either.`

// export writes the whole book into a file.
func export(ctx context.Context, args []string, c console) int {
	cfg, rest, err := readConfig("export", args, c.env, c.problems, nil)
	if err == nil && len(rest) != 1 {
		err = errors.New("name the file: refloat export book.jsonl.gz")
	}
	if err != nil {
		return usage(c, err)
	}
	b, err := openBook(ctx, cfg, newLog(cfg, c.problems))
	if err != nil {
		return c.complain(err)
	}
	defer b.close()
	events, err := b.exportTo(ctx, rest[0])
	if err != nil {
		return c.complain(fmt.Errorf("writing the book to %s: %w", rest[0], err))
	}
	fmt.Fprintf(c.out, "%d events stand in %s.\n", events, rest[0])
	return exitOK
}

// exportTo writes the file and has it on disk when it returns. What could not be
// written whole is taken away again.
func (b *opened) exportTo(ctx context.Context, path string) (events int64, err error) {
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return 0, err
	}
	packed := gzip.NewWriter(file)
	events, err = b.reader().Copy(ctx, packed)
	if err = errors.Join(err, packed.Close(), file.Sync(), file.Close()); err != nil {
		return 0, errors.Join(err, os.Remove(path))
	}
	return events, nil
}
