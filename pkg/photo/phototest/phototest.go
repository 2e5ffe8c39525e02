// Package phototest has a photo for tests that tells of people, and a reader of
// what photos tell beside their pixels. The reader is another's (imagemeta), so
// that what is taken out is not judged by what takes it out.
package phototest

import (
	"bytes"
	_ "embed"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/bep/imagemeta"
	"github.com/stretchr/testify/require"
)

//go:embed jetty.jpg
var jetty []byte

// Jetty is a photo as a telephone makes it: 640 × 480 pixels of a sloping colour
// with a red square where the first pixel is, lying on its side, with a place, a
// name, a time, a thumbnail and a comment. Made with ExifTool 12.57 from a JPEG
// of image/jpeg:
//
//	exiftool -Orientation#=6 -GPSLatitude=44.1234 … "-ThumbnailImage<=jetty.jpg" jetty.jpg
func Jetty() []byte { return slices.Clone(jetty) }

// JettyFile gives the path of a file with that photo, for a browser to choose.
func JettyFile(t testing.TB) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "jetty.jpg")
	require.NoError(t, os.WriteFile(file, jetty, 0o644))
	return file
}

// Tags names everything that a reader of EXIF, IPTC and XMP finds in a JPEG.
func Tags(t testing.TB, file []byte) []string {
	t.Helper()
	var found []string
	_, err := imagemeta.Decode(imagemeta.Options{
		R: bytes.NewReader(file), ImageFormat: imagemeta.JPEG, Sources: imagemeta.EXIF | imagemeta.IPTC | imagemeta.XMP,
		HandleTag: func(tag imagemeta.TagInfo) error { found = append(found, tag.Tag); return nil },
	})
	require.NoError(t, err)
	return found
}
