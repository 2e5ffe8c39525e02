package web

import (
	"fmt"
	"time"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/message"
)

// Photo is a photo of a boat.
type Photo struct {
	message.PhotoAdded
	By      string    `json:"by"` // actor
	At      time.Time `json:"at"`
	Removed string    `json:"removed,omitempty"` // why
}

// foldPhotos follows the photos of a boat, and where it lies.
func (b *Boat) foldPhotos(e message.Event, body message.Body) {
	switch m := body.(type) {
	case message.PhotoAdded:
		b.Photos = append(b.Photos, Photo{PhotoAdded: m, By: e.Actor, At: e.HappenedAt})
	case message.PhotoRemoved:
		if p, ok := in(b.Photos, func(p *Photo) bool { return p.Photo == m.Photo }); ok {
			p.Removed = m.Why
		}
	case message.BoatMoved:
		b.Place = m.To
	}
}

// visiblePhotos gives the photos that the viewer may see now: none that was
// removed, and none of a finding that is kept from them.
func (v *visit) visiblePhotos(b *Boat) []Photo {
	var list []Photo
	for _, p := range b.Photos {
		f, ofFinding := b.Finding(p.Finding)
		if p.Removed == "" && (!ofFinding || !v.hides(b, f.Look) && !v.blindHint(b)) {
			list = append(list, p)
		}
	}
	return list
}

// sumPhotos says what happened to photos.
func sumPhotos(body message.Body) string {
	switch m := body.(type) {
	case message.PhotoAdded:
		if m.Place != nil {
			return "Photographed: " + placeWords(*m.Place)
		}
		return "Photographed"
	case message.PhotoRemoved:
		return "A photo was destroyed: " + m.Why
	}
	return ""
}

// gallery is photos as a page shows them.
type gallery struct {
	Boat       boat.ID
	Photos     []Photo
	MayDestroy bool
}

func photosOf(id boat.ID, photos []Photo, mayDestroy bool) gallery {
	return gallery{id, photos, mayDestroy}
}

// Small gives a side of the small form of a photo, in pixels, from its large
// form's same and other side.
func (gallery) Small(side, other int) int {
	longer := max(side, other)
	if longer <= smallPhoto {
		return side
	}
	return max(1, side*smallPhoto/longer)
}

// smallPhoto is the longer side of a small photo, in pixels.
const smallPhoto = 320

// Alt says what a photo shows, for those who do not see it.
func (gallery) Alt(p Photo) string {
	what := "the boat"
	if p.Place != nil {
		what = placeWords(*p.Place)
	}
	return fmt.Sprintf("Photo of %s, %s", what, p.At.UTC().Format("2 January 2006, 15:04"))
}
