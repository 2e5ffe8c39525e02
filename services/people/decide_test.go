package people

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

const someID = people.ID("0190c0de-0000-7000-8000-000000000001")

func newcomer(change func(*message.RegisterPerson)) message.RegisterPerson {
	c := message.RegisterPerson{
		Person: someID, Sort: message.MemberSort, Consent: "privacy 2026-1", Roles: []people.Role{people.Steward},
		Details: message.PersonDetails{Name: "Ada Oxlip", Mail: "ada@example.org", Phone: "+1 (555) 010-0199 x7", Address: "1 Quay Street\nLake Amberjay", Language: "es"},
	}
	if change != nil {
		change(&c)
	}
	return c
}

func TestEveryFieldOfARegistrationIsChecked(t *testing.T) {
	for name, row := range map[string]struct {
		change func(*message.RegisterPerson)
		field  string // empty: taken
	}{
		"as it should be":            {nil, ""},
		"a name of one letter":       {func(c *message.RegisterPerson) { c.Details.Name = "Ö" }, ""},
		"the longest name":           {func(c *message.RegisterPerson) { c.Details.Name = strings.Repeat("ö", maxName) }, ""},
		"a longer name":              {func(c *message.RegisterPerson) { c.Details.Name = strings.Repeat("ö", maxName+1) }, "details.name"},
		"no name":                    {func(c *message.RegisterPerson) { c.Details.Name = " \t" }, "details.name"},
		"a name of two lines":        {func(c *message.RegisterPerson) { c.Details.Name = "Ada\nOxlip" }, "details.name"},
		"no mail":                    {func(c *message.RegisterPerson) { c.Details.Mail = "" }, ""},
		"half a mail address":        {func(c *message.RegisterPerson) { c.Details.Mail = "ada@" }, "details.mail"},
		"a long mail address":        {func(c *message.RegisterPerson) { c.Details.Mail = strings.Repeat("a", 243) + "@example.org" }, "details.mail"},
		"no phone":                   {func(c *message.RegisterPerson) { c.Details.Phone = "" }, ""},
		"a phone with letters":       {func(c *message.RegisterPerson) { c.Details.Phone = "ask Bee" }, "details.phone"},
		"a long phone":               {func(c *message.RegisterPerson) { c.Details.Phone = strings.Repeat("5", maxPhone+1) }, "details.phone"},
		"a long address":             {func(c *message.RegisterPerson) { c.Details.Address = strings.Repeat("a", maxAddress+1) }, "details.address"},
		"an address with a zero":     {func(c *message.RegisterPerson) { c.Details.Address = "1\x00Quay Street" }, "details.address"},
		"no language":                {func(c *message.RegisterPerson) { c.Details.Language = "" }, ""},
		"a language without letters": {func(c *message.RegisterPerson) { c.Details.Language = "de" }, "details.language"},
		"no consent":                 {func(c *message.RegisterPerson) { c.Consent = " " }, "consent"},
		"a long consent":             {func(c *message.RegisterPerson) { c.Consent = strings.Repeat("c", maxConsent+1) }, "consent"},
		"no sort":                    {func(c *message.RegisterPerson) { c.Sort = "" }, "sort"},
		"an unknown sort":            {func(c *message.RegisterPerson) { c.Sort = "friend" }, "sort"},
		"no id":                      {func(c *message.RegisterPerson) { c.Person = "" }, "person"},
		"an id with a slash":         {func(c *message.RegisterPerson) { c.Person = someID + "/x" }, "person"},
		"their own guardian":         {func(c *message.RegisterPerson) { c.Guardian = someID }, "guardian"},
		"an unknown role":            {func(c *message.RegisterPerson) { c.Roles = []people.Role{"captain"} }, "roles"},
		"a role twice":               {func(c *message.RegisterPerson) { c.Roles = []people.Role{people.Steward, people.Steward} }, "roles"},
		"a donor with a role":        {func(c *message.RegisterPerson) { c.Sort = message.DonorSort }, "roles"},
		"a donor without":            {func(c *message.RegisterPerson) { c.Sort, c.Roles = message.DonorSort, nil }, ""},
	} {
		_, err := checkNewcomer(newcomer(row.change))
		if row.field == "" {
			assert.NoError(t, err, name)
			continue
		}
		require.Error(t, err, name)
		assert.Equal(t, row.field, fault.Of(err).Field, name)
		assert.Equal(t, fault.Invalid, fault.Of(err).Kind, name)
	}
}

func TestDetailsAreKeptInOneSpelling(t *testing.T) {
	got, err := checkDetails(message.PersonDetails{Name: " Ada Oxlip ", Mail: " Ada@Example.ORG ", Phone: " 555 ", Address: " 1 Quay\n"})
	require.NoError(t, err)
	assert.Equal(t, message.PersonDetails{Name: "Ada Oxlip", Mail: "Ada@example.org", Phone: "555", Address: "1 Quay"}, got)
	again, err := checkDetails(got)
	require.NoError(t, err)
	assert.Equal(t, got, again)
}

func TestSpellingsThatAreTheSame(t *testing.T) {
	assert.Equal(t, "ada nunez", plainName("Núñez, Ada"))
	assert.Equal(t, plainName("ada nunez"), plainName("  ADA  Nu\u0301n\u0303ez "))
	assert.NotEqual(t, plainName("Ada Oxlip"), plainName("Ada B. Oxlip"))
	assert.Equal(t, "ada@example.org", plainMail(" Ada@Example.org"))
	for _, phone := range []string{"+1 555 010 0199", "(555) 010-0199", "0015550100199", "555.010.0199"} {
		assert.Equal(t, "550100199", plainPhone(phone), phone)
	}
	assert.Empty(t, plainPhone("12345"), "an extension tells nobody apart")
}

func TestPlainNamesArePlainAlready(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		plain := plainName(rapid.String().Draw(t, "name"))
		if again := plainName(plain); again != plain {
			t.Fatalf("%q becomes %q", plain, again)
		}
	})
}

func TestEveryLetterIsWrittenInEveryLanguage(t *testing.T) {
	facts := letterFacts{Club: "Quillwater Paddlers", Address: "https://quillwater.example/link/abc", Until: "2026-06-30", Minutes: 20}
	for _, sort := range []letterSort{requestLetter, papersLetter, paperLetter, offerLetter, signInLetter, timerLetter, deadlinesLetter} {
		subjects := map[string]bool{}
		for _, language := range languages {
			subject, text, err := write(sort, language, facts)
			require.NoError(t, err)
			subjects[subject] = true
			assert.Contains(t, text, "\n"+facts.Address+"\n", "%s in %s: the link stands in a line of its own", sort, language)
			assert.True(t, strings.HasSuffix(text, "\n"+facts.Club+"\n"), "%s in %s", sort, language)
			for _, line := range strings.Split(text, "\n") {
				assert.LessOrEqual(t, len([]rune(line)), 120, "%s in %s", sort, language)
			}
			if sort == signInLetter {
				assert.Contains(t, text, "20", language)
			} else {
				assert.Contains(t, text, facts.Until, "%s in %s", sort, language)
			}
		}
		assert.Len(t, subjects, len(languages), "%s", sort)
	}
	subject, _, err := write(offerLetter, "", letterFacts{})
	require.NoError(t, err)
	assert.Equal(t, "A boat is offered to you", subject, "English when nothing is stated")
}
