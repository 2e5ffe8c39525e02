-- +goose Up
-- Which boat a paper is for, and its serial. Rows from before are right after a rebuild.
ALTER TABLE treasury.paper
    ADD COLUMN boat text NOT NULL DEFAULT '',
    ADD COLUMN serial text NOT NULL DEFAULT '';
CREATE INDEX ON treasury.paper (boat);
-- Papers that were asked for in one go, with what came of each so far.
CREATE TABLE treasury.batch (
    batch    text        PRIMARY KEY,
    year     int         NOT NULL,
    dated    date        NOT NULL,
    asked_at timestamptz NOT NULL
);
CREATE INDEX ON treasury.batch (year);
CREATE TABLE treasury.batch_paper (
    batch    text    NOT NULL,
    boat     text    NOT NULL,
    paper    text    NOT NULL,
    issued   boolean NOT NULL DEFAULT false,
    withheld text    NOT NULL DEFAULT '', -- why
    PRIMARY KEY (batch, boat)
);
CREATE INDEX ON treasury.batch_paper (paper);
GRANT SELECT, INSERT, UPDATE, DELETE ON treasury.batch, treasury.batch_paper TO refloat_app;
