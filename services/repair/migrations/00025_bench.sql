-- +goose Up
-- What the honest page and the sums need of a boat: message.BoatFacts as JSON, and
-- the newest value of which both figures stand.
ALTER TABLE repair.boat
    ADD COLUMN facts          text   NOT NULL DEFAULT '{}',
    ADD COLUMN value          text   NOT NULL DEFAULT '',
    ADD COLUMN value_currency text   NOT NULL DEFAULT '',
    ADD COLUMN as_it_lies     bigint NOT NULL DEFAULT 0,
    ADD COLUMN repaired       bigint NOT NULL DEFAULT 0;
-- Which look-over found what, and in which order they were finished: a person who
-- confirms which findings are the same speaks of look-overs.
ALTER TABLE repair.finding ADD COLUMN look text NOT NULL DEFAULT '';
CREATE TABLE repair.look (
    boat     text   NOT NULL,
    look     text   NOT NULL,
    finished bigint NOT NULL,
    PRIMARY KEY (boat, look)
);
-- Members under age: they are never signed off for anything.
CREATE TABLE repair.minor (
    person text PRIMARY KEY
);
-- Timers that still run.
CREATE TABLE repair.timer (
    timer text        PRIMARY KEY,
    boat  text        NOT NULL,
    until timestamptz NOT NULL
);
CREATE INDEX ON repair.timer (until);
-- What bins gave to boats and got back, as minor units.
CREATE TABLE repair.material (
    bin      text   NOT NULL,
    entry    text   NOT NULL,
    boat     text   NOT NULL,
    minor    bigint NOT NULL,
    currency text   NOT NULL,
    PRIMARY KEY (bin, entry)
);
CREATE INDEX ON repair.material (boat);
-- What is kept for boats.
CREATE TABLE repair.reservation (
    bin      text   NOT NULL,
    boat     text   NOT NULL,
    quantity bigint NOT NULL,
    PRIMARY KEY (bin, boat)
);
CREATE INDEX ON repair.reservation (boat);
GRANT SELECT, INSERT, UPDATE, DELETE ON repair.look, repair.minor, repair.timer, repair.material, repair.reservation TO refloat_app;
