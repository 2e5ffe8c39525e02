package web

import (
	"fmt"
	"slices"
	"strconv"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/people"
)

// After is what became of a boat with the household that has it.
type After struct {
	Fetching  *message.FetchingAgreed    `json:"fetching,omitempty"` // until the boat changes hands
	FollowUps []message.FollowUpNoted    `json:"follow_ups,omitempty"`
	Stopped   *message.UseStopped        `json:"stopped,omitempty"`
	Incidents []message.IncidentReported `json:"incidents,omitempty"`
	Heeded    int                        `json:"heeded,omitempty"` // incidents reported before its use was stopped
	Heard     clock.Date                 `json:"heard,omitzero"`   // when the last incident was reported
	Returned  *message.BoatReturned      `json:"returned,omitempty"`
}

func (a *After) fold(body message.Body) {
	switch m := body.(type) {
	case message.FetchingAgreed:
		a.Fetching = &m
	case message.PromiseEnded, message.BoatHandedOver:
		a.Fetching = nil
	case message.FollowUpNoted:
		a.FollowUps = append(a.FollowUps, m)
	case message.BoatReturned:
		a.Returned = &m
	case message.UseStopped:
		a.Stopped, a.Heeded = &m, len(a.Incidents)
	case message.IncidentReported:
		a.Incidents = append(a.Incidents, m)
	}
}

// withoutHousehold gives a copy that names no request and holds nothing in a
// household's words.
func (a After) withoutHousehold() After {
	if a.Fetching != nil {
		fetching := *a.Fetching
		fetching.Request = ""
		a.Fetching = &fetching
	}
	a.FollowUps = slices.Clone(a.FollowUps)
	for i := range a.FollowUps {
		a.FollowUps[i].Request, a.FollowUps[i].Sealed = "", ""
	}
	if a.Stopped != nil {
		stopped := *a.Stopped
		stopped.Request = ""
		a.Stopped = &stopped
	}
	a.Incidents = slices.Clone(a.Incidents)
	for i := range a.Incidents {
		a.Incidents[i].Request, a.Incidents[i].Incident, a.Incidents[i].Sealed = "", "", ""
	}
	if a.Returned != nil {
		returned := *a.Returned
		returned.Request, returned.Sealed = "", ""
		a.Returned = &returned
	}
	return a
}

// hear notes when an incident was reported, which may be long after its day.
func (a *After) hear(e message.Event, body message.Body) {
	if _, ok := body.(message.IncidentReported); ok {
		a.Heard = clock.DateOf(e.RecordedAt)
	}
}

// withHousehold says whether a household has the boat.
func (b *Boat) withHousehold() bool { return b.HandOver != nil && b.After.Returned == nil }

// dueFollowUp gives for how many days the club should ask now, or 0.
func (b *Boat) dueFollowUp(today clock.Date) int {
	if !b.withHousehold() {
		return 0
	}
	for _, days := range message.FollowUps {
		noted := slices.ContainsFunc(b.After.FollowUps, func(f message.FollowUpNoted) bool { return f.Days == days })
		if !noted && !today.Before(b.HandOver.On.AddDays(days)) {
			return days
		}
	}
	return 0
}

// afterHandOvers gives a task for each boat after whose household the club should ask,
// and for each of which an incident was reported lately.
func (v *visit) afterHandOvers() ([]task, error) {
	boats, err := v.listBoats(boatFilter{State: Placed})
	today := v.today()
	var ask, read []task
	for _, b := range boats {
		if days := b.dueFollowUp(today); days > 0 {
			ask = append(ask, task{"follow-up-" + string(b.ID), fmt.Sprintf("Ask how it goes with %s, %d days after the hand-over", b.Name, days), "/boats/" + string(b.ID) + "/follow-up"})
		}
		if n := b.After.unheeded(today); n > 0 {
			read = append(read, task{"incident-" + string(b.ID), "Read what happened with " + b.Name + ": " + count(n, "incident", "incidents"), "/boats/" + string(b.ID) + "#placing"})
		}
	}
	return append(ask, read...), err
}

// incidentShown is for how many days after the last report incidents are a task.
const incidentShown = 30

// unheeded counts the incidents, lately reported, after which the use of the boat
// was not stopped.
func (a *After) unheeded(today clock.Date) int {
	if today.After(a.Heard.AddDays(incidentShown)) {
		return 0
	}
	return len(a.Incidents) - a.Heeded
}

// afterWords gives what the household of a boat told, by how it is sealed, to those
// who place boats.
func (v *visit) afterWords(b *Boat) map[string]string {
	if b.HandOver == nil {
		return nil
	}
	var told []string
	for _, f := range b.After.FollowUps {
		told = append(told, f.Sealed)
	}
	for _, i := range b.After.Incidents {
		told = append(told, i.Sealed)
	}
	if b.After.Returned != nil {
		told = append(told, b.After.Returned.Sealed)
	}
	open := map[string]string{}
	for _, sealed := range told {
		open[sealed] = v.ownWords(b.HandOver.Household, "", sealed)
	}
	return open
}

// appeals gives the appeals that wait for a second member.
func (v *visit) appeals() ([]task, error) {
	requests, err := findAll[Request](v.ctx, v.Site, `SELECT doc FROM web.request WHERE doc ? 'appeals' ORDER BY id`)
	var list []task
	for _, r := range requests {
		if r.Waits() {
			list = append(list, task{"appeal-" + r.ID, "An applicant asks a second member to look again", "/requests/" + r.ID})
		}
	}
	return list, err
}

func followUpFields() []Section {
	var days []Option
	for _, n := range message.FollowUps {
		days = append(days, Option{strconv.Itoa(n), fmt.Sprintf("after %d days", n)})
	}
	return []Section{{Fields: []Field{
		one("days", "When", days).Needed(), day("on", "Day").Needed(), one("fares", "How does it go?", words(message.Fares)).Needed(), area("words", "What you want to tell"),
	}}}
}

func incidentFields() []Section {
	return []Section{{Fields: []Field{
		fresh("incident"), day("on", "Day").Needed(), one("harm", "Was somebody hurt?", words(message.Harms)).Needed(),
		area("words", "What happened").Needed(),
	}}}
}

const (
	incidentWords = "For whatever went wrong afloat or ashore, small things too. Get help first: nobody reads this at once. What you write is sealed with the household's key."
	appealWords   = "Somebody else than who decided looks at it again and answers on this page. What you write is sealed: those who place boats read it, and administrators until it is answered."
)

func afterActs() []act {
	with := func(b *Boat) bool { return b.withHousehold() }
	return []act{
		{
			name: "agree-fetching", path: "/boats/{boat}/fetching", may: coordinators, title: "When it changes hands", button: "Write it down", done: "The day is written down. The household reads it on its page.",
			part: partPlacing, label: "Agree on a day", fits: promised,
			command: func() desk.Commanded { return &message.AgreeFetching{} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{day("on", "Day").Needed(), text("at", "Time, like 10:30").Needed(), one("how", "How", words(message.Fetchings)).Needed()}}}, nil
			},
		},
		{
			name: "follow-up", path: "/boats/{boat}/follow-up", may: coordinators, title: "How does it go?", button: "Write it down", done: "It is written down.",
			part: partPlacing, label: "How does it go?", fits: with, words: "The club asks 30 and 180 days after the hand-over. What the household says is sealed with its key.",
			command: func() desk.Commanded { return &message.NoteFollowUp{} },
			fields:  func(*visit) ([]Section, error) { return followUpFields(), nil },
		},
		{
			name: "incident", path: "/boats/{boat}/incident", may: coordinators, title: "Report an incident", button: "Write it down", done: "The incident is written down.",
			part: partPlacing, label: "Report an incident", fits: with, words: incidentWords,
			command: func() desk.Commanded { return &message.ReportIncident{} },
			fields:  func(*visit) ([]Section, error) { return incidentFields(), nil },
		},
		{
			name: "stop-use", path: "/boats/{boat}/stop-use", may: only(people.Coordinator, people.Steward), title: "Stop its use", button: "Tell the household", done: "The household reads it on its page and gets a letter.", weighty: true,
			part: partPlacing, label: "Stop its use", fits: with, words: "For a fault that can hurt somebody. The household reads it at the top of its page and gets a letter, if there is a mail address; telephone as well.",
			command: func() desk.Commanded { return &message.StopUse{} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{area("why", "What is wrong").Needed().With("Every member reads this: nothing about people."), area("what", "What the household is to do").Needed()}}}, nil
			},
		},
		{
			name: "returned", path: "/boats/{boat}/returned", may: coordinators, title: "It did not stay", button: "Write it down", done: "It is written down. A boat that is back is logged anew.",
			part: partPlacing, label: "It did not stay", fits: with, words: "When a boat comes back or is handed on. One that is back with the club is logged as a new arrival and looked over anew.",
			command: func() desk.Commanded { return &message.NoteComeback{} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{day("on", "Day").Needed(), one("where", "Where it goes", words(message.Comebacks)).Needed(), area("words", "Why, in the household's words")}}}, nil
			},
		},
		{
			name: "decide-appeal", path: "/requests/{request}/appeals/{appeal}", may: only(people.Coordinator, people.Administrator), title: "Decide the appeal", button: "Write the answer down", done: "The answer is written down.",
			words:   "By somebody who decided nothing of it. What follows, a new tier for instance, is done by itself. Where everybody who may decide took part, ask somebody from outside, a member of another club for instance: an administrator gives them the role of coordinator on the page People for this one decision, and takes it back afterwards.",
			command: func() desk.Commanded { return &message.DecideAppeal{} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{tick("upheld", "The applicant is right"), area("why", "Why").Needed().With("The household reads it.")}}}, nil
			},
			to: toRequest,
		},
		{
			name: "my-follow-up", path: "/my/request/boats/{boat}/follow-up", may: applicant, title: "How does it go?", button: "Tell the club", done: "Thank you. The club reads it.",
			command: func() desk.Commanded { return &message.NoteFollowUp{} },
			fields:  func(v *visit) ([]Section, error) { return followUpFields(), v.ownBoat(nil) }, finish: (*visit).ownBoat, to: toMyRequest,
		},
		{
			name: "my-incident", path: "/my/request/boats/{boat}/incident", may: applicant, title: "Something happened", button: "Tell the club", done: "Thank you. The club reads it.",
			words:   incidentWords,
			command: func() desk.Commanded { return &message.ReportIncident{} },
			fields:  func(v *visit) ([]Section, error) { return incidentFields(), v.ownBoat(nil) }, finish: (*visit).ownBoat, to: toMyRequest,
		},
		{
			name: "appeal", path: "/my/request/appeal", may: applicant, title: "Ask for a second look", button: "Ask for it", done: "A second member looks at it.",
			words:   appealWords,
			command: func() desk.Commanded { return &message.MakeAppeal{} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{fresh("appeal"), area("words", "What should be looked at again?").Needed()}}}, nil
			},
			finish: func(v *visit, c desk.Commanded) error {
				c.(*message.MakeAppeal).Request = v.Who.Link.Subject
				return nil
			},
			to: toMyRequest,
		},
	}
}

// ownBoat lets an applicant speak of the boats alone that they got.
func (v *visit) ownBoat(desk.Commanded) error {
	if v.boat == nil || v.boat.HandOver == nil || v.boat.HandOver.Request != v.Who.Link.Subject {
		return fault.New(fault.Unknown, "The club's book does not have this boat of yours.")
	}
	return nil
}
