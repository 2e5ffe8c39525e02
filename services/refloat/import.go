package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"strings"

	"refloat.example/services/refloat/importer"
)

// importFile answers `refloat import KIND FILE`.
func importFile(ctx context.Context, args []string, c console) int {
	var options importer.Options
	var template bool
	cfg, rest, err := readConfig("import", args, c.env, c.problems, func(f *flag.FlagSet) {
		f.BoolVar(&options.DryRun, "dry-run", false, "change nothing")
		f.BoolVar(&options.AllOrNothing, "all-or-nothing", false, "all rows or none")
		f.BoolVar(&template, "template", false, "write an example file")
	})
	if err == nil && (template && len(rest) != 1 || !template && len(rest) != 2) {
		err = fmt.Errorf("say: refloat import %s FILE, or --template without a file", strings.Join(importer.Kinds(), "|"))
	}
	if err != nil {
		return usage(c, err)
	}
	if template {
		if err := importer.Template(rest[0], c.out, c.problems); err != nil {
			return usage(c, err)
		}
		return exitOK
	}
	a, err := attach(ctx, cfg, c)
	if err != nil {
		return c.complain(err)
	}
	summary, err := importer.Run(ctx, a.client, rest[0], rest[1], options, c.problems)
	for _, problem := range summary.Problems {
		fmt.Fprintln(c.problems, problem)
	}
	if err == nil {
		err = printJSON(c.out, summary)
	}
	if err = errors.Join(err, a.detach()); err != nil {
		return c.complain(err)
	}
	if len(summary.Problems) > 0 {
		return exitRefused
	}
	return exitOK
}
