package web

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
)

// statuses says which HTTP status a fault is answered with.
var statuses = map[fault.Kind]int{
	fault.Invalid:     http.StatusUnprocessableEntity,
	fault.Unknown:     http.StatusNotFound,
	fault.SignIn:      http.StatusUnauthorized,
	fault.Forbidden:   http.StatusForbidden,
	fault.Conflict:    http.StatusConflict,
	fault.Busy:        http.StatusServiceUnavailable,
	fault.Unavailable: http.StatusServiceUnavailable,
	fault.Internal:    http.StatusInternalServerError,
}

// headings are the titles of the pages that say what went wrong.
var headings = map[fault.Kind]string{
	fault.Invalid:     "Something in the form is not right",
	fault.Unknown:     "There is nothing here",
	fault.SignIn:      "Please sign in",
	fault.Forbidden:   "This is not yours to do",
	fault.Conflict:    "This does not work as things stand",
	fault.Busy:        "Too much at once",
	fault.Unavailable: "A part of the club's system does not answer",
	fault.Internal:    "Something went wrong on our side",
}

// problem is one thing that is wrong with a form.
type problem struct {
	Field string
	Text  string
	// ID is the id of the input to blame; empty when no single one is.
	ID string
	// Label is what stands beside that input.
	Label string
}

// Sentence tells the problem away from its input: with the label, unless the
// text names it.
func (p problem) Sentence() string {
	if p.Label == "" || strings.Contains(p.Text, "“"+p.Label+"”") {
		return p.Text
	}
	return "“" + p.Label + "”: " + p.Text
}

// faultPage says what went wrong and shows the way out.
type faultPage struct {
	Frame
	Kind fault.Kind
	Text string
	// ByLink marks a page that a private link opens: signing in is no way to it.
	ByLink bool
	// Back is where the page that was left stands now.
	Back string
	// Again holds a form that can be sent once more, with the same key: nothing
	// will be doubled.
	Again []pair
}

type pair struct {
	Name, Value string
	// Fresh marks an id or key that another copy of the form must not share.
	Fresh bool
}

// fail turns an error into a page. A form that can be mended is shown again with
// what was typed.
func (v *visit) fail(err error) {
	f := fault.Of(err)
	v.status = statuses[f.Kind]
	if f.Kind == fault.Internal {
		v.Slog.Error("a page failed", "route", v.route.path, "err", err)
	}
	if v.wantsJSON() {
		v.tellProblem(f, err)
		return
	}
	if v.signInInstead(f) || v.showAgain(f, err) {
		return
	}
	page := faultPage{Frame: v.frame(headings[f.Kind]), Kind: f.Kind, Text: v.say(f.Text), Back: v.wayBack()}
	if f.Kind == fault.SignIn && v.byLink() {
		page.Title, page.ByLink, page.Back = v.say("This page needs a private link that works"), true, "/"
	}
	if f.Kind == fault.Busy || f.Kind == fault.Unavailable {
		v.w.Header().Set("Retry-After", "5")
		page.Again = pairs(v.typed)
	}
	if err := v.show("fault", page); err != nil {
		v.Slog.Error("the page for a fault failed", "err", err)
		http.Error(v.w, headings[fault.Internal], http.StatusInternalServerError)
	}
}

// signInInstead leads somebody who only reads to the sign-in page, and from
// there back.
func (v *visit) signInInstead(f *fault.Fault) bool {
	if f.Kind != fault.SignIn || v.r.Method != http.MethodGet || v.byLink() || strings.HasSuffix(v.r.URL.Path, liveBehind) {
		return false
	}
	http.Redirect(v.w, v.r, "/sign-in?next="+url.QueryEscape(v.r.URL.RequestURI()), http.StatusSeeOther)
	return true
}

// byLink says whether the page is for applicants and donors, who come by a private
// link and have nothing to sign in with.
func (v *visit) byLink() bool {
	return strings.HasPrefix(v.r.URL.Path, "/my/") || strings.HasPrefix(v.r.URL.Path, message.LinkPath)
}

// showAgain shows a form that can be mended: what was typed breaks a rule, or
// clashes with what is in the book.
func (v *visit) showAgain(f *fault.Fault, err error) bool {
	if v.route.again == nil || v.typed == nil {
		return false
	}
	_, ofInput := v.typed[bare(f.Field)]
	if f.Kind != fault.Invalid && !(ofInput && (f.Kind == fault.Conflict || f.Kind == fault.Unknown)) {
		return false
	}
	v.problems = problemsOf(f, err)
	for i := range v.problems {
		v.problems[i].Text = v.say(v.problems[i].Text)
	}
	if err := v.route.again(v); err != nil {
		v.route.again = nil
		v.fail(err)
	}
	return true
}

// above are the pages below which forms have their addresses.
var above = regexp.MustCompile(`^(/my/request|/my/papers|/papers|/(?:requests|rounds|people)/[^/]+)/`)

// wayBack is the page on which the viewer was: the boat's, the one above the
// form, or home.
func (v *visit) wayBack() string {
	if v.boat != nil {
		return "/boats/" + string(v.boat.ID)
	}
	if found := above.FindStringSubmatch(v.r.URL.Path); found != nil {
		return found[1]
	}
	return "/"
}

// pairs gives a form's values in a steady order.
func pairs(values url.Values) []pair {
	var all []pair
	for name, list := range values {
		for _, value := range list {
			all = append(all, pair{Name: name, Value: value})
		}
	}
	slices.SortStableFunc(all, func(a, b pair) int {
		if a.Name < b.Name {
			return -1
		}
		if a.Name > b.Name {
			return 1
		}
		return 0
	})
	return all
}

// notFound answers addresses that no route has.
func (s *Site) notFound(w http.ResponseWriter, r *http.Request) {
	v := &visit{Site: s, w: w, r: r, ctx: r.Context(), status: http.StatusOK}
	if err := v.recognise(); err != nil {
		v.fail(err)
		return
	}
	v.fail(fault.New(fault.Unknown, "No page stands at this address. It may have been mistyped, or the thing it showed may have another place now."))
}
