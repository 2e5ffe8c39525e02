package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/bus"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/services/refloat/importer"
)

// stranger is another machine: it has the program and the files, and neither data
// nor keys nor settings.
func (i *installation) stranger() *installation {
	return &installation{i.t, i.t.TempDir(), []string{"PATH=" + os.Getenv("PATH")}}
}

func (i *installation) must(args ...string) string {
	i.t.Helper()
	out, problems, code := i.run(args...)
	require.Equal(i.t, exitOK, code, problems)
	return out
}

// A donor's paper is proved at the club's machine and checked on another one; after
// a change of any one byte of paper, proof or checkpoint it is refused.
func TestAPaperIsProvedHereAndCheckedElsewhere(t *testing.T) {
	t.Parallel()
	i := newPlayedInstallation(t)
	file := func(name string) string { return filepath.Join(i.folder, name) }
	checkpoints := file("checkpoints")
	keys := filepath.Join(checkpoints, "keys.txt")

	serve := i.start("serve")
	serve.awaitReady()
	pdf := printedPaper(t, i, "US-2026-0001")
	require.NoError(t, os.WriteFile(file("paper.pdf"), pdf, 0o600))
	i.must("prove", "US-2026-0001", "--out", file("paper.proof.txt"))
	papersAtTheMachine(t, i)
	serve.interrupt()

	donor := i.stranger()
	said := donor.must("check", file("paper.proof.txt"), "--key", keys, "--paper", file("paper.pdf"))
	assert.Contains(t, said, "The proof holds")
	assert.Contains(t, said, "the paper US-2026-0001 of 2026-")
	assert.Contains(t, said, "byte for byte")
	donor.must("check", file("paper.proof.txt"), "--key", keys, newestMonth(t, checkpoints))

	proofText, err := os.ReadFile(file("paper.proof.txt"))
	require.NoError(t, err)
	assert.Less(t, len(proofText), 2048)
	note := strings.Index(string(proofText), "\n\n") + 2 // the checkpoint begins here
	for name, change := range map[string]struct {
		of string
		at int
	}{
		"the paper's middle":           {"paper.pdf", len(pdf) / 2},
		"the paper's last byte":        {"paper.pdf", len(pdf) - 1},
		"the proof's event":            {"paper.proof.txt", strings.Index(string(proofText), "file_digest") + 20},
		"the proof's path":             {"paper.proof.txt", note - 20},
		"the checkpoint's size":        {"paper.proof.txt", note + strings.Index(string(proofText[note:]), "\n") + 1},
		"the checkpoint's root":        {"paper.proof.txt", strings.Index(string(proofText), "\nhead ") - 10},
		"the checkpoint's time":        {"paper.proof.txt", strings.Index(string(proofText), "\ntime ") + 8},
		"the checkpoint's signature":   {"paper.proof.txt", len(proofText) - 10},
		"a spare bit of the signature": {"paper.proof.txt", len(proofText) - 3},
	} {
		good, err := os.ReadFile(file(change.of))
		require.NoError(t, err)
		bad := append([]byte{}, good...)
		bad[change.at] ^= 1
		require.NoError(t, os.WriteFile(file(change.of), bad, 0o600))
		_, problems, code := donor.run("check", file("paper.proof.txt"), "--key", keys, "--paper", file("paper.pdf"))
		assert.Equal(t, exitRefused, code, name)
		assert.NotEmpty(t, problems, name)
		require.NoError(t, os.WriteFile(file(change.of), good, 0o600))
	}
	for name, args := range map[string][]string{
		"no key":             {"check", file("paper.proof.txt")},
		"no file":            {"check", "--key", keys},
		"a key that is none": {"check", file("paper.proof.txt"), "--key", "book-a+b+c"},
	} {
		_, problems, code := donor.run(args...)
		assert.NotEqual(t, exitOK, code, name)
		assert.NotEmpty(t, problems, name)
	}
	t.Run("another club's key does not fit", func(t *testing.T) {
		other := newOtherClub(t)
		_, problems, code := donor.run("check", file("paper.proof.txt"), "--key", filepath.Join(other.folder, "checkpoints", "keys.txt"))
		assert.Equal(t, exitRefused, code)
		assert.Contains(t, problems, "none of the given keys")
		_, problems, code = i.run("verify", "--checkpoints", filepath.Join(other.folder, "checkpoints"))
		assert.Equal(t, exitRefused, code, "another book's checkpoints: %s", problems)
		_, problems, code = (&installation{t, i.folder, append(i.env, "REFLOAT_CHECKPOINTS="+filepath.Join(other.folder, "checkpoints"))}).run("serve", "--demo", demoFolder, "--once")
		assert.Equal(t, exitRefused, code, "it does not start over a folder of another book")
		assert.Contains(t, problems, "published checkpoint")
	})
	t.Run("an older checkpoint is continued, over a change of keys", func(t *testing.T) { continuesOverAChangeOfKeys(t, i, donor) })
}

func newestMonth(t *testing.T, folder string) string {
	months, err := filepath.Glob(filepath.Join(folder, "checkpoints-*.txt"))
	require.NoError(t, err)
	require.NotEmpty(t, months)
	return months[len(months)-1]
}

// continuesOverAChangeOfKeys keeps a checkpoint, replaces the key, writes on, and
// checks elsewhere with both keys, and with the old one alone through the checkpoint
// that both signed.
func continuesOverAChangeOfKeys(t *testing.T, i, donor *installation) {
	kept := filepath.Join(donor.folder, "kept.txt")
	old, err := os.ReadFile(newestMonth(t, filepath.Join(i.folder, "checkpoints")))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(kept, old, 0o600))
	oldKey := strings.Fields(i.must("signing-key", "show"))[0]
	changed := i.must("signing-key", "replace")
	mark := filepath.Join(donor.folder, "mark.txt")
	require.NoError(t, os.WriteFile(mark, []byte(changed), 0o600))
	serve := i.start("serve")
	serve.awaitReady()
	eraseAsOperator(t, i, people.ID(importer.ID("person", erasedReference)))
	serve.interrupt()

	keys := filepath.Join(i.folder, "checkpoints", "keys.txt")
	proofFile := filepath.Join(donor.folder, "continues.txt")
	i.must("prove", "--from", kept, "--out", proofFile)
	assert.Contains(t, donor.must("check", proofFile, kept, "--key", keys), "begins with the")
	_, problems, code := donor.run("check", proofFile, kept, "--key", oldKey)
	assert.Equal(t, exitRefused, code, "the newest is signed by the new key alone")
	assert.Contains(t, problems, "newer checkpoint")
	out := i.must("verify", "--checkpoints", mark, "--key", oldKey)
	assert.Contains(t, out, `"ok":true`, "the checkpoint of the change opens with the old key")
	assert.Contains(t, i.must("verify", "--from", mark, "--checkpoints", filepath.Join(i.folder, "checkpoints")), `"from":`)
	assert.Contains(t, i.must("verify", "--boat", "Heron", "--checkpoints", kept, "--key", keys), `"ok":true`)
	assert.Contains(t, i.must("verify", "--tree"), `"checkpoints":`)
}

// papersAtTheMachine lists a year's papers, issues what is ready, and counts the numbers.
func papersAtTheMachine(t *testing.T, i *installation) {
	t.Helper()
	assert.Contains(t, i.must("papers", "2026"), "has US-2026-0001")
	i.must("papers", "2026", "--issue")
	assert.Equal(t, "No gift is ready for a paper.\n", i.must("papers", "2026", "--issue"))
	assert.Contains(t, i.must("papers", "series"), "No number is missing, and none stands twice.")
	_, problems, code := i.run("papers", "series", "--issue")
	assert.Equal(t, exitUsage, code)
	assert.Contains(t, problems, "--issue needs a year")
}

// printedPaper asks the running installation for a paper as its treasurer.
func printedPaper(t *testing.T, i *installation, serial string) []byte {
	t.Helper()
	n, running := readNotice(config{Data: i.data()})
	require.True(t, running)
	conn, err := bus.Connect(t.Context(), bus.Operator, n.Bus, quietLog())
	require.NoError(t, err)
	defer conn.Close()
	client := desk.Client{Conn: conn}
	treasurer := people.Member(people.ID(importer.ID("person", "corin")))
	papers, err := desk.Ask[message.PapersOfDonor](t.Context(), client, desk.Asking{By: treasurer}, message.DonorPapers{Donor: donorOf(t, i, serial)})
	require.NoError(t, err)
	for _, p := range papers.Papers {
		if p.Serial == serial {
			sheet, err := desk.Ask[message.Sheet](t.Context(), client, desk.Asking{By: treasurer}, message.PrintPaper{Paper: p.Paper})
			require.NoError(t, err)
			return sheet.PDF
		}
	}
	require.Fail(t, "no such paper", serial)
	return nil
}

func donorOf(t *testing.T, i *installation, serial string) (donor people.ID) {
	t.Helper()
	cfg, _, err := readConfig("test", nil, i.setting, nil, nil)
	require.NoError(t, err)
	b, err := openBook(t.Context(), cfg, quietLog())
	require.NoError(t, err)
	defer b.close()
	require.NoError(t, b.pool.QueryRow(t.Context(), `SELECT donor FROM web.paper WHERE serial = $1`, serial).Scan(&donor))
	return donor
}

func TestTheHistoryAsOfTwoDaysAtTheMachine(t *testing.T) {
	t.Parallel()
	i := newPlayedInstallation(t)
	lines := func(args ...string) int {
		return strings.Count(i.must(append([]string{"boat", "history", "Heron"}, args...)...), "\n")
	}
	all := lines()
	assert.Equal(t, all, lines("--known-on", time.Now().UTC().AddDate(0, 0, 1).Format(time.DateOnly)))
	assert.Equal(t, 1, lines("--known-on", "2020-01-01"), "the head alone")
	some := lines("--about", "2026-04-10")
	assert.Greater(t, some, 1)
	assert.Less(t, some, all)
	_, problems, code := i.run("boat", "history", "Heron", "--about", "soon")
	assert.Equal(t, exitUsage, code)
	assert.Contains(t, problems, "YYYY-MM-DD")
}
