-- +goose Up
-- What a statement needs: the day (UTC) on which each entry was written down, and
-- its words. Rows from before are right after a rebuild.
ALTER TABLE treasury.entry
    ADD COLUMN recorded_on date NOT NULL DEFAULT '0001-01-01',
    ADD COLUMN position bigint NOT NULL DEFAULT 0,
    ADD COLUMN words text NOT NULL DEFAULT '';
-- What each paper states, for the sums over papers.
ALTER TABLE treasury.paper
    ADD COLUMN country text NOT NULL DEFAULT '',
    ADD COLUMN issued_on date NOT NULL DEFAULT '0001-01-01',
    ADD COLUMN recorded_on date NOT NULL DEFAULT '0001-01-01',
    ADD COLUMN eligible_minor bigint NOT NULL DEFAULT 0,
    ADD COLUMN proceeds_minor bigint NOT NULL DEFAULT 0,
    ADD COLUMN cancelled_on date;
