-- +goose Up
-- What a page of a cost book shows without reading the whole of its stream: stream
-- is the book's, a boat's or a bin's. Rows from before are right after a rebuild.
ALTER TABLE treasury.entry
    ADD COLUMN stream   text NOT NULL DEFAULT '',
    ADD COLUMN reverses text NOT NULL DEFAULT '';
CREATE INDEX ON treasury.entry (stream, position);
ALTER TABLE treasury.line
    ADD COLUMN stream   text   NOT NULL DEFAULT '',
    ADD COLUMN position bigint NOT NULL DEFAULT 0;
CREATE INDEX ON treasury.line (stream, position) INCLUDE (account, minor, currency);
