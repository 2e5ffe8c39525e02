package proof

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"
	"pgregory.net/rapid"
)

// The leaves and roots of the reference tests of Certificate Transparency, as
// published with the library transparency-dev/merkle (testonly/constants.go, read in
// copies of it); the hashes are those of RFC 6962 section 2.1.
var (
	referenceLeaves = []string{"", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"}
	referenceRoots  = []string{
		"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
		"6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
		"fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
		"aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
		"d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
		"4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
		"76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
		"ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
		"5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
	}
)

// Computed with Python's hashlib from the definition in RFC 6962 section 2.1 alone,
// split at the largest power of two. Leaf i is SHA-256 of the number i in decimal
// digits.
var computedRoots = map[int]string{
	0: "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855", 1: "13a77175e35eb1d9da91ee14df0d7772cea71289800206e2b45c882ecb06efbf",
	2: "bbb441530bdded54e6e2bfcdc829819ff39b30768eb9f023071dffc16b410f10", 3: "8be871f13785b4c81a1700459c76ac2b3ae2caebb7876c376e223c6adff98c47",
	4: "626635eec4e2fa4a75475a0f1d633dbee55b6783247c108b9a12dcc60f13836e", 5: "4e23fb40d8876f1299cca9b3c28432a01b11d1a20126606914612892ff2e09a7",
	6: "49a8d9139a2333a5c1b7cd5a8db90bc3f7f308dd7fbdbf9e4ffaed988f1764fb", 7: "5653c4ab2514ccd6ea4f0159702d2aba901f2562aa75abcff5a19e344bee038f",
	8: "da17ac5d45a1b0c50260c7e411bf342ba2a41c9c824bb3b6404e5330a585a057", 9: "17b79b3c5a50a0a7ef06b2dda6828a9f42288d93d7436ab078c29127c4359b3f",
	15: "f41009a561cce7bc3d2a0e847bdefd26934cc66c9e5c1bacff0841cc088d01f9", 16: "0fe6d4e51ec9938163abbfa849775d851fcbc50c04dbf25236d8073400049328",
	17: "c6540f9ccf28d495ec606773571caaa5dcbca41dae66f027277bb555796499d9", 31: "2cb52876438726ac41b8988ac32a7c52f6f75254ac61155ef5ffd0a58521a66c",
	32: "c8e983e57edb2e628415475b6323e70f1dca1810efdc460b8df82e763e559b58", 33: "3acfa2d54c081b87e933485a26aaaeb07a86cf72ba5c207a766414000309dde1",
	63: "63470f175cc5e63827cbd7b323c145cce9be9b90fbcc200ec309b1a74179dd42", 64: "9b023f7291abef947c66cfe8e319c1dd19138cb49d1d55985a0e2f471b92e5d9",
	65: "70a8454bd1376aae3f287a4363db8201df99ea355509b75a5533f06910feb8ff", 127: "85052f5c239aa0927ba64fb2317428c9b648723db784ca539263ea88c0b6d03e",
	128: "9a6692252b7e8bbb394d227b0ea3d147d9f47ce183b2b49ff13ff230180ca3b6", 129: "257814abf20cb45bc2dd1a18bd39c73e2e6bff3d7be2221d320b2647acd70ead",
	255: "1142469aa08a9713e3dfe466a675ed1fbd5ce471895367f335ce65713cd87de8", 256: "88c3ded0ed520b5c0b743ae9164b0dfe169a4bd0079e6d45d03ae82d1cbd0259",
	257: "14d1fb3b16124718be1f903daf2e3edd5712d1cb6a1125827c5ad1f19e9eb74a", 511: "d1d8a5e547b2bc9f422dc21508cea88bd81fd8bbb40ebd4ada1b4ccbd46cb43e",
	512: "cca5fabf2860cf52a877ed610298d8733031daf7756e2ae43c1aafd0c00a5c6c", 513: "7fad958cb135acd4bd4fabc20ae2aac4c854e7f8380d3e539668230fe10be061",
	1023: "14cba1835e8ed2657d2d2f6537956fb400d4d6398aba040e7d97f0d28a5465cd", 1024: "e3fb5a21339e9269e6e212359c918651d51f4cb93ac36d5ee998ef8aa7d9d743",
	1025: "57b4968da1e4607d5c0ab2febab8f4f36e31a8b5a48a99e95732bca6514310dc",
}

// A log is a tree that keeps all its hashes, as the database does.
type log struct {
	tree   Tree
	hashes []tlog.Hash // in the order of tlog.StoredHashIndex
}

func (l *log) add(record []byte) { l.hashes = l.tree.Add(record, l.hashes) }

func (l *log) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	var found []tlog.Hash
	for _, i := range indexes {
		found = append(found, l.hashes[i])
	}
	return found, nil
}

func unhex(t testing.TB, text string) []byte {
	raw, err := hex.DecodeString(text)
	require.NoError(t, err)
	return raw
}

// numbered gives the log of the computed roots.
func numbered(size int) *log {
	l := &log{}
	for i := range size {
		record := sha256.Sum256(fmt.Append(nil, i))
		l.add(record[:])
	}
	return l
}

func referenceLog(t testing.TB, size int) *log {
	l := &log{}
	for _, leaf := range referenceLeaves[:size] {
		l.add(unhex(t, leaf))
	}
	return l
}

func TestRootsAreThoseOfTheStandard(t *testing.T) {
	for size, want := range referenceRoots {
		l := referenceLog(t, size)
		root := l.tree.Root()
		assert.Equal(t, want, hex.EncodeToString(root[:]), "%d reference leaves", size)
	}
	for size, want := range computedRoots {
		l := numbered(size)
		root := l.tree.Root()
		assert.Equal(t, want, hex.EncodeToString(root[:]), "%d leaves", size)
		assert.Len(t, l.hashes, int(tlog.StoredHashCount(int64(size))))
	}
}

// The audit paths and consistency proofs of the same reference tests.
func TestProofsAreThoseOfTheStandard(t *testing.T) {
	l := referenceLog(t, 8)
	for _, row := range []struct {
		index int64
		path  []string
	}{
		{0, []string{"96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7", "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e", "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4"}},
		{5, []string{"bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b", "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0", "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7"}},
	} {
		path, err := tlog.ProveRecord(8, row.index, l)
		require.NoError(t, err)
		assert.Equal(t, row.path, hexes(path))
	}
	for _, row := range []struct {
		older int64
		path  []string
	}{
		{2, []string{"5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e", "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4"}},
		{6, []string{"0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a", "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0", "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7"}},
	} {
		path, err := tlog.ProveTree(8, row.older, l)
		require.NoError(t, err)
		assert.Equal(t, row.path, hexes(path))
	}
}

func hexes(path []tlog.Hash) []string {
	var all []string
	for _, h := range path {
		all = append(all, hex.EncodeToString(h[:]))
	}
	return all
}

// A tree that is read back from its whole subtrees grows like the one that was
// never put away, and Places names where tlog keeps them.
func TestATreeGrowsOnFromItsWholeSubtrees(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size, more := rapid.IntRange(0, 200).Draw(t, "size"), rapid.IntRange(1, 40).Draw(t, "more")
		l := numbered(size)
		var whole []tlog.Hash
		for _, p := range Places(int64(size)) {
			whole = append(whole, l.hashes[tlog.StoredHashIndex(p.Level, p.N)])
		}
		require.Equal(t, len(l.tree.Whole()), len(whole))
		for i, h := range l.tree.Whole() {
			require.Equal(t, h, whole[i])
		}
		again := &log{tree: *TreeAt(int64(size), whole), hashes: l.hashes}
		for i := size; i < size+more; i++ {
			record := sha256.Sum256(fmt.Append(nil, i))
			again.add(record[:])
		}
		straight := numbered(size + more)
		require.Equal(t, straight.tree.Root(), again.tree.Root())
		require.Equal(t, straight.hashes, again.hashes)
		require.EqualValues(t, size+more, again.tree.Size())
	})
}
