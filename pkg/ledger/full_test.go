package ledger

import (
	"context"
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"os"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"refloat.example/pkg/clock"
	"refloat.example/pkg/fault"
	"refloat.example/pkg/postgrestest"
)

// smallDisk mounts a file system of so many MiB, which takes root's rights, and gives
// what changes its size.
func smallDisk(t *testing.T, mib int) (folder string, resize func(mib int)) {
	t.Helper()
	if os.Geteuid() != 0 {
		t.Skip("a file system of its own size can only be mounted by root")
	}
	folder = t.TempDir()
	mount := func(flags uintptr, mib int) {
		require.NoError(t, syscall.Mount("tmpfs", folder, "tmpfs", flags, fmt.Sprintf("size=%dm,mode=711", mib)))
	}
	mount(0, mib)
	t.Cleanup(func() { assert.NoError(t, syscall.Unmount(folder, syscall.MNT_DETACH)) })
	return folder, func(mib int) { mount(syscall.MS_REMOUNT, mib) }
}

// Guards: noRoom in Writer.attempt, and Writer.resolve. The disk below the book fills
// up under load: first the table finds no room, then perhaps the log, and the server
// goes down. Callers hear that it is so; when there is room again, everything that was
// acknowledged stands in the book, and writing goes on.
func TestAFullDiskLosesNothing(t *testing.T) {
	folder, resize := smallDisk(t, 200)
	cluster := postgrestest.NewClusterIn(t, folder)
	db := cluster.NewDatabase(schema)
	b := openBook(t, db)
	said := new(logged)
	w := NewWriter(b.dial, clock.System{}, said.logger())
	leading, end := context.WithCancel(t.Context())
	var lead sync.WaitGroup
	lead.Go(func() {
		for leading.Err() == nil { // as lifecycle.Loop does it
			if err := w.Lead(leading, func() {}); err != nil {
				said.logger().Error("the writer stopped", "err", err)
			}
			rest(leading, 10*time.Millisecond)
		}
	})
	n := newTally()
	rng := rand.NewChaCha8([32]byte{1})
	bulk := func(key string) error {
		n.begin(key)
		noise := make([]byte, 300_000) // PostgreSQL would press anything else together
		rng.Read(noise)
		a := note("b1", AnyVersion, key, hex.EncodeToString(noise))
		ctx, cancel := context.WithTimeout(t.Context(), 2*time.Second)
		defer cancel()
		receipt, err := w.Append(ctx, a)
		if err == nil {
			n.ack(key, receipt.Position())
		}
		return err
	}
	refusals := 0
	for i := 0; refusals < 5; i++ {
		require.Less(t, i, 100_000, "the disk does not fill")
		err := bulk(fmt.Sprint("bulk-", i))
		if err != nil && n.count() > 0 {
			require.True(t, fault.Is(err, fault.Busy) || fault.Is(err, fault.Unavailable), "%v", err)
			refusals++
		}
	}
	resize(600)
	select {
	case <-cluster.Done(): // it could not even recover
		cluster.Start()
	default:
	}
	require.Eventually(t, func() bool { return bulk("there is room again") == nil }, time.Minute, 50*time.Millisecond)
	end()
	lead.Wait()
	b = openBook(t, &postgrestest.DB{Pool: db.Open(db.AppURL), AppURL: db.AppURL})
	b.sound()
	n.check(t, b.all())
	assert.Regexp(t, "the book has no room|No space left on device|looking whether the last batch was written", said.text())
}
