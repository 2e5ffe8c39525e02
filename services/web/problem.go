package web

import (
	"encoding/json"
	"net/http"
	"strings"

	"refloat.example/pkg/fault"
)

// problemDetails is an error as a program reads it (RFC 9457). It never repeats
// what was sent: that may be somebody's data.
type problemDetails struct {
	Type   string        `json:"type"` // the kind of fault, as a path on this site
	Title  string        `json:"title"`
	Status int           `json:"status"`
	Detail string        `json:"detail"`
	Errors []problemItem `json:"errors,omitempty"`
}

// problemItem is one thing that is wrong with what was sent.
type problemItem struct {
	Detail string `json:"detail"`
	// Location is the JSON path of the field to blame.
	Location string `json:"location,omitempty"`
}

// wantsJSON says whether a program asks, and not somebody at a browser.
func (v *visit) wantsJSON() bool {
	return strings.HasPrefix(v.r.URL.Path, apiAt+"/") || strings.Contains(v.r.Header.Get("Accept"), "application/json")
}

// tellProblem answers a program with what went wrong.
func (v *visit) tellProblem(f *fault.Fault, err error) {
	p := problemDetails{Type: "/api/problems/" + string(f.Kind), Title: headings[f.Kind], Status: v.status, Detail: f.Text}
	if f.Field != "" {
		for _, each := range problemsOf(f, err) {
			p.Errors = append(p.Errors, problemItem{each.Text, each.Field})
		}
	}
	if f.Kind == fault.Busy || f.Kind == fault.Unavailable {
		v.w.Header().Set("Retry-After", "5")
	}
	if f.Kind == fault.SignIn {
		v.w.Header().Set("WWW-Authenticate", `Bearer realm="the club's books"`)
	}
	raw, err := json.Marshal(p)
	if err != nil {
		http.Error(v.w, headings[fault.Internal], http.StatusInternalServerError)
		return
	}
	_ = v.write("application/problem+json", raw)
}
