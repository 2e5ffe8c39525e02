package intake_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/fault/faulttest"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
	"refloat.example/pkg/receipt/receipttest"
	"refloat.example/pkg/vault"
	"refloat.example/services/intake"
)

// named puts a name to somebody.
func named(t *testing.T, c *desktest.Club, id people.ID, sort message.Sort, name string) {
	t.Helper()
	sealed, err := c.Vault.Seal(t.Context(), string(id), message.SealDetails, message.PersonDetails{Name: name})
	require.NoError(t, err)
	c.Say(message.Person(id), "", message.PersonRegistered{Person: id, Sort: sort, Sealed: string(sealed)})
}

func TestGiverAndClubTellEachOtherWhatIsKnown(t *testing.T) {
	c := start(t)
	steward := c.Member(people.Steward)
	c.Do(steward, stranger())
	agree := message.MakeAgreement{Boat: "b1", Agreement: "a1", Said: "the left foot brace slips"}
	named(t, c, steward.Person, message.MemberSort, "Tobin Marsh")
	_, err := c.Try(steward, agree)
	faulttest.Want(t, err, fault.Conflict, "boat", "nobody has looked it over")

	c.Do(steward, message.BeginLookOver{Boat: "b1", Look: "l1"})
	c.Do(steward, crack("l1", "f1"))
	c.Do(steward, message.FinishLookOver{Boat: "b1", Look: "l1", Grade: 2})
	_, err = c.Try(steward, message.MakeAgreement{Boat: "b1", Agreement: "a1", Said: " "})
	faulttest.Want(t, err, fault.Invalid, "said")
	c.OnlyFor("stranger", agree, people.Steward)
	reply := c.Do(steward, agree)

	e, err := c.Log.Event(t.Context(), reply.Events[0].Position)
	require.NoError(t, err)
	for _, clear := range []string{"Odalys", "Tobin", "brace", "crack"} {
		assert.NotContains(t, string(e.Data), clear, "all of it is sealed")
	}
	said := last[message.AgreementMade](t, c)
	assert.Equal(t, []people.ID{"stranger", steward.Person}, []people.ID{said.Giver, said.Member})
	var content message.AgreementContent
	require.NoError(t, c.Vault.Unseal(t.Context(), "stranger", message.SealAgreement, vault.Sealed(said.Sealed), &content))
	assert.Equal(t, "Odalys Fenwright", content.GiverName)
	assert.Equal(t, "Tobin Marsh", content.MemberName)
	assert.Equal(t, []string{"crack: keel line, stern, centreline, outside, 90 mm, through the wall (mend before use)"}, content.Found)
	assert.NotEmpty(t, content.Unseen, "nothing was answered, so nothing was seen for sure")

	sheet := func() (message.Sheet, error) {
		return desk.Ask[message.Sheet](t.Context(), c.Client, desk.Asking{By: steward, Key: desktest.ID()}, message.AgreementSheet{Boat: "b1", Agreement: "a1"})
	}
	paper, err := sheet()
	require.NoError(t, err)
	assert.True(t, bytes.HasPrefix(paper.PDF, []byte("%PDF-")))
	assert.NotContains(t, paper.Name, "Heron")
	text := receipttest.Text(t, paper.PDF)
	for _, words := range []string{
		"What is known of Heron", "Odalys Fenwright", "Tobin Marsh", "the left foot brace slips",
		"crack: keel line, stern, centreline, outside, 90 mm, through the wall (mend before use)",
		"What no look-over could see", content.Unseen[0], "no legal advice",
	} {
		assert.Contains(t, text, words)
	}
	assert.GreaterOrEqual(t, strings.Count(text, "Odalys Fenwright"), 2, "named, and once more where they sign")
	assert.GreaterOrEqual(t, strings.Count(text, "Tobin Marsh, for the club"), 1)

	require.NoError(t, c.Vault.Destroy(t.Context(), "stranger"))
	_, err = sheet()
	faulttest.Want(t, err, fault.Unknown, "agreement", "who is erased takes the words along")
	c.Say(message.Person("stranger"), "", message.PersonErased{Person: "stranger", Why: "asked"})
	c.Settle()
	assert.NotContains(t, c.DB.Dump("intake.name"), "stranger")
	c.RebuildIsTheSame(intake.Name)
}
