package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/url"
	"strconv"
	"strings"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/desk"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/message"
	"refloat.example/pkg/photo"
)

const (
	// maxPhotoForm bounds a form with photos as a whole, in bytes. It is far above
	// what is taken of one photo, so that a file that is too large can be named.
	maxPhotoForm = 100 << 20
	// maxAtOnce bounds the photos of one form.
	maxAtOnce = 20
	// maxFieldText bounds what is typed beside photos, in bytes.
	maxFieldText = 16 << 10
)

func photoRoutes() []route {
	return []route{
		get("/boats/{boat}/photos", anyMember, (*visit).photosPage),
		post("/boats/{boat}/photos", anyMember, (*visit).takePhotos, (*visit).photosPage).reads(maxPhotoForm),
		get("/boats/{boat}/photos/{hash}/{size}", anyMember, (*visit).photoFile),
		get("/boats/{boat}/uploads/{upload}", anyMember, (*visit).uploadState),
		post("/boats/{boat}/uploads/{upload}", anyMember, (*visit).uploadPiece, nil).reads(photo.MaxPiece),
	}
}

func photoActs() []act {
	return []act{{
		name: "remove-photo", path: "/boats/{boat}/photos/{photo}/remove", may: pricing, title: "Destroy a photo", button: "Destroy it", done: "The photo is destroyed.", weighty: true,
		words:   "For photos that show somebody, or another boat. The photo is destroyed here; backups that were made before keep it until they are thrown away.",
		command: func() desk.Commanded { return &message.RemovePhoto{} },
		fields: func(*visit) ([]Section, error) {
			return []Section{{Fields: []Field{area("why", "Why it goes").Needed().With("No names.")}}}, nil
		},
		to: func(v *visit, _ desk.Commanded) string { return photosAddress(v.boat.ID) },
	}}
}

func photosAddress(id boat.ID) string { return "/boats/" + string(id) + "/photos" }

// photosPage shows the photos of a boat, and takes new ones.
type photosPage struct {
	Frame
	Boat    *Boat
	Photos  []Photo
	Form    Form
	Finding *Finding // which the new photos show
	MaxFile int
}

func (v *visit) photosPage() error {
	p := photosPage{Frame: v.frame("Photos of " + v.boat.Name), Boat: v.boat, Photos: v.visiblePhotos(v.boat), MaxFile: photo.MaxFile}
	hidden := []Field{fresh("photo")}
	finding := v.typed.Get("finding")
	if finding == "" {
		finding = v.r.URL.Query().Get("finding")
	}
	where := Section{Legend: "What they show", Folded: true, Words: "Leave it empty when they show the boat as a whole.", Fields: optional(placeFields()...)}
	if f, ok := v.boat.Finding(finding); ok && !v.hides(v.boat, f.Look) {
		p.Finding, hidden, where = f, append(hidden, preset("finding", finding)), Section{}
	}
	p.Form = v.form("add-photos", photosAddress(v.boat.ID), "Keep these photos", nil, Section{Fields: hidden},
		where, Section{Fields: []Field{area("words", "In words")}})
	return v.show("photos", p)
}

// placeFields asks where on a boat something is.
func placeFields() []Field {
	return []Field{
		one("place.part", "Part", words(boat.Parts)).Needed(),
		one("place.zone", "Along the boat", words(boat.Zones)).Needed(),
		one("place.side", "Side", words(boat.Sides)).Needed(),
		one("place.face", "Seen from", words(boat.Faces)).Needed(),
	}
}

// takePhotos takes the photos of a form: files in it, or one that has come in
// pieces. What is good is kept even when something else in the form is not.
func (v *visit) takePhotos() error {
	var pictures []photo.Picture
	wrong, err := v.readParts("the photos", "The photos did not arrive as a whole. Nothing was kept; send fewer at once.", func(part *multipart.Part) error {
		p, err := v.readPart(v.photos, part, len(pictures))
		if err == nil && p != nil {
			pictures = append(pictures, *p)
		}
		return err
	})
	if err != nil {
		return err
	}
	if err := v.addPictures(pictures); err != nil {
		return err
	}
	if len(wrong) > 0 {
		return v.keptSome(len(pictures), wrong)
	}
	return v.goTo(photosAddress(v.boat.ID), "photos-kept")
}

// readParts reads a form with files part by part, and gives what is wrong with single
// files. what names them to the reader; broken is said when the form ends too early.
func (v *visit) readParts(what, broken string, read func(*multipart.Part) error) (faults, error) {
	form, err := v.r.MultipartReader()
	if err != nil {
		return nil, fault.Because(fault.Invalid, err, "The form could not be read. Open the page again and choose %s there.", what)
	}
	v.typed = url.Values{}
	var wrong faults
	for part, err := form.NextPart(); !errors.Is(err, io.EOF); part, err = form.NextPart() {
		if err != nil {
			return nil, fault.Because(fault.Invalid, err, "%s", broken)
		}
		switch err := read(part); {
		case fault.Is(err, fault.Invalid):
			wrong = append(wrong, problem{Field: "file", Text: part.FileName() + ": " + fault.Of(err).Text})
		case err != nil:
			return nil, err
		}
	}
	return wrong, nil
}

// readPart reads one part of a form: a field, or a file, which it gives as a
// picture that is kept in a store.
func (v *visit) readPart(into *photo.Store, part *multipart.Part, before int) (*photo.Picture, error) {
	if part.FileName() == "" {
		if part.FormName() == "file" {
			return nil, nil // nothing was chosen
		}
		text, err := io.ReadAll(io.LimitReader(part, maxFieldText))
		v.typed.Add(part.FormName(), string(text))
		return nil, err
	}
	if before >= maxAtOnce {
		_, err := io.Copy(io.Discard, part)
		return nil, errors.Join(fault.New(fault.Invalid, "at most %d photos can be sent at once", maxAtOnce), err)
	}
	file, err := io.ReadAll(io.LimitReader(part, photo.MaxFile+1))
	if err != nil {
		return nil, fault.Because(fault.Invalid, err, "the file did not arrive as a whole")
	}
	if len(file) > photo.MaxFile {
		// The browser hears our answer only when it has sent everything.
		_, _ = io.Copy(io.Discard, part)
		return nil, photo.TooLarge()
	}
	p, err := into.Take(v.ctx, file)
	return &p, err
}

// addPictures ties pictures that are kept, and one that came in pieces, to the
// boat.
func (v *visit) addPictures(pictures []photo.Picture) error {
	upload := v.typed.Get("upload")
	if upload != "" {
		p, err := v.photos.Finish(v.ctx, upload, v.uploader())
		if err != nil {
			return err
		}
		pictures = append(pictures, p)
	}
	if len(pictures) == 0 && v.typed.Get("key") != "" {
		return fault.Field("file", "choose a photo first")
	}
	id, key := v.typed.Get("photo"), v.typed.Get("key")
	for i, p := range pictures {
		c := message.AddPhoto{}
		if err := bind(v.typed, &c, "", nil); err != nil {
			return err
		}
		c.Boat, c.Hash, c.Photo = v.boat.ID, p.Hash, numberedID(id, i)
		asking := v.asking()
		asking.Key = numberedID(key, i)
		if _, err := v.orderAs(asking, c); err != nil {
			return err
		}
	}
	if upload != "" {
		return v.photos.Forget(v.ctx, upload, v.uploader())
	}
	return nil
}

// numberedID derives the id of the n-th photo of a form from the form's own.
func numberedID(id string, n int) string {
	if n == 0 || id == "" {
		return id
	}
	return id + "-" + strconv.Itoa(n)
}

// keptSome makes the form fresh when something of it was kept, so that this is
// not sent again with it, and gives what was wrong with the rest.
func (v *visit) keptSome(n int, wrong faults) error {
	if n == 0 {
		return wrong
	}
	v.typed.Del("key")
	v.typed.Del("photo")
	b, err := v.findBoat(string(v.boat.ID))
	if err != nil {
		return err
	}
	v.boat = &b
	return append(wrong, problem{Text: count(n, "photo of the form is kept.", "photos of the form are kept.")})
}

// uploader is whose the pieces are that the viewer sends.
func (v *visit) uploader() string { return string(v.Who.Person) }

// uploadHere tells a script where its next piece begins.
type uploadHere struct {
	Here int `json:"here"`
}

func (v *visit) uploadState() error {
	here, err := v.photos.Here(v.ctx, v.param("upload"), v.uploader())
	if err != nil {
		return err
	}
	return v.json(uploadHere{here})
}

// uploadPiece takes a piece: the address says where it begins and how large the
// whole file is. Without a piece it begins the file.
func (v *visit) uploadPiece() error {
	q := v.r.URL.Query()
	at, atErr := strconv.Atoi(q.Get("at"))
	size, sizeErr := strconv.Atoi(q.Get("size"))
	if err := desk.First(desk.GoodID("upload", v.param("upload")), atErr, sizeErr); err != nil {
		return fault.Because(fault.Invalid, err, "The piece of a photo does not say where it belongs.")
	}
	here, err := v.photos.Begin(v.ctx, v.param("upload"), v.uploader(), size)
	if err != nil {
		return err
	}
	piece, err := io.ReadAll(v.r.Body)
	if err != nil {
		return fault.Because(fault.Invalid, err, "The piece of a photo did not arrive as a whole.")
	}
	if len(piece) > 0 {
		if here, err = v.photos.Add(v.ctx, v.param("upload"), v.uploader(), at, piece); err != nil {
			return err
		}
	}
	return v.json(uploadHere{here})
}

func (v *visit) json(answer any) error {
	raw, err := json.Marshal(answer)
	if err != nil {
		return err
	}
	return v.write("application/json", raw)
}

// photoFile serves a photo to those who see it on the boat's page. Its address
// holds its hash: what a browser has, it may keep.
func (v *visit) photoFile() error {
	hash := v.param("hash")
	if _, ok := in(v.visiblePhotos(v.boat), func(p *Photo) bool { return p.Hash == hash }); !ok {
		return fault.New(fault.Unknown, "This boat has no such photo.")
	}
	read := map[string]func() ([]byte, error){
		"large.jpg": func() ([]byte, error) { return v.photos.Large(v.ctx, hash) },
		"small.jpg": func() ([]byte, error) { return v.photos.Small(v.ctx, hash) },
	}[v.param("size")]
	if read == nil {
		return fault.New(fault.Unknown, "A photo is kept as large.jpg and small.jpg.")
	}
	data, err := read()
	if err != nil {
		return err
	}
	v.w.Header().Set("Cache-Control", "private, max-age=31536000, immutable")
	v.w.Header().Set("Content-Disposition", fmt.Sprintf("inline; filename=%q", strings.TrimSuffix(v.param("size"), ".jpg")+"-"+hash[:8]+".jpg"))
	return v.write("image/jpeg", data)
}
