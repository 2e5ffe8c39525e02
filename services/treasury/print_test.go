package treasury

import (
	"crypto/sha256"
	"encoding/hex"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/message"
)

// Papers that were issued print the same for ever, in the layout that they were
// issued in: these are the hashes of the layouts' files as they were first set
// (that of each layout, before there was a next). A library or a Go release
// that changes them must not be taken without keeping the old way beside it.
func TestPapersNeverChange(t *testing.T) {
	said := message.PaperIssued{
		Serial: "US-2026-0017", Salt: "00112233445566778899aabbccddeeff", Digest: "9f2c0a7d4b1e88355c6d0f12a3b4c5d6e7f8091a2b3c4d5e6f708192a3b4c5d6", On: clock.MustDate("2026-07-06"),
	}
	content := message.PaperContent{
		Title: "Thank you for your gift", Issuer: []string{"Quillwater Paddlers", "4 Mill Lane", "Amberjay"}, Donor: []string{"Odalys Fenwright", "12 Quay Street"},
		Date: said.On, Lines: []message.PaperLine{{Label: "Description", Value: "canoe, 2 seats, 4.60 m long"}},
		Statements: []string{"The club gave no goods or services in return for this gift."}, Signatory: "T. Reed, treasurer", Language: "en", Format: "letter",
	}
	for layout, want := range map[int]string{firstTemplate: firstLayout, template: secondLayout, signedTemplate: thirdLayout} {
		said.Template = layout
		content.Second = ""
		if layout == signedTemplate {
			content.Second = "Cy Marsh, chair"
		}
		if layout >= template {
			content.CheckAt = "https://quillwater.example/paper/US-2026-0017/" + said.Salt
			content.Book = &message.BookThen{Events: 1234, Root: "SBNJTRN+FjG7owHVrKtue7eqdM4RhdRWVl71HXN2d7I=", Key: "book-0123456789+96620bb6+AddamAGCsQq31Uv+08lkBzoO4XLz2qYjJa8CGmj3B1Ea"}
		} else {
			content.CheckAt, content.Book = "", nil
		}
		pdf, err := render(said, content, false)
		require.NoError(t, err)
		sum := sha256.Sum256(pdf)
		assert.Equal(t, want, hex.EncodeToString(sum[:]), "layout %d", layout)
	}
	said.Template = 4
	_, err := render(said, content, false)
	assert.Error(t, err)
}

const (
	thirdLayout  = "4622dc4f0149026fea3d8446a3fc38665a78fb4da17eacbbf6fa71b9bb507e66"
	firstLayout  = "42e9b5212c25991c1528e5332723252f7cd6f51ce2c23cfd40e2d41151ddf00d"
	secondLayout = "be6f2ef333ebf60abf8a84d71d1e9edd40a411eacce48fd66c75e958e6133586"
)
