package web

import (
	"mime"
	"strings"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
)

// partPlacing is the part of a boat's page on offers, the hand-over and papers.
const partPlacing = "placing"

func handOverRoutes() []route {
	return []route{
		get("/boats/{boat}/hand-over.pdf", coordinators, (*visit).handOverSheet),
		get("/release", anyMember, (*visit).release),
	}
}

func handOverActs() []act {
	return []act{
		{
			name: "set-release", path: "/release/new", may: administrators, title: "Put in a release text", button: "Put it in", done: "The text is in the book.", weighty: true,
			words:   "The club's own text, which households sign at a hand-over. It cannot be changed afterwards: a later version takes its place from its day on. Have somebody who knows the law read it; this program brings no text and judges none.",
			command: func() desk.Commanded { return &message.SetRelease{} },
			fields: func(v *visit) ([]Section, error) {
				return []Section{{Fields: []Field{
					text("version", "Name of the version").With("Such as 2026-2. Each name is used once.").Needed(),
					day("from", "First day on which it is signed").Needed().Starts(clock.DateOf(v.Clock.Now()).String()),
					area("text", "The text").With("At most 20,000 characters. It is shown and printed word for word.").Needed(),
				}}}, nil
			},
			to: func(*visit, desk.Commanded) string { return "/release" },
		},
		{
			name: "keep-back", path: "/boats/{boat}/keep-back", may: coordinators, title: "Keep the boat back", button: "Keep it back", done: "The boat is kept back.",
			part: partPlacing, label: "Keep back", fits: func(b *Boat) bool { return b.KeptBack == "" && !b.Ended() },
			words:   "It takes part in no round and is handed over to nobody until it is let out again. An offer that is out stays: withdraw it as well if it cannot be kept.",
			command: func() desk.Commanded { return &message.KeepBack{} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{area("why", "Why").Needed().With("Every member reads this: nothing about people.")}}}, nil
			},
		},
		{
			name: "let-out", path: "/boats/{boat}/let-out", may: coordinators, title: "Let the boat out again", button: "Let it out", done: "The boat may go out again.",
			part: partPlacing, label: "Let out again", fits: func(b *Boat) bool { return b.KeptBack != "" },
			command: func() desk.Commanded { return &message.LetOut{} },
			fields: func(*visit) ([]Section, error) {
				return []Section{{Fields: []Field{area("why", "What has changed").Needed()}}}, nil
			},
		},
		{
			name: "hand-over", path: "/boats/{boat}/hand-over", may: coordinators, title: "Hand the boat over", button: "Write the hand-over down", done: "The boat is handed over.",
			part: partPlacing, label: "Hand over", fits: promised, weighty: true,
			words:    "Go through the list with the household, at the boat, with the printed sheet in hand.",
			cautions: func(v *visit) []caution { return append(lifting(v.boat), coldWater, roof) },
			command:  func() desk.Commanded { return &message.HandOver{} },
			fields:   (*visit).handOverFields,
		}}
}

// roof warns of what a load on a car can do. Common practice, no source.
var roof = caution{"the load on the roof", []string{
	"Tie the boat to the rack at two places and to the car at bow and stern, stop after the first kilometre and look again. The handbooks of the car and the rack govern how much may lie there, and how fast it may go.",
}}

// promised says whether a household has accepted the boat and does not have it
// yet.
func promised(b *Boat) bool {
	_, ok := in(b.Offers, func(o *BoatOffer) bool { return o.Answer == "accepted" && o.Broken == "" })
	return ok && b.State == OnOffer
}

// handOverFields asks the room for the lines, so that they are the same here, on
// the sheet and in the book.
func (v *visit) handOverFields() ([]Section, error) {
	list, err := ask[message.CheckLines](v, message.CheckList{Boat: v.boat.ID})
	if err != nil {
		return nil, err
	}
	lines := make([]Option, len(list.Lines))
	for i, text := range list.Lines {
		lines[i] = Option{text, text}
	}
	signs, words := "An adult of the household", "The text itself is not in the book: have the club's paper signed. An administrator can put it in under “Release text”."
	if list.SignedBy == message.SignedByGuardian {
		signs = "The guardian"
	}
	if list.Text != nil {
		words = "The club's release text, version " + list.Release + ", SHA-256 " + list.Text.SHA256 + ":\n" + list.Text.Text
	}
	short := ""
	if a := v.jacketsShort(""); a != nil {
		short = "Life jackets: " + jacketWords(a)
	}
	return []Section{{Words: short, Fields: []Field{
		some("checks", "Each line, done together", lines).Needed(),
		day("on", "Day").Needed().Starts(clock.DateOf(v.Clock.Now()).String()),
		preset("release", list.Release),
	}}, {Legend: "Release", Words: words, Fields: []Field{
		tick("signed", signs+" has signed the release, version "+list.Release).Needed(),
	}}}, nil
}

// releasePage shows every version of the club's release text.
type releasePage struct {
	Frame
	Releases message.Releases
}

func (v *visit) release() error {
	list, err := ask[message.Releases](v, message.ReadReleases{})
	if err != nil {
		return err
	}
	return v.show("release", releasePage{v.frame("Release text"), list})
}

func (v *visit) handOverSheet() error {
	sheet, err := ask[message.Sheet](v, message.HandOverSheet{Boat: v.boat.ID})
	if err != nil {
		return err
	}
	return v.download(sheet.Name, "application/pdf", sheet.PDF)
}

// download sends a file under a name.
func (v *visit) download(name, contentType string, file []byte) error {
	name = strings.Map(func(r rune) rune {
		if r < ' ' || strings.ContainsRune(`/\"`, r) {
			return '-'
		}
		return r
	}, name)
	v.w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": name}))
	return v.write(contentType, file)
}
