package ledger

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/proof"
	"refloat.example/pkg/vault"
)

// The file of the signing key in the folder of the keys, and the file in which a
// new one waits while keys are changed.
const (
	SigningKeyFile = "signing.key"
	nextKeyFile    = "signing.key.next"
)

// ErrNoSigningKey says that the book has been signed, and the key for it is not
// where it should be.
var ErrNoSigningKey = errors.New("the key that signs the book's checkpoints is not in the folder of the keys: put signing.key back from the keys' backup; " +
	"if it is lost for good, run refloat signing-key replace --lost")

// loadSigner gives the key that signs now. Where the book has never been signed
// it makes one. It runs under the sealer's lock.
func loadSigner(ctx context.Context, tx pgx.Tx, folder string, now time.Time) (*proof.Signer, error) {
	keys, err := signingKeys(ctx, tx)
	if err != nil {
		return nil, err
	}
	path := filepath.Join(folder, SigningKeyFile)
	if len(keys) == 0 {
		return firstSigner(ctx, tx, path, now)
	}
	present := keys[len(keys)-1].Key
	// A change of keys that was interrupted is ended here: the database has the new
	// key, the folder has it still under its other name.
	for _, file := range []string{path, filepath.Join(folder, nextKeyFile)} {
		signer, err := readSigner(file)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if signer.Public() != present {
			continue
		}
		if file != path {
			err = errors.Join(os.Rename(file, path), vault.SyncFolder(folder))
		}
		return signer, err
	}
	return nil, ErrNoSigningKey
}

func readSigner(path string) (*proof.Signer, error) {
	text, err := vault.ReadSecret(path)
	if err != nil {
		return nil, err
	}
	signer, err := proof.ParseSigner(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return signer, nil
}

// firstSigner names the book and makes its first key, or takes one that lies there
// already.
func firstSigner(ctx context.Context, tx pgx.Tx, path string, now time.Time) (*proof.Signer, error) {
	name := make([]byte, 5)
	_, _ = rand.Read(name) // never fails: it ends the program instead
	secret, _, err := proof.NewKey("book-" + hex.EncodeToString(name))
	if err != nil {
		return nil, err
	}
	if err := vault.WriteSecret(path, secret); err != nil && !errors.Is(err, fs.ErrExist) {
		return nil, fmt.Errorf("keeping the signing key: %w", err)
	}
	signer, err := readSigner(path)
	if err != nil {
		return nil, err
	}
	return signer, addKey(ctx, tx, signer.Public(), now)
}

func addKey(ctx context.Context, tx pgx.Tx, key proof.Key, now time.Time) error {
	_, err := tx.Exec(ctx, `INSERT INTO ledger.signing_key SELECT count(*) + 1, $1, $2 FROM ledger.signing_key`, string(key), now)
	if err != nil {
		return fmt.Errorf("noting the public key: %w", err)
	}
	return nil
}

// Replaced says what came of a change of signing keys.
type Replaced struct {
	Old, New   proof.Key
	Checkpoint []byte // the note that both keys signed; by the new one alone when the old one was lost
}

// ReplaceSigningKey makes a new signing key. The checkpoint that marks the change
// is signed by the old key and by the new one, so that whoever has the old public
// key can follow. With lost the old private key is not asked for, and the change
// is marked by the new key alone: everybody has to be told the new key anew.
func (r *Reader) ReplaceSigningKey(ctx context.Context, folder string, now time.Time, lost bool) (out Replaced, err error) {
	err = sealing(ctx, r.pool, func(tx pgx.Tx) error {
		keys, err := signingKeys(ctx, tx)
		if err != nil {
			return err
		}
		if len(keys) == 0 {
			return errors.New("the book has no signing key yet: the first checkpoint makes one")
		}
		out.Old = keys[len(keys)-1].Key
		var signers []*proof.Signer
		if !lost {
			old, err := loadSigner(ctx, tx, folder, now)
			if err != nil {
				return err
			}
			signers = append(signers, old)
		}
		next, err := nextSigner(folder, out.Old.Book())
		if err != nil {
			return err
		}
		out.New = next.Public()
		if err := addKey(ctx, tx, out.New, now); err != nil {
			return err
		}
		out.Checkpoint, err = markChange(ctx, tx, append(signers, next), now)
		return err
	})
	if err != nil {
		return out, err
	}
	next, path := filepath.Join(folder, nextKeyFile), filepath.Join(folder, SigningKeyFile)
	return out, errors.Join(os.Rename(next, path), vault.SyncFolder(folder))
}

// nextSigner makes the new key beside the old one. One that an earlier try left is
// not used: nobody knows who saw it.
func nextSigner(folder, book string) (*proof.Signer, error) {
	path := filepath.Join(folder, nextKeyFile)
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	secret, _, err := proof.NewKey(book)
	if err != nil {
		return nil, err
	}
	if err := vault.WriteSecret(path, secret); err != nil {
		return nil, fmt.Errorf("keeping the new signing key: %w", err)
	}
	return proof.ParseSigner(secret)
}

// markChange repeats what the last checkpoint says of the book, signed anew.
func markChange(ctx context.Context, tx pgx.Tx, signers []*proof.Signer, now time.Time) ([]byte, error) {
	last, err := one(openNotes(ctx, tx, `ORDER BY number DESC LIMIT 1`))
	if err != nil {
		return nil, err
	}
	c := last.Checkpoint
	c.At = now.UTC().Truncate(time.Second)
	return addCheckpoint(ctx, tx, c, signers...)
}
