package vault

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sync/errgroup"
)

// many is enough people for three transactions of a rotation.
const many = 2*atOnce + 50

func (s *setup) owner(t *testing.T) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), s.db.OwnerURL)
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close(context.Background()) })
	return conn
}

func (s *setup) people(t *testing.T) map[string]Sealed {
	t.Helper()
	sealed := map[string]Sealed{}
	for i := range many {
		person := fmt.Sprintf("person-%03d", i)
		sealed[person] = s.seal(t, person, "email/1", person)
	}
	return sealed
}

// allOpen checks that a vault opens everything, and can give somebody new a key.
func allOpen(t *testing.T, v *Vault, sealed map[string]Sealed, newcomer string) {
	t.Helper()
	for person, box := range sealed {
		got, err := unseal(v, person, "email/1", box)
		require.NoError(t, err, person)
		require.Equal(t, person, got)
	}
	box, err := v.Seal(t.Context(), newcomer, "email/1", newcomer)
	require.NoError(t, err)
	sealed[newcomer] = box
}

var errKilled = errors.New("killed")

// A rotation is killed in every place, with a running process and one that starts
// afterwards, and then carried on.
func TestARotationThatIsKilledLeavesAUsableVault(t *testing.T) {
	for name, killAt := range map[string]struct {
		step string
		time int
	}{
		"after the first piece":            {"some", 1},
		"after the second piece":           {"some", 2},
		"before the fingerprint changes":   {"some", 3},
		"between database and file's name": {"committed", 1},
	} {
		t.Run(name, func(t *testing.T) {
			s := newSetup(t)
			sealed := s.people(t)
			require.NoError(t, s.vault.Destroy(t.Context(), "gone"))
			before := s.vault.ring.Load().now.fingerprint()
			blind, token := s.vault.Blind("mail", "a"), s.vault.Token("link", "a")

			times := 0
			killed := Rotation{Path: s.path, step: func(step string) error {
				if step == killAt.step {
					times++
				}
				if times == killAt.time {
					return errKilled
				}
				return nil
			}}
			require.ErrorIs(t, killed.Run(t.Context(), s.owner(t)), errKilled)
			running := s.vault
			running.cache = newCache(s.clock) // nothing is remembered
			allOpen(t, running, sealed, "came to the running one")
			allOpen(t, s.open(t), sealed, "came to a new one")

			require.NoError(t, Rotation{Path: s.path}.Run(t.Context(), s.owner(t)))
			running.cache = newCache(s.clock)
			allOpen(t, running, sealed, "came afterwards to the running one")
			after := s.open(t)
			allOpen(t, after, sealed, "came afterwards to a new one")
			assert.NotEqual(t, before, after.ring.Load().now.fingerprint())
			assert.NoFileExists(t, s.path+NextKey)
			keys, err := after.Check(t.Context())
			require.NoError(t, err)
			assert.Equal(t, many+4, keys)
			for _, v := range []*Vault{running, after} {
				assert.Equal(t, blind, v.Blind("mail", "a"), "what is looked up by stays")
				assert.Equal(t, token, v.Token("link", "a"), "links stay")
				_, err := v.Seal(t.Context(), "gone", "email/1", canary)
				assert.ErrorIs(t, err, ErrErased, "who was erased stays so")
			}
			var left int
			require.NoError(t, s.db.Pool.QueryRow(t.Context(), `SELECT count(*) FROM vault.person_key WHERE wrapped IS NOT NULL AND wrapped_by <> (SELECT fingerprint FROM vault.master_key)`).Scan(&left))
			assert.Zero(t, left, "the old key wraps nothing")
		})
	}
}

func TestTheOldMasterKeyOpensNothingAfterARotation(t *testing.T) {
	s := newSetup(t)
	s.seal(t, "ada", "email/1", canary)
	old, err := os.ReadFile(s.path)
	require.NoError(t, err)
	require.NoError(t, Rotation{Path: s.path}.Run(t.Context(), s.owner(t)))
	kept := filepath.Join(t.TempDir(), "master.key")
	require.NoError(t, os.WriteFile(kept, old, 0o600))
	_, err = Open(t.Context(), s.db.Pool, kept)
	assert.ErrorContains(t, err, "not the one")
	assert.ErrorContains(t, Rotation{Path: kept}.Run(t.Context(), s.owner(t)), "not the one", "nor does it rotate")
	key, err := readMaster(kept)
	require.NoError(t, err)
	var wrapped []byte
	require.NoError(t, s.db.Pool.QueryRow(t.Context(), `SELECT wrapped FROM vault.person_key`).Scan(&wrapped))
	_, err = (&ring{now: key}).unwrap("ada", wrapped)
	assert.ErrorIs(t, err, ErrBroken)
}

func TestTokensEndWhenTheyAreToldTo(t *testing.T) {
	s := newSetup(t)
	blind, token := s.vault.Blind("mail", "a"), s.vault.Token("mail", "a")
	assert.Equal(t, blind, token, "until then nothing tells them apart")
	require.NoError(t, Rotation{Path: s.path, EndTokens: true}.Run(t.Context(), s.owner(t)))
	require.NoError(t, s.vault.Refresh(t.Context()))
	assert.NotEqual(t, token, s.vault.Token("mail", "a"))
	assert.Equal(t, blind, s.vault.Blind("mail", "a"))
	now := s.vault.Token("mail", "a")
	require.NoError(t, Rotation{Path: s.path}.Run(t.Context(), s.owner(t)))
	assert.Equal(t, now, s.open(t).Token("mail", "a"), "the next rotation keeps them again")
}

// Guard: the condition in makeWith and the lock in finish. People come in two
// processes all the time while the master key is replaced again and again.
func TestPeopleComeDuringARotation(t *testing.T) {
	s := newSetup(t)
	ctx, cancel := context.WithCancel(t.Context())
	var comers errgroup.Group
	sealed := make([]map[string]Sealed, 2)
	for i := range sealed {
		v := s.open(t)
		sealed[i] = map[string]Sealed{}
		comers.Go(func() error {
			for n := 0; ctx.Err() == nil; n++ {
				person := fmt.Sprintf("comer-%d-%d", i, n)
				box, err := v.Seal(t.Context(), person, "email/1", person)
				if err != nil {
					return err
				}
				sealed[i][person] = box
			}
			return nil
		})
	}
	owner := s.owner(t)
	for range 5 {
		require.NoError(t, Rotation{Path: s.path}.Run(t.Context(), owner))
	}
	cancel()
	require.NoError(t, comers.Wait())
	keys, err := s.open(t).Check(t.Context())
	require.NoError(t, err)
	require.Positive(t, keys)
	for _, some := range sealed {
		allOpen(t, s.open(t), some, "last")
	}
}

func TestOneRotationAtATime(t *testing.T) {
	s := newSetup(t)
	require.NoError(t, Hold(t.Context(), s.owner(t), func() error {
		assert.ErrorIs(t, Rotation{Path: s.path}.Run(t.Context(), s.owner(t)), ErrHeld)
		return nil
	}))
	require.NoError(t, Rotation{Path: s.path}.Run(t.Context(), s.owner(t)))
}

func TestTheNextKeyCanBeGivenToOtherMachinesFirst(t *testing.T) {
	s := newSetup(t)
	sealed := s.people(t)
	file, err := Rotation{Path: s.path}.Prepare()
	require.NoError(t, err)
	elsewhere := filepath.Join(t.TempDir(), "master.key")
	for from, to := range map[string]string{s.path: elsewhere, file: elsewhere + NextKey} {
		key, err := os.ReadFile(from)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(to, key, 0o600))
	}
	other, err := Open(t.Context(), s.db.Pool, elsewhere)
	require.NoError(t, err)
	require.NoError(t, Rotation{Path: s.path}.Run(t.Context(), s.owner(t)))
	other.cache = newCache(s.clock)
	allOpen(t, other, sealed, "came there")
	require.NoError(t, Rotation{Path: elsewhere}.Run(t.Context(), s.owner(t)), "which tidies up there")
	assert.NoFileExists(t, elsewhere+NextKey)
}
