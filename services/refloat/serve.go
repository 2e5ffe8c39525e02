package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"strings"

	"refloat.example/pkg/watch"
)

// serve runs the rooms until ctx ends.
func serve(ctx context.Context, args []string, c console) int {
	var once bool
	cfg, rest, err := readConfig("serve", args, c.env, c.problems, func(f *flag.FlagSet) {
		f.BoolVar(&once, "once", false, "with --demo: play, print a summary, stop")
	})
	switch {
	case err != nil:
		return usage(c, err)
	case len(rest) > 0:
		return usage(c, fmt.Errorf("serve takes no %q", rest[0]))
	case once && cfg.Demo == "":
		return usage(c, errors.New("--once goes with --demo"))
	}
	p := newProgram(cfg, newLog(cfg, c.problems))
	err = p.start(ctx)
	if err == nil {
		err = p.work(ctx, once, c.out)
	}
	if stopErr := p.stop(); err == nil {
		err = stopErr
	}
	if err != nil && ctx.Err() == nil {
		return c.complain(err)
	}
	return exitOK
}

// work plays the demonstration club if there is one to play, and then waits.
func (p *program) work(ctx context.Context, once bool, out io.Writer) error {
	if err := p.firstAdministrator(ctx); err != nil {
		return err
	}
	if p.cfg.Demo != "" {
		summary, err := p.playDemo(ctx)
		if err != nil {
			return err
		}
		if once {
			return printJSON(out, summary)
		}
		fmt.Fprint(out, demoNote(p.cfg.Mail))
	}
	fmt.Fprintln(out, strings.TrimSpace("Refloat is ready "+p.page()))
	return p.wait(ctx)
}

// wait returns nil when ctx ends, and an error when a part ends by itself.
func (p *program) wait(ctx context.Context) error {
	if p.foundation.cluster == nil {
		return p.group.Wait(ctx)
	}
	ended := make(chan error, 1)
	go func() { ended <- p.group.Wait(ctx) }()
	select {
	case err := <-ended:
		return err
	case <-p.foundation.cluster.Done():
		return fmt.Errorf("the private database ended: %w", p.foundation.cluster.Err())
	}
}

func newLog(cfg config, to io.Writer) *slog.Logger {
	var level slog.Level
	if err := level.UnmarshalText([]byte(cfg.LogLevel)); err != nil {
		level = slog.LevelInfo
	}
	options := &slog.HandlerOptions{Level: level}
	if cfg.LogFormat == "json" {
		return slog.New(watch.LogHandler(slog.NewJSONHandler(to, options)))
	}
	return slog.New(watch.LogHandler(slog.NewTextHandler(to, options)))
}

func usage(c console, err error) int {
	c.complain(err)
	return exitUsage
}

// migrate brings the database up to date.
func migrate(ctx context.Context, args []string, c console) int {
	cfg, rest, err := readConfig("migrate", args, c.env, c.problems, nil)
	if err != nil || len(rest) > 0 {
		return usage(c, errors.Join(err, tooMany("migrate", rest)))
	}
	b, err := openBook(ctx, cfg, newLog(cfg, c.problems))
	if err == nil {
		defer b.close()
		err = migrateAll(ctx, b.database.OwnerURL)
	}
	if err != nil {
		return c.complain(err)
	}
	fmt.Fprintln(c.out, "The database is up to date.")
	return exitOK
}

func tooMany(name string, rest []string) error {
	if len(rest) == 0 {
		return nil
	}
	return fmt.Errorf("%s takes no %q", name, rest[0])
}

// demoNote says how to get into the demonstration club.
func demoNote(mailFolder string) string {
	return `
The demonstration club is in. Sign in on the page with one of these addresses; the
link to sign in lands as a file in ` + mailFolder + `
  mara@quillwater.example    administrator, steward
  ruben@quillwater.example   repairer, steward
  odile@quillwater.example   coordinator
  corin@quillwater.example   treasurer
`
}
