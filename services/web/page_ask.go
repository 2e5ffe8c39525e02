package web

import (
	"errors"
	"fmt"
	"slices"
	"strconv"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// applicantConsent names the text that an applicant agrees to; its words are on
// the form.
const applicantConsent = "applicant-data-2026-1"

func askRoutes() []route {
	return []route{
		get("/ask", anybody, (*visit).askForm),
		post("/ask", anybody, (*visit).makeRequest, (*visit).askForm),
	}
}

// askPage is the form by which a household asks for a boat.
type askPage struct {
	Frame
	Form Form
}

func (v *visit) askForm() error {
	sections, err := v.askSections()
	if err != nil {
		return err
	}
	form := v.form("ask", "/ask", "Send the request", nil, sections...)
	form.More = v.say("More rows for people")
	return v.show("ask", askPage{v.frame("Ask for a boat"), form})
}

func (v *visit) askSections() ([]Section, error) {
	days, err := v.SettingWhole(v.ctx, "request-kept-days")
	rows := rowsFor(v.typed, nil)
	hidden := Section{Fields: []Field{
		fresh("request"), fresh("household"), fresh("link"), preset("more_rows", strconv.Itoa(rows.adults-adultRows)),
	}}
	return slices.Concat(wishSections(rows, ""), v.askerSections(days), []Section{hidden}), err
}

// askerSections asks who asks, and whether the club may keep the answers.
func (v *visit) askerSections(keptDays int) []Section {
	s := Section{Legend: "Who asks", Fields: []Field{
		text("details.name", "Name").Needed().Fills("name"),
		mail("details.mail", "Mail").With("We write when there is a boat. Mail or telephone, one of them is needed."),
		phone("details.phone", "Telephone"),
		one("details.language", "Language for letters", []Option{{"en", "English"}, {"es", "español"}, {"fr", "français"}}).Needed().Starts(v.voice().Lang),
		tick("for_minor", "The boat is for somebody under 18, and I am the parent or guardian").With("Somebody under 18 who comes without a parent asks together with one. Name, mail and telephone above are then the parent's or guardian's: they decide and hear from us."),
	}}
	if v.Who.Has(people.Coordinator) {
		s.Fields = append(s.Fields, number("boats", "How many boats").Starts("1").With("More than one only for an organisation, a school for instance."),
			tick("separate", "Each boat is a request of its own").With("Each can then be changed by itself, and all of them can be met in one round. Otherwise one request gets the boats one after the other."))
	}
	return []Section{s, {Legend: "Your agreement", Words: dataWords(keptDays), Fields: []Field{
		tick("consent", "I agree that the club keeps these answers to find a boat for us").Needed(),
	}}}
}

// dataWords tells what happens with an applicant's data.
func dataWords(keptDays int) string {
	return fmt.Sprintf("Names, weights and needs are locked with a key of your own. Only those who place boats open them. We keep them while the request stands and %d days after it has ended. Then we erase them. "+
		"On your private page you can have them erased at any time. The key is then destroyed, and nobody can read them any more. The boat's own history stays, without your name.", keptDays)
}

// askedPage tells an applicant where the request can be followed.
type askedPage struct {
	Frame
	Address string
	Request string
	Mailed  bool
	Days    int // how long the link works
}

func (v *visit) makeRequest() error {
	closeWishRows(v.typed)
	if v.typed.Get("more") != "" {
		rows, _ := strconv.Atoi(v.typed.Get("more_rows")) // anything else begins at none
		v.typed.Set("more_rows", strconv.Itoa(min(max(rows, 0), 12)+moreRows))
		return v.askForm()
	}
	c, err := v.requestTyped()
	if err != nil {
		return err
	}
	days, err := v.SettingWhole(v.ctx, "link-days")
	if err != nil {
		return err
	}
	asking := v.asking()
	if v.Who.Link != nil {
		asking.By = people.Service(desk.Pages)
	}
	if _, err := v.orderAs(asking, c); err != nil {
		return err
	}
	return v.show("asked", askedPage{v.frame("Your request is with the club"), v.linkAddress(c.Link), c.Request, c.Details.Mail != "", days})
}

// requestTyped reads the form. All that is wrong with it is told together.
func (v *visit) requestTyped() (*message.MakeRequest, error) {
	sections, err := v.askSections()
	if err != nil {
		return nil, err
	}
	c := &message.MakeRequest{Boats: 1, Details: &message.PersonDetails{}}
	wrong, err := v.wishTyped(c, &c.Wish, sections)
	if err != nil {
		return nil, err
	}
	if c.Details.Mail == "" && c.Details.Phone == "" && !v.Who.Has(people.Coordinator) {
		wrong = append(wrong, problem{Field: "details.mail", Text: "write a mail address or a telephone number, so that the club can answer"})
	}
	if len(wrong) > 0 {
		return nil, wrong
	}
	c.Consent = applicantConsent
	return c, nil
}

// wishTyped binds a command with a wish to the form, and gives what is wrong.
func (v *visit) wishTyped(c desk.Commanded, w *message.Wish, sections []Section) (faults, error) {
	_, err := v.bindTo(c, "", v.voiceTyped().units())
	var unread faults
	if err != nil && !errors.As(err, &unread) {
		return nil, err
	}
	return slices.Concat(v.missing(sections), unread, finishWish(v.typed, w)), nil
}

// linkAddress is the whole address of a private link. Its secret stands nowhere
// and is made from the link's id.
func (v *visit) linkAddress(link string) string {
	return v.base() + message.LinkPath + message.LinkTokenOf(v.Vault.Token, link)
}
