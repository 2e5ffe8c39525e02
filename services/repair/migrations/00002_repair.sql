-- +goose Up
-- What the intake room says of each boat. intake_version is how far we have
-- heard the boat's stream there.
CREATE TABLE repair.boat (
    boat           text    PRIMARY KEY,
    name           text    NOT NULL,
    type           text    NOT NULL,
    material       text    NOT NULL,
    accepted       boolean NOT NULL DEFAULT false,
    received       boolean NOT NULL DEFAULT false,
    declined       boolean NOT NULL DEFAULT false,
    departed       boolean NOT NULL DEFAULT false,
    intake_version bigint  NOT NULL
);
-- Every finding of every look-over; withdrawn says why it was a mistake.
CREATE TABLE repair.finding (
    boat         text    NOT NULL,
    finding      text    NOT NULL,
    noted        bigint  NOT NULL,
    zone         text    NOT NULL,
    side         text    NOT NULL,
    face         text    NOT NULL,
    part         text    NOT NULL,
    defect       text    NOT NULL,
    severity     text    NOT NULL,
    load_bearing boolean NOT NULL,
    same_as      text    NOT NULL,
    withdrawn    text    NOT NULL DEFAULT '',
    PRIMARY KEY (boat, finding)
);
-- Who may be named for hours.
CREATE TABLE repair.member (
    person text PRIMARY KEY
);
GRANT SELECT, INSERT, UPDATE, DELETE ON repair.boat, repair.finding, repair.member TO refloat_app;
