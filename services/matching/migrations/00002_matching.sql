-- +goose Up
-- The boats that were logged, as far as placing them needs it.
CREATE TABLE matching.boat (
    boat             text    PRIMARY KEY,
    name             text    NOT NULL,
    facts            jsonb   NOT NULL,
    ready            boolean NOT NULL DEFAULT false,
    disclosure       jsonb   NOT NULL DEFAULT '[]',
    last_water       text    NOT NULL DEFAULT '',
    quarantine_until date,                    -- null: no drying time was set
    gone             text    NOT NULL DEFAULT '', -- declined, handed over, sold, retired
    offer            text    NOT NULL DEFAULT '', -- the offer that is open or accepted
    promised_to      text    NOT NULL DEFAULT ''  -- that offer's request
);

-- Who asks. The wish stands here sealed, as in the event.
CREATE TABLE matching.request (
    request   text        PRIMARY KEY,
    household text        NOT NULL,
    sealed    text        NOT NULL, -- empty once the household is erased
    boats     integer     NOT NULL,
    tier      integer     NOT NULL,
    made_at   timestamptz NOT NULL,
    version   bigint      NOT NULL,
    ended     text        NOT NULL DEFAULT '',
    offer     text        NOT NULL DEFAULT '', -- the offer that the request is tied to
    -- Sealed reasons of the last solved round; they may be shown once it is approved.
    solved_in text        NOT NULL DEFAULT '',
    draft     text        NOT NULL DEFAULT '',
    reasons   text        NOT NULL DEFAULT ''
);
CREATE INDEX ON matching.request (household);

CREATE TABLE matching.offer (
    offer   text        PRIMARY KEY,
    round   text        NOT NULL,
    boat    text        NOT NULL,
    request text        NOT NULL,
    until   timestamptz NOT NULL,
    answer  text        NOT NULL DEFAULT '' -- empty while it is open
);
CREATE INDEX ON matching.offer (until) WHERE answer = '';

CREATE TABLE matching.round (
    round    text   PRIMARY KEY,
    stage    text   NOT NULL, -- opened, solved, approved, sent, closed
    boats    text[] NOT NULL,
    requests text[] NOT NULL
);

-- People whom the club knows: only they can ask without saying who they are.
-- The blinded texts serve to find out whether a member is also a household.
CREATE TABLE matching.person (
    person      text PRIMARY KEY,
    mail_blind  text NOT NULL DEFAULT '',
    phone_blind text NOT NULL DEFAULT ''
);
-- Entries that somebody judged to be one person, both ways round.
CREATE TABLE matching.same_person (
    one   text NOT NULL,
    other text NOT NULL,
    PRIMARY KEY (one, other)
);
GRANT SELECT, INSERT, UPDATE, DELETE ON
    matching.boat, matching.request, matching.offer, matching.round, matching.person, matching.same_person TO refloat_app;
