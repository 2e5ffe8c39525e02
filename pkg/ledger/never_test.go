package ledger

import (
	"errors"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Guards: the GRANT lines of the migration for the application, the triggers
// event_never_changes and head_never_vanishes for the owner. With
// "GRANT ALL" the first half fails, without a trigger the second.
func TestNobodyChangesWhatStandsInTheBook(t *testing.T) {
	b := newBook(t)
	b.fill(3)
	const byPrivilege, byTrigger = "42501", "P0001" // SQLSTATEs of PostgreSQL 15, appendix A
	for name, row := range map[string]struct{ statement, app, owner string }{
		"update":               {`UPDATE ledger.event SET data = '{}'`, byPrivilege, byTrigger},
		"update of one":        {`UPDATE ledger.event SET actor = 'x' WHERE position = 2`, byPrivilege, byTrigger},
		"update of none":       {`UPDATE ledger.event SET actor = 'x' WHERE position = 99`, byPrivilege, byTrigger},
		"delete":               {`DELETE FROM ledger.event WHERE position = 3`, byPrivilege, byTrigger},
		"truncate":             {`TRUNCATE ledger.event`, byPrivilege, byTrigger},
		"upsert":               {`INSERT INTO ledger.event SELECT * FROM ledger.event ON CONFLICT (position) DO UPDATE SET data = '{}'`, byPrivilege, byTrigger},
		"drop":                 {`DROP TABLE ledger.event`, byPrivilege, ""},
		"disabled trigger":     {`ALTER TABLE ledger.event DISABLE TRIGGER ALL`, byPrivilege, ""},
		"head deleted":         {`DELETE FROM ledger.head`, byPrivilege, byTrigger},
		"head truncated":       {`TRUNCATE ledger.head`, byPrivilege, byTrigger},
		"head doubled":         {`INSERT INTO ledger.head SELECT false, position, hash, recorded_at, epoch FROM ledger.head`, byPrivilege, "23514"},
		"a table of one's own": {`CREATE TABLE ledger.other ()`, byPrivilege, ""},
	} {
		t.Run(name, func(t *testing.T) {
			assert.Equal(t, row.app, refusal(t, b.db.AppURL, row.statement), "the application")
			if row.owner != "" {
				assert.Equal(t, row.owner, refusal(t, b.db.OwnerURL, row.statement), "the owner")
			}
		})
	}
	assert.Len(t, b.all(), 3)
}

// refusal gives the SQLSTATE with which a statement is refused.
func refusal(t *testing.T, url, statement string) string {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	require.NoError(t, err)
	defer func() { _ = conn.Close(t.Context()) }()
	_, err = conn.Exec(t.Context(), statement)
	var refused *pgconn.PgError
	require.True(t, errors.As(err, &refused), "%s was not refused: %v", statement, err)
	return refused.Code
}
