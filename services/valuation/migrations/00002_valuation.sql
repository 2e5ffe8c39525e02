-- +goose Up
-- What counts of a boat for its value, and who gives it. 0: not known.
CREATE TABLE valuation.boat (
    boat       text PRIMARY KEY,
    giver      text NOT NULL,
    type       text NOT NULL,
    seats      int  NOT NULL,
    length_mm  int  NOT NULL,
    material   text NOT NULL,
    year_built int  NOT NULL,
    grade      int  NOT NULL
);
-- Boats with a finished look-over, and the newest estimate of what two
-- inspectors both missed, when it carries weight.
CREATE TABLE valuation.look_over (
    boat     text    PRIMARY KEY,
    estimate boolean NOT NULL,
    first    bigint  NOT NULL,
    second   bigint  NOT NULL,
    in_both  bigint  NOT NULL
);
-- The collection of prices; data is message.Comparable as JSON.
CREATE TABLE valuation.comparable (
    comparable text PRIMARY KEY,
    type       text NOT NULL,
    sold_on    date NOT NULL,
    data       text NOT NULL
);
CREATE INDEX ON valuation.comparable (type, sold_on);
-- Requests that stand, with everybody who would get a boat by them.
CREATE TABLE valuation.waiting (
    request text NOT NULL,
    person  text NOT NULL,
    PRIMARY KEY (request, person)
);
-- Entries that are one person, both ways round.
CREATE TABLE valuation.same_person (
    one   text NOT NULL,
    other text NOT NULL,
    PRIMARY KEY (one, other)
);
GRANT SELECT, INSERT, UPDATE, DELETE ON valuation.boat, valuation.look_over, valuation.comparable, valuation.waiting, valuation.same_person TO refloat_app;
