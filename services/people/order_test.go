package people_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	who "refloat.example/pkg/people"
)

// Who may do what: every command and question with every role, the holder of
// one's own link, the holder of somebody else's, and the pages by themselves.
func TestEveryOrderKnowsWhoMayGiveIt(t *testing.T) {
	c := start(t)
	made := c.ask(c.introduced(message.HouseholdSort, "Cam Sedge", ""))
	other := c.ask(c.introduced(message.HouseholdSort, "Tam Nettle", ""))
	donor := c.register(message.DonorSort, "Dor Bane", "")
	member := c.register(message.MemberSort, "Mem Ber", "mem@example.org")
	c.Settle()
	callers := map[string]who.Actor{
		"own link": {Link: made.Link}, "other link": {Link: other.Link}, "pages": pages, "nobody": {}, "operator": desktest.Operator,
	}
	for _, role := range who.Roles {
		callers[string(role)] = c.Member(role)
	}
	details := message.PersonDetails{Name: "New Name"}
	first, err := c.Log.Event(t.Context(), 1)
	require.NoError(t, err)
	register := func(sort message.Sort) desk.Commanded {
		return registration(sort, "Some One", "")
	}
	const (
		ad, st, co, tr = "administrator", "steward", "coordinator", "treasurer"
		own            = "own link"
	)
	for name, row := range map[string]struct {
		order func() desk.Commanded
		may   []string
	}{
		"register a member":    {func() desk.Commanded { return register(message.MemberSort) }, []string{ad}},
		"register a donor":     {func() desk.Commanded { return register(message.DonorSort) }, []string{ad, st}},
		"register a household": {func() desk.Commanded { return register(message.HouseholdSort) }, []string{ad, co}},
		"register a guardian":  {func() desk.Commanded { return register(message.GuardianSort) }, []string{ad, co}},
		"change a household":   {func() desk.Commanded { return message.ChangePerson{Person: made.Household, Details: details} }, []string{ad, co, own}},
		"change a donor":       {func() desk.Commanded { return message.ChangePerson{Person: donor, Details: details} }, []string{ad, st}},
		"change a member":      {func() desk.Commanded { return message.ChangePerson{Person: member, Details: details} }, []string{ad}},
		"give a role":          {func() desk.Commanded { return message.GiveRole{Person: member, Role: who.Auditor} }, []string{ad}},
		"take a role":          {func() desk.Commanded { return message.TakeRole{Person: member, Role: who.Auditor} }, []string{ad}},
		"withdraw a consent": {func() desk.Commanded {
			return message.WithdrawConsent{Person: made.Household, Text: "privacy 2026-1"}
		}, []string{ad, co, own}},
		"give a link to a request": {func() desk.Commanded {
			return message.GiveLink{Link: desktest.ID(), Person: made.Household, Purpose: who.OwnRequest, Subject: made.Request}
		}, []string{ad, co}},
		"give a link to papers": {func() desk.Commanded {
			return message.GiveLink{Link: desktest.ID(), Person: donor, Purpose: who.OwnPapers, Subject: string(donor)}
		}, []string{ad, tr}},
		"judge doubles": {func() desk.Commanded {
			return message.JudgeDoubles{One: made.Household, Other: other.Household}
		}, []string{ad, co}},
		"change a setting": {func() desk.Commanded { return message.ChangeSetting{Name: "link-days", Value: "90"} }, []string{ad}},
		"allow a skip":     {func() desk.Commanded { return skipOf(first, nil) }, []string{ad}},
	} {
		for caller, by := range callers {
			_, err := c.Try(by, row.order())
			if slices.Contains(row.may, caller) || caller == "operator" {
				assert.NoError(t, err, "%s by %s", name, caller)
				continue
			}
			require.Error(t, err, "%s by %s", name, caller)
			assert.Contains(t, []fault.Kind{fault.Forbidden, fault.SignIn}, fault.Of(err).Kind, "%s by %s: %v", name, caller, err)
		}
	}

	sees := func(question func(who.Actor) error, may ...string) {
		t.Helper()
		for caller, by := range callers {
			err := question(by)
			if slices.Contains(may, caller) || caller == "operator" {
				assert.NoError(t, err, caller)
				continue
			}
			assert.Contains(t, []fault.Kind{fault.Forbidden, fault.SignIn}, fault.Of(err).Kind, "%s: %v", caller, err)
		}
	}
	sees(asking[message.PeopleRead](c, message.ReadPeople{IDs: []who.ID{made.Household}}), st, co, tr, ad, own)
	sees(asking[message.DoublesFound](c, message.LikelyDoubles{}), co, ad)
	sees(asking[message.LinkToken](c, message.LinkAddress{Link: made.Link}), co, ad)
	sees(asking[message.TextsBlinded](c, message.BlindTexts{Texts: []string{"a"}}))
	sees(asking[message.SignInAsked](c, message.AskSignIn{Mail: "nobody@example.org"}), "pages")
	sees(asking[message.OpenedLink](c, message.OpenLink{Token: message.LinkTokenOf(c.Vault.Blind, made.Link)}), "pages")

	for caller, by := range callers {
		link := desktest.ID()
		c.Do(desktest.Operator, message.GiveLink{Link: link, Person: made.Household, Purpose: who.OwnRequest, Subject: made.Request})
		_, err := c.Try(by, message.EndLink{Link: link})
		assert.Equal(t, slices.Contains([]string{ad, co, own, "operator"}, caller), err == nil, "%s: %v", caller, err)
	}
	for caller, by := range callers {
		_, err := c.Try(by, message.ErasePerson{Person: donor, Why: "asked"})
		assert.Equal(t, slices.Contains([]string{ad, "operator"}, caller), err == nil, "%s: %v", caller, err)
	}
}

func asking[A any](c *club, q desk.Commanded) func(who.Actor) error {
	return func(by who.Actor) error {
		_, err := desk.Ask[A](c.t.Context(), c.Client, desk.Asking{By: by}, q)
		return err
	}
}

func TestBadOrdersNameTheFieldAndWriteNothing(t *testing.T) {
	c := start(t)
	made := c.ask(c.introduced(message.HouseholdSort, "Cam Sedge", ""))
	ada := c.register(message.MemberSort, "Ada Oxlip", "ada@example.org", who.Administrator)
	c.Settle()
	stranger, link := who.ID(desktest.ID()), desktest.ID()
	registered := func(change func(*message.RegisterPerson)) message.RegisterPerson {
		r := registration(message.MemberSort, "Bee Rush", "bee@example.org")
		change(&r)
		return r
	}
	c.WritesNothing(func() {
		for name, row := range map[string]struct {
			order desk.Commanded
			field string
			kind  fault.Kind
		}{
			"a person who is known":         {registered(func(r *message.RegisterPerson) { r.Person = ada }), "person", fault.Conflict},
			"a name of nothing":             {registered(func(r *message.RegisterPerson) { r.Details.Name = "" }), "details.name", fault.Invalid},
			"another member's mail":         {registered(func(r *message.RegisterPerson) { r.Details.Mail = "ADA@example.org" }), "details.mail", fault.Invalid},
			"an unknown guardian":           {registered(func(r *message.RegisterPerson) { r.Guardian = stranger }), "guardian", fault.Unknown},
			"change: a stranger":            {message.ChangePerson{Person: stranger, Details: message.PersonDetails{Name: "X"}}, "person", fault.Unknown},
			"change: no name":               {message.ChangePerson{Person: ada}, "details.name", fault.Invalid},
			"give: a stranger":              {message.GiveRole{Person: stranger, Role: who.Steward}, "person", fault.Unknown},
			"give: no role":                 {message.GiveRole{Person: ada}, "role", fault.Invalid},
			"take: a stranger":              {message.TakeRole{Person: stranger, Role: who.Steward}, "person", fault.Unknown},
			"take: no role":                 {message.TakeRole{Person: ada, Role: "captain"}, "role", fault.Invalid},
			"withdraw: a stranger":          {message.WithdrawConsent{Person: stranger, Text: "x"}, "person", fault.Unknown},
			"withdraw: no text":             {message.WithdrawConsent{Person: ada}, "text", fault.Invalid},
			"withdraw: another text":        {message.WithdrawConsent{Person: ada, Text: "other"}, "text", fault.Invalid},
			"link: no id":                   {message.GiveLink{Person: made.Household, Purpose: who.OwnRequest, Subject: made.Request}, "link", fault.Invalid},
			"link: no purpose":              {message.GiveLink{Link: link, Person: made.Household, Subject: made.Request}, "purpose", fault.Invalid},
			"link: a stranger":              {message.GiveLink{Link: link, Person: stranger, Purpose: who.OwnRequest, Subject: made.Request}, "person", fault.Unknown},
			"link: another's request":       {message.GiveLink{Link: link, Person: ada, Purpose: who.OwnRequest, Subject: made.Request}, "subject", fault.Invalid},
			"link: another's papers":        {message.GiveLink{Link: link, Person: ada, Purpose: who.OwnPapers, Subject: string(made.Household)}, "subject", fault.Invalid},
			"link: a calendar of another's": {message.GiveLink{Link: link, Person: ada, Purpose: who.Deadlines, Subject: string(ada)}, "subject", fault.Invalid},
			"link: one that is given":       {message.GiveLink{Link: made.Link, Person: made.Household, Purpose: who.OwnRequest, Subject: made.Request}, "link", fault.Conflict},
			"end: an unknown link":          {message.EndLink{Link: link}, "link", fault.Unknown},
			"judge: oneself":                {message.JudgeDoubles{One: ada, Other: ada}, "other", fault.Invalid},
			"judge: a stranger":             {message.JudgeDoubles{One: stranger, Other: ada}, "one", fault.Unknown},
			"judge: with a stranger":        {message.JudgeDoubles{One: ada, Other: stranger}, "other", fault.Unknown},
			"erase: a stranger":             {message.ErasePerson{Person: stranger, Why: "asked"}, "person", fault.Unknown},
			"erase: no reason":              {message.ErasePerson{Person: ada}, "why", fault.Invalid},
			"a setting nobody knows":        {message.ChangeSetting{Name: "colour", Value: "blue"}, "name", fault.Invalid},
			"a value it cannot have":        {message.ChangeSetting{Name: "link-days", Value: "soon"}, "value", fault.Invalid},
		} {
			f := c.fault(desktest.Operator, row.order)
			assert.Equal(t, row.field, f.Field, "%s: %v", name, f)
			assert.Equal(t, row.kind, f.Kind, "%s: %v", name, f)
		}
		assert.Equal(t, "ids", questionFault[message.PeopleRead](c, desktest.Operator, message.ReadPeople{IDs: make([]who.ID, 501)}).Field)
		assert.Equal(t, "texts", questionFault[message.TextsBlinded](c, desktest.Operator, message.BlindTexts{Texts: make([]string, 501)}).Field)
		assert.Equal(t, "link", questionFault[message.LinkToken](c, desktest.Operator, message.LinkAddress{Link: link}).Field)
	})
}

func TestSettingsAreCheckedAndHeard(t *testing.T) {
	c := start(t)
	set := message.ChangeSetting{Name: "link-days", Value: "10"}
	assert.Len(t, c.Do(desktest.Operator, set).Events, 1)
	assert.Empty(t, c.Do(desktest.Operator, set).Events, "it is so already")
	assert.Empty(t, c.Do(desktest.Operator, message.ChangeSetting{Name: "offer-days", Value: "7"}).Events, "the default is set already")
	made := c.ask(c.introduced(message.HouseholdSort, "Cam Sedge", ""))
	given := c.Bodies(message.PrivateLink(made.Link))[0].(message.LinkGiven)
	assert.Equal(t, c.Clock.Now().AddDate(0, 0, 10), given.Until)
}
