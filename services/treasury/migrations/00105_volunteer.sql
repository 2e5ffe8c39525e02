-- +goose Up
-- Members, who alone lay something out for the club. Filled by a rebuild.
CREATE TABLE treasury.member (
    person text PRIMARY KEY
);
-- What the workshop booked as paid from a member's own pocket; stream and entry are those of
-- the posting. Filled by a rebuild.
CREATE TABLE treasury.pocket (
    stream text NOT NULL,
    entry  text NOT NULL,
    member text NOT NULL, -- empty: the booking does not say
    PRIMARY KEY (stream, entry)
);
-- What members laid out. stream and entry are those of the posting that owes it. Filled by
-- a rebuild.
CREATE TABLE treasury.volunteer_cost (
    member   text    NOT NULL,
    cost     text    NOT NULL,
    position bigint  NOT NULL,
    on_day   date    NOT NULL,
    service  text    NOT NULL,
    bought   text    NOT NULL,
    minor    bigint  NOT NULL,
    currency text    NOT NULL,
    receipt  boolean NOT NULL,
    boat     text    NOT NULL,
    bin      text    NOT NULL,
    stream   text    NOT NULL,
    entry    text    NOT NULL,
    booked   boolean NOT NULL,
    state    text    NOT NULL,
    ended    date,
    how      text    NOT NULL DEFAULT '',
    why      text    NOT NULL DEFAULT '',
    PRIMARY KEY (member, cost)
);
CREATE INDEX ON treasury.volunteer_cost (stream, entry);
GRANT SELECT, INSERT, UPDATE, DELETE ON treasury.member, treasury.pocket, treasury.volunteer_cost TO refloat_app;
