package proof

import "golang.org/x/mod/sumdb/tlog"

// Tree is a Merkle tree that only grows and keeps no more of itself than its root
// needs: the hashes of the whole subtrees, at most 63. The zero Tree is empty.
type Tree struct {
	size int64
	// whole are the roots of the whole subtrees, the largest (leftmost) first: one
	// for each one-bit of size.
	whole []tlog.Hash
}

// Add adds an event by its hash, and gives the hashes that became final with it:
// the leaf's, and those of the subtrees that it completes, upwards.
func (t *Tree) Add(hash []byte, final []tlog.Hash) []tlog.Hash {
	h := tlog.RecordHash(hash)
	final = append(final, h)
	for bits := t.size; bits&1 == 1; bits >>= 1 {
		last := len(t.whole) - 1
		h = tlog.NodeHash(t.whole[last], h)
		t.whole = t.whole[:last]
		final = append(final, h)
	}
	t.whole = append(t.whole, h)
	t.size++
	return final
}

// Size is the number of events.
func (t *Tree) Size() int64 { return t.size }

// Root gives the tree's hash. That of an empty tree is SHA-256 of nothing
// (RFC 6962 section 2.1).
func (t *Tree) Root() tlog.Hash {
	if t.size == 0 {
		empty, _ := tlog.TreeHash(0, nil) // cannot fail: it reads nothing
		return empty
	}
	h := t.whole[len(t.whole)-1]
	for i := len(t.whole) - 2; i >= 0; i-- {
		h = tlog.NodeHash(t.whole[i], h)
	}
	return h
}

// Whole gives the roots of the whole subtrees, the largest first.
func (t *Tree) Whole() []tlog.Hash { return append([]tlog.Hash{}, t.whole...) }

// TreeAt makes the tree of a size from the roots of its whole subtrees, as Whole
// gives them and Places names them.
func TreeAt(size int64, whole []tlog.Hash) *Tree { return &Tree{size, append([]tlog.Hash{}, whole...)} }

// Place is where a hash stands in the tree: the level, 0 for leaves, and its number
// on that level, from 0.
type Place struct {
	Level int
	N     int64
}

// Places names the whole subtrees of a tree of a size, the largest first.
func Places(size int64) []Place {
	var all []Place
	var before int64
	for level := 62; level >= 0; level-- {
		if width := int64(1) << level; size&width != 0 {
			all = append(all, Place{level, before >> level})
			before += width
		}
	}
	return all
}
