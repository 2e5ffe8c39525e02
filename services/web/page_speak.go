package web

import (
	"net/http"
	"slices"

	"refloat.example/pkg/fault"
)

func speakRoutes() []route {
	return []route{post("/speak", anybody, (*visit).speak, nil)}
}

// speak keeps which language or units a reader has chosen, in their browser alone,
// and goes back to the page.
func (v *visit) speak() error {
	chosen := map[string]string{languageCookie: v.typed.Get("language"), unitsCookie: v.typed.Get("units")}
	known := map[string][]string{languageCookie: append(slices.Clone(languages), pseudo), unitsCookie: {"metric", "us"}}
	for name, value := range chosen {
		if value == "" {
			continue
		}
		if !slices.Contains(known[name], value) {
			return fault.New(fault.Invalid, "Choose one of the languages and units on the page.")
		}
		http.SetCookie(v.w, &http.Cookie{
			Name: name, Value: value, Path: "/", MaxAge: int(choiceFor.Seconds()), HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: v.overTLS(),
		})
	}
	to := v.typed.Get("back")
	if !isLocal(to) {
		to = "/"
	}
	http.Redirect(v.w, v.r, to, http.StatusSeeOther)
	return nil
}
