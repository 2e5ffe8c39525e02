package settings_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/settings"
)

func TestEverySettingIsExplainedAndItsDefaultIsAllowed(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range settings.Club {
		assert.False(t, seen[s.Name], "%s stands twice", s.Name)
		seen[s.Name] = true
		assert.NoError(t, s.Check(s.Default), s.Name)
		assert.True(t, strings.HasSuffix(s.Effect, "."), "%s: a sentence ends with a full stop: %q", s.Name, s.Effect)
		assert.Equal(t, s.Default, settings.Default(s.Name))
	}
	assert.Panics(t, func() { settings.Default("colour") })
}

func TestASettingRefusesWhatItCannotHave(t *testing.T) {
	for name, values := range map[string]struct{ good, bad []string }{
		"legal-name":     {[]string{"", "Quillwater Paddlers", strings.Repeat("x", 500)}, []string{strings.Repeat("x", 501), "two\nlines", "\x00"}},
		"country":        {[]string{"US", "CA", "UK"}, []string{"", "us", "FR"}},
		"load-percent":   {[]string{"10", "100"}, []string{"9", "101", "70 %", ""}},
		"currency":       {[]string{"USD", "EUR"}, []string{"", "usd", "DOLLAR"}},
		"auditor-mail":   {[]string{"", "auditor@example.org"}, []string{"auditor", "A <auditor@example.org>", "a@example.org, b@example.org", " "}},
		"margin-minimum": {[]string{"0", "30.00"}, []string{"", "-1", "30.001", "thirty", "12,5 EUR", "30 USD"}},
	} {
		s, ok := settings.Find(name)
		require.True(t, ok, name)
		for _, value := range values.good {
			assert.NoError(t, s.Check(value), "%s %q", name, value)
		}
		for _, value := range values.bad {
			faulttest.Want(t, s.Check(value), fault.Invalid, "value", name, strconv.Quote(value))
		}
	}
	_, ok := settings.Find("colour")
	assert.False(t, ok)
}

// A setting's name is a text wherever it is read: a mistyped one would panic on
// the day when it is first asked for, and one that nobody reads would change
// nothing.
func TestRoomsReadTheSettingsThatThereAre(t *testing.T) {
	code := sourceOf(t, filepath.Join("..", "..", "services"))
	for _, read := range regexp.MustCompile(`\.Setting(Whole)?\(\w[\w.]*, "([^"]*)"\)`).FindAllStringSubmatch(code, -1) {
		s, ok := settings.Find(read[2])
		if assert.True(t, ok, "%s: no such setting", read[0]) && read[1] != "" {
			_, err := strconv.Atoi(s.Default)
			assert.NoError(t, err, "%s: not a whole number", read[0])
		}
	}
	for _, s := range settings.Club {
		assert.True(t, strings.Contains(code, strconv.Quote(s.Name)), "nobody reads %s", s.Name) // the code itself would fill the screen
	}
}

// sourceOf joins the Go files of a folder, tests left out.
func sourceOf(t *testing.T, folder string) string {
	t.Helper()
	var code strings.Builder
	require.NoError(t, filepath.WalkDir(folder, func(path string, _ fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		code.Write(text)
		return err
	}))
	return code.String()
}
