package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// No number and no rule makes a boat, a lift or a day on the water safe for
// somebody, so no text of the program says so.
var promise = regexp.MustCompile(`(?i)\bsafe(ly|r|st)?\b|\bunsafe\b|\bsafety\b`)

// named are names of things, and where somebody keeps keys.
var named = regexp.MustCompile(`safety data sheets?|Health and Safety Executive|Cold Water Safety|not a promise of safety|/mnt/safe/`)

func TestNoTextPromisesSafety(t *testing.T) {
	texts := 0
	look := func(where, text string) {
		texts++
		for line := range strings.Lines(named.ReplaceAllString(text, "")) {
			assert.False(t, promise.MatchString(line), "%s: %s", where, line)
		}
	}
	for _, root := range []string{"../../services", "../../pkg"} {
		require.NoError(t, filepath.WalkDir(root, func(path string, _ fs.DirEntry, err error) error {
			switch {
			case err != nil || strings.Contains(path, "testdata") || strings.Contains(path, "node_modules"):
			case strings.HasSuffix(path, ".go") && !strings.HasSuffix(path, "_test.go"):
				eachLiteral(t, path, func(text string) { look(path, text) })
			case strings.HasSuffix(path, ".html"), strings.HasSuffix(path, ".txt") && !strings.Contains(path, "taxpaper"):
				text, err := os.ReadFile(path)
				require.NoError(t, err)
				for line := range strings.Lines(string(text)) {
					look(path, strings.TrimSpace(line))
				}
			}
			return err
		}))
	}
	assert.Greater(t, texts, 5000, "the texts were not found")
	assert.True(t, promise.MatchString("This boat is safe."), "the check itself")
}

// eachLiteral gives the texts in a Go file but for struct tags.
func eachLiteral(t *testing.T, path string, f func(string)) {
	file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
	require.NoError(t, err)
	ast.Inspect(file, func(n ast.Node) bool {
		if field, ok := n.(*ast.Field); ok && field.Tag != nil {
			field.Tag = nil
		}
		if literal, ok := n.(*ast.BasicLit); ok && literal.Kind == token.STRING {
			text, err := strconv.Unquote(literal.Value)
			require.NoError(t, err)
			f(text)
		}
		return true
	})
}
