package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/google/uuid"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

const papersDetail = `refloat papers YEAR lists the gifts of a year: which have a paper, which can get one, and
what the others lack.

  --issue      issue the papers of those that can get one, and show how far it is. It
               may be broken off: the running installation goes on by itself, and to
               give the command again doubles nothing
  --on DATE    the date of the papers; without it, today

refloat papers series reads the whole book again and lists each series of numbers. It
exits 1 when a number is missing or stands twice.`

// papers answers `refloat papers`.
func papers(ctx context.Context, args []string, c console) int {
	var issue bool
	on := clock.DateOf(time.Now())
	cfg, words, err := readConfig("papers", args, c.env, c.problems, func(f *flag.FlagSet) {
		f.BoolVar(&issue, "issue", false, "issue what is ready")
		f.Func("on", "the date of the papers", dayInto(&on))
	})
	year := 0
	switch {
	case err != nil:
	case len(words) != 1:
		err = errors.New("say a year, or: refloat papers series")
	case words[0] != "series":
		if year, err = strconv.Atoi(words[0]); err != nil {
			err = fmt.Errorf("%q is no year", words[0])
		}
	case issue:
		err = errors.New("--issue needs a year")
	}
	if err != nil {
		return usage(c, err)
	}
	a, err := attach(ctx, cfg, c)
	if err != nil {
		return c.complain(err)
	}
	code := exitOK
	switch {
	case year == 0:
		code, err = a.series(ctx, c)
	case issue:
		err = a.issueYear(ctx, c, year, on)
	default:
		err = a.listYear(ctx, c, year)
	}
	if err := errors.Join(err, a.detach()); err != nil {
		return c.complain(err)
	}
	return code
}

func (a *attached) series(ctx context.Context, c console) (int, error) {
	report, err := desk.Ask[message.SeriesReport](ctx, a.client, desk.Asking{By: people.Service(desk.AtMachine)}, message.PaperSeries{})
	if err != nil {
		return exitOK, err
	}
	w := tabwriter.NewWriter(c.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "SERIES\tFIRST\tLAST\tPAPERS\tCANCELLED\tREPLACING\tMISSING\tTWICE\tOUT OF PLACE")
	for _, s := range report.Series {
		fmt.Fprintf(w, "%s\t%s\t%s\t%d\t%d\t%d\t%s\t%s\t%s\n", s.Series, s.First, s.Last, s.Count, s.Cancelled, s.Replacing, orNone(s.Gaps), orNone(s.Doubles), orNone(s.Odd))
	}
	if err := w.Flush(); err != nil {
		return exitOK, err
	}
	if !report.Whole() {
		return exitRefused, nil
	}
	fmt.Fprintln(c.out, "No number is missing, and none stands twice.")
	return exitOK, nil
}

func orNone(list []string) string {
	if len(list) == 0 {
		return "none"
	}
	return strings.Join(list, ", ")
}

func (a *attached) papersOf(ctx context.Context, year int) (message.PapersOfYear, error) {
	return desk.Ask[message.PapersOfYear](ctx, a.client, desk.Asking{By: people.Service(desk.AtMachine)}, message.YearPapers{Year: year})
}

func (a *attached) listYear(ctx context.Context, c console, year int) error {
	list, err := a.papersOf(ctx, year)
	if err != nil {
		return err
	}
	for _, g := range list.Gifts {
		state := "has " + g.Serial
		if g.Paper == "" {
			state = "ready"
			if g.WhyNot != "" {
				state = g.WhyNot
			}
		}
		fmt.Fprintf(c.out, "%s  %s (%s): %s\n", g.Received, g.BoatName, g.Boat, state)
	}
	if list.More > 0 {
		fmt.Fprintf(c.out, "%d more gifts of this year are not listed.\n", list.More)
	}
	return nil
}

// issueYear asks for the papers that are ready, and shows how far it is until the last is
// issued or withheld.
func (a *attached) issueYear(ctx context.Context, c console, year int, on clock.Date) error {
	list, err := a.papersOf(ctx, year)
	if err != nil {
		return err
	}
	order := message.IssueYear{Batch: uuid.NewString(), Year: year, On: on}
	for _, g := range list.Gifts {
		if g.Ready() {
			order.Boats = append(order.Boats, g.Boat)
		}
	}
	if len(order.Boats) == 0 {
		fmt.Fprintln(c.out, "No gift is ready for a paper.")
		return nil
	}
	asking := desk.Asking{By: people.Service(desk.AtMachine), Key: order.Batch}
	reply, err := a.client.Do(ctx, asking, order)
	if err != nil {
		return err
	}
	asking.Seen = reply.Position
	for told := -1; ; {
		list, err := desk.Ask[message.PapersOfYear](ctx, a.client, asking, message.YearPapers{Year: year})
		if err != nil {
			return err
		}
		for _, b := range list.Batches {
			if b.Batch != order.Batch {
				continue
			}
			if done := b.Of - b.Left(); done != told {
				told = done
				fmt.Fprintf(c.out, "%d of %d\n", done, b.Of)
			}
			if b.Left() == 0 {
				for _, w := range b.Withheld {
					fmt.Fprintf(c.out, "%s (%s): %s\n", w.BoatName, w.Boat, w.Why)
				}
				fmt.Fprintf(c.out, "%d papers were issued.\n", b.Issued)
				return nil
			}
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(200 * time.Millisecond):
		}
	}
}
