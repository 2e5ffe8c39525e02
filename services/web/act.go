package web

import (
	"errors"
	"net/http"
	"net/url"
	"strings"

	"refloat.example/pkg/desk"
)

// act is a form that gives one command: the most common sort of page. It makes
// two routes of one address: GET shows the form, POST binds what was typed to
// the command, gives it, and goes on to another page.
type act struct {
	// name is stable: the form's id, and the code by which the next page says
	// what was done.
	name string
	// path is the address. Parts in braces fill the command's fields of that
	// name.
	path    string
	may     audience
	title   string
	button  string
	done    string // the sentence on the next page
	command func() desk.Commanded
	fields  func(v *visit) ([]Section, error)

	// What follows may be left out.

	// part is the part of a boat's page on which a link leads here, label the
	// link's words; fits says in which state of the boat it is shown.
	part  string
	label string
	fits  func(b *Boat) bool

	// start gives a command whose fields the form starts from.
	start func(v *visit) (any, error)
	// shared marks a form whose start several people may change: what somebody else
	// wrote meanwhile is shown beside what was typed (meanwhile.go).
	shared bool
	// words explains the form in a sentence or two.
	words    string
	cautions func(v *visit) []caution
	units    units
	// finish fills what cannot be typed, after binding.
	finish func(v *visit, command desk.Commanded) error
	// to is the next page; left out, it is the boat's, or home.
	to func(v *visit, command desk.Commanded) string
	// more are the words of a second button that shows the form again with what can
	// be said of what was typed; moreAt is the field where that stands.
	more, moreAt string
	// keep lets the phone keep what was entered while there is no link, and send it
	// afterwards: for what is done out on the yard.
	keep bool
	// receipt lets the photo of a receipt come with the form; its hash goes into the
	// command's field of that name.
	receipt bool
	// weighty marks what cannot be taken back.
	weighty bool
	// unread gives the order without saying how far the viewer has read, so that a
	// room which cannot get there takes it.
	unread bool
}

// actPage shows an act.
type actPage struct {
	Frame
	Words    string
	Cautions []caution
	Boat     *Boat
	Up       string // the page above; empty for home
	Form     Form
}

// routes gives the two routes of an act.
func (a act) routes() []route {
	show := func(v *visit) error { return v.showAct(a) }
	do := route{method: http.MethodPost, path: a.path, may: a.may, do: func(v *visit) error { return v.doAct(a) }, again: show}
	if a.receipt {
		do = do.reads(maxPhotoForm)
	}
	return []route{{method: http.MethodGet, path: a.path, may: a.may, do: show}, do}
}

func (v *visit) showAct(a act) error {
	sections, err := a.fields(v)
	if err != nil {
		return err
	}
	if a.receipt {
		sections[0].Fields = append(sections[0].Fields, preset("receipt", v.typed.Get("receipt")))
	}
	start, err := v.startOf(a)
	if err != nil {
		return err
	}
	page := actPage{Frame: v.frame(a.title), Words: v.say(a.words), Boat: v.boat, Up: strings.TrimSuffix(v.wayBack(), "/")}
	if a.cautions != nil {
		page.Cautions = a.cautions(v)
	}
	if v.boat != nil && v.Who.Member() {
		page.listens(v, "/boats/"+string(v.boat.ID))
	}
	v.shared = a.shared
	page.Form = v.form(a.name, v.r.URL.Path, a.button, start, sections...)
	page.Form.Weighty, page.Form.Keep, page.Form.More = a.weighty, a.keep, a.more
	if a.more != "" {
		page.Form.MoreAt = page.Form.Action + "#" + inputID(a.moreAt)
	}
	if a.receipt {
		page.Form.Receipt = &receiptInput{Kept: v.typed.Get("receipt") != ""}
	}
	return v.show("act", page)
}

func (v *visit) startOf(a act) (url.Values, error) {
	if a.start == nil {
		return nil, nil
	}
	command, err := a.start(v)
	if err != nil || command == nil {
		return nil, err
	}
	return spread(command, a.units)
}

func (v *visit) doAct(a act) error {
	if a.receipt {
		if err := v.readReceipt(); err != nil {
			return err
		}
	}
	if a.more != "" && v.typed.Get("more") != "" {
		return v.showAct(a)
	}
	command, err := v.readAct(a)
	if err != nil {
		return err
	}
	if a.shared {
		if err := v.overtaken(a); err != nil {
			return err
		}
	}
	if a.finish != nil {
		if err := a.finish(v, command); err != nil {
			return err
		}
	}
	asking := v.asking()
	if a.unread {
		asking.Seen = 0
	}
	if _, err := v.orderAs(asking, command); err != nil {
		return err
	}
	to := v.wayBack()
	if a.to != nil {
		to = a.to(v, command)
	}
	return v.goTo(to, a.name)
}

// readAct binds what was typed. What is missing and what cannot be read is told
// together.
func (v *visit) readAct(a act) (desk.Commanded, error) {
	sections, err := a.fields(v)
	if err != nil {
		return nil, err
	}
	command, err := v.bindTo(a.command(), a.path, a.units)
	var wrong faults
	if err != nil && !errors.As(err, &wrong) {
		return nil, err
	}
	if wrong = append(v.missing(sections), wrong...); len(wrong) > 0 {
		return nil, wrong
	}
	return command, nil
}

// missing names the required inputs that were left empty.
func (v *visit) missing(sections []Section) faults {
	var wrong faults
	for _, s := range sections {
		for _, f := range s.Fields {
			if f.Required && strings.TrimSpace(strings.Join(v.typed[f.Name], "")) == "" {
				wrong = append(wrong, problem{Field: f.Name, Text: "“" + f.Label + "” is needed"})
			}
		}
	}
	return wrong
}

// bindTo fills a command from the form and from the parts of the address.
func (v *visit) bindTo(command desk.Commanded, path string, u units) (desk.Commanded, error) {
	values := url.Values{}
	for name, list := range v.typed {
		values[name] = list
	}
	for _, name := range braces(path) {
		values.Set(name, v.param(name))
	}
	currency, err := v.Currency(v.ctx)
	if err != nil {
		return nil, err
	}
	return command, bind(values, command, currency, u)
}
