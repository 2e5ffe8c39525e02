-- +goose Up
CREATE TABLE ledger.event (
    position       bigint      PRIMARY KEY,
    id             uuid        NOT NULL,
    stream         text        NOT NULL,
    version        bigint      NOT NULL,
    kind           text        NOT NULL,
    schema         integer     NOT NULL,
    boat           text        NOT NULL,
    happened_at    timestamptz NOT NULL,
    recorded_at    timestamptz NOT NULL,
    actor          text        NOT NULL,
    cause          text        NOT NULL,
    correlation    text        NOT NULL,
    request_key    text        NOT NULL,
    request_part   integer     NOT NULL,
    request_digest bytea       NOT NULL,
    data           text        NOT NULL,
    prev_hash      bytea       NOT NULL,
    hash           bytea       NOT NULL,
    CONSTRAINT event_stream_version UNIQUE (stream, version),
    CONSTRAINT event_request        UNIQUE (request_key, request_part)
);
CREATE INDEX event_boat ON ledger.event (boat, position) WHERE boat <> '';

-- One row: where the book ends. The epoch is raised by whoever must make sure
-- that no statement of an earlier writer is still on its way.
CREATE TABLE ledger.head (
    only_row    boolean     PRIMARY KEY DEFAULT true CHECK (only_row),
    position    bigint      NOT NULL,
    hash        bytea       NOT NULL,
    recorded_at timestamptz NOT NULL,
    epoch       bigint      NOT NULL
);
INSERT INTO ledger.head (position, hash, recorded_at, epoch)
VALUES (0, sha256('refloat-ledger-v1/sha256'), '1970-01-01 00:00:00+00', 0);

-- The application cannot change or remove an event (privileges below), and
-- neither can the owner by accident.
-- +goose StatementBegin
CREATE FUNCTION ledger.refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'the book is never changed: write a new event that corrects the old one';
END
$$;
-- +goose StatementEnd
CREATE TRIGGER event_never_changes BEFORE UPDATE OR DELETE OR TRUNCATE ON ledger.event
    FOR EACH STATEMENT EXECUTE FUNCTION ledger.refuse_change();
CREATE TRIGGER head_never_vanishes BEFORE DELETE OR TRUNCATE ON ledger.head
    FOR EACH STATEMENT EXECUTE FUNCTION ledger.refuse_change();

GRANT USAGE ON SCHEMA ledger TO refloat_app;
GRANT SELECT, INSERT ON ledger.event TO refloat_app;
GRANT SELECT, UPDATE ON ledger.head TO refloat_app;
