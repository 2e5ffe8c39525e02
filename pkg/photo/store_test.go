package photo_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/fault"
	"refloat.example/pkg/photo"
	"refloat.example/pkg/photo/phototest"
	"refloat.example/pkg/postgrestest"
)

func open(t *testing.T) *photo.Store {
	t.Helper()
	return photo.NewStore(postgrestest.New(t, postgrestest.Migration{Schema: photo.Schema, Files: photo.Migrations}).Pool)
}

func TestAFileComesInPieces(t *testing.T) {
	s, ctx := open(t), t.Context()
	file := phototest.Jetty()
	here, err := s.Begin(ctx, "u1", "mara", len(file))
	require.NoError(t, err)
	assert.Zero(t, here)
	_, err = s.Finish(ctx, "u1", "mara")
	assert.True(t, fault.Is(err, fault.Conflict), err)

	here, err = s.Add(ctx, "u1", "mara", 0, file[:10_000])
	require.NoError(t, err)
	assert.Equal(t, 10_000, here)
	here, err = s.Add(ctx, "u1", "mara", 0, file[:10_000])
	require.NoError(t, err)
	assert.Equal(t, 10_000, here, "a piece whose answer was lost is sent again")
	_, err = s.Add(ctx, "u1", "mara", 12_000, file[12_000:])
	assert.True(t, fault.Is(err, fault.Conflict), "a gap: %v", err)
	_, err = s.Add(ctx, "u1", "mara", 10_000, append(file[10_000:], 0))
	assert.True(t, fault.Is(err, fault.Conflict), "more than was said: %v", err)
	here, err = s.Begin(ctx, "u1", "mara", len(file))
	require.NoError(t, err)
	assert.Equal(t, 10_000, here, "beginning again goes on")
	for _, stranger := range []string{"", "ruben"} {
		_, err = s.Here(ctx, "u1", stranger)
		assert.True(t, fault.Is(err, fault.Unknown), err)
		_, err = s.Begin(ctx, "u1", stranger, len(file))
		assert.True(t, fault.Is(err, fault.Unknown), err)
	}
	_, err = s.Add(ctx, "u1", "mara", 10_000, file[10_000:])
	require.NoError(t, err)

	p, err := s.Finish(ctx, "u1", "mara")
	require.NoError(t, err)
	same, err := s.Finish(ctx, "u1", "mara")
	require.NoError(t, err)
	assert.Equal(t, p.Hash, same.Hash, "finishing again gives the same")
	kept, err := s.Has(ctx, p.Hash)
	require.NoError(t, err)
	assert.Equal(t, photo.Kept{Width: 480, Height: 640, Bytes: len(p.Large)}, kept)
	small, err := s.Small(ctx, p.Hash)
	require.NoError(t, err)
	assert.Equal(t, p.Small, small)
	require.NoError(t, s.Forget(ctx, "u1", "mara"))
	_, err = s.Here(ctx, "u1", "mara")
	assert.True(t, fault.Is(err, fault.Unknown))

	require.NoError(t, s.Drop(ctx, p.Hash))
	_, err = s.Large(ctx, p.Hash)
	assert.True(t, fault.Is(err, fault.Unknown))
}

func TestReceiptsAndPhotosOfBoatsAreKeptApart(t *testing.T) {
	s, ctx := open(t), t.Context()
	receipts := s.Receipts()
	p, err := receipts.Take(ctx, phototest.Jetty())
	require.NoError(t, err)
	_, err = s.Has(ctx, p.Hash)
	assert.True(t, fault.Is(err, fault.Unknown), "a receipt is no photo of a boat: %v", err)
	_, err = s.Large(ctx, p.Hash)
	assert.True(t, fault.Is(err, fault.Unknown), err)
	_, err = s.Small(ctx, p.Hash)
	assert.True(t, fault.Is(err, fault.Unknown), err)

	require.NoError(t, s.Save(ctx, p), "what is both is kept as both")
	_, err = s.Has(ctx, p.Hash)
	require.NoError(t, err)
	require.NoError(t, s.Drop(ctx, p.Hash))
	_, err = s.Has(ctx, p.Hash)
	assert.True(t, fault.Is(err, fault.Unknown), err)
	kept, err := receipts.Large(ctx, p.Hash)
	require.NoError(t, err)
	assert.Equal(t, p.Large, kept)
}

func TestUploadsAreBounded(t *testing.T) {
	s, ctx := open(t), t.Context()
	for id, size := range map[string]int{"none": 0, "large": photo.MaxFile + 1} {
		_, err := s.Begin(ctx, id, "mara", size)
		assert.True(t, fault.Is(err, fault.Invalid), "%s: %v", id, err)
	}
	for i := range 30 {
		_, err := s.Begin(ctx, "u"+string(rune('A'+i)), "mara", 10)
		require.NoError(t, err)
	}
	_, err := s.Begin(ctx, "one-more", "mara", 10)
	assert.True(t, fault.Is(err, fault.Busy), err)
	_, err = s.Begin(ctx, "ruben's", "ruben", 10)
	require.NoError(t, err)
	_, err = s.Begin(ctx, "uA", "mara", 10)
	require.NoError(t, err, "one that was begun goes on")
	require.NoError(t, s.ForgetOld(ctx, time.Now().Add(25*time.Hour)))
	_, err = s.Begin(ctx, "one-more", "mara", 10)
	require.NoError(t, err)
}
