-- +goose Up
-- What is known of a boat for money and papers; facts is message.BoatFacts as
-- JSON.
CREATE TABLE treasury.boat (
    boat           text PRIMARY KEY,
    name           text   NOT NULL,
    taking         text   NOT NULL,
    giver          text   NOT NULL,
    facts          text   NOT NULL,
    price_minor    bigint NOT NULL DEFAULT 0,
    price_currency text   NOT NULL DEFAULT '',
    received_on    date,
    state          text   NOT NULL
);
-- Values as boats lie, for the books and for papers.
CREATE TABLE treasury.value (
    value    text   PRIMARY KEY,
    position bigint NOT NULL,
    boat     text   NOT NULL,
    for_day  date   NOT NULL,
    minor    bigint NOT NULL,
    currency text   NOT NULL,
    valuer   text   NOT NULL
);
CREATE INDEX ON treasury.value (boat, for_day);
-- Sealed details (message.PersonDetails) of everybody who may be a donor.
CREATE TABLE treasury.person (
    person text PRIMARY KEY,
    sealed text NOT NULL
);
-- The cost books.
CREATE TABLE treasury.entry (
    boat      text NOT NULL,
    entry     text NOT NULL,
    posted_on date NOT NULL,
    PRIMARY KEY (boat, entry)
);
CREATE INDEX ON treasury.entry (posted_on);
CREATE TABLE treasury.line (
    boat     text   NOT NULL,
    entry    text   NOT NULL,
    number   int    NOT NULL,
    account  text   NOT NULL,
    minor    bigint NOT NULL,
    currency text   NOT NULL,
    PRIMARY KEY (boat, entry, number)
);
CREATE TABLE treasury.hours (
    boat      text NOT NULL,
    entry     text NOT NULL,
    worked_on date NOT NULL,
    minutes   int  NOT NULL,
    PRIMARY KEY (boat, entry)
);
-- Issued papers; position is that of the event which holds the sealed content.
CREATE TABLE treasury.paper (
    paper     text   PRIMARY KEY,
    position  bigint NOT NULL,
    donor     text   NOT NULL,
    keep_to   date   NOT NULL,
    cancelled text   NOT NULL DEFAULT ''
);
CREATE INDEX ON treasury.paper (donor);
GRANT SELECT, INSERT, UPDATE, DELETE ON treasury.boat, treasury.value, treasury.person, treasury.entry, treasury.line,
    treasury.hours, treasury.paper TO refloat_app;
