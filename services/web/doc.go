// Package web is the pages: what members, applicants and donors see and do in a
// browser.
//
// It promises that every page works without a script, with a keyboard and a
// screen reader; that a form sent twice does its work once; that a page shows
// what its reader has just done; and that nobody opens a page that the table of
// routes does not give them. It decides nothing about boats: rooms do, and check
// the role again. It writes no event.
//
// # How it works
//
// The pages are a room without orders. A projection (project.go) folds every
// room's events into documents: a Boat, a Request, a Round, an Offer, a Paper, a
// Price, a Person, one row each with the columns that pages search by, and a line
// of history for each event. Folding is pure (fold_*.go). Names stay sealed in
// the tables; directory opens them for the page that shows them.
//
// A request becomes a visit: who asks (session.go, who.go), what was typed, and
// the boat when the address names one. The route's function shows a page, or
// gives a command to a room (visit.order), waits until the own tables have heard
// what came of it, and sends the browser on. Whatever goes wrong is a fault, and
// answer.go alone turns faults into pages.
//
// # How a page is added
//
// A page that shows something:
//
//  1. Write templates/page_NAME.html with {{define "main"}}. The frame around it
//     is layout.html; form.html and parts*.html have what pages share.
//  2. Write a struct that embeds Frame, and a function func (v *visit) name()
//     error that fills it and ends with v.show("NAME", namePage{…}). Read
//     documents with find and findAll (store.go).
//     Who reads the words of an address bounds them with wordsAsked. A list asks
//     v.wantsTable and answers with writeTable (export.go), from the same rows that
//     the page shows, and has {{template "table" .}} below it; what it is narrowed to
//     stands in its address. An empty list has the id none and says what to do first.
//  3. Put get("/path", audience, (*visit).name) into the list of routes of your
//     file, and that list into routes (routes.go). A part of the path in braces
//     is v.param("part"); {boat} also loads v.boat.
//  4. Add the struct to samples (templates_test.go) and the path to the table in
//     routes_test.go, which says for each role whether it may open it.
//
// What a page shows of people's names at once it meets first (directory.learnOf): a
// question for each name would make long lists slow. The search (page_search.go) has a
// row for each sort of thing, for those who may open what it leads to.
//
// A form that gives one command is an act (act.go): a row with path, audience,
// title, fields and the command. It needs no function and no template. The list
// of acts of your file goes into acts (routes.go); both its routes go into the
// table in routes_test.go. With part, label and fits it is offered on a boat's
// page by itself; the part is shown by {{template "doings" index .Doings "part"}}.
//
// Rules for forms:
//
//   - The name of an input is the JSON path of the command's field
//     ("facts.length_mm", "wish.adults[0].mass_g"). Then bind fills the command,
//     and a fault that names the field is shown beside the input.
//   - People type metres, kilograms and litres; bind converts by the name's
//     ending (_mm, _g, _ml). Another unit is said in act.units and in the label.
//   - The id of something new is a fresh field: a hidden input that keeps its
//     value when the form is shown again. The request key is added by itself.
//   - What the address names in braces fills the command's field of that name.
//   - What is Needed is asked for before the room is; everything else that can be
//     wrong the room says, with the field's name. A clash with what is in the book
//     is shown at its field, too, when the fault names one.
//   - One form with inputs a page; further forms of the page are buttons
//     (visit.button, {{template "button" .Form}}).
//   - What is filled in out on the yard has act.keep: the phone then keeps it while
//     there is no link (static/keep.js). A photo form has data-photos.
//   - The sentence in act.done stands on the page after the form; act.name is its
//     code there, and the form's id.
//
// A page in several steps that is no act: a get and a post route of one address,
// where the post has the get's function as again. A fault of kind Invalid then
// shows the form once more, with what was typed; visit.form does the rest.
//
// Names: {{.People.Name .Giver}} and {{.People.Actor .By}} in templates, never
// from a table. Buttons are shown by {{.Who.Has "steward"}}, which is a courtesy:
// the route and the room decide.
package web
