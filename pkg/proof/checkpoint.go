package proof

import (
	"bytes"
	"crypto/ed25519"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

// MaxNote bounds a signed checkpoint, in bytes. One by two keys has about 500.
const MaxNote = 4 << 10

// Checkpoint says what the book was when it had Size events.
type Checkpoint struct {
	Book string    // the book's name, the same for ever: it is the keys' name too
	Size int64     // events covered: those at the positions 1 to Size
	Root tlog.Hash // of the tree over their hashes
	Head tlog.Hash // the last event's own hash, to which the next one chains
	At   time.Time // when it was made, to the second, UTC
}

// The marks of the lines behind the first three.
const (
	headMark = "head "
	timeMark = "time "
)

// Text is what is signed.
func (c Checkpoint) Text() string {
	return fmt.Sprintf("%s\n%d\n%s\n%s%x\n%s%s\n", c.Book, c.Size, c.Root, headMark, c.Head[:], timeMark, c.At.UTC().Format(time.RFC3339))
}

var errCheckpoint = errors.New("this is not a checkpoint of a club's book")

// parse reads what Text wrote, and nothing else.
func parse(text string) (c Checkpoint, err error) {
	lines := strings.Split(text, "\n")
	if len(lines) != 6 || !strings.HasPrefix(lines[3], headMark) || !strings.HasPrefix(lines[4], timeMark) {
		return c, errCheckpoint
	}
	var errs [4]error
	c.Book = lines[0]
	c.Size, errs[0] = strconv.ParseInt(lines[1], 10, 64)
	c.Root, errs[1] = tlog.ParseHash(lines[2])
	head, err := hex.DecodeString(lines[3][len(headMark):])
	copy(c.Head[:], head)
	errs[2] = err
	c.At, errs[3] = time.Parse(time.RFC3339, lines[4][len(timeMark):])
	c.At = c.At.UTC()
	if errors.Join(errs[:]...) != nil || c.Size < 1 || c.Text() != text {
		return Checkpoint{}, errCheckpoint
	}
	return c, nil
}

// Read reads what a note says, without asking who signed it.
func Read(msg []byte) (Checkpoint, error) {
	body, _, ok := strings.Cut(string(msg), "\n\n")
	if !ok || len(msg) > MaxNote {
		return Checkpoint{}, errCheckpoint
	}
	return parse(body + "\n")
}

// Signed is a checkpoint whose signatures were checked.
type Signed struct {
	Checkpoint
	Note []byte // the whole note, as it is published
	By   []Key  // whose signatures were found right, in the note's order
}

// Sign makes the note of a checkpoint, signed with each of the keys.
func Sign(c Checkpoint, keys ...*Signer) ([]byte, error) {
	var signers []note.Signer
	for _, k := range keys {
		signers = append(signers, k.signer)
	}
	msg, err := note.Sign(&note.Note{Text: c.Text()}, signers...)
	if err != nil {
		return nil, fmt.Errorf("signing a checkpoint: %w", err)
	}
	return msg, nil
}

// ErrKey says that none of the known keys signed a checkpoint.
var ErrKey = errors.New("none of the given keys signed this checkpoint")

// Open reads a signed checkpoint. At least one of the keys must have signed it,
// and no signature of one of them may be wrong. Signatures of other keys are
// passed over: a checkpoint at a change of keys carries two.
func Open(msg []byte, keys ...Key) (Signed, error) {
	if len(msg) > MaxNote {
		return Signed{}, errCheckpoint
	}
	verifiers, err := verifiersOf(keys)
	if err != nil {
		return Signed{}, err
	}
	n, err := note.Open(msg, note.VerifierList(verifiers...))
	var unverified *note.UnverifiedNoteError
	switch {
	case errors.As(err, &unverified):
		return Signed{}, ErrKey
	case err != nil:
		return Signed{}, fmt.Errorf("%w, or it was changed: %w", errCheckpoint, err)
	}
	c, err := parse(n.Text)
	if err != nil {
		return Signed{}, err
	}
	s := Signed{Checkpoint: c, Note: bytes.Clone(msg)}
	for _, sig := range n.Sigs {
		i := slices.IndexFunc(verifiers, func(v note.Verifier) bool { return v.Name() == sig.Name && v.KeyHash() == sig.Hash })
		s.By = append(s.By, keys[i])
	}
	return s, plain(n, c.Book, msg)
}

// plain refuses a note that could also be written otherwise: spare bits at the end
// of a signature's letters, a signature twice, or a signer of another book.
func plain(n *note.Note, book string, msg []byte) error {
	lines := 0
	for _, sig := range slices.Concat(n.Sigs, n.UnverifiedSigs) {
		raw, err := base64.StdEncoding.DecodeString(sig.Base64)
		if err != nil || base64.StdEncoding.EncodeToString(raw) != sig.Base64 || sig.Name != book {
			return fmt.Errorf("%w: its signatures are not written as they should be", errCheckpoint)
		}
		lines++
	}
	if bytes.Count(msg, []byte("\n— ")) != lines {
		return fmt.Errorf("%w: a signature stands in it twice", errCheckpoint)
	}
	return nil
}

// Same says whether two checkpoints say the same of the book, whenever they were
// made and whoever signed them.
func (c Checkpoint) Same(other Checkpoint) bool {
	return c.Book == other.Book && c.Size == other.Size && c.Root == other.Root && c.Head == other.Head
}

// Notes finds the signed notes in a text that holds any number of them, such as a
// published file or a saved mail. What is torn or no note is passed over.
func Notes(text []byte) [][]byte {
	text = bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n"))
	var notes [][]byte
	blocks := bytes.Split(text, []byte("\n\n"))
	for i := 1; i < len(blocks); i++ {
		signatures := bytes.TrimRight(blocks[i], "\n")
		if !bytes.HasPrefix(signatures, []byte("— ")) {
			continue
		}
		body := bytes.Split(bytes.Trim(blocks[i-1], "\n"), []byte("\n"))
		if len(body) < 5 {
			continue
		}
		n := bytes.Join(body[len(body)-5:], []byte("\n"))
		n = append(n, "\n\n"...)
		signed := false
		for line := range bytes.SplitSeq(signatures, []byte("\n")) {
			if !wholeSignature(line) {
				break
			}
			n, signed = append(append(n, line...), '\n'), true
		}
		if signed {
			notes = append(notes, n)
		}
	}
	return notes
}

// wholeSignature says whether a line is a mark, a name, and as many bytes in base64
// as an Ed25519 signature with a key's short hash has.
func wholeSignature(line []byte) bool {
	mark, rest, _ := bytes.Cut(line, []byte(" "))
	_, letters, _ := bytes.Cut(rest, []byte(" "))
	raw, err := base64.StdEncoding.DecodeString(string(letters))
	return string(mark) == "—" && err == nil && len(raw) == 4+ed25519.SignatureSize
}
