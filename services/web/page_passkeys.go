package web

import (
	"net/http"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/passkey"
	"refloat.example/pkg/people"
)

// Passkeys need a script by their nature (static/passkey.js): the browser makes and
// uses them. The script asks for what is to be done, and sends the answer by an
// ordinary form; without it the forms stay hidden and the link by mail is there.

func passkeyRoutes() []route {
	return []route{
		post("/passkeys/sign-in/ask", anybody, (*visit).askPasskeySignIn, nil),
		post("/passkeys/sign-in", anybody, (*visit).signInWithPasskey, (*visit).signInForm),
		post("/passkeys/ask", anyMember, (*visit).askPasskey, nil),
		post("/passkeys", anyMember, (*visit).addPasskey, (*visit).signingInPage),
		post("/passkeys/{passkey}/remove", anyMember, (*visit).removePasskey, nil),
		post("/people/{person}/passkeys/{passkey}/remove", administrators, (*visit).removePasskey, nil),
	}
}

// passkeyRow is a passkey with a button to remove it.
type passkeyRow struct {
	message.PasskeyRead
	Remove Form
}

// passkeysOf reads a member's passkeys; below says under which address the buttons
// are that remove them.
func (v *visit) passkeysOf(person people.ID, below string) ([]passkeyRow, error) {
	if !passkey.Possible(v.cfg.BaseURL) {
		return nil, nil
	}
	read, err := ask[message.PasskeysRead](v, message.ReadPasskeys{Person: person})
	rows := make([]passkeyRow, len(read.Passkeys))
	for i, p := range read.Passkeys {
		rows[i] = passkeyRow{p, v.button("remove-"+p.Passkey, below+"/passkeys/"+p.Passkey+"/remove", "Remove "+p.Name)}
	}
	return rows, err
}

// signInByPasskey is the form that the script fills with the browser's answer.
func (v *visit) signInByPasskey() *Form {
	if !passkey.Possible(v.cfg.BaseURL) {
		return nil
	}
	f := v.button("passkey-sign-in", "/passkeys/sign-in", "Sign in with a passkey", preset("response", ""))
	return &f
}

func (v *visit) newPasskeyForm() Form {
	return v.form("add-passkey", "/passkeys", "Add a passkey", nil, Section{Fields: []Field{
		fresh("passkey"), preset("response", ""),
		text("name", "What you call it").Needed().With("For instance “my phone”. It tells your passkeys apart."),
	}})
}

func (v *visit) askPasskeySignIn() error {
	asking := v.asking()
	asking.By = people.Service(Name)
	asked, err := askAs[message.PasskeyAsked](v, asking, message.AskPasskeySignIn{})
	if err != nil {
		return err
	}
	return v.write("application/json", asked.Options)
}

func (v *visit) signInWithPasskey() error {
	asking := v.asking()
	asking.By = people.Service(Name)
	signed, err := askAs[message.SignedIn](v, asking, message.RedeemPasskey{Response: v.typed.Get("response")})
	if err != nil {
		return err
	}
	return v.enter(signed.Person)
}

func (v *visit) askPasskey() error {
	asked, err := ask[message.PasskeyAsked](v, message.AskPasskey{})
	if err != nil {
		return err
	}
	return v.write("application/json", asked.Options)
}

func (v *visit) addPasskey() error {
	add := message.AddPasskey{Passkey: v.typed.Get("passkey"), Name: v.typed.Get("name"), Response: v.typed.Get("response")}
	if err := desk.Needed("name", add.Name, "say what you call this passkey"); err != nil {
		return err
	}
	if _, err := v.order(add); err != nil {
		return err
	}
	return v.goTo("/signing-in", "passkey-added")
}

// removePasskey removes a passkey of the viewer's own, or, from the page of
// somebody, theirs.
func (v *visit) removePasskey() error {
	whose, to := v.Who.Person, "/signing-in"
	if other := v.param("person"); other != "" {
		whose, to = people.ID(other), "/people/"+other
	}
	if _, err := v.order(message.RemovePasskey{Person: whose, Passkey: v.param("passkey")}); err != nil {
		return err
	}
	return v.goTo(to, "passkey-removed")
}

// enter begins a member's session and leads to where they wanted to go.
func (v *visit) enter(person people.ID) error {
	if err := v.begin(person, ""); err != nil {
		return err
	}
	to := "/"
	if cookie, err := v.r.Cookie(nextCookie); err == nil && isLocal(cookie.Value) {
		to = cookie.Value
		http.SetCookie(v.w, &http.Cookie{Name: nextCookie, Path: "/", MaxAge: -1})
	}
	http.Redirect(v.w, v.r, to, http.StatusSeeOther)
	return nil
}
