package importer

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk/desktest"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	who "refloat.example/pkg/people"
	"refloat.example/services/intake"
	"refloat.example/services/matching"
	peopleroom "refloat.example/services/people"
	"refloat.example/services/valuation"
)

type club struct {
	*desktest.Club
	t      *testing.T
	folder string
}

func start(t *testing.T) *club {
	t.Parallel()
	rooms := []desktest.Room{
		{Name: peopleroom.Name, Migrations: peopleroom.Migrations(), New: peopleroom.New(peopleroom.Config{})},
		{Name: intake.Name, Migrations: intake.Migrations(), New: intake.New},
		{Name: valuation.Name, Migrations: valuation.Migrations(), New: valuation.New},
		{Name: matching.Name, Migrations: matching.Migrations(), New: matching.New},
	}
	return &club{desktest.Start(t, rooms...), t, t.TempDir()}
}

// bring writes a list and brings it in.
func (c *club) bring(kind, text string, opts Options) Summary {
	c.t.Helper()
	s, err := Run(c.t.Context(), c.Client, kind, c.file(kind+".csv", text), opts, io.Discard)
	require.NoError(c.t, err)
	c.Settle()
	return s
}

func (c *club) file(name, text string) string {
	c.t.Helper()
	path := filepath.Join(c.folder, name)
	require.NoError(c.t, os.WriteFile(path, []byte(text), 0o600))
	return path
}

func (c *club) head() int64 {
	c.t.Helper()
	head, err := c.Log.Head(c.t.Context())
	require.NoError(c.t, err)
	return head.Position
}

const fleet = `Reference,Name,Taking,Right,Giver reference,Giver name,Giver mail,Type,Seats,Length m,Material,Hull number,No hull number because
heron,Heron,gift,owner's declaration,rush,Bee Rush,bee@example.org,canoe,2,"4,9",ABS sandwich,,home-built
wren,Wren,gift,owner's declaration,rush,,,canoe,2,4.9,ABS sandwich,TCR4K217C212,
tern,Tern,gift,estate,,Dor Bane,dor@example.org,canoe,3,5.2,aluminium,,removed
teal,Teal,gift,estate,,Dor Bane,DOR@example.org,canoe,3,5.2,aluminium,,removed
`

func TestAListOfBoatsComesInOnce(t *testing.T) {
	c := start(t)
	first := c.bring("boats", fleet, Options{})
	assert.Equal(t, Summary{Kind: "boats", File: "boats.csv", Rows: 4, Imported: 4, Problems: []Problem{}, Position: first.Position}, first)
	heron := c.Bodies(message.IntakeBoat(boat.ID(ID("boat", "heron"))))[0].(message.BoatLogged)
	wren := c.Bodies(message.IntakeBoat(boat.ID(ID("boat", "wren"))))[0].(message.BoatLogged)
	assert.Equal(t, 4900, heron.Facts.LengthMM)
	assert.Equal(t, who.ID(ID("person", "rush")), heron.Giver)
	assert.Equal(t, heron.Giver, wren.Giver)
	tern := c.Bodies(message.IntakeBoat(boat.ID(ID("boat", "tern"))))[0].(message.BoatLogged)
	teal := c.Bodies(message.IntakeBoat(boat.ID(ID("boat", "teal"))))[0].(message.BoatLogged)
	assert.Equal(t, tern.Giver, teal.Giver, "one mail address is one giver")

	before := c.head()
	again := c.bring("boats", fleet, Options{})
	assert.Equal(t, 4, again.Already)
	assert.Zero(t, again.Imported)
	assert.Equal(t, before, c.head(), "the same file twice changes nothing")

	rows := strings.SplitAfter(fleet, "\n")
	turned := rows[0] + rows[4] + rows[3] + rows[2] + rows[1]
	assert.Equal(t, 4, c.bring("boats", strings.ReplaceAll(turned, "\"4,9\"", "4.900"), Options{}).Already, "nor does another order, nor another spelling of a number")

	c.bring("boats", rows[0]+"loon,Loon,gift,estate,,Eve Fen,,canoe,3,5.2,aluminium,,removed\n", Options{})
	loon := c.Bodies(message.IntakeBoat(boat.ID(ID("boat", "loon"))))[0].(message.BoatLogged)
	assert.NotEqual(t, tern.Giver, loon.Giver, "another name is another giver")
	before = c.head()

	changed := c.bring("boats", strings.Replace(fleet, "Wren,gift", "Wren Two,gift", 1), Options{})
	assert.Equal(t, 1, changed.Bad)
	assert.Contains(t, changed.Problems[0].String(), "boats.csv line 3: ")
	assert.Contains(t, changed.Problems[0].Reason, "does not change what came in before")
	assert.Equal(t, before, c.head())
}

func TestRowsWithoutAReferenceComeInOnceToo(t *testing.T) {
	c := start(t)
	list := "Name,Mail,Roles\nAda Oxlip,ada@example.org,administrator\nBee Rush,bee@example.org,steward repairer\n"
	assert.Equal(t, 2, c.bring("people", list, Options{}).Imported)
	assert.Equal(t, 2, c.bring("people", "Mail,Name,Roles\nbee@example.org, Bee Rush ,steward repairer\nada@example.org,Ada Oxlip,administrator\n", Options{}).Already)
	assert.NotContains(t, c.DB.Dump("ledger.event"), fmt.Sprintf("%x", []byte("Ada Oxlip")))
	plain := (&row{list: &people, cells: map[string]string{"Name": "Ada Oxlip", "Mail": "ada@example.org", "Roles": "administrator"}}).digest()
	assert.NotContains(t, c.DB.Dump("ledger.event"), plain, "who guesses a name cannot find it here")
	assert.NotContains(t, c.DB.Dump("ledger.event"), ID("person", plain))
}

func TestBadRowsAreNamedAndTheOthersComeIn(t *testing.T) {
	c := start(t)
	bad := fleet +
		"b1,,gift,estate,,Dor Bane,dor@example.org,canoe,1,5,aluminium,,removed\n" + // line 6
		"b2,Loon,gift,estate,,Dor Bane,dor@example.org,raft,1,5 m,aluminium,,removed\n" + // 7: two faults
		"b3, heron ,gift,estate,,Dor Bane,dor@example.org,canoe,1,5,aluminium,,removed\n" + // 8: a name twice
		"b4,Grebe,gift,estate,,Dor Bane,dor@example.org,canoe,1,99,aluminium,,removed\n" + // 9: the room's own rule
		"b5,Coot,gift,estate,,,,canoe,1,5,aluminium,,removed\n" + // 10
		"heron,Swan,gift,estate,,Dor Bane,,canoe,1,5,aluminium,,removed\n" + // 11
		"b6,Duck,gift,estate,nobody,,,canoe,1,5,aluminium,,removed\n" + // 12
		"b7,Rail,gift,estate,,Dor Bane,,canoe,1,5,aluminium,tcr4k-217c212,,surplus\n" // 13
	want := []string{
		"boats.csv line 6, column Name: this cell must not be empty",
		`boats.csv line 7, column Type: "raft" is not one of: canoe, sit-inside kayak, sit-on-top kayak, board, inflatable kayak, inflatable canoe`,
		`boats.csv line 7, column Length m: "5 m" is not a number; write it like 4.9`,
		`boats.csv line 8, column Name: "heron" stands in line 2 too`,
		"boats.csv line 9, column Length m: must be from 1 to 15 m; leave it empty when it is not known",
		"boats.csv line 10, column Giver name: say who gives the boat, or name somebody under Giver reference",
		`boats.csv line 11, column Reference: "heron" stands in line 2 too`,
		"boats.csv line 12, column Giver reference: the club does not know this person; fill in who they are",
		`boats.csv line 13: "surplus" stands in a column without a name`,
		`boats.csv line 13, column Hull number: "tcr4k-217c212" stands in line 3 too`,
	}
	lines := func(problems []Problem) (all []string) {
		for _, p := range problems {
			all = append(all, p.String())
		}
		return all
	}
	before := c.head()
	dry := c.bring("boats", bad, Options{DryRun: true})
	assert.Equal(t, want, lines(dry.Problems))
	assert.Equal(t, []int{12, 4, 0, 8}, []int{dry.Rows, dry.Good, dry.Imported, dry.Bad})
	none := c.bring("boats", bad, Options{AllOrNothing: true})
	assert.Equal(t, want, lines(none.Problems))
	assert.Equal(t, []int{12, 0, 0, 8, 4}, []int{none.Rows, none.Good, none.Imported, none.Bad, none.Left})
	assert.Equal(t, before, c.head(), "neither changes anything")
	some := c.bring("boats", bad, Options{})
	assert.Equal(t, want, lines(some.Problems))
	assert.Equal(t, []int{12, 4, 8}, []int{some.Rows, some.Imported, some.Bad})

	mended := strings.Replace(fleet, "heron,Heron", "b1,Grebe,gift,estate,,Dor Bane,dor@example.org,canoe,1,5,aluminium,,removed\nheron,Heron", 1)
	done := c.bring("boats", mended, Options{AllOrNothing: true})
	assert.Equal(t, []int{1, 4, 0}, []int{done.Imported, done.Already, done.Bad}, "a new row about a giver whom the club knows by now: %v", done.Problems)
	assert.Equal(t, 5, c.bring("boats", mended, Options{}).Already)
}

func TestWhoRestsOnABadRowIsBadToo(t *testing.T) {
	c := start(t)
	list := strings.Replace(fleet, "\"4,9\"", "99", 1) // Heron, which introduces Wren's giver
	for _, dry := range []bool{true, false} {
		s := c.bring("boats", list, Options{DryRun: dry})
		assert.Equal(t, []string{"Length m", "Giver reference"}, []string{s.Problems[0].Column, s.Problems[1].Column}, "rehearsal %t", dry)
		assert.Equal(t, 2, s.Good+s.Imported)
	}
}

func TestAWholeFileIsRefusedForItsHeader(t *testing.T) {
	c := start(t)
	s := c.bring("people", "Nmae,Mail\nAda,ada@example.org\n", Options{})
	assert.Len(t, s.Problems, 2)
	assert.Zero(t, s.Rows)
	_, err := Run(t.Context(), c.Client, "ducks", "x.csv", Options{}, io.Discard)
	assert.ErrorContains(t, err, "choose one of")
}

func TestPeopleComeInWithRolesAndGuardians(t *testing.T) {
	c := start(t)
	list := `Reference;Name;Mail;Roles;Sort;Guardian reference;Since
kim;Kim Sedge;;;household;gil;
gil;Gil Sedge;gil@example.org;;guardian;;
ada;Ada Oxlip;ada@example.org;administrator, steward;;;2020-01-31
twin;Twin Oxlip;ADA@example.org;;;;
`
	dry := c.bring("people", list, Options{DryRun: true})
	assert.Equal(t, []int{3, 1}, []int{dry.Good, dry.Bad}, "%v", dry.Problems)
	s := c.bring("people", list, Options{})
	assert.Equal(t, []string{"people.csv line 5, column Mail: \"ADA@example.org\" stands in line 4 too"}, []string{s.Problems[0].String()})
	kim := c.Bodies(message.Person(who.ID(ID("person", "kim"))))
	assert.Contains(t, kim, message.GuardianNamed{Person: who.ID(ID("person", "kim")), Guardian: who.ID(ID("person", "gil"))})
	// Ada is an administrator now.
	c.Do(who.Member(who.ID(ID("person", "ada"))), message.ChangeSetting{Name: "link-days", Value: "10"})
	events, err := c.Log.Stream(t.Context(), message.Person(who.ID(ID("person", "ada"))))
	require.NoError(t, err)
	assert.Equal(t, "2020-01-31", events[0].HappenedAt.Format("2006-01-02"))
}

func TestRequestsComeIn(t *testing.T) {
	c := start(t)
	list := `Reference,Household name,Mail,Types,Adults,Children,Water,Experience,Carriers,Transport
r1,Cam Sedge,cam@example.org,canoe; board,34y 70kg; ?,8y 26kg,lake,some,2,roof
r2,Tam Nettle,tam@example.org,canoe,900kg,,lake,some,2,roof
`
	s := c.bring("requests", list, Options{})
	assert.Equal(t, []string{"requests.csv line 3, column Adults: must be from 20 to 400 kg; leave it empty when it is not known"}, []string{s.Problems[0].String()})
	made := c.Bodies(message.MatchingRequest(ID("request", "r1")))[0].(message.RequestMade)
	assert.Equal(t, ID("link", "r1"), made.Link)
	assert.Len(t, c.Bodies(message.PrivateLink(ID("link", "r1"))), 1)
}

func TestAThousandSalesComeIn(t *testing.T) {
	c := start(t)
	var list strings.Builder
	list.WriteString("Price,On,Type,Seats,Age years,Grade,Source\n")
	for i := range 1000 {
		fmt.Fprintf(&list, "%d.50 USD,2025-05-11,canoe,2,%d,3,notice board %d\n", 300+i%700, i%30, i)
	}
	var progress bytes.Buffer
	path := c.file("sales.csv", list.String())
	s, err := Run(t.Context(), c.Client, "sales", path, Options{}, &progress)
	require.NoError(t, err)
	assert.Equal(t, []int{1000, 1000, 0}, []int{s.Rows, s.Imported, s.Bad}, "%v", s.Problems)
	assert.Equal(t, 2, strings.Count(progress.String(), "\n"))
	assert.Contains(t, progress.String(), "sales.csv: 500 of 1000 rows\n")
	again, err := Run(t.Context(), c.Client, "sales", path, Options{}, io.Discard)
	require.NoError(t, err)
	assert.Equal(t, 1000, again.Already)
	assert.Equal(t, s.Position, c.head())
}

func TestARoomThatIsDownEndsTheImportWithoutHarm(t *testing.T) {
	c := start(t)
	require.NoError(t, c.Rooms[valuation.Name].Stop(t.Context()))
	path := c.file("sales.csv", "Reference,Price,On,Type,Seats,Age years,Grade,Source\ns1,500 USD,2025-05-11,canoe,2,3,3,x\n")
	s, err := Run(t.Context(), c.Client, "sales", path, Options{}, io.Discard)
	assert.True(t, fault.Is(err, fault.Unavailable), "%v", err)
	assert.ErrorContains(t, err, "line 2")
	assert.Empty(t, s.Problems, "the row is not to blame")
	require.NoError(t, c.Rooms[valuation.Name].Start(t.Context()))
	s, err = Run(t.Context(), c.Client, "sales", path, Options{}, io.Discard)
	require.NoError(t, err)
	assert.Equal(t, 1, s.Imported)
}
