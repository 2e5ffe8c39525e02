package web

import (
	"bytes"
	"io/fs"
	"path"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/people"
)

// samples holds the data of every page. A page that is missing here fails the
// test.
var samples = map[string]any{
	"home": homePage{},
	"hull": hullPage{},

	"search": searchPage{},
	"tags":   tagsPage{},
	"tag":    tagPage{},

	"find_rates": findRatesPage{},

	"sign_in":    signInPage{},
	"signing_in": signingInPage{},
	"act":        actPage{},
	"fault":      faultPage{},
	"boats":      boatsPage{},
	"boat":       boatPage{Boat: &Boat{}},
	"racks":      racksPage{},
	"tokens":     tokensPage{},
	"not_sent":   notSentPage{},
	"photos":     photosPage{Boat: &Boat{}},
	"look":       lookPage{Boat: &Boat{}},
	"methods":    methodsPage{Boat: &Boat{}},
	"sheet":      sheetPage{Boat: &Boat{}},
	"stock":      stockPage{},
	"bin":        binPage{},
	"skills":     skillsPage{},
	"prices":     pricesPage{},
	"history":    historyPage{Boat: &Boat{}},
	"value":      valuePage{Boat: &Boat{}},
	"values":     valuesPage{Boat: &Boat{}},
	"track":      trackPage{},
	"shop":       shopPage{},

	"ask":        askPage{},
	"asked":      askedPage{},
	"my_request": myRequestPage{},
	"wish":       wishPage{},
	"requests":   requestsPage{},
	"request":    requestPage{},
	"link":       linkPage{},
	"doubles":    doublesPage{},
	"rounds":     roundsPage{},
	"round":      roundPage{},
	"what_if":    whatIfPage{},
	"served":     servedPage{},
	"money":      moneyPage{},
	"statement":  statementPage{},
	"clocks":     clocksPage{},
	"bank":       bankPage{},
	"count":      countPage{},
	"outlook":    outlookPage{Boat: &Boat{}},
	"cost_book":  costBookPage{},
	"volunteers": volunteersPage{},
	"papers":     papersPage{},
	"my_papers":  myPapersPage{},

	"papers_year": yearPapersPage{}, "paper_series": seriesPage{}, "copy_a": copyAPage{},

	"people":  peoplePage{},
	"person":  personPage{},
	"club":    clubPage{},
	"release": releasePage{},
	"book":    bookPage{},
	"letters": lettersPage{},

	"paper":       checkedPage{},
	"checkpoints": checkpointsPage{},

	"signatories": signatoriesPage{},
	"readings":    readingsPage{},
}

func TestEveryPageCanBeShownEmptyAndFull(t *testing.T) {
	l, err := openLook()
	require.NoError(t, err)
	names, err := fs.Glob(files, "templates/page_*.html")
	require.NoError(t, err)
	for _, file := range names {
		name := strings.TrimSuffix(strings.TrimPrefix(path.Base(file), "page_"), ".html")
		sample, ok := samples[name]
		if !assert.True(t, ok, "the page %s has no sample", name) {
			continue
		}
		for kind, data := range map[string]reflect.Value{"empty": reflect.ValueOf(sample), "full": full(reflect.TypeOf(sample), 0)} {
			page := reflect.New(data.Type()).Elem()
			page.Set(data)
			page.FieldByName("Title").SetString("A title")
			page.FieldByName("Club").SetString("Quillwater Paddlers")
			if kind == "full" {
				page.FieldByName("Who").Set(reflect.ValueOf(Who{Person: "p", Roles: people.Roles}))
			}
			page.FieldByName("People").Set(reflect.ValueOf(directory{open: map[people.ID]string{}}))
			var out bytes.Buffer
			require.NoError(t, l.page(&out, plain, name, page.Interface()), "%s, %s", name, kind)
			s := readSheet(t, &out)
			assert.NotContains(t, s.text, "<no value>", "%s, %s", name, kind)
		}
	}
}

// full makes a value in which everything is set: lists have two elements,
// pointers point somewhere. Words are chosen where the pages know only some.
func full(t reflect.Type, depth int) reflect.Value {
	v := reflect.New(t).Elem()
	switch t {
	case reflect.TypeFor[clock.Date]():
		return reflect.ValueOf(clock.NewDate(2026, 4, 1))
	case reflect.TypeFor[time.Time]():
		return reflect.ValueOf(time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC))
	case reflect.TypeFor[directory](), reflect.TypeFor[desk.Link]():
		return v
	case reflect.TypeFor[boat.Zone](), reflect.TypeFor[boat.Side](), reflect.TypeFor[boat.Face]():
		v.SetString(map[string]string{"Zone": "amid", "Side": "port", "Face": "outside"}[t.Name()])
		return v
	}
	if depth > 12 {
		return v
	}
	switch t.Kind() {
	case reflect.String:
		v.SetString("word")
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int, reflect.Int64:
		v.SetInt(7)
	case reflect.Pointer:
		v.Set(reflect.New(t.Elem()))
		v.Elem().Set(full(t.Elem(), depth+1))
	case reflect.Slice:
		v = reflect.MakeSlice(t, 2, 2)
		for i := range 2 {
			v.Index(i).Set(full(t.Elem(), depth+1))
		}
	case reflect.Map:
		v = reflect.MakeMap(t)
		v.SetMapIndex(full(t.Key(), depth+1), full(t.Elem(), depth+1))
	case reflect.Struct:
		for i := range t.NumField() {
			if v.Field(i).CanSet() {
				v.Field(i).Set(full(t.Field(i).Type, depth+1))
			}
		}
	}
	return v
}
