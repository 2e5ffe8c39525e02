package photo

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/gif"
	"image/jpeg"
	"image/png"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/photo/phototest"
)

func TestNothingOfAPhotoIsKeptButItsPixels(t *testing.T) {
	file := phototest.Jetty()
	assert.Subset(t, phototest.Tags(t, file), []string{"GPSLatitude", "GPSLongitude", "Artist", "Orientation", "City"}, "the reader sees what is there")
	p, err := Clean(file)
	require.NoError(t, err)
	for name, kept := range map[string][]byte{"large": p.Large, "small": p.Small} {
		assert.Empty(t, phototest.Tags(t, kept), name)
		assert.Equal(t, []byte{0xff, 0xd8, 0xff, 0xdb}, kept[:4], "%s: no segment but those of the picture", name)
		for _, word := range []string{"Reed", "Amberjay", "jetty", "Exif", "GPS", "Oxlip", "http"} {
			assert.NotContains(t, string(kept), word, name)
		}
	}
	assert.Equal(t, []int{480, 640}, []int{p.Width, p.Height}, "it stands upright")
	picture, err := jpeg.Decode(bytes.NewReader(p.Large))
	require.NoError(t, err)
	r, g, _, _ := picture.At(470, 10).RGBA()
	assert.Greater(t, r, 3*g, "orientation 6: what is stored first stands at the top right")
	again, err := Clean(file)
	require.NoError(t, err)
	assert.Equal(t, p, again, "the same file gives the same picture")
}

// The eight ways are those of TIFF 6.0, page 36 (from memory): where the 0th row
// and the 0th column of what is stored stand to the eye.
func TestEveryWayOfLying(t *testing.T) {
	stored := image.NewRGBA(image.Rect(0, 0, 3, 2))
	origin, rowEnd := color.RGBA{255, 0, 0, 255}, color.RGBA{0, 255, 0, 255}
	stored.SetRGBA(0, 0, origin)
	stored.SetRGBA(2, 0, rowEnd)
	for orientation, want := range map[int][2]image.Point{
		1: {{0, 0}, {2, 0}}, // row: top, column: left
		2: {{2, 0}, {0, 0}}, // top, right
		3: {{2, 1}, {0, 1}}, // bottom, right
		4: {{0, 1}, {2, 1}}, // bottom, left
		5: {{0, 0}, {0, 2}}, // left, top
		6: {{1, 0}, {1, 2}}, // right, top
		7: {{1, 2}, {1, 0}}, // right, bottom
		8: {{0, 2}, {0, 0}}, // left, bottom
		9: {{0, 0}, {2, 0}}, // nonsense is left as it is
	} {
		out := upright(stored, orientation)
		assert.Equal(t, origin, out.RGBAAt(want[0].X, want[0].Y), orientation)
		assert.Equal(t, rowEnd, out.RGBAAt(want[1].X, want[1].Y), orientation)
	}
}

func TestALargePhotoIsMadeSmaller(t *testing.T) {
	var file bytes.Buffer
	require.NoError(t, png.Encode(&file, image.NewRGBA(image.Rect(0, 0, 3000, 40))))
	p, err := Clean(file.Bytes())
	require.NoError(t, err)
	assert.Equal(t, []int{1600, 21}, []int{p.Width, p.Height})
	small, err := jpeg.DecodeConfig(bytes.NewReader(p.Small))
	require.NoError(t, err)
	assert.Equal(t, 320, small.Width)
	picture, err := jpeg.Decode(bytes.NewReader(p.Large))
	require.NoError(t, err)
	r, _, _, _ := picture.At(5, 5).RGBA()
	assert.Greater(t, r, uint32(0xf000), "what lets everything through stands on white")
}

// claiming is a PNG that says it has so many pixels and has none.
func claiming(width, height uint32) []byte {
	head := append([]byte("IHDR"), binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, width), height)...)
	head = append(head, 8, 6, 0, 0, 0)
	out := append([]byte("\x89PNG\r\n\x1a\n"), 0, 0, 0, 13)
	return binary.BigEndian.AppendUint32(append(out, head...), crc32.ChecksumIEEE(head))
}

func TestFilesThatAreNoPhotosAreRefused(t *testing.T) {
	var moving bytes.Buffer
	require.NoError(t, gif.Encode(&moving, image.NewPaletted(image.Rect(0, 0, 1, 1), color.Palette{color.Black}), nil))
	for name, row := range map[string]struct {
		file []byte
		says string
	}{
		"nothing":               {nil, "empty"},
		"a text":                {[]byte("<script>alert(1)</script>"), "no photo in the formats JPEG, PNG or WebP"},
		"a page with a name":    {[]byte("\xff\xd8\xff<html>"), "damaged"},
		"another format":        {moving.Bytes(), "no photo in the formats"},
		"a telephone's own":     {[]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), "HEIC"},
		"half a photo":          {phototest.Jetty()[:20_000], "damaged"},
		"a bomb":                {claiming(60_000, 60_000), "60000 × 60000 pixels"},
		"a bomb within a side":  {claiming(19_000, 19_000), "more than can be taken"},
		"a long thin bomb":      {claiming(4_000_000, 1), "more than can be taken"},
		"a side below nothing":  {claiming(0xffff_ffff, 1), "damaged"},
		"50 MB":                 {make([]byte, 50<<20), "more than 20 MB"},
		"20 MB and a byte more": {append(phototest.Jetty(), make([]byte, MaxFile)...), "more than 20 MB"},
	} {
		_, err := Clean(row.file)
		require.True(t, fault.Is(err, fault.Invalid), "%s: %v", name, err)
		assert.Contains(t, err.Error(), row.says, name)
	}
}

func FuzzClean(f *testing.F) {
	f.Add(phototest.Jetty())
	f.Add(claiming(1, 1))
	f.Add([]byte("RIFF\x00\x00\x00\x00WEBPVP8 "))
	f.Fuzz(func(t *testing.T, file []byte) {
		config, _, err := image.DecodeConfig(bytes.NewReader(file))
		if err == nil && config.Width*config.Height > 1_000_000 {
			return // slow, and tested above
		}
		orientationIn(file)
		p, err := Clean(file)
		if err != nil {
			require.True(t, fault.Is(err, fault.Invalid), err)
			return
		}
		require.Empty(t, phototest.Tags(t, p.Large))
		require.LessOrEqual(t, max(p.Width, p.Height), largeSide)
	})
}
