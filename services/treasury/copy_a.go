package treasury

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"regexp"
	"strconv"
	"strings"

	"github.com/jackc/pgx/v5"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/taxpaper"
	"refloat.example/pkg/vault"
	"refloat.example/pkg/watch"
)

// form1098CBoxes are the form's entries in its order, by their public names (Form 1098-C,
// Rev. November 2019). A boat has no odometer: box 2a stays empty.
var form1098CBoxes = []struct{ box, caption string }{
	{"", "Donee's name"}, {"", "Donee's address"}, {"", "Donee's TIN"}, {"", "Donor's TIN"}, {"", "Donor's name"}, {"", "Donor's address"},
	{"1", "Date of contribution"}, {"2a", "Odometer mileage"}, {"2b", "Year"}, {"2c", "Make"}, {"2d", "Model"}, {"3", "Vehicle or other identification number"},
	{"4a", "Sold in arm's length transaction to unrelated party"}, {"4b", "Date of sale"}, {"4c", "Gross proceeds from sale"},
	{"5a", "Not to be transferred before completion of material improvements or significant intervening use"},
	{"5b", "To be transferred to a needy individual for significantly below fair market value"},
	{"5c", "Description of material improvements or significant intervening use and duration of use"},
	{"6a", "Goods or services provided in exchange"}, {"6b", "Value of goods and services"}, {"6c", "Description of goods and services"},
	{"7", "Donor may not claim a deduction of more than $500"},
}

const taxpayerLabel = "Employer identification number: "

// copyABoxes gives what copy A holds: the words of the paper, by the form's boxes, with the
// donor's whole number. An amount loses its currency, which the form has printed.
func copyABoxes(c message.PaperContent, number string) []message.PaperLine {
	stated := map[string]string{}
	for _, l := range c.Lines {
		if box, caption, ok := strings.Cut(strings.TrimPrefix(l.Label, "Box "), ","); ok && caption != "" && strings.HasPrefix(l.Label, "Box ") {
			stated[box] = l.Value
		}
	}
	for _, box := range []string{"4c", "6b"} {
		stated[box] = strings.TrimSuffix(stated[box], " USD")
	}
	head := map[string]string{"Donor's TIN": number}
	if len(c.Issuer) > 0 {
		head["Donee's name"] = c.Issuer[0]
		var address []string
		for _, l := range c.Issuer[1:] {
			if tin, ok := strings.CutPrefix(l, taxpayerLabel); ok {
				head["Donee's TIN"] = tin
			} else {
				address = append(address, l)
			}
		}
		head["Donee's address"] = strings.Join(address, ", ")
	}
	if len(c.Donor) > 0 {
		head["Donor's name"], head["Donor's address"] = c.Donor[0], strings.Join(c.Donor[1:], ", ")
	}
	list := []message.PaperLine{}
	for _, b := range form1098CBoxes {
		label, value := b.caption, head[b.caption]
		if b.box != "" {
			label, value = b.box+" "+b.caption, stated[b.box]
		}
		list = append(list, message.PaperLine{Label: label, Value: value})
	}
	return list
}

// hasCopyA says whether a paper has a copy A: a 1098-C with box 7 is not filed (instructions of
// Form 1098-C).
func hasCopyA(decision string) bool {
	box, err := certifiedBox(decision)
	return err == nil && box != ""
}

var (
	person   = regexp.MustCompile(`^(\d{3})[- ]?(\d{2})[- ]?(\d{4})$`)
	employer = regexp.MustCompile(`^\d{2}-\d{7}$`)
)

// goodNumber reads a taxpayer identification number: nine digits, of a person written
// 000-00-0000, of an employer 00-0000000.
func goodNumber(text string) (string, error) {
	text = strings.TrimSpace(text)
	if employer.MatchString(text) {
		return text, nil
	}
	if p := person.FindStringSubmatch(text); p != nil {
		return p[1] + "-" + p[2] + "-" + p[3], nil
	}
	return "", fault.Field("number", "write nine digits, as 000-00-0000 or 00-0000000")
}

// truncated hides all but the last four digits (26 CFR 301.6109-4(a)(1)): so it may stand on
// the donor's copies, never on copy A.
func truncated(number string) string {
	digits := 0
	return strings.Map(func(r rune) rune {
		if r < '0' || r > '9' {
			return r
		}
		if digits++; digits <= 5 {
			return 'X'
		}
		return r
	}, number)
}

// needsNumber says whether the gift's paper, as it stands or as the rules would have it, goes
// to the authority and so bears the donor's number (IRC 170(f)(12)(B)(i)).
func (g gift) needsNumber(country string, on clock.Date) bool {
	if country != taxpaper.US || g.taking == message.Purchase || g.received.IsZero() {
		return false
	}
	if g.certified != "" {
		return true
	}
	letter, err := g.ruled(country, on)
	if err != nil {
		return false
	}
	for _, p := range letter.Papers {
		if p.Name == "1098-C" && p.Boxes["7"] == nil {
			return true
		}
	}
	return false
}

func (s *service) stateDonorNumber(ctx context.Context, o desk.Order[message.StateDonorNumber]) (desk.Decision, error) {
	var d desk.Decision
	c := o.Command
	number, wrong := goodNumber(c.Number)
	if err := desk.First(desk.GoodID("boat", c.Boat), desk.GoodID("salt", c.Salt), desk.Past("on", c.On, o.Today()), wrong); err != nil {
		return d, err
	}
	country, err := s.Setting(ctx, "country")
	if err != nil {
		return d, err
	}
	g, _, err := s.gift(ctx, message.IssuePaper{Boat: c.Boat}, &d)
	if err != nil {
		return d, err
	}
	if err := apart(o.Actor.Person, g.giver); err != nil {
		return d, err
	}
	if !g.needsNumber(country, o.Today()) {
		return d, desk.Conflict("boat", "no paper for this gift needs the donor's taxpayer identification number as things are; do not keep what is not needed")
	}
	sealed, err := s.Vault.Seal(ctx, string(g.giver), message.SealDonorNumber, message.DonorNumber{Number: number})
	if err != nil {
		return d, err
	}
	return d, d.Say(message.TreasuryBoat(c.Boat), c.Boat, message.DonorNumberStated{Boat: c.Boat, On: c.On, Sealed: string(sealed)})
}

// donorNumber opens a donor's number; empty where none is known, or it went with the donor's
// data.
func (s *service) donorNumber(ctx context.Context, donor people.ID, e *message.DonorNumberStated) (string, error) {
	if e == nil {
		return "", nil
	}
	var n message.DonorNumber
	err := s.Vault.Unseal(ctx, string(donor), message.SealDonorNumber, vault.Sealed(e.Sealed), &n)
	if errors.Is(err, vault.ErrErased) {
		return "", nil
	}
	return n.Number, err
}

func (s *service) copyA(ctx context.Context, by desk.Caller, q message.CopyA) (message.CopyASheet, error) {
	p, err := s.issued(ctx, q.Paper)
	if err != nil {
		return message.CopyASheet{}, err
	}
	if p.cancelled != "" {
		return message.CopyASheet{}, desk.Conflict("paper", "this paper is cancelled; a copy A is made of the paper that stands")
	}
	return s.openCopyA(ctx, by, p)
}

// openCopyA opens what copy A of a paper holds, and writes down first that it was opened.
func (s *service) openCopyA(ctx context.Context, by desk.Caller, p issued) (message.CopyASheet, error) {
	var sheet message.CopyASheet
	said, err := s.paperAt(ctx, p.position)
	if err != nil {
		return sheet, err
	}
	if said.Country != taxpaper.US || !hasCopyA(said.Decision) {
		return sheet, desk.Conflict("paper", "%s has no copy A: only a Form 1098-C with box 4a, 5a or 5b is filed", said.Serial)
	}
	var content message.PaperContent
	err = s.Vault.Unseal(ctx, paperKey(said.Paper), message.SealPaper, vault.Sealed(said.Sealed), &content)
	if errors.Is(err, vault.ErrErased) {
		return sheet, desk.Unknown("paper", "%s was kept until %s and cannot be opened any more", said.Serial, said.KeepTo)
	}
	if err != nil {
		return sheet, err
	}
	b, _, err := desk.Load[book](ctx, s.Log, message.TreasuryBoat(said.Boat))
	if err != nil {
		return sheet, err
	}
	number, err := s.donorNumber(ctx, said.Donor, b.number)
	if err != nil {
		return sheet, err
	}
	if err := s.noteOnce(ctx, by, "copy-a", said.Paper, message.CopyAOpened{Paper: said.Paper, Serial: said.Serial}); err != nil {
		return sheet, err
	}
	return message.CopyASheet{Serial: said.Serial, Boat: said.Boat, Boxes: copyABoxes(content, number), Lacking: number == ""}, nil
}

// noteOnce writes down, by ids alone, that somebody was shown something of a paper: once a
// day (UTC) for each reader, however often the question is repeated.
func (s *service) noteOnce(ctx context.Context, by desk.Caller, what, paper string, said message.Body) error {
	event, err := ledger.Event(message.TreasuryPaper(paper), "", said)
	if err != nil {
		return err
	}
	reader := by.Actor.String() // who comes by a link is named by the link
	key := strings.Join([]string{Name, what, paper, reader, clock.DateOf(s.Clock.Now()).String()}, "/")
	_, err = s.Log.Append(ctx, ledger.Append{
		Key: key, Digest: ledger.DigestOf([]byte(key)), Actor: reader, Correlation: watch.Correlation(ctx, key), Events: []ledger.New{event},
	})
	s.Slog.InfoContext(ctx, "a donor's paper was opened", "what", what, "paper", paper, "by", reader, "link", by.Link != nil)
	return err
}

// copiesA gives copy A of every standing paper dated in a year, a row each.
func (s *service) copiesA(ctx context.Context, by desk.Caller, q message.CopiesA) (message.Export, error) {
	if err := desk.Within("year", q.Year, firstYear, lastYear); err != nil {
		return message.Export{}, err
	}
	rows, err := s.Pool.Query(ctx, `SELECT position, donor, cancelled FROM treasury.paper
		WHERE cancelled = '' AND country = $1 AND date_part('year', issued_on) = $2 ORDER BY position`, taxpaper.US, q.Year)
	if err != nil {
		return message.Export{}, err
	}
	papers, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (p issued, err error) {
		err = row.Scan(&p.position, &p.donor, &p.cancelled)
		return p, err
	})
	if err != nil {
		return message.Export{}, err
	}
	var sheets []message.CopyASheet
	for _, p := range papers {
		sheet, err := s.openCopyA(ctx, by, p)
		if fault.Is(err, fault.Conflict) || fault.Is(err, fault.Unknown) {
			continue // not filed, or past keeping
		}
		if err != nil {
			return message.Export{}, err
		}
		sheets = append(sheets, sheet)
	}
	file, err := copyATable(sheets)
	return message.Export{Name: "1098-C-copy-A-" + strconv.Itoa(q.Year) + ".csv", File: file}, err
}

// copyATable writes comma-separated values (RFC 4180), a paper a row.
func copyATable(sheets []message.CopyASheet) ([]byte, error) {
	heads := []string{"Serial"}
	for _, l := range copyABoxes(message.PaperContent{}, "") {
		heads = append(heads, l.Label)
	}
	records := [][]string{heads}
	for _, sheet := range sheets {
		row := []string{sheet.Serial}
		for _, l := range sheet.Boxes {
			row = append(row, harmless(l.Value))
		}
		records = append(records, row)
	}
	var b bytes.Buffer
	b.WriteString(byteOrderMark)
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	err := w.WriteAll(records)
	return b.Bytes(), err
}
