package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"time"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/receipt"
)

// benchPapers sets donors' papers on one core, and lets ReportLab set the same
// words in the same typeface.
func benchPapers(ctx context.Context, s *session) error {
	if err := s.needFile(ctx, "/usr/lib/python3/dist-packages/reportlab/__init__.py", "python3-reportlab"); err != nil {
		return err
	}
	papers := 400
	if s.quick {
		papers = 50
	}
	if err := os.CopyFS(s.scratch, peers); err != nil {
		return err
	}
	file := filepath.Join(s.scratch, "paper.json")
	if err := writePaper(file); err != nil {
		return err
	}
	var ourBytes, theirBytes int
	medians, err := s.inTurn(ctx,
		func(context.Context) (float64, error) {
			rate, size, err := setPapers(papers)
			ourBytes = size
			return rate, err
		},
		func(ctx context.Context) (float64, error) {
			cmd := exec.CommandContext(ctx, "/usr/bin/python3", // Debian's, which has its ReportLab
				filepath.Join(s.scratch, "peers", "papers_reportlab.py"), file, "pkg/receipt/fonts", strconv.Itoa(papers))
			cmd.Stderr = s.notes
			out, err := cmd.Output()
			if err != nil {
				return 0, err
			}
			var rate float64
			_, err = fmt.Sscan(string(out), &rate, &theirBytes)
			return rate, err
		})
	if err != nil {
		return err
	}
	return s.report(result{
		Bench: "papers/set", Ours: medians[0], Reference: medians[1], Against: "ReportLab, the same words and typeface", Unit: "papers/s on one core", Better: higher,
		Note: fmt.Sprintf("a paper has %d bytes, theirs %d", ourBytes, theirBytes),
	})
}

// setPapers sets so many papers on one core, each with a serial of its own.
func setPapers(n int) (rate float64, size int, err error) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	p := benchPaper()
	check := p.CheckURL
	begin := time.Now()
	for i := range n {
		p.Serial = fmt.Sprintf("US-2026-%04d", i)
		p.CheckURL = check + p.Serial
		pdf, err := receipt.Render(p)
		if err != nil {
			return 0, 0, err
		}
		size = len(pdf)
	}
	return float64(n) / time.Since(begin).Seconds(), size, nil
}

func benchPaper() receipt.Paper {
	return receipt.Paper{
		Format: receipt.Letter, Language: "en-US", Title: "Contribution of a boat: data for Form 1098-C",
		Issuer: receipt.Party{Name: "Quillwater Paddlers", Lines: []string{"4 Mill Lane", "Amberjay", "Employer identification number: 00-0000000"}},
		Donor:  receipt.Party{Name: "Nguyễn Thị Thuỳ Dương", Lines: []string{"12 Quay Street", "Amberjay"}},
		Issued: clock.MustDate("2026-04-20"),
		Sections: []receipt.Section{{Heading: "The gift", Lines: []receipt.Line{
			{Label: "Box 1, date of contribution", Value: "2026-03-28"}, {Label: "Box 3, identification number", Value: "hull number XYZ12345L495"},
			{Label: "Box 4a, sold at arm's length to an unrelated party", Value: "yes"}, {Label: "Box 4b, date of sale", Value: "2026-04-18"},
			{Label: "Box 4c, gross proceeds from the sale", Value: "1850.00 USD"},
			{Label: "Description", Value: "sit-inside kayak, 1 seat, 4.30 m long, rotomoulded polyethylene, built 2019, hull number XYZ12345L495"},
		}}},
		Statements: []string{
			"The club certifies that the boat was sold in an arm's length transaction to an unrelated party on 2026-04-18 for gross proceeds of 1850.00 USD.",
			"The deductible amount may not exceed the gross proceeds from the sale.", "The club gave no goods or services in return for this gift.", receipt.Caution,
		},
		Signatory: receipt.Signatory{Name: "T. Reed", Office: "treasurer"}, CheckURL: "https://quillwater.example/paper/", Template: receipt.FirstTemplate,
	}
}

// writePaper writes the same words for the reference.
func writePaper(file string) error {
	p := benchPaper()
	lines := [][2]string{}
	for _, l := range p.Sections[0].Lines {
		lines = append(lines, [2]string{l.Label, l.Value})
	}
	raw, err := json.Marshal(map[string]any{
		"title": p.Title, "issuer": append([]string{p.Issuer.Name}, p.Issuer.Lines...), "donor": append([]string{p.Donor.Name}, p.Donor.Lines...),
		"lines": lines, "statements": p.Statements, "check": p.CheckURL,
	})
	if err != nil {
		return err
	}
	return os.WriteFile(file, raw, 0o600)
}
