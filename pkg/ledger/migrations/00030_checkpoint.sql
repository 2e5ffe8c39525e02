-- +goose Up
-- The Merkle tree over the events' hashes: level 0 holds a leaf for each event
-- (n = position - 1), each higher level the hashes of whole pairs below it.
CREATE TABLE ledger.tree_hash (
    level integer NOT NULL,
    n     bigint  NOT NULL,
    hash  bytea   NOT NULL,
    PRIMARY KEY (level, n)
);

-- The public keys that signed or sign checkpoints, from the first on. None is
-- ever forgotten.
CREATE TABLE ledger.signing_key (
    number   bigint      PRIMARY KEY,
    verifier text        NOT NULL UNIQUE,
    since    timestamptz NOT NULL
);

-- What the sealer signed. The note is the whole truth; size repeats it for
-- searching.
CREATE TABLE ledger.checkpoint (
    number bigint      PRIMARY KEY,
    size   bigint      NOT NULL,
    note   text        NOT NULL
);
CREATE INDEX checkpoint_size ON ledger.checkpoint (size, number);

CREATE TRIGGER tree_never_changes BEFORE UPDATE OR DELETE OR TRUNCATE ON ledger.tree_hash
    FOR EACH STATEMENT EXECUTE FUNCTION ledger.refuse_change();
CREATE TRIGGER key_never_changes BEFORE UPDATE OR DELETE OR TRUNCATE ON ledger.signing_key
    FOR EACH STATEMENT EXECUTE FUNCTION ledger.refuse_change();
CREATE TRIGGER checkpoint_never_changes BEFORE UPDATE OR DELETE OR TRUNCATE ON ledger.checkpoint
    FOR EACH STATEMENT EXECUTE FUNCTION ledger.refuse_change();

GRANT SELECT, INSERT ON ledger.tree_hash, ledger.signing_key, ledger.checkpoint TO refloat_app;
