package people

import (
	"context"
	"fmt"
	"strings"
	"text/template"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/mail"
	"refloat.example/pkg/proof"
)

// checkpointEvery is how often the room looks whether the auditor is to get a
// checkpoint.
const checkpointEvery = time.Hour

// mailCheckpoint sends the newest checkpoint of the book to the address that the
// club's setting names, once a day at most and only when it is a new one. What was
// sent is noted after it was: a crash between the two sends it twice, with the same
// Message-ID.
func (s *service) mailCheckpoint(ctx context.Context) error {
	to, err := s.Setting(ctx, "auditor-mail")
	if err != nil || to == "" {
		return err
	}
	newest, err := s.Log.LastCheckpoint(ctx)
	if fault.Is(err, fault.Unknown) {
		return nil
	}
	if err != nil {
		return err
	}
	now := s.Clock.Now()
	var sent bool
	err = s.Pool.QueryRow(ctx, `SELECT EXISTS (SELECT FROM people.checkpoint_sent WHERE sent_on = $1 OR note = $2)`, clock.DateOf(now).Time(), string(newest.Note)).Scan(&sent)
	if err != nil || sent {
		return err
	}
	keys, err := s.Log.SigningKeys(ctx)
	if err != nil {
		return err
	}
	if err := s.cfg.Mail.Send(ctx, checkpointLetter(to, newest, keys, now)); err != nil {
		return fmt.Errorf("mailing a checkpoint to the auditor: %s", strings.ReplaceAll(err.Error(), to, "the address"))
	}
	return s.noteSent(ctx, newest, now)
}

func (s *service) noteSent(ctx context.Context, c proof.Signed, now time.Time) error {
	return pgx.BeginFunc(ctx, s.Pool, func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `DELETE FROM people.checkpoint_sent WHERE sent_on < $1`, clock.DateOf(now).Time())
		if err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `INSERT INTO people.checkpoint_sent (sent_on, note) VALUES ($1, $2)`, clock.DateOf(now).Time(), string(c.Note))
		return err
	})
}

var checkpointWords = template.Must(template.New("checkpoint").Parse(`This is the newest signed checkpoint of the club's book. Please keep this mail.

{{printf "%s" .Note}}
It says that the book had {{.Size}} events when it was made, and fixes every one of
them. If you are ever asked whether the book is still the true one, save this mail as
a file, and let whoever looks after the club's machine run

    refloat verify --checkpoints FILE --key KEY

before your eyes, or ask for the file that "refloat prove --from FILE" writes and check
it on a machine of your own with

    refloat check PROOF FILE --key KEY

KEY is the book's public key. Compare it with the one that you were told in person:
a mail can be forged, a key that you know cannot.

{{range .Keys}}    {{.Key}}
{{end}}`))

// checkpointLetter writes the letter; its key names the day.
func checkpointLetter(to string, c proof.Signed, keys []ledger.SigningKey, now time.Time) mail.Letter {
	var text strings.Builder
	err := checkpointWords.Execute(&text, struct {
		proof.Signed
		Keys []ledger.SigningKey
	}{c, keys})
	if err != nil {
		panic(err) // the template is compiled in, and its data have a fixed type
	}
	day := clock.DateOf(now).String()
	return mail.Letter{Key: "checkpoint-" + day, To: to, Subject: fmt.Sprintf("Checkpoint of the club's book: %d events", c.Size), Text: text.String(), At: now}
}
