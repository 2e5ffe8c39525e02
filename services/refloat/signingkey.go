package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"time"
)

const signingKeyDetail = `refloat signing-key show prints the public keys of the book, the oldest first: the
last one signs now.

refloat signing-key replace makes a new key. One checkpoint is signed by the old key
and by the new one, so that whoever has the old public key can follow; the old
private key is then gone, the old public key is kept for ever. It may run while the
rooms run.

  --lost   the old private key is lost: the new key signs alone, and everybody who
           checks has to be told the new public key in person`

// signingKey answers `refloat signing-key show|replace`.
func signingKey(ctx context.Context, args []string, c console) int {
	var lost bool
	cfg, words, err := readConfig("signing-key", args, c.env, c.problems, func(f *flag.FlagSet) {
		f.BoolVar(&lost, "lost", false, "the old private key is lost")
	})
	if err == nil && (len(words) != 1 || words[0] != "show" && words[0] != "replace") {
		err = errors.New("say: refloat signing-key show, or refloat signing-key replace")
	}
	if err != nil {
		return usage(c, err)
	}
	b, err := openBook(ctx, cfg, newLog(cfg, c.problems))
	if err != nil {
		return c.complain(err)
	}
	defer b.close()
	if words[0] == "show" {
		err = b.showKeys(ctx, c)
	} else {
		err = b.replaceKey(ctx, cfg, c, lost)
	}
	if err != nil {
		return c.complain(err)
	}
	return exitOK
}

func (b *opened) showKeys(ctx context.Context, c console) error {
	keys, err := b.reader().SigningKeys(ctx)
	for _, k := range keys {
		fmt.Fprintf(c.out, "%s since %s\n", k.Key, stampLong(k.Since))
	}
	return err
}

func (b *opened) replaceKey(ctx context.Context, cfg config, c console, lost bool) error {
	replaced, err := b.reader().ReplaceSigningKey(ctx, cfg.Keys, time.Now(), lost)
	if err != nil {
		return err
	}
	fmt.Fprintf(c.out, "The new public key is %s\nBack the keys up now. This checkpoint marks the change; give it to whoever checks:\n\n%s", replaced.New, replaced.Checkpoint)
	return nil
}
