package message

import "refloat.example/pkg/boat"

// PhotoAdded is said when a photo of a boat is kept. The photo itself stands
// beside the book, under its hash, before this is said.
type PhotoAdded struct {
	v1
	Boat   boat.ID `json:"boat"`
	Photo  string  `json:"photo"` // its id
	Hash   string  `json:"hash"`  // SHA-256 of what is kept
	Width  int     `json:"width"`
	Height int     `json:"height"`
	Bytes  int     `json:"bytes"`
	// Place is what of the boat it shows; Finding the finding that it shows, with
	// the finding's place. Both may be left out: then it shows the boat.
	Place   *Place `json:"place,omitempty"`
	Finding string `json:"finding,omitempty"`
	Words   string `json:"words,omitempty"`
}

// Kind is constant.
func (PhotoAdded) Kind() Kind { return "intake.photo-added" }

// PhotoRemoved is said when a photo should not have been kept, for instance
// because it shows somebody. What was kept of it is destroyed.
type PhotoRemoved struct {
	v1
	Boat  boat.ID `json:"boat"`
	Photo string  `json:"photo"`
	Hash  string  `json:"hash"`
	Why   string  `json:"why"`
}

// Kind is constant.
func (PhotoRemoved) Kind() Kind { return "intake.photo-removed" }

var (
	_ = declare[PhotoAdded]()
	_ = declare[PhotoRemoved]()
)

// The commands about photos.
type (
	// AddPhoto ties a photo that is kept to a boat. Any member; a photo of a
	// finding in an open look-over is its inspector's to add.
	AddPhoto struct {
		Boat    boat.ID `json:"boat"`
		Photo   string  `json:"photo"`
		Hash    string  `json:"hash"`
		Place   *Place  `json:"place,omitempty"`
		Finding string  `json:"finding,omitempty"`
		Words   string  `json:"words,omitempty"`
	}
	// RemovePhoto destroys a photo. Stewards and administrators.
	RemovePhoto struct {
		Boat  boat.ID `json:"boat"`
		Photo string  `json:"photo"`
		Why   string  `json:"why"`
	}
)

// Verb is constant.
func (AddPhoto) Verb() string { return "intake.add-photo" }

// Verb is constant.
func (RemovePhoto) Verb() string { return "intake.remove-photo" }
