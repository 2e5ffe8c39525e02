package ledger

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"
	"golang.org/x/mod/sumdb/tlog"

	"refloat.example/pkg/proof"
)

// treeReader reads hashes of the stored tree, all that are asked for in one query.
type treeReader struct {
	ctx context.Context
	db  querier
}

var _ tlog.HashReader = treeReader{}

// ReadHashes gives the hashes with these numbers, in the order of
// tlog.StoredHashIndex.
func (t treeReader) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	places := make([]proof.Place, len(indexes))
	for i, index := range indexes {
		places[i].Level, places[i].N = tlog.SplitStoredHashIndex(index)
	}
	return t.read(places)
}

func (t treeReader) read(places []proof.Place) ([]tlog.Hash, error) {
	levels, numbers := make([]int32, len(places)), make([]int64, len(places))
	for i, p := range places {
		levels[i], numbers[i] = int32(p.Level), p.N
	}
	rows, err := t.db.Query(t.ctx, `
		SELECT t.hash FROM unnest($1::int[], $2::bigint[]) WITH ORDINALITY AS w(level, n, i)
		JOIN ledger.tree_hash t USING (level, n) ORDER BY w.i`, levels, numbers)
	if err != nil {
		return nil, fmt.Errorf("reading the tree: %w", err)
	}
	hashes, err := pgx.CollectRows(rows, scanHash)
	if err != nil {
		return nil, fmt.Errorf("reading the tree: %w", err)
	}
	if len(hashes) != len(places) {
		return nil, fmt.Errorf("%w: %d of %d hashes are missing", errTree, len(places)-len(hashes), len(places))
	}
	return hashes, nil
}

// errTree says that the stored tree is not the one over the events. It is made of
// them and can be made again; the events are not in doubt for it.
var errTree = fmt.Errorf("the stored tree is damaged")

func scanHash(row pgx.CollectableRow) (h tlog.Hash, err error) {
	var raw []byte
	if err := row.Scan(&raw); err != nil {
		return h, err
	}
	if len(raw) != tlog.HashSize {
		return h, fmt.Errorf("%w: a hash has %d bytes", errTree, len(raw))
	}
	return tlog.Hash(raw), nil
}

// treeSize gives the number of leaves that are stored.
func treeSize(ctx context.Context, db querier) (size int64, err error) {
	err = db.QueryRow(ctx, `SELECT coalesce(max(n) + 1, 0) FROM ledger.tree_hash WHERE level = 0`).Scan(&size)
	if err != nil {
		return 0, fmt.Errorf("reading the tree: %w", err)
	}
	return size, nil
}

// readTree gives the stored tree, ready to grow.
func readTree(ctx context.Context, db querier) (*proof.Tree, error) {
	size, err := treeSize(ctx, db)
	if err != nil {
		return nil, err
	}
	whole, err := treeReader{ctx, db}.read(proof.Places(size))
	if err != nil {
		return nil, err
	}
	return proof.TreeAt(size, whole), nil
}

// growth gathers the hashes by which a tree grows.
type growth struct {
	tree   *proof.Tree
	levels []int32
	ns     []int64
	hashes [][]byte
	final  []tlog.Hash
}

// add adds the next event's hash.
func (g *growth) add(hash []byte) {
	n := g.tree.Size()
	g.final = g.tree.Add(hash, g.final[:0])
	for level, h := range g.final {
		g.levels = append(g.levels, int32(level))
		g.ns = append(g.ns, n>>level)
		g.hashes = append(g.hashes, append([]byte{}, h[:]...))
	}
}

// store writes what was gathered.
func (g *growth) store(ctx context.Context, tx pgx.Tx) error {
	_, err := tx.Exec(ctx, `INSERT INTO ledger.tree_hash (level, n, hash) SELECT * FROM unnest($1::int[], $2::bigint[], $3::bytea[])`, g.levels, g.ns, g.hashes)
	if err != nil {
		return fmt.Errorf("storing the tree: %w", err)
	}
	return nil
}
