package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"os"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/proof"
)

const proveDetail = `refloat prove EVENT writes a small file that shows an event and proves that the
newest signed checkpoint covers it. EVENT is a position, an event's id, or the
serial number of a paper.

  --from FILE   prove instead that the newest checkpoint continues the one in FILE
  --out FILE    where the file goes; without it, to standard output

Whoever gets the file checks it with refloat check and the book's public key,
without the database. An event of a paper names nobody; other events are shown as
they stand in the book, personal data sealed.`

const checkDetail = `refloat check FILE reads a file that refloat prove made and says what it proves. It
needs neither the database nor a network. It exits 1 when the proof does not hold.

  --key KEY      the book's public key, or a file of keys; printed on papers and on
                 the page of checkpoints. Have it from somewhere else than the proof
  --paper FILE   the PDF of a paper: its bytes have to be the ones that were issued

More words are files of checkpoints that you kept yourself: the proof has to be
about each of them.`

// prove writes a proof file.
func prove(ctx context.Context, args []string, c console) int {
	var from, out string
	cfg, words, err := readConfig("prove", args, c.env, c.problems, func(f *flag.FlagSet) {
		f.StringVar(&from, "from", "", "a file with an older checkpoint")
		f.StringVar(&out, "out", "", "where the file goes")
	})
	if err == nil && (len(words) != 1) == (from == "") {
		err = errors.New("say which event, or --from with an older checkpoint")
	}
	if err != nil {
		return usage(c, err)
	}
	b, err := openBook(ctx, cfg, newLog(cfg, c.problems))
	if err != nil {
		return c.complain(err)
	}
	defer b.close()
	var file []byte
	if from != "" {
		file, err = proveContinues(ctx, b.reader(), from)
	} else {
		file, err = proveEvent(ctx, b.reader(), words[0])
	}
	if err == nil {
		err = write(c, out, file)
	}
	if err != nil {
		return c.complain(err)
	}
	return exitOK
}

func write(c console, path string, file []byte) error {
	if path != "" {
		return os.WriteFile(path, file, 0o644) //nolint:gosec // it is made to be handed out
	}
	_, err := c.out.Write(file)
	return err
}

func proveContinues(ctx context.Context, book *ledger.Reader, from string) ([]byte, error) {
	keys, err := book.SigningKeys(ctx)
	if err != nil {
		return nil, err
	}
	older, err := openOutside([]string{from}, ledger.Keys(keys))
	if err != nil {
		return nil, err
	}
	return book.ProveContinues(ctx, older[len(older)-1])
}

func proveEvent(ctx context.Context, book *ledger.Reader, word string) ([]byte, error) {
	position, err := positionOf(ctx, book, word)
	if err != nil {
		return nil, err
	}
	return book.Prove(ctx, position)
}

// positionOf finds an event by position, by id, or by a paper's serial number.
func positionOf(ctx context.Context, book *ledger.Reader, word string) (int64, error) {
	if position, err := strconv.ParseInt(word, 10, 64); err == nil {
		return position, nil
	}
	var found int64
	is := paperWith(word)
	if id, err := uuid.Parse(word); err == nil {
		is = func(e message.Event) (bool, error) { return e.ID == id.String(), nil }
	}
	err := book.Each(ctx, 0, 0, func(e message.Event) error {
		match, err := is(e)
		if match {
			found = e.Position
		}
		return err
	})
	if err == nil && found == 0 {
		err = fault.New(fault.Unknown, "the book has no event and no paper %q", word)
	}
	return found, err
}

// paperWith matches the event that a paper can be held against; for a paper of the
// first layout, which has none, the one that issued it.
func paperWith(serial string) func(message.Event) (bool, error) {
	issued, lodged := message.PaperIssued{}.Kind(), message.PaperLodged{}.Kind()
	return func(e message.Event) (bool, error) {
		if e.Kind != issued && e.Kind != lodged {
			return false, nil
		}
		body, err := message.Decode(e)
		switch m := body.(type) {
		case message.PaperIssued:
			return m.Serial == serial, err
		case message.PaperLodged:
			return m.Serial == serial, err
		}
		return false, err
	}
}

// checking is what check was asked to do.
type checking struct {
	keys  []string
	paper string
	files []string // the proof, then checkpoints
}

// checkCommand answers `refloat check`. It reads no settings: it has to work where
// there is nothing but the files.
func checkCommand(_ context.Context, args []string, c console) int {
	var w checking
	flags := flag.NewFlagSet("check", flag.ContinueOnError)
	flags.SetOutput(c.problems)
	flags.Func("key", "the book's public key, or a file of keys", into(&w.keys))
	flags.StringVar(&w.paper, "paper", "", "the PDF of a paper")
	var err error
	if w.files, err = parseMixed(flags, args); err == nil && (len(w.files) == 0 || len(w.keys) == 0) {
		err = errors.New("say which file, and the book's public key: refloat check FILE --key KEY")
	}
	if err != nil {
		return usage(c, fmt.Errorf("%w (refloat help check shows how)", err))
	}
	said, err := w.run()
	if err != nil {
		return c.complain(err)
	}
	fmt.Fprintln(c.out, said)
	return exitOK
}

func (w *checking) run() (string, error) {
	keys, err := readKeys(w.keys)
	if err != nil {
		return "", err
	}
	file, err := readBounded(w.files[0], proof.MaxFile)
	if err != nil {
		return "", err
	}
	if proof.IsConsistency(file) {
		return w.continues(file, keys)
	}
	return w.covers(file, keys)
}

// covers checks the proof of an event.
func (w *checking) covers(file []byte, keys []proof.Key) (string, error) {
	p, err := ledger.CheckProof(file, keys...)
	if err != nil {
		return "", err
	}
	if err := w.kept(keys, p.Checkpoint); err != nil {
		return "", err
	}
	said := []string{fmt.Sprintf("The proof holds: event %d (%s), written %s, stands in the book %s since its checkpoint of %d events, made %s.",
		p.Event.Position, p.Event.Kind, stampLong(p.Event.RecordedAt), p.Checkpoint.Book, p.Checkpoint.Size, stampLong(p.Checkpoint.At))}
	paper, err := w.holdPaper(p.Event)
	if err != nil {
		return "", err
	}
	said = append(said, paper, signedBy(p.Checkpoint))
	return strings.TrimSpace(strings.ReplaceAll(strings.Join(said, "\n"), "\n\n", "\n")), nil
}

// holdPaper compares a PDF with the event of a paper.
func (w *checking) holdPaper(e message.Event) (string, error) {
	body, err := message.Decode(e)
	if err != nil {
		return "", err
	}
	lodged, ok := body.(message.PaperLodged)
	switch {
	case w.paper == "" && !ok:
		return "", nil
	case !ok:
		return "", errors.New("the event in the proof is not one that a paper's file can be held against")
	}
	words := fmt.Sprintf("It is the paper %s of %s, with the hash of salt and content %s.", lodged.Serial, lodged.On, lodged.Digest)
	if w.paper == "" {
		return words + " Its file was not compared (--paper).", nil
	}
	pdf, err := readBounded(w.paper, 64<<20)
	if err != nil {
		return "", err
	}
	if sum := sha256.Sum256(pdf); hex.EncodeToString(sum[:]) != lodged.File {
		return "", fmt.Errorf("%s is not the file of the paper %s as it was issued: it was changed, or is another paper, or a copy that was marked as cancelled", w.paper, lodged.Serial)
	}
	return words + " The file is the one that was issued, byte for byte. Whether the paper was cancelled later no proof can tell: ask the club.", nil
}

// kept checks that the proof is about each checkpoint that the checker kept.
func (w *checking) kept(keys []proof.Key, about ...proof.Signed) error {
	for _, path := range w.files[1:] {
		mine, err := openOutside([]string{path}, keys)
		if err != nil {
			return err
		}
		found := false
		for _, m := range mine {
			for _, a := range about {
				found = found || m.Same(a.Checkpoint)
			}
		}
		if !found {
			return fmt.Errorf("the proof is not about the checkpoint in %s", path)
		}
	}
	return nil
}

// continues checks the proof of two checkpoints.
func (w *checking) continues(file []byte, keys []proof.Key) (string, error) {
	if w.paper != "" {
		return "", errors.New("a proof of two checkpoints says nothing of a paper")
	}
	p, err := proof.ParseConsistency(file)
	if err != nil {
		return "", err
	}
	older, newer, err := p.Check(keys...)
	if err != nil {
		return "", err
	}
	if err := w.kept(keys, older, newer); err != nil {
		return "", err
	}
	return fmt.Sprintf("The proof holds: the book %s of %d events, as of %s, begins with the %d events of the checkpoint made %s, none changed, taken out or put in.\n%s",
		newer.Book, newer.Size, stampLong(newer.At), older.Size, stampLong(older.At), signedBy(newer)), nil
}

func signedBy(c proof.Signed) string {
	var b bytes.Buffer
	b.WriteString("Signed by the key")
	for i, k := range c.By {
		if i > 0 {
			b.WriteString(" and the key")
		}
		fmt.Fprintf(&b, " %s", k)
	}
	b.WriteString(". Whether that is the club's key is for you to know.")
	return b.String()
}
