package importer

import (
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strings"
)

// Template writes an example file for a kind of list: the names of all columns
// and one row. Notes on the columns go to notes.
func Template(kind string, file, notes io.Writer) error {
	i := slices.IndexFunc(lists, func(l *list) bool { return l.kind == kind })
	if i < 0 {
		return fmt.Errorf("there is no list called %q; choose one of %s", kind, strings.Join(Kinds(), ", "))
	}
	l := lists[i]
	var header, example []string
	for _, c := range l.columns {
		header, example = append(header, c.name), append(example, c.example)
	}
	w := csv.NewWriter(file)
	if err := w.WriteAll([][]string{header, example}); err != nil {
		return fmt.Errorf("writing the template: %w", err)
	}
	return l.explain(notes)
}

func (l *list) explain(notes io.Writer) error {
	_, err := fmt.Fprintf(notes, "A list of %s, as .csv (UTF-8; commas, semicolons or tabs) or .xlsx (first sheet).\n%s\n\n"+
		"The first line names the columns, in any order; columns with * are needed, others may be left out.\n\n", l.kind, l.about)
	for _, c := range l.columns {
		if err != nil {
			break
		}
		mark := " "
		if c.needed {
			mark = "*"
		}
		_, err = fmt.Fprintf(notes, "%s %-24s %s\n", mark, c.name, c.meaning)
	}
	if err != nil {
		return fmt.Errorf("writing the notes: %w", err)
	}
	return nil
}
