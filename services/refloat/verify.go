package main

import (
	"context"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"strconv"
	"strings"

	"refloat.example/pkg/ledger"
)

// verify reads the whole book and says whether it is as it was written.
func verify(ctx context.Context, args []string, c console) int {
	var known []ledger.Known
	cfg, rest, err := readConfig("verify", args, c.env, c.problems, func(f *flag.FlagSet) {
		f.Func("known", "POSITION:HASH noted outside", func(value string) error {
			k, err := parseKnown(value)
			known = append(known, k)
			return err
		})
	})
	if err != nil || len(rest) > 0 {
		return usage(c, errors.Join(err, tooMany("verify", rest)))
	}
	b, err := openBook(ctx, cfg, newLog(cfg, c.problems))
	if err != nil {
		return c.complain(err)
	}
	defer b.close()
	outcome, err := b.reader().Verify(ctx, known...)
	if err != nil {
		return c.complain(err)
	}
	if err := printJSON(c.out, outcome); err != nil {
		return c.complain(err)
	}
	if !outcome.OK {
		fmt.Fprintf(c.problems, "refloat: the book is wrong at position %d: %s\n", outcome.Finding.Position, outcome.Finding.What)
		return exitRefused
	}
	return exitOK
}

func parseKnown(value string) (ledger.Known, error) {
	position, hash, ok := strings.Cut(value, ":")
	n, err := strconv.ParseInt(position, 10, 64)
	raw, hexErr := hex.DecodeString(hash)
	if !ok || err != nil || hexErr != nil || n < 1 || len(raw) != 32 {
		return ledger.Known{}, errors.New("write POSITION:HASH as verify prints them (events:head)")
	}
	return ledger.Known{Position: n, Hash: raw}, nil
}
