package postgres

import (
	"bufio"
	"context"
	"log/slog"
	"os"
	"strings"
)

// saying carries what the server says into our log and remembers its last
// words for the error that reports its end.
type saying struct {
	log   *slog.Logger
	pipe  *os.File // the server's end
	read  *os.File
	words []string // owned by listen until ended is closed
	ended chan struct{}
}

func newSaying(log *slog.Logger) (*saying, error) {
	read, write, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	return &saying{log: log, pipe: write, read: read, ended: make(chan struct{})}, nil
}

// listen reads until the last process of the server has closed its end.
func (s *saying) listen() {
	defer close(s.ended)
	defer func() { _ = s.read.Close() }()
	for lines := bufio.NewScanner(s.read); lines.Scan(); {
		line := lines.Text()
		s.words = append(s.words[max(0, len(s.words)-4):], line)
		s.log.Log(context.Background(), level(line), "postgres says", "line", line)
	}
}

// level sorts PostgreSQL's severities into ours. An ERROR is a statement that
// failed: whoever sent it has the error and reports it.
func level(line string) slog.Level {
	severity, _, _ := strings.Cut(line, ":")
	switch severity {
	case "PANIC":
		return slog.LevelError
	case "FATAL", "WARNING":
		return slog.LevelWarn
	}
	return slog.LevelDebug
}

// last gives the last words. Only after ended is closed.
func (s *saying) last() string { return strings.Join(s.words, " | ") }
