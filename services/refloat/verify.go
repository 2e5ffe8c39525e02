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
	"refloat.example/pkg/proof"
)

// verifying is what verify was asked to do.
type verifying struct {
	known       []ledger.Known
	checkpoints []string // files or folders of what was kept outside
	from        string   // file of a checkpoint to begin behind
	keys        []string
	boat        string
	tree        bool
}

func (w *verifying) flags(f *flag.FlagSet) {
	w.outsideFlags(f)
	f.StringVar(&w.from, "from", "", "a file with a checkpoint to begin behind")
	f.StringVar(&w.boat, "boat", "", "check one boat alone")
	f.BoolVar(&w.tree, "tree", false, "compare each stored hash of the tree, too")
}

// outsideFlags are those that name what was kept outside.
func (w *verifying) outsideFlags(f *flag.FlagSet) {
	f.Func("known", "POSITION:HASH noted outside", func(value string) error {
		k, err := parseKnown(value)
		w.known = append(w.known, k)
		return err
	})
	f.Func("checkpoints", "a file or folder of checkpoints kept outside", into(&w.checkpoints))
	f.Func("key", "the book's public key, or a file of keys", into(&w.keys))
}

func into(list *[]string) func(string) error {
	return func(value string) error { *list = append(*list, value); return nil }
}

func (w *verifying) check() error {
	switch {
	case w.boat != "" && (w.from != "" || w.tree || len(w.known) > 0):
		return errors.New("--boat goes with --checkpoints and --key only")
	case w.from != "" && w.tree:
		return errors.New("--tree needs the whole book: leave --from out")
	}
	return nil
}

// verify reads the book, or a part of it, and says whether it is as it was
// written.
func verify(ctx context.Context, args []string, c console) int {
	var w verifying
	cfg, rest, err := readConfig("verify", args, c.env, c.problems, w.flags)
	if err = errors.Join(err, w.check()); err != nil || len(rest) > 0 {
		return usage(c, errors.Join(err, tooMany("verify", rest)))
	}
	b, err := openBook(ctx, cfg, newLog(cfg, c.problems))
	if err != nil {
		return c.complain(err)
	}
	defer b.close()
	outcome, err := w.run(ctx, b.reader())
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

func (w *verifying) run(ctx context.Context, book *ledger.Reader) (out ledger.Verified, err error) {
	keys, err := w.trusted(ctx, book)
	if err != nil {
		return out, err
	}
	outside, err := openOutside(w.checkpoints, keys)
	if err != nil {
		return out, err
	}
	if w.boat != "" {
		return w.runBoat(ctx, book, outside)
	}
	check := ledger.Check{Known: w.known, Outside: outside, Tree: w.tree}
	if w.from != "" {
		from, err := openOutside([]string{w.from}, keys)
		if err != nil {
			return out, err
		}
		newest := from[len(from)-1]
		check.From = &newest
	}
	return book.VerifyBy(ctx, check)
}

// trusted gives the keys that checkpoints from outside have to be signed with: those
// that were given, else those that the database knows.
func (w *verifying) trusted(ctx context.Context, book *ledger.Reader) ([]proof.Key, error) {
	if len(w.keys) > 0 {
		return readKeys(w.keys)
	}
	known, err := book.SigningKeys(ctx)
	return ledger.Keys(known), err
}

// runBoat checks every entry of a boat; one that came back has several.
func (w *verifying) runBoat(ctx context.Context, book *ledger.Reader, outside []proof.Signed) (sum ledger.Verified, err error) {
	ids, err := boatsNamed(ctx, book, w.boat)
	if err != nil {
		return sum, err
	}
	var newest *proof.Signed
	for i := range outside {
		if newest == nil || outside[i].Size > newest.Size {
			newest = &outside[i]
		}
	}
	for _, id := range ids {
		out, err := book.VerifyBoat(ctx, id, newest)
		if err != nil {
			return sum, err
		}
		out.Events += sum.Events
		if sum = out; !out.OK {
			break
		}
	}
	return sum, nil
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
