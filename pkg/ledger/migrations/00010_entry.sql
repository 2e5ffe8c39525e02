-- +goose Up
-- A row on its way into the book. The writer sends a batch as one array of these:
-- the server unpacks one array several times quicker than one for each column. It is
-- a type apart from the table's, so that a writer knows what it sends whatever
-- columns the table is given later.
CREATE TYPE ledger.entry AS (
    position       bigint,
    id             uuid,
    stream         text,
    version        bigint,
    kind           text,
    schema         integer,
    boat           text,
    happened_at    timestamptz,
    recorded_at    timestamptz,
    actor          text,
    cause          text,
    correlation    text,
    request_key    text,
    request_part   integer,
    request_digest bytea,
    data           text,
    prev_hash      bytea,
    hash           bytea
);
