package postgres

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// oldestMajor is the oldest PostgreSQL whose features are relied on
// (CREATE DATABASE ... STRATEGY, closed public schema).
const oldestMajor = 15

// binGlob is where Debian keeps its versioned programs, which are not on PATH.
const binGlob = "/usr/lib/postgresql/*/bin"

// installation is a folder that holds initdb and postgres of one version.
type installation struct {
	folder string
	major  int
}

// findInstallation picks the programs to run. A given folder is taken as it
// is. Else the newest found is taken, or, for data that exists already
// (major > 0), the one that can read it.
func findInstallation(folder string, major int) (installation, error) {
	if folder != "" {
		return askVersion(folder)
	}
	var best installation
	for _, candidate := range candidates() {
		found, err := askVersion(candidate)
		if err != nil || found.major < oldestMajor || major > 0 && found.major != major {
			continue
		}
		if found.major > best.major {
			best = found
		}
	}
	if best.folder == "" {
		return best, errNoInstallation(major)
	}
	return best, nil
}

func candidates() []string {
	folders, _ := filepath.Glob(binGlob) // the pattern is constant and well formed
	if path, err := exec.LookPath("postgres"); err == nil {
		folders = append(folders, filepath.Dir(path))
	}
	return folders
}

func errNoInstallation(major int) error {
	want := fmt.Sprintf("PostgreSQL %d or newer", oldestMajor)
	if major > 0 {
		want = fmt.Sprintf("PostgreSQL %d, which wrote the data", major)
	}
	return fmt.Errorf("%s was not found in %s nor on PATH: install it, or name the folder that holds initdb and postgres in REFLOAT_PG_BIN", want, binGlob)
}

// askVersion runs "postgres --version", which answers for instance
// "postgres (PostgreSQL) 15.18 (Debian 15.18-0+deb12u1)".
func askVersion(folder string) (installation, error) {
	out, err := exec.Command(filepath.Join(folder, "postgres"), "--version").Output()
	if err != nil {
		return installation{}, fmt.Errorf("ask the version of postgres in %s: %w", folder, err)
	}
	major, err := parseMajor(string(out))
	if err != nil {
		return installation{}, err
	}
	return installation{folder, major}, nil
}

func parseMajor(banner string) (int, error) {
	words := strings.Fields(banner)
	at := slices.Index(words, "(PostgreSQL)")
	if at < 0 || at+1 == len(words) {
		return 0, fmt.Errorf("%q names no PostgreSQL version", strings.TrimSpace(banner))
	}
	// "15.18", but also "19devel" and "18beta1".
	digits := words[at+1]
	if end := strings.IndexFunc(digits, func(r rune) bool { return r < '0' || r > '9' }); end >= 0 {
		digits = digits[:end]
	}
	return strconv.Atoi(digits)
}

// dataMajor reads which version wrote a data folder; 0 when there is none yet.
func dataMajor(data string) (int, error) {
	text, err := os.ReadFile(filepath.Join(data, "PG_VERSION"))
	if errors.Is(err, os.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, fmt.Errorf("read which PostgreSQL wrote the data: %w", err)
	}
	return strconv.Atoi(strings.TrimSpace(string(text)))
}
