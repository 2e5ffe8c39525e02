package mail

import (
	"context"
	"errors"
	"fmt"
	"net/mail"
	"time"

	gomail "github.com/wneessen/go-mail"
)

// sendFor bounds one conversation with the mail server.
const sendFor = 20 * time.Second

// Server says which mail server takes the club's letters.
type Server struct {
	Host string
	Port int
	// From is the club's own address, with or without a name before it.
	From string
	// User and Password are empty for a server that asks for none.
	User, Password string
	TLS            TLS
}

// TLS says how the way to the server is protected.
type TLS string

// The ways. A server in the same machine may be spoken to without protection;
// letters hold private links, so nothing else may.
const (
	StartTLS TLS = "starttls" // begins in clear and must switch (port 587)
	Implicit TLS = "tls"      // protected from the first byte (port 465)
	NoTLS    TLS = "none"
)

// SMTP sends letters through a mail server, a connection each: the club sends
// few.
type SMTP struct {
	host    string
	from    *mail.Address
	options []gomail.Option
}

var _ Sender = SMTP{}

// NewSMTP checks the settings; it does not call the server.
func NewSMTP(s Server) (SMTP, error) {
	from, err := checkFrom(s.From)
	if err != nil {
		return SMTP{}, err
	}
	options := []gomail.Option{gomail.WithPort(s.Port), gomail.WithTimeout(sendFor), gomail.WithoutNoop()}
	switch s.TLS {
	case StartTLS:
		options = append(options, gomail.WithTLSPolicy(gomail.TLSMandatory))
	case Implicit:
		options = append(options, gomail.WithSSL())
	case NoTLS:
		options = append(options, gomail.WithTLSPolicy(gomail.NoTLS))
	default:
		return SMTP{}, fmt.Errorf("%q is no way to the mail server: choose starttls, tls or none", s.TLS)
	}
	if s.User != "" {
		if s.TLS == NoTLS {
			return SMTP{}, errors.New("a mail password is not sent without TLS: choose starttls or tls")
		}
		options = append(options, gomail.WithSMTPAuth(gomail.SMTPAuthAutoDiscover), gomail.WithUsername(s.User), gomail.WithPassword(s.Password))
	}
	if _, err := gomail.NewClient(s.Host, options...); err != nil {
		return SMTP{}, fmt.Errorf("the mail server's settings: %w", err)
	}
	return SMTP{s.Host, from, options}, nil
}

// Send hands a letter to the server.
func (s SMTP) Send(ctx context.Context, l Letter) error {
	m, err := message(s.from, l)
	if err != nil {
		return err
	}
	client, err := gomail.NewClient(s.host, s.options...)
	if err != nil {
		return fmt.Errorf("the mail server's settings: %w", err)
	}
	ctx, cancel := context.WithTimeout(ctx, sendFor)
	defer cancel()
	// A server that hangs up after taking the letter has taken it.
	if err := client.DialAndSendWithContext(ctx, m); err != nil && !m.IsDelivered() {
		return sendError(err)
	}
	return nil
}

// Repeats is false: a server that gets a letter twice sends it twice.
func (SMTP) Repeats() bool { return false }

// sendError tells a refusal of this very letter, a reply of 5xx to its address
// or text (RFC 5321 §4.2.1), and an end of the text that was not answered from
// what may pass.
func sendError(err error) error {
	var failed *gomail.SendError
	if !errors.As(err, &failed) {
		return fmt.Errorf("the mail server did not take the letter: %w", err)
	}
	final := failed.ErrorCode() >= 500
	switch {
	case failed.Reason == gomail.ErrSMTPDataClose && failed.ErrorCode() < 400:
		return fmt.Errorf("%w: %w", ErrUnknown, err)
	case final && (failed.Reason == gomail.ErrSMTPRcptTo || failed.Reason == gomail.ErrSMTPDataClose):
		return fmt.Errorf("%w: %w", ErrRefused, err)
	}
	return fmt.Errorf("the mail server did not take the letter: %w", err)
}
