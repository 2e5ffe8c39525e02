package people

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
)

// No program can hand a letter to a mail server and write that down in one act.
// So an attempt is written down first, then made, then its outcome is written
// down. An attempt whose outcome is missing (the program was killed, the server
// fell silent after the last line) may have sent the letter. It is not repeated by
// the program: a person decides (settle-letter), except for one-time links, which
// are asked for anew, and for the folder of letters, in which the same letter
// twice is one file.

const (
	// attemptFor is longer than a conversation with a mail server may take. An
	// attempt without an outcome is left alone for so long: another process may be
	// making it that has lost its lock and does not know yet.
	attemptFor = 30 * time.Second
	// recordFor is how long an outcome is tried to be written down, when the
	// database is away for a moment.
	recordFor     = 20 * time.Second
	mostUnsettled = 200
)

// letterUnknown is the outcome of an attempt of which nobody knows it.
const letterUnknown = "nobody knows whether it left"

// claim writes down that a letter is about to be handed over. It is false when
// another process did so.
func (s *service) claim(ctx context.Context, l queued) (mine bool, err error) {
	tag, err := s.Pool.Exec(ctx, `UPDATE people.letter SET attempt_at = $2 WHERE key = $1 AND attempt_at IS NULL AND done_at IS NULL`, l.Key, s.Clock.Now())
	return tag.RowsAffected() == 1, err
}

// record writes down what became of an attempt. It tries for a while, also when
// the room is being closed: what is not written down has to be found out by a
// person.
func (s *service) record(ctx context.Context, sql string, args ...any) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), recordFor)
	defer cancel()
	for {
		_, err := s.Pool.Exec(ctx, sql, args...)
		if err == nil {
			return nil
		}
		select {
		case <-ctx.Done():
			return err
		case <-time.After(200 * time.Millisecond):
		}
	}
}

// sortOutAttempts says what is to become of attempts that have no outcome.
func (s *service) sortOutAttempts(ctx context.Context) error {
	before := s.Clock.Now().Add(-attemptFor)
	if s.cfg.Mail.Repeats() {
		_, err := s.Pool.Exec(ctx, `UPDATE people.letter SET attempt_at = NULL WHERE done_at IS NULL AND attempt_at <= $1`, before)
		return err
	}
	rows, err := s.Pool.Query(ctx, `
		UPDATE people.letter SET outcome = $2, done_at = CASE WHEN sort = $3 THEN $4::timestamptz END
		WHERE done_at IS NULL AND attempt_at <= $1 AND outcome = '' RETURNING key`, before, letterUnknown, signInLetter, s.Clock.Now())
	if err != nil {
		return err
	}
	unknown, err := pgx.CollectRows(rows, pgx.RowTo[string])
	for _, key := range unknown {
		s.Slog.Warn("nobody knows whether a letter left; the page of letters asks what to do", "letter", key)
	}
	return err
}

// unsettledLetters lists the letters that wait for a person's word.
func (s *service) unsettledLetters(ctx context.Context, _ desk.Caller, _ message.UnsettledLetters) (message.LettersFound, error) {
	rows, err := s.Pool.Query(ctx, `SELECT key, sort, person, attempt_at FROM people.letter WHERE done_at IS NULL AND outcome = $1 ORDER BY attempt_at, key LIMIT $2`,
		letterUnknown, mostUnsettled)
	if err != nil {
		return message.LettersFound{}, err
	}
	letters, err := pgx.CollectRows(rows, pgx.RowToStructByPos[message.LetterFound])
	return message.LettersFound{Letters: letters}, err
}

// mostOutcomes bounds the letters that are asked about at once.
const mostOutcomes = 500

// letterOutcomes gives what became of letters. Those that nobody ever wrote are left out.
func (s *service) letterOutcomes(ctx context.Context, _ desk.Caller, q message.LetterOutcomes) (message.OutcomesOfLetters, error) {
	answer := message.OutcomesOfLetters{}
	if len(q.Letters) > mostOutcomes {
		return answer, fault.Field("letters", "names %d letters; at most %d can be asked about", len(q.Letters), mostOutcomes)
	}
	rows, err := s.Pool.Query(ctx, `SELECT key, outcome, coalesce(done_at, attempt_at) FROM people.letter WHERE key = ANY($1) ORDER BY key`, q.Letters)
	if err != nil {
		return answer, err
	}
	answer.Letters, err = pgx.AppendRows([]message.LetterOutcome{}, rows, pgx.RowToStructByPos[message.LetterOutcome])
	return answer, err
}

// decisions folds how often it was decided about a letter.
type decisions struct{ made int }

// Fold counts.
func (d *decisions) Fold(message.Event, message.Body) { d.made++ }

// settleLetter says what a member decided; the letter itself follows when the
// room hears it (settle).
func (s *service) settleLetter(ctx context.Context, o desk.Order[message.SettleLetter]) (desk.Decision, error) {
	c := o.Command
	if err := desk.GoodID("letter", c.Letter); err != nil {
		return desk.Decision{}, err
	}
	_, at, err := desk.Load[decisions](ctx, s.Log, message.Letter(c.Letter))
	if err != nil {
		return desk.Decision{}, err
	}
	var waits bool
	err = s.Pool.QueryRow(ctx, `SELECT EXISTS (SELECT FROM people.letter WHERE key = $1 AND done_at IS NULL AND outcome = $2)`, c.Letter, letterUnknown).Scan(&waits)
	if err == nil && !waits {
		err = fault.New(fault.Conflict, "this letter waits for no decision; look at the list again")
	}
	if err != nil {
		return desk.Decision{}, err
	}
	d, err := say(at.Stream, message.LetterSettled{Letter: c.Letter, Again: c.Again})
	d.Expect = []ledger.Expected{at}
	return d, err
}

// settle does what was decided, if it was decided about the last attempt: hearing
// an old decision again sends nothing.
func (s *service) settle(ctx context.Context, e message.Event, b message.LetterSettled) error {
	const waiting = ` WHERE key = $1 AND done_at IS NULL AND outcome = $2 AND attempt_at <= $3`
	if b.Again {
		_, err := s.Pool.Exec(ctx, `UPDATE people.letter SET attempt_at = NULL, outcome = '', next_at = $3`+waiting, b.Letter, letterUnknown, e.RecordedAt)
		return err
	}
	_, err := s.Pool.Exec(ctx, `UPDATE people.letter SET done_at = $3`+waiting, b.Letter, letterUnknown, e.RecordedAt)
	return err
}
