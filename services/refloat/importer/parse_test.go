package importer

import (
	"bytes"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
	"refloat.example/pkg/money"
)

func TestTheSameTableInEveryWriting(t *testing.T) {
	want := []line{{2, []string{"Heron", "a \"b\", c; d", "4,9"}}, {4, []string{"Wren", "", "é"}}}
	for name, text := range map[string]string{
		"commas":                "Name,Words,Length\nHeron,\"a \"\"b\"\", c; d\",\"4,9\"\n\nWren,,é\n",
		"semicolons":            "Name;Words;Length\nHeron;\"a \"\"b\"\", c; d\";4,9\n\nWren;;é\n",
		"tabs":                  "Name\tWords\tLength\nHeron\t\"a \"\"b\"\", c; d\"\t4,9\n\nWren\t\té\n",
		"a byte order mark":     "\ufeffName;Words;Length\nHeron;\"a \"\"b\"\", c; d\";4,9\n\nWren;;é\n",
		"lines as DOS has them": "Name,Words,Length\r\nHeron,\"a \"\"b\"\", c; d\",\"4,9\"\r\n\r\nWren,,é\r\n",
		"no end of line":        "Name,Words,Length\nHeron,\"a \"\"b\"\", c; d\",\"4,9\"\n\nWren,,é",
		"empty cells behind":    "Name,Words,Length,,\nHeron,\"a \"\"b\"\", c; d\",\"4,9\",,\n,,,,\nWren,,é, ,\n",
	} {
		got, problem := readCSV([]byte(text))
		require.Nil(t, problem, name)
		assert.Equal(t, []string{"Name", "Words", "Length"}, got.header, name)
		assert.Equal(t, want, got.lines, name)
	}
}

func TestWhatPartsCellsIsNotCountedInsideThem(t *testing.T) {
	got, problem := readCSV([]byte("\"a;b;c;d\",e,f\n1;2;3;4;5,6,7\n"))
	require.Nil(t, problem)
	assert.Equal(t, []string{"a;b;c;d", "e", "f"}, got.header)
}

func TestFilesThatCannotBeRead(t *testing.T) {
	many := "Name\n" + strings.Repeat("x\n", maxRows+1)
	for name, row := range map[string]struct {
		text   string
		line   int
		reason string
	}{
		"nothing":               {"", 0, "empty"},
		"blank lines":           {"\n\n,,\n", 0, "empty"},
		"not UTF-8":             {"Name\nHeron\nZ\xfcrich\n", 3, "UTF-8"},
		"a quotation mark open": {"Name\nHeron\n\"Wren\n", 3, "quotation"},
		"one inside a cell":     {"Name\nHe\"ron\n", 2, "quotation"},
		"too many rows":         {many, maxRows + 2, "split"},
		"too many columns":      {strings.Repeat("x,", maxCells) + "x\n", 1, "columns"},
	} {
		_, problem := readCSV([]byte(row.text))
		require.NotNil(t, problem, name)
		assert.Equal(t, row.line, problem.Line, name)
		assert.Contains(t, problem.Reason, row.reason, name)
	}
	_, problem := readCSV([]byte("Name\n" + strings.Repeat("x\n", maxRows)))
	assert.Nil(t, problem, "as many rows as there may be")
}

func TestFilesThatAreNotLists(t *testing.T) {
	folder := t.TempDir()
	_, _, err := readTable(filepath.Join(folder, "gone.csv"))
	assert.ErrorIs(t, err, os.ErrNotExist)
	other := filepath.Join(folder, "fleet.ods")
	require.NoError(t, os.WriteFile(other, []byte("x"), 0o600))
	_, _, err = readTable(other)
	assert.ErrorContains(t, err, "neither .csv nor .xlsx")
	misnamed := filepath.Join(folder, "fleet.XLSX")
	require.NoError(t, os.WriteFile(misnamed, []byte("Name\nHeron\n"), 0o600))
	_, problems, err := readTable(misnamed)
	require.NoError(t, err)
	assert.Contains(t, problems[0].Reason, "not an .xlsx workbook")
	large := filepath.Join(folder, "large.csv")
	require.NoError(t, os.WriteFile(large, nil, 0o600))
	require.NoError(t, os.Truncate(large, maxFile+1))
	_, _, err = readTable(large)
	assert.ErrorContains(t, err, "split it")
}

// workbook is written by the library that spreadsheets' own files are tested
// with, as a person would fill it in: numbers as numbers, days as days.
func workbook(t *testing.T, rows map[string]any) []byte {
	t.Helper()
	book := excelize.NewFile()
	defer func() { require.NoError(t, book.Close()) }()
	for cell, value := range rows {
		require.NoError(t, book.SetCellValue("Sheet1", cell, value))
	}
	_, err := book.NewSheet("Notes")
	require.NoError(t, err)
	require.NoError(t, book.SetCellValue("Notes", "A1", "nobody reads this"))
	var out bytes.Buffer
	require.NoError(t, book.Write(&out))
	return out.Bytes()
}

func TestAWorkbookIsReadAsItIsKept(t *testing.T) {
	raw := workbook(t, map[string]any{
		"A1": "Name", "B1": "Length m", "C1": "Last afloat", "D1": "Asked", "E1": "Seats", "F1": "Colour",
		"A2": "Heron", "B2": 4.9, "C2": time.Date(2025, 9, 10, 0, 0, 0, 0, time.UTC), "D2": "120.50 USD", "E2": 2, "F2": true,
		"A4": "Wren", "B4": 0.1 + 0.2, "C4": "2024-02-29", "E4": 1.0,
	})
	got, problem := readSheet(raw)
	require.Nil(t, problem)
	require.Len(t, got.lines, 2)
	assert.Equal(t, 4, got.lines[1].number, "an empty row counts as a spreadsheet counts")
	columns, problems := boats.match(got)
	assert.Len(t, problems, 4, "Taking, Right, Type and Material are missing")
	rows := readRows(&boats, got, columns)
	heron, wren := rows[0], rows[1]
	heron.problems, wren.problems = nil, nil
	assert.Equal(t, 4900, heron.milli("Length m"))
	assert.Equal(t, 300, wren.milli("Length m"))
	assert.Equal(t, clock.MustDate("2025-09-10"), heron.date("Last afloat"))
	assert.Equal(t, clock.MustDate("2024-02-29"), wren.date("Last afloat"))
	assert.Equal(t, money.Of(12050, "USD"), heron.money("Asked"))
	assert.Equal(t, 2, heron.whole("Seats"))
	assert.Equal(t, 1, wren.whole("Seats"))
	assert.Equal(t, "1", heron.text("Colour"))
	assert.Empty(t, heron.problems)
}

func TestDaysFrom1904(t *testing.T) {
	book := excelize.NewFile()
	yes := true
	require.NoError(t, book.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &yes}))
	require.NoError(t, book.SetCellValue("Sheet1", "A1", "On"))
	require.NoError(t, book.SetCellValue("Sheet1", "A2", 44449)) // ECMA-376 §18.17.4.1: days since 1904-01-01
	var out bytes.Buffer
	require.NoError(t, book.Write(&out))
	got, problem := readSheet(out.Bytes())
	require.Nil(t, problem)
	r := &row{list: &sales, table: got, cells: map[string]string{"On": got.lines[0].cells[0]}}
	assert.Equal(t, clock.NewDate(1904, time.January, 1).AddDays(44449), r.date("On"))
}

func TestHeaders(t *testing.T) {
	for name, row := range map[string]struct {
		header  string
		columns []string // nil: refused
		problem Problem
	}{
		"in another order": {"Name,Reference", []string{"Name", "Reference"}, Problem{}},
		"in capitals":      {" NAME ,  since", []string{"Name", "Since"}, Problem{}},
		"one without name": {"Name,,Mail", []string{"Name", "", "Mail"}, Problem{}},
		"missing":          {"Mail", nil, Problem{Line: 1, Column: "Name", Reason: "this column is missing"}},
		"twice":            {"Name,Mail,mail", nil, Problem{Line: 1, Column: "mail", Reason: "this column stands twice"}},
		"unknown": {"Name,Shoe size", nil, Problem{Line: 1, Column: "Shoe size",
			Reason: "there is no such column in a list of people; the template shows those that there are"}},
	} {
		columns, problems := people.match(&table{header: strings.Split(row.header, ","), named: 1})
		if row.columns != nil {
			assert.Equal(t, row.columns, columns, name)
			assert.Empty(t, problems, name)
			continue
		}
		assert.Equal(t, []Problem{row.problem}, problems, name)
	}
}

func TestCells(t *testing.T) {
	read := func(cell string, get func(r *row) any) (any, string) {
		r := &row{list: &boats, table: &table{}, cells: map[string]string{"x": cell}}
		got := get(r)
		if len(r.problems) > 0 {
			return nil, r.problems[0].Column + ": " + r.problems[0].Reason
		}
		return got, ""
	}
	whole := func(r *row) any { return r.whole("x") }
	milli := func(r *row) any { return r.milli("x") }
	date := func(r *row) any { return r.date("x").String() }
	amount := func(r *row) any { return r.money("x") }
	yes := func(r *row) any { return r.yes("x", false) }
	types := func(r *row) any { return word(r, "x", boat.Types) }
	features := func(r *row) any { return words(r, "x", boat.Features) }
	adults := func(r *row) any { return r.paddlers("x") }
	for _, row := range []struct {
		cell string
		get  func(r *row) any
		want any // nil: refused
	}{
		{"", whole, 0}, {"12", whole, 12}, {"1.5", whole, nil}, {"-1", whole, nil}, {"two", whole, nil}, {"1000001", whole, nil},
		{"", milli, 0}, {"4.9", milli, 4900}, {"4,9", milli, 4900}, {"4.9000000000000004", milli, 4900}, {"0.0005", milli, 1},
		{"1,234.5", milli, nil}, {"4.9 m", milli, nil}, {"-4", milli, nil}, {".", milli, nil}, {"1e3", milli, nil}, {"NaN", milli, nil}, {"9999999", milli, nil},
		{"", date, ""}, {"2024-02-29", date, "2024-02-29"}, {"2023-02-29", date, nil}, {"03/04/2024", date, nil}, {"45000", date, nil},
		{"", amount, money.Amount{}}, {"120.50 USD", amount, money.Of(12050, "USD")}, {"CAD 120,5", amount, money.Of(12050, "CAD")},
		{"120.50", amount, nil}, {"1,200.50 USD", amount, nil}, {"120.505 USD", amount, nil}, {"12 shells", amount, nil},
		{"", yes, false}, {"YES", yes, true}, {"no", yes, false}, {"maybe", yes, nil},
		{"", types, boat.Type("")}, {"Canoe", types, boat.Canoe}, {"raft", types, nil},
		{"", features, []boat.Feature(nil)}, {"wide cockpit; HIGH seat back;", features, []boat.Feature{"wide cockpit", "high seat back"}}, {"wide cockpit, high seat back", features, nil},
		{"", adults, []message.Paddler(nil)}, {"34y 70,5kg; 82KG;?", adults, []message.Paddler{{Years: 34, MassG: 70500}, {MassG: 82000}, {}}}, {"8y", adults, []message.Paddler{{Years: 8}}},
		{"70", adults, nil}, {"34y 34y", adults, nil}, {"34 y", adults, nil}, {"-3y", adults, nil}, {"70lb", adults, nil}, {"ykg", adults, nil},
	} {
		got, problem := read(row.cell, row.get)
		assert.Equal(t, row.want, got, "%q", row.cell)
		if row.want == nil {
			assert.True(t, strings.HasPrefix(problem, "x: "), "%q: %s", row.cell, problem)
		}
	}
}

// orderOf reads a one-row list that says: column=cell.
func orderOf(l *list, cells map[string]string) (*row, order) {
	r := &row{list: l, table: &table{}, line: 2, cells: cells, name: "r1", giver: cells["Giver reference"]}
	return r, l.order(r)
}

func TestTheTemplatesOwnRowsAreGood(t *testing.T) {
	for _, l := range lists {
		var file, notes strings.Builder
		require.NoError(t, Template(l.kind, &file, &notes))
		read, problem := readCSV([]byte(file.String()))
		require.Nil(t, problem, l.kind)
		columns, problems := l.match(read)
		require.Empty(t, problems, l.kind)
		rows := readRows(l, read, columns)
		require.Len(t, rows, 1)
		o := l.order(rows[0])
		assert.Empty(t, rows[0].problems, l.kind)
		assert.NotEmpty(t, o.command.Verb())
		for _, c := range l.columns {
			assert.Contains(t, notes.String(), c.name)
		}
	}
	assert.ErrorContains(t, Template("ducks", nil, nil), "boats, people, requests, sales")
}

func TestARequestIsReadWhole(t *testing.T) {
	r, o := orderOf(&requests, map[string]string{
		"Household name": "Cam Sedge", "Mail": "cam@example.org", "Types": "canoe; board", "Adults": "34y 70kg; ?", "Children": "8y 26kg",
		"Animals kg": "12,5", "Gear kg": "8", "Water": "sheltered lake", "Experience": "some", "Needs": "high seat back", "Carriers": "2",
		"Each lifts kg": "15", "Cart": "yes", "Transport": "roof", "Roof load kg": "75", "Rack kg": "12", "Storage m": "5", "Words": "w", "Asked on": "2026-03-15",
	})
	require.Empty(t, r.problems)
	want := message.MakeRequest{
		Request: ID("request", "r1"), Household: "", Details: &message.PersonDetails{Name: "Cam Sedge", Mail: "cam@example.org"},
		Consent: consentText, Link: ID("link", "r1"), Boats: 1,
		Wish: message.Wish{
			Types: []boat.Type{boat.Canoe, boat.Board}, Adults: []message.Paddler{{Years: 34, MassG: 70000}, {}}, Children: []message.Paddler{{Years: 8, MassG: 26000}},
			AnimalsG: []int{12500}, GearG: 8000, Water: "sheltered lake", Experience: "some", Needs: []boat.Feature{"high seat back"}, Carriers: 2,
			EachLiftsG: 15000, HasCart: true, Transport: "roof", RoofLoadG: 75000, RackG: 12000, StorageMM: 5000, Words: "w",
		},
	}
	want.Household = o.command.(message.MakeRequest).Household
	assert.Equal(t, want, o.command)
	assert.Equal(t, ID("person", "r1"), string(want.Household))
	assert.Equal(t, time.Date(2026, 3, 15, 0, 0, 0, 0, time.UTC), o.happened)
}

func TestFaultsAreShownAtTheirColumn(t *testing.T) {
	for field, want := range map[string]string{
		"wish.adults[0].mass_g": "Adults", "wish.animals_g[2]": "Animals kg", "details.mail": "Mail", "boats": "Boats", "wish": "", "request": "", "": "",
	} {
		column, found := requests.columnOf(field)
		assert.Equal(t, want, column, field)
		assert.Equal(t, want != "", found, field)
	}
	column, _ := boats.columnOf("facts.no_hull_number")
	assert.Equal(t, "No hull number because", column)
	column, _ = sales.columnOf("price_kind")
	assert.Equal(t, "Sold or asking", column)
	_, found := sales.columnOf("priced")
	assert.False(t, found)
	column, _ = boats.columnOf("new_giver.mail")
	assert.Equal(t, "Giver mail", column)
}

func TestIDsNeverChange(t *testing.T) {
	// Python: s = hashlib.sha256(b'refloat import "boat" "heron"').digest()[:16]
	// and RFC 9562's bits for version 8 set in it.
	assert.Equal(t, "a3add0ea-00a6-812c-bf87-f5738333fac6", ID("boat", "heron"))
	assert.NotEqual(t, ID("boat", "heron"), ID("person", "heron"))
	assert.NotEqual(t, ID("a", `b" "c`), ID(`a" "b`, "c"))
}

func TestARowsDigestDependsOnContentOnly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cells := map[string]string{}
		for _, c := range sales.columns {
			cells[c.name] = rapid.StringMatching(`[a-z"= ]{0,6}`).Draw(t, c.name)
		}
		one := &row{list: &sales, cells: cells}
		moved := map[string]string{}
		for _, i := range rand.Perm(len(sales.columns)) {
			if cell := cells[sales.columns[i].name]; cell != "" {
				moved[sales.columns[i].name] = cell
			}
		}
		if one.digest() != (&row{list: &sales, cells: moved}).digest() {
			t.Fatal("the same content has two digests")
		}
		changed := sales.columns[rapid.IntRange(0, len(sales.columns)-1).Draw(t, "changed")].name
		moved[changed] += "x"
		if one.digest() == (&row{list: &sales, cells: moved}).digest() {
			t.Fatal("another content has the same digest")
		}
	})
}

func TestLanesKeepOrderAndLetTheLateComeLast(t *testing.T) {
	got := lanes([]order{{line: 2, lane: "a", late: true}, {line: 3, lane: "b"}, {line: 4, lane: "a"}, {line: 5, lane: "a"}})
	var numbers [][]int
	for _, lane := range got {
		var one []int
		for _, o := range lane {
			one = append(one, o.line)
		}
		numbers = append(numbers, one)
	}
	assert.Equal(t, [][]int{{4, 5, 2}, {3}}, numbers)
}

func FuzzReadCSV(f *testing.F) {
	for _, seed := range []string{"Name,Seats\nHeron,2\n", "\ufeffName;Mail\n\"a;\"\"b\";c\n", "Name\tMail\nx\ty", "\"", "Name\n\xff", "Price\n1,5 USD\n;;;\n"} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		read, problem := readCSV(raw)
		if problem != nil {
			if problem.Reason == "" || problem.Line < 0 {
				t.Fatal("a problem without reason or place")
			}
			return
		}
		last := read.named
		for _, line := range read.lines {
			if line.number <= last || len(line.cells) == 0 || len(line.cells) > maxCells {
				t.Fatalf("line %d after %d with %d cells", line.number, last, len(line.cells))
			}
			last = line.number
		}
		for _, l := range lists {
			columns, _ := l.match(read)
			for _, r := range readRows(l, read, columns) {
				r.name, r.giver = r.digest(), r.giverText()
				l.order(r)
				if slices.ContainsFunc(r.problems, func(p Problem) bool { return p.Line != r.line || p.Reason == "" }) {
					t.Fatal("a problem without reason or place")
				}
			}
		}
	})
}

func TestAWishTellsOfTheCarTheJacketsAndTwoBoats(t *testing.T) {
	r := &row{list: &requests, table: &table{}, cells: map[string]string{"Vehicle m": "4.3", "Own jackets": "yes", "Two singles": "yes"}}
	w := r.wish()
	assert.Empty(t, r.problems)
	assert.Equal(t, message.Wish{VehicleMM: 4300, OwnJackets: true, TwoSingles: true}, w)
	r.cells = map[string]string{"Own jackets": "perhaps"}
	r.wish()
	assert.Len(t, r.problems, 1)
}
