// Package mail sends the club's letters, one at a time, each under a key of its
// own.
//
// It promises that a letter with the same key always has the same Message-ID,
// and with a folder as its way the same file. It tells a letter that was surely
// not taken from one that may have been. It does not promise that a letter is
// read, or arrives: a mail server only promises to try. Who sends keeps account
// of what was sent.
//
// Letters hold private links. They are plain text, without pictures or anything
// that is fetched when they are read.
package mail

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/mail"
	"strings"
	"time"

	gomail "github.com/wneessen/go-mail"

	"refloat.example/pkg/fault"
)

// Limits on a letter, in bytes. An address is bounded by RFC 5321 §4.5.3.1.3
// (a path of 256, two of them the angle brackets).
const (
	MaxAddress = 254
	maxKey     = 120
	maxSubject = 200
	maxText    = 64 << 10
)

// ErrRefused is in the chain of the error for a letter that will never be
// taken: trying again is useless.
var ErrRefused = errors.New("the letter is refused for good")

// ErrUnknown is in the chain of the error for a letter that was handed over
// without an answer: it may be on its way. A mail server that did take it and
// gets it again sends it twice (RFC 5321 §4.5.3.2.6 tells senders to wait long for
// this very answer; in the end somebody has to stop waiting).
var ErrUnknown = errors.New("nobody knows whether the letter was taken")

// Letter is one letter to one person.
type Letter struct {
	// Key names the letter for ever: letters, digits, point, dash and underscore.
	Key     string
	To      string // a bare address
	Subject string
	Text    string
	At      time.Time // when it was written
}

// Sender sends letters. It is safe for concurrent use.
type Sender interface {
	// Send returns when the letter is in other hands: in its folder on disk, or
	// taken by the mail server. Errors with ErrRefused are final. After one with
	// ErrUnknown the letter may be on its way, after all others it is not.
	Send(ctx context.Context, l Letter) error
	// Repeats says whether sending a letter twice comes to the same as once.
	Repeats() bool
}

// CheckAddress gives a mail address as it is kept: trimmed, without a name, the
// domain in lower case. The fault names the field.
func CheckAddress(field, text string) (string, error) {
	text = strings.TrimSpace(text)
	if len(text) > MaxAddress {
		return "", fault.Field(field, "a mail address has at most %d bytes", MaxAddress)
	}
	address, err := mail.ParseAddress(text)
	if err != nil || address.Name != "" || address.Address != text || strings.ContainsAny(text, "<>\"") {
		return "", fault.Field(field, "write a mail address alone, like someone@example.org")
	}
	at := strings.LastIndexByte(text, '@')
	return text[:at] + strings.ToLower(text[at:]), nil
}

// check refuses what no server should be asked to take.
func (l Letter) check() error {
	if l.Key == "" || len(l.Key) > maxKey || strings.Trim(l.Key, keyLetters) != "" || l.Key[0] == '.' {
		return fmt.Errorf("%w: its key cannot name a file", ErrRefused)
	}
	if _, err := CheckAddress("to", l.To); err != nil {
		return fmt.Errorf("%w: %w", ErrRefused, err)
	}
	if len(l.Subject) > maxSubject || strings.ContainsAny(l.Subject, "\r\n\x00") {
		return fmt.Errorf("%w: its subject is not one short line", ErrRefused)
	}
	if len(l.Text) > maxText {
		return fmt.Errorf("%w: its text is longer than %d bytes", ErrRefused, maxText)
	}
	return nil
}

const keyLetters = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-_"

// checkFrom reads the club's own address, with or without a name before it:
// "Quillwater Paddlers <book@quillwater.example>".
func checkFrom(text string) (*mail.Address, error) {
	from, err := mail.ParseAddress(text)
	if err != nil {
		return nil, fault.Field("from", "write the club's own mail address, like someone@example.org")
	}
	from.Address, err = CheckAddress("from", from.Address)
	return from, err
}

// message writes a letter in the format of RFC 5322. Its bytes depend on the
// letter and the sender's address only.
func message(from *mail.Address, l Letter) (*gomail.Msg, error) {
	if err := l.check(); err != nil {
		return nil, err
	}
	m := gomail.NewMsg(gomail.WithNoDefaultUserAgent(), gomail.WithEncoding(gomail.EncodingQP))
	m.FromMailAddress(from)
	if err := m.To(l.To); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrRefused, err)
	}
	m.Subject(l.Subject)
	m.SetDateWithValue(l.At.UTC())
	m.SetMessageIDWithValue(messageID(from.Address, l.Key))
	// RFC 3834 §5: no automatic answers to this.
	m.SetGenHeader("Auto-Submitted", "auto-generated")
	m.SetBodyString(gomail.TypeTextPlain, l.Text)
	return m, nil
}

func messageID(from, key string) string {
	sum := sha256.Sum256([]byte("refloat letter " + key))
	return hex.EncodeToString(sum[:16]) + from[strings.LastIndexByte(from, '@'):]
}
