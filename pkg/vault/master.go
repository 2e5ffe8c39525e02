package vault

import (
	"context"
	"crypto/aes"
	"crypto/cipher"
	"crypto/hkdf"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
)

// keyBytes is the length of every key: AES-256.
const keyBytes = 32

// masterKey wraps the persons' keys. It never encrypts anything itself: each
// use has a key derived from it.
type masterKey []byte

// settleMaster gives a database that has not seen a master key yet the one in the
// file, or a new one.
func settleMaster(ctx context.Context, pool *pgxpool.Pool, path string) error {
	known, err := loadFingerprint(ctx, pool)
	if err != nil || known != "" {
		return err
	}
	key, err := readMaster(path)
	if errors.Is(err, fs.ErrNotExist) {
		key, err = makeMaster(path)
	}
	if err != nil {
		return fmt.Errorf("read the master key: %w", err)
	}
	return saveFingerprint(ctx, pool, key)
}

// loadFingerprint gives "" when the database has not seen a master key yet.
func loadFingerprint(ctx context.Context, db querier) (known string, err error) {
	err = db.QueryRow(ctx, `SELECT fingerprint FROM vault.master_key`).Scan(&known)
	if err != nil && !errors.Is(err, pgx.ErrNoRows) {
		return "", fmt.Errorf("read the master key's fingerprint: %w", err)
	}
	return known, nil
}

// saveFingerprint writes the fingerprint down, unless another process was first.
func saveFingerprint(ctx context.Context, pool *pgxpool.Pool, key masterKey) error {
	_, err := pool.Exec(ctx, `INSERT INTO vault.master_key (fingerprint) VALUES ($1) ON CONFLICT DO NOTHING`, key.fingerprint())
	if err != nil {
		return fmt.Errorf("write the master key's fingerprint: %w", err)
	}
	return nil
}

// readMaster reads 64 hexadecimal digits.
func readMaster(path string) (masterKey, error) {
	text, err := ReadSecret(path)
	if err != nil {
		return nil, err
	}
	key, err := hex.DecodeString(text)
	if err != nil || len(key) != keyBytes {
		return nil, fmt.Errorf("%s does not hold %d hexadecimal digits", path, 2*keyBytes)
	}
	return key, nil
}

// makeMaster writes a new key. When two start at once both read the first.
func makeMaster(path string) (masterKey, error) {
	key := make([]byte, keyBytes)
	_, _ = rand.Read(key) // never fails: it ends the program instead
	if err := WriteSecret(path, hex.EncodeToString(key)); err != nil && !errors.Is(err, fs.ErrExist) {
		return nil, err
	}
	return readMaster(path)
}

// derive gives the key for one use (HKDF with SHA-256, RFC 5869).
func (m masterKey) derive(use string) []byte {
	key, err := hkdf.Key(sha256.New, m, nil, "refloat/vault/"+use, keyBytes)
	if err != nil {
		panic(err) // only for keys longer than 8160 bytes
	}
	return key
}

// fingerprint tells master keys apart without telling anything about them.
func (m masterKey) fingerprint() string { return hex.EncodeToString(m.derive("fingerprint")) }

func (m masterKey) wrapper() cipher.AEAD { return newCipher(m.derive("wrap")) }

// newCipher is AES-256-GCM which puts a random nonce before what it seals.
func newCipher(key []byte) cipher.AEAD {
	block, err := aes.NewCipher(key)
	if err != nil {
		panic(err) // only for keys of a wrong length
	}
	gcm, err := cipher.NewGCMWithRandomNonce(block)
	if err != nil {
		panic(err) // only for other ciphers than AES
	}
	return gcm
}
