package message

import (
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// sums lists the SHA-256 of every frozen example, in the form that sha256sum
// reads. A line is written once, when its example is; from then on the file that
// it names may neither change nor go, because events of that shape stand in books.
const sums = frozen + "/SHA256SUMS"

// freezing, when set, makes the test add lines for examples that have none. It
// never changes a line that is there.
const freezing = "REFLOAT_FREEZE"

func TestNoFrozenExampleWasChangedOrTakenAway(t *testing.T) {
	recorded := readSums(t)
	for name, want := range recorded {
		raw, err := os.ReadFile(filepath.Join(frozen, name))
		if assert.NoError(t, err, "%s was taken away, and events of its shape stand in books", name) {
			assert.Equal(t, want, sumOf(raw), "%s was changed: give the new shape a schema of its own, and leave this file as it was", name)
		}
	}
	for _, name := range frozenNames(t) {
		if _, ok := recorded[name]; ok {
			continue
		}
		raw, err := os.ReadFile(filepath.Join(frozen, name))
		require.NoError(t, err)
		if os.Getenv(freezing) == "" {
			t.Errorf("%s is not frozen yet: %s=1 go test ./pkg/message adds its line to %s", name, freezing, filepath.Base(sums))
			continue
		}
		recorded[name] = sumOf(raw)
		writeSums(t, recorded)
	}
}

func frozenNames(t *testing.T) []string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(frozen, "*", "*.json"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for i, file := range files {
		files[i], err = filepath.Rel(frozen, file)
		require.NoError(t, err)
	}
	return files
}

func sumOf(raw []byte) string { return fmt.Sprintf("%x", sha256.Sum256(raw)) }

// readSums gives the recorded hash of each file, and refuses a list that names
// one twice: the second line would undo the first.
func readSums(t *testing.T) map[string]string {
	t.Helper()
	raw, err := os.ReadFile(sums)
	require.NoError(t, err)
	recorded := map[string]string{}
	for line := range strings.Lines(string(raw)) {
		sum, name, ok := strings.Cut(strings.TrimSuffix(line, "\n"), "  ")
		require.True(t, ok && len(sum) == 2*sha256.Size, "%q is no line of sha256sum", line)
		require.NotContains(t, recorded, name, "%s stands twice in %s", name, sums)
		recorded[name] = sum
	}
	return recorded
}

func writeSums(t *testing.T, recorded map[string]string) {
	t.Helper()
	var lines []string
	for name, sum := range recorded {
		lines = append(lines, sum+"  "+name+"\n")
	}
	slices.SortFunc(lines, func(a, b string) int { return strings.Compare(a[2*sha256.Size:], b[2*sha256.Size:]) })
	require.NoError(t, os.WriteFile(sums, []byte(strings.Join(lines, "")), 0o644))
}
