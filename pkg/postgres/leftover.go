package postgres

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// leftoverPatience is how long an old server may take to finish its last
// checkpoint.
const leftoverPatience = time.Minute

// endLeftovers stops a server that an earlier, killed process left behind and
// waits until none of its processes works in the data folder. Only then is the
// pid file stale for certain, whoever has that process number by now.
func endLeftovers(ctx context.Context, data string) error {
	ctx, cancel := context.WithTimeout(ctx, leftoverPatience)
	defer cancel()
	running := serversIn(data)
	if postmaster := readPid(data); slices.Contains(running, postmaster) {
		if err := syscall.Kill(postmaster, syscall.SIGINT); err != nil && !errors.Is(err, syscall.ESRCH) {
			return fmt.Errorf("stop the database server %d that was left behind: %w", postmaster, err)
		}
	}
	for ; len(running) > 0; running = serversIn(data) {
		select {
		case <-ctx.Done():
			return fmt.Errorf("database processes %v still work in %s: %w", running, data, ctx.Err())
		case <-time.After(5 * time.Millisecond):
		}
	}
	return removeIfThere(filepath.Join(data, "postmaster.pid"))
}

// pidFileLine gives a line of the pid file, counted from 1, or "".
func pidFileLine(data string, n int) string {
	text, err := os.ReadFile(filepath.Join(data, "postmaster.pid"))
	if err != nil {
		return ""
	}
	lines := strings.Split(string(text), "\n")
	if len(lines) < n {
		return ""
	}
	return lines[n-1]
}

// readPid gives the process number in the pid file, 0 when there is none.
func readPid(data string) int {
	pid, _ := strconv.Atoi(strings.TrimSpace(pidFileLine(data, 1)))
	return pid
}

// isReady says whether a running server takes connections.
func isReady(data string) bool {
	return strings.TrimSpace(pidFileLine(data, 8)) == "ready"
}

// serversIn gives the processes of PostgreSQL whose working directory is the
// data folder: the server and its children, which may outlive it for a moment.
func serversIn(data string) []int {
	want, err := os.Stat(data)
	if err != nil {
		return nil
	}
	entries, _ := filepath.Glob("/proc/[0-9]*")
	var pids []int
	for _, entry := range entries {
		name, err := os.ReadFile(filepath.Join(entry, "comm"))
		if err != nil || strings.TrimSpace(string(name)) != "postgres" {
			continue
		}
		// Stat follows the link of the kernel, so no path is compared.
		if have, err := os.Stat(filepath.Join(entry, "cwd")); err == nil && os.SameFile(want, have) {
			pid, _ := strconv.Atoi(filepath.Base(entry))
			pids = append(pids, pid)
		}
	}
	return pids
}

func removeIfThere(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}
