package proof

import (
	"crypto/ed25519"
	"crypto/rand"
	"encoding/base64"
	"fmt"
	"strings"

	"golang.org/x/mod/sumdb/note"
)

// Key is a public key as text: the book's name, a short hash, and the key itself
// with its algorithm, parted by plus signs. It is no secret; whoever checks must
// have it from somewhere else than what they check.
type Key string

// MaxKey bounds a key's text, in bytes.
const MaxKey = 200

// ParseKey reads a public key.
func ParseKey(text string) (Key, error) {
	text = strings.TrimSpace(text)
	if len(text) > MaxKey {
		return "", fmt.Errorf("this is no public key: it is longer than %d bytes", MaxKey)
	}
	if _, err := note.NewVerifier(text); err != nil {
		return "", fmt.Errorf("%q is no public key of a book (NAME+HASH+KEY): %w", text, err)
	}
	return Key(text), nil
}

// Book gives the name of the book that the key signs for.
func (k Key) Book() string {
	name, _, _ := strings.Cut(string(k), "+")
	return name
}

// Short gives the part by which people tell keys apart: eight hexadecimal digits.
func (k Key) Short() string {
	_, rest, _ := strings.Cut(string(k), "+")
	short, _, _ := strings.Cut(rest, "+")
	return short
}

func verifiersOf(keys []Key) ([]note.Verifier, error) {
	var all []note.Verifier
	for _, k := range keys {
		v, err := note.NewVerifier(string(k))
		if err != nil {
			return nil, fmt.Errorf("%q is no public key of a book: %w", k, err)
		}
		all = append(all, v)
	}
	return all, nil
}

// seedLetters is the length of 33 bytes in base64.
const seedLetters = 44

// Signer is a private key. Its text is a secret.
type Signer struct {
	signer note.Signer
	public Key
}

// NewKey draws a key pair for a book: the private key's text, and the public key.
func NewKey(book string) (secret string, public Key, err error) {
	secret, text, err := note.GenerateKey(rand.Reader, book)
	if err != nil {
		return "", "", fmt.Errorf("making a signing key: %w", err)
	}
	return secret, Key(text), nil
}

// ParseSigner reads the text of a private key.
func ParseSigner(secret string) (*Signer, error) {
	secret = strings.TrimSpace(secret)
	signer, err := note.NewSigner(secret)
	if err != nil {
		return nil, fmt.Errorf("this is no signing key: %w", err)
	}
	// The end of a key that was taken is an algorithm's byte and a seed.
	raw, err := base64.StdEncoding.DecodeString(secret[len(secret)-seedLetters:])
	if err != nil {
		return nil, fmt.Errorf("this is no signing key: %w", err)
	}
	pair := ed25519.NewKeyFromSeed(raw[1:])
	public, err := note.NewEd25519VerifierKey(signer.Name(), pair.Public().(ed25519.PublicKey))
	return &Signer{signer, Key(public)}, err
}

// Public gives the key that checks what the signer signs.
func (s *Signer) Public() Key { return s.public }
