package web

import (
	"net/http"
	"strings"
	"unicode"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

func signInRoutes() []route {
	return []route{
		get("/sign-in", anybody, (*visit).signInForm),
		post("/sign-in", anybody, (*visit).askSignIn, (*visit).signInForm),
		get(message.SignInPath+"{token}", anybody, (*visit).signInButton),
		post(message.SignInPath+"{token}", anybody, (*visit).signIn, nil),
		get(message.LinkPath+"{token}", anybody, (*visit).linkButton),
		post(message.LinkPath+"{token}", anybody, (*visit).openLink, nil),
		post("/sign-out", anybody, (*visit).signOut, nil),
	}
}

// signInPage is every page on the way in.
type signInPage struct {
	Frame
	Words string
	Form  Form
	Sent  bool
	// Passkey is the form that the browser's answer goes with; nil where there are no
	// passkeys.
	Passkey *Form
}

const nextCookie = "refloat-next"

func (v *visit) signInForm() error {
	if next := v.r.URL.Query().Get("next"); isLocal(next) {
		http.SetCookie(v.w, &http.Cookie{Name: nextCookie, Value: next, Path: "/", MaxAge: 3600, HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: v.overTLS()})
	}
	return v.show("sign_in", signInPage{
		Frame:   v.frame("Sign in"),
		Words:   "Write the mail address under which the club knows you. You get a link by mail; there is no password.",
		Form:    v.form("sign-in", "/sign-in", "Send me a link", nil, Section{Fields: []Field{mail("mail", "Mail address").Needed()}}),
		Passkey: v.signInByPasskey(),
	})
}

// isLocal says whether an address leads to a page of ours. Browsers drop tabs and
// line breaks before they read an address (URL Standard, basic URL parser).
func isLocal(address string) bool {
	return strings.HasPrefix(address, "/") && !strings.HasPrefix(address, "//") && !strings.ContainsRune(address, '\\') && !strings.ContainsFunc(address, unicode.IsControl)
}

func (v *visit) askSignIn() error {
	address := strings.TrimSpace(v.typed.Get("mail"))
	if address == "" {
		return fault.Field("mail", "write your mail address")
	}
	asking := v.asking()
	asking.By = people.Service(Name)
	if _, err := askAs[message.SignInAsked](v, asking, message.AskSignIn{Mail: address}); err != nil {
		return err
	}
	return v.show("sign_in", signInPage{Frame: v.frame("Look into your mail"), Sent: true})
}

// signInButton is where the link in the mail leads. Mail programs open links to
// look at them, so nothing happens until the button is pressed.
func (v *visit) signInButton() error {
	return v.show("sign_in", signInPage{
		Frame: v.frame("Sign in"),
		Words: "One more step, so that it is you who signs in and not a program that looks through your mail.",
		Form:  v.button("sign-in-now", v.r.URL.Path, "Sign in now"),
	})
}

func (v *visit) signIn() error {
	asking := v.asking()
	asking.By = people.Service(Name)
	signed, err := askAs[message.SignedIn](v, asking, message.RedeemSignIn{Token: v.param("token")})
	if err != nil {
		return err
	}
	return v.enter(signed.Person)
}

// linkButton is where a private link leads.
func (v *visit) linkButton() error {
	return v.show("sign_in", signInPage{
		Frame: v.frame("Your private page"),
		Words: "This link is yours alone. Do not pass it on: whoever has it sees what you see.",
		Form:  v.button("open-link", v.r.URL.Path, "Open my page"),
	})
}

// homesOfLinks is where each sort of private link leads.
var homesOfLinks = map[people.Purpose]string{people.OwnRequest: "/my/request", people.OwnPapers: "/my/papers"}

func (v *visit) openLink() error {
	asking := v.asking()
	asking.By = people.Service(Name)
	opened, err := askAs[message.OpenedLink](v, asking, message.OpenLink{Token: v.param("token")})
	if err != nil {
		return err
	}
	if homesOfLinks[opened.Purpose] == "" {
		return fault.New(fault.SignIn, "This address is for a calendar program. Sign in to see what falls due.")
	}
	if err := v.begin("", opened.Link); err != nil {
		return err
	}
	return v.goTo(homesOfLinks[opened.Purpose], "")
}

func (v *visit) signOut() error {
	if err := v.end(); err != nil {
		return err
	}
	return v.goTo("/", "signed-out")
}
