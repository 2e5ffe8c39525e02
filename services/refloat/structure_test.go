package main

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/compose-spec/compose-go/v2/cli"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const module = "refloat.example/"

// layers gives, for each package of ours, what of ours it may import: everything
// in a lower layer. Packages of one layer do not import each other, but for
// those named in together.
var layers = [][]string{
	{"pkg/fault", "pkg/clock", "pkg/money", "pkg/boat", "pkg/people", "pkg/settings"},
	{"pkg/hin", "pkg/lift", "pkg/float", "pkg/defects", "pkg/jackets", "pkg/quarantine", "pkg/cure", "pkg/mend", "pkg/regress",
		"pkg/appraise", "pkg/plan", "pkg/assign", "pkg/assigncheck", "pkg/taxpaper", "pkg/receipt", "pkg/guide", "pkg/bankrows"},
	{"pkg/message"},
	{"pkg/watch"},
	{"pkg/postgres", "pkg/bus", "pkg/lifecycle", "pkg/httpserver", "pkg/vault", "pkg/mail", "pkg/photo", "pkg/proof", "pkg/passkey"},
	{"pkg/ledger"},
	{"pkg/desk"},
	{"services/people", "services/intake", "services/repair", "services/valuation", "services/matching", "services/treasury", "services/web"},
	{"services/refloat"},
	{"services/bench"},
}

// together are imports inside a layer that are wanted: the vocabulary's own
// words, and arithmetic built on arithmetic.
var together = map[string][]string{
	"pkg/boat":     {"pkg/fault"},
	"pkg/settings": {"pkg/boat", "pkg/fault", "pkg/money"},
	"pkg/appraise": {"pkg/regress", "pkg/defects"},
}

func TestImportsRunOneWay(t *testing.T) {
	for pkg, imports := range importsOfOurs(t) {
		layer := layerOf(pkg)
		if !assert.GreaterOrEqual(t, layer, 0, "%s stands in no layer of this test", pkg) {
			continue
		}
		for _, imported := range imports {
			if inside(imported, pkg) || slices.Contains(together[pkg], imported) {
				continue
			}
			assert.Less(t, layerOf(imported), layer, "%s imports %s", pkg, imported)
		}
	}
}

// The arithmetic stays free of everything but the standard library, the
// vocabulary, and libraries for numbers, PDF and QR codes.
func TestArithmeticIsPure(t *testing.T) {
	allowed := []string{"gonum.org/v1/gonum/", "codeberg.org/go-pdf/fpdf", "github.com/skip2/go-qrcode", "golang.org/x/text/", "golang.org/x/image/font/sfnt"}
	for _, pkg := range layers[1] {
		out, err := exec.Command("go", "list", "-f", `{{join .Imports "\n"}}`, module+pkg).Output()
		require.NoError(t, err, pkg)
		for _, imported := range strings.Fields(string(out)) {
			outside := strings.Contains(strings.Split(imported, "/")[0], ".") && !strings.HasPrefix(imported, module)
			ours := slices.ContainsFunc(allowed, func(prefix string) bool { return strings.HasPrefix(imported, prefix) })
			assert.False(t, outside && !ours, "%s imports %s", pkg, imported)
			assert.NotContains(t, []string{"net", "net/http", "database/sql", "os/exec"}, imported, pkg)
		}
	}
}

// importsOfOurs gives each package of ours, tests and test helpers left out, with
// the packages of ours that it imports.
func importsOfOurs(t *testing.T) map[string][]string {
	out, err := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}}`, module+"pkg/...", module+"services/...").Output()
	require.NoError(t, err)
	all := map[string][]string{}
	for line := range strings.Lines(string(out)) {
		words := strings.Fields(line)
		pkg := strings.TrimPrefix(words[0], module)
		if strings.HasSuffix(pkg, "test") {
			continue
		}
		all[pkg] = nil
		for _, imported := range words[1:] {
			if ours, ok := strings.CutPrefix(imported, module); ok {
				all[pkg] = append(all[pkg], ours)
			}
		}
	}
	return all
}

func layerOf(pkg string) int {
	return slices.IndexFunc(layers, func(layer []string) bool {
		return slices.ContainsFunc(layer, func(l string) bool { return inside(pkg, l) })
	})
}

func inside(pkg, of string) bool { return pkg == of || strings.HasPrefix(pkg, of+"/") }

func TestComposeFileHolds(t *testing.T) {
	root := filepath.Join("..", "..")
	options, err := cli.NewProjectOptions([]string{filepath.Join(root, "compose.yaml")}, cli.WithWorkingDirectory(root), cli.WithoutEnvironmentResolution)
	require.NoError(t, err)
	project, err := options.LoadProject(context.Background())
	require.NoError(t, err)
	known := map[string]bool{}
	for _, s := range settings {
		known[s.env] = true
	}
	var served []string
	for name, service := range project.Services {
		for env := range service.Environment {
			assert.True(t, known[env], "%s sets %s, which is no setting", name, env)
		}
		if i := slices.IndexFunc(service.Command, func(word string) bool { return strings.HasPrefix(word, "--rooms=") }); i >= 0 {
			served = append(served, strings.Split(strings.TrimPrefix(service.Command[i], "--rooms="), ",")...)
		}
	}
	assert.ElementsMatch(t, allRooms, served, "every room runs once")
}

func TestEveryFolderUnderDeployIsExplained(t *testing.T) {
	guide, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	require.NoError(t, err)
	entries, err := os.ReadDir(filepath.Join("..", "..", "deploy"))
	require.NoError(t, err)
	for _, e := range entries {
		if e.Name() != "last-long-run.txt" && e.Name() != "axe" {
			assert.True(t, bytes.Contains(guide, []byte("deploy/"+e.Name())), "README says nothing of deploy/%s", e.Name())
		}
	}
}
