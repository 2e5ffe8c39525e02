package web

import (
	"fmt"
	"slices"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/guide"
	"refloat.example/pkg/message"
)

// askedPoint is a point of the guide with its input and its place on the boat.
type askedPoint struct {
	guide.Point
	Field Field
	Spot  spot
	Noted bool // the inspector has a finding on the part
}

// Seen says whether the inspector answered that the trouble is there.
func (p askedPoint) Seen() bool { return p.Field.Chosen(string(guide.Seen)) }

// Ways names the tests.
func (p askedPoint) Ways() string { return listed(p.Tests) }

// Anchor is the id of the point's own part of the page.
func (p askedPoint) Anchor() string { return "point-" + p.ID }

// pointOptions says what each answer means.
var pointOptions = []Option{
	{string(guide.Seen), "Seen: the trouble is there"},
	{string(guide.NotSeen), "Not seen: I looked, it is not there"},
	{string(guide.CouldNotBe), "Could not be seen"},
	{"", "Not answered yet"},
}

// answersForm is the form in which an inspector answers all points.
func (v *visit) answersForm(l *Look, g guide.Guide) (Form, []askedPoint) {
	var sections []Section
	for i, p := range g.Points {
		answer := one(fmt.Sprintf("answers[%d].answer", i), p.Look, pointOptions).Starts(string(l.Answers[p.ID]))
		sections = append(sections, Section{Fields: []Field{preset(fmt.Sprintf("answers[%d].point", i), p.ID), answer}})
	}
	form := v.form("answer-points", lookAddress(v.boat.ID, l.ID), "Keep these answers", nil, sections...)
	points := make([]askedPoint, len(g.Points))
	for i, p := range g.Points {
		points[i] = askedPoint{p, form.Sections[i].Fields[0], spotOf(v.boat.Facts.Type, p), v.boat.noted(l.ID, p.Part)}
	}
	return form, points
}

// noted says whether a look-over has a finding on a part that stands.
func (b *Boat) noted(look string, part boat.Part) bool {
	return slices.ContainsFunc(b.findingsOf(look), func(f Finding) bool { return f.Withdrawn == "" && f.Place.Part == part })
}

// answerPoints keeps what was answered; points without an answer are left out.
func (v *visit) answerPoints() error {
	command := &message.AnswerPoints{}
	if _, err := v.bindTo(command, v.route.path, nil); err != nil {
		return err
	}
	command.Answers = slices.DeleteFunc(command.Answers, func(a message.PointAnswer) bool { return a.Answer == "" })
	if _, err := v.order(command); err != nil {
		return err
	}
	return v.goTo(lookAddress(v.boat.ID, v.param("look")), "answers-kept")
}

// guideFor gives what is to be looked for on the boat.
func (b *Boat) guideFor() guide.Guide { return guide.For(b.Facts.Type, b.Facts.Material) }

// leftWords says what is missing before a look-over could see all of the boat.
func leftWords(g guide.Guide, l *Look) string {
	open, unseen := len(g.Unanswered(l.Answers)), len(g.Unseen(l.Answers))
	if open+unseen == 0 {
		return "Every point of the guide is answered, and could be seen."
	}
	var parts []string
	if open > 0 {
		parts = append(parts, count(open, "point is not answered yet", "points are not answered yet"))
	}
	if unseen > 0 {
		parts = append(parts, count(unseen, "point could not be seen", "points could not be seen"))
	}
	return capital(strings.Join(parts, ", and ")) + ". Finished like this, the look-over is provisional: an offer on it is a gamble."
}

// pointTitles gives what some points ask for, by their identifiers.
func pointTitles(ids []string) []string {
	var titles []string
	for _, id := range ids {
		if p, ok := guide.Find(id); ok {
			titles = append(titles, p.Look)
		}
	}
	return titles
}

// listed writes words with commas.
func listed[W ~string](list []W) string {
	words := make([]string, len(list))
	for i, w := range list {
		words[i] = string(w)
	}
	return strings.Join(words, ", ")
}
