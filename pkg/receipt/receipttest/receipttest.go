// Package receipttest reads papers in tests with a program that did not write them.
package receipttest

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Text gives the text of a PDF on one line, in the order in which it stands in the
// file. It is read by pdftotext of Poppler.
func Text(t testing.TB, pdf []byte) string {
	t.Helper()
	return read(t, pdf, "-raw")
}

// Columns is Text in the order in which it stands on the page: what is broken into
// lines beside something else is found there in parts.
func Columns(t testing.TB, pdf []byte) string {
	t.Helper()
	return read(t, pdf, "-layout")
}

func read(t testing.TB, pdf []byte, order string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "paper.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o600))
	text, err := exec.Command("pdftotext", order, file, "-").Output()
	require.NoError(t, err, "deploy/needs pdftotext:poppler-utils installs it")
	return strings.Join(strings.Fields(string(text)), " ")
}
