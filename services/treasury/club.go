package treasury

import (
	"context"
	"strings"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/taxpaper"
)

// club is what the settings say about the issuer of papers.
type club struct {
	name, number, place, signatory string
	address                        []string
	country, format                string
	qualified                      bool
}

// club reads the settings; complete says whether they suffice.
func (s *service) club(ctx context.Context) (c club, err error) {
	var address, qualified string
	for name, into := range map[string]*string{
		"legal-name": &c.name, "registration-number": &c.number, "place": &c.place, "signatory": &c.signatory,
		"address": &address, "country": &c.country, "paper-format": &c.format, "qualified": &qualified,
	} {
		if *into, err = s.Setting(ctx, name); err != nil {
			return c, err
		}
	}
	c.qualified = qualified == "yes"
	c.address = lines(address)
	return c, nil
}

// complete asks for the settings without which the country's paper would lack
// what the law asks for (Canada: Income Tax Regulations s. 3501(1)).
func (c club) complete() error {
	needed := []struct {
		setting, value string
		when           bool
	}{
		{"legal-name", c.name, true},
		{"registration-number", c.number, c.qualified && c.country != taxpaper.UK},
		{"address", strings.Join(c.address, ""), c.qualified && c.country != taxpaper.UK},
		{"place", c.place, c.qualified && c.country == taxpaper.CA},
		{"signatory", c.signatory, c.qualified && c.country == taxpaper.CA},
	}
	for _, n := range needed {
		if n.when && strings.TrimSpace(n.value) == "" {
			return desk.Conflict("", "a paper needs the club's setting %q; an administrator has to fill it in first", n.setting)
		}
	}
	return nil
}

// issuer is the head of a paper: the name first.
func (c club) issuer() []string {
	head := append([]string{c.name}, c.address...)
	if c.number == "" {
		return head
	}
	label := map[string]string{taxpaper.US: "Employer identification number", taxpaper.CA: "Charity registration number"}[c.country]
	if label == "" {
		label = "Registration number"
	}
	return append(head, label+": "+c.number)
}

// lines parts an address as settings and forms write it.
func lines(text string) []string {
	var parts []string
	for _, part := range strings.FieldsFunc(text, func(r rune) bool { return r == ';' || r == '\n' || r == '\r' }) {
		if part = strings.TrimSpace(part); part != "" {
			parts = append(parts, part)
		}
	}
	return parts
}
