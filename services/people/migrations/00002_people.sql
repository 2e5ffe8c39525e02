-- +goose Up
-- Who the club knows. Details stand here sealed, as in the event; the blinded
-- texts serve to find a mail address and likely doubles.
CREATE TABLE people.person (
    person      text    PRIMARY KEY,
    sort        text    NOT NULL,
    guardian    text    NOT NULL DEFAULT '',
    sealed      text    NOT NULL,
    name_blind  text    NOT NULL,
    mail_blind  text    NOT NULL,
    phone_blind text    NOT NULL,
    erased      boolean NOT NULL DEFAULT false
);
CREATE INDEX ON people.person (name_blind) WHERE name_blind <> '';
CREATE INDEX ON people.person (mail_blind) WHERE mail_blind <> '';
CREATE INDEX ON people.person (phone_blind) WHERE phone_blind <> '';
CREATE INDEX ON people.person (guardian) WHERE guardian <> '';

CREATE TABLE people.doubles (
    one   text    NOT NULL,
    other text    NOT NULL,
    same  boolean NOT NULL,
    PRIMARY KEY (one, other)
);

-- What keeps a person's data in use.
CREATE TABLE people.request (
    request    text PRIMARY KEY,
    household  text NOT NULL,
    keep_until date -- null while the request is open
);
CREATE INDEX ON people.request (household);
CREATE TABLE people.offer (
    offer     text PRIMARY KEY,
    request   text NOT NULL,
    household text NOT NULL
);
CREATE TABLE people.received (
    boat      text NOT NULL,
    household text NOT NULL,
    PRIMARY KEY (boat, household)
);
CREATE TABLE people.given (
    boat  text PRIMARY KEY,
    giver text NOT NULL
);
CREATE TABLE people.paper (
    paper   text PRIMARY KEY,
    serial  text NOT NULL,
    donor   text NOT NULL,
    keep_to date NOT NULL
);

-- Letters that were or will be sent. Not made from the book alone: it remembers
-- what left the house, so a rebuild does not touch it.
CREATE TABLE people.letter (
    key     text        PRIMARY KEY,
    sort    text        NOT NULL,
    person  text        NOT NULL,
    link    text        NOT NULL, -- the private link or the one-time link it carries
    until   timestamptz NOT NULL,
    made_at timestamptz NOT NULL,
    next_at timestamptz NOT NULL,
    tries   integer     NOT NULL DEFAULT 0,
    done_at timestamptz,
    outcome text        NOT NULL DEFAULT ''
);
CREATE INDEX ON people.letter (next_at) WHERE done_at IS NULL;
CREATE INDEX ON people.letter (link);

-- One-time links that were not used yet: SHA-256 of the secret, never the secret.
CREATE TABLE people.sign_in (
    digest bytea       PRIMARY KEY,
    person text        NOT NULL,
    until  timestamptz NOT NULL
);
CREATE INDEX ON people.sign_in (person);

GRANT SELECT, INSERT, UPDATE, DELETE ON
    people.person, people.doubles, people.request, people.offer, people.received, people.given, people.paper,
    people.letter, people.sign_in TO refloat_app;
