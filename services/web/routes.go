package web

import (
	"net/http"
	"regexp"
	"slices"

	"github.com/go-chi/chi/v5"
)

// route is one address and method, with who may open it and what it does.
type route struct {
	method string
	path   string
	may    audience
	do     func(v *visit) error
	// again shows the form once more when what was typed cannot be taken.
	again func(v *visit) error
	// body, when set, is how many bytes of a body the route reads by itself; other
	// routes are given the form that was sent.
	body int64
	// held holds down how often one address may ask without being signed in.
	held bool
}

func get(path string, may audience, do func(v *visit) error) route {
	return route{method: http.MethodGet, path: path, may: may, do: do}
}

func post(path string, may audience, do, again func(v *visit) error) route {
	return route{method: http.MethodPost, path: path, may: may, do: do, again: again, held: may.public}
}

// reads makes a route read its body by itself, up to so many bytes.
func (rt route) reads(bytes int64) route {
	rt.body = bytes
	return rt
}

// routes is every address of the pages. Each file of pages has a list of its
// own; a page that is in none does not exist.
func routes() []route {
	var all []route
	for _, list := range [][]route{
		signInRoutes(), signingInRoutes(), passkeyRoutes(), speakRoutes(), homeRoutes(), liveRoutes(), searchRoutes(), notSentRoutes(), tokenRoutes(), boatsRoutes(), tagRoutes(), boatRoutes(), hullRoutes(), photoRoutes(), rackRoutes(), lookRoutes(), findRateRoutes(), valueRoutes(),
		askRoutes(), myRequestRoutes(), requestRoutes(), doublesRoutes(), roundRoutes(), handOverRoutes(),
		sheetRoutes(), stockRoutes(), receiptRoutes(), skillRoutes(),
		moneyRoutes(), volunteerRoutes(), countRoutes(), bankRoutes(), papersRoutes(), papersYearRoutes(), copyARoutes(), peopleRoutes(), clubRoutes(), signatoryRoutes(), bookRoutes(), lettersRoutes(), proofRoutes(),
	} {
		all = append(all, list...)
	}
	for _, a := range acts() {
		all = append(all, a.routes()...)
	}
	return all
}

// acts is every form that gives one command. Each file of pages has a list of
// its own.
func acts() []act {
	return slices.Concat(
		intakeActs(), arrivalActs(), photoActs(), jacketActs(), rackActs(), lookActs(), workshopActs(), valueActs(),
		myRequestActs(), requestActs(), roundActs(), handOverActs(), afterActs(),
		sheetActs(), stockActs(), skillActs(),
		moneyActs(), volunteerActs(), bankActs(), papersActs(), clocksActs(), peopleActs(), clubActs(), signatoryActs(), standingActs(), lettersActs(),
	)
}

// saidAfter gives the sentences for the codes in the address of the page after a
// form.
func saidAfter() map[string]string {
	said := map[string]string{"answers-kept": "The answers are kept.", "signed-out": "You are signed out.", "signed-out-everywhere": "You are signed out in every browser.", "signed-out-others": "You are signed out everywhere else.",
		"passkey-added": "You can sign in with this passkey now.", "passkey-removed": "The passkey signs nobody in any more.",
		"session-ended": "You are signed out there.", "signed-out-member": "They are signed out in every browser.", "wish-changed": "The wish is changed.", "photos-kept": "The photos are kept.", "token-ended": "The token works no more.",
		"step-done": "The step is done.", "timer-ended": "Nobody waits for it any more.", "read-bank": "The file is read. What was new in it stands below."}
	for _, a := range acts() {
		said[a.name] = a.done
	}
	return said
}

// Router gives the handler of all pages.
func (s *Site) Router() *chi.Mux {
	r := chi.NewRouter()
	for _, rt := range routes() {
		handler := http.Handler(s.handle(rt))
		if rt.held {
			handler = s.limit(handler)
		}
		r.Method(rt.method, rt.path, handler)
	}
	limitAPI := s.limitAPI()
	for _, rt := range apiRoutes() {
		r.Method(rt.method, rt.path, limitAPI(s.handleAPI(rt)))
	}
	r.Get("/static/{file}", s.look.serve)
	r.Get("/sw.js", s.look.serveWorker)
	r.NotFound(s.notFound)
	r.MethodNotAllowed(s.notFound)
	return r
}

var inBraces = regexp.MustCompile(`{(\w+)}`)

// braces names the parts of an address that stand in braces.
func braces(path string) []string {
	var names []string
	for _, match := range inBraces.FindAllStringSubmatch(path, -1) {
		names = append(names, match[1])
	}
	return names
}
