-- +goose Up
-- What the pages show. All but session follows the book and can be rebuilt.
CREATE TABLE web.boat (
    id       text   PRIMARY KEY,
    name     text   NOT NULL,
    type     text   NOT NULL,
    state    text   NOT NULL,
    search   text   NOT NULL,
    position bigint NOT NULL,
    doc      jsonb  NOT NULL
);
CREATE INDEX boat_state ON web.boat (state, name);

CREATE TABLE web.person (
    id       text   PRIMARY KEY,
    sort     text    NOT NULL,
    erased   boolean NOT NULL,
    position bigint  NOT NULL,
    doc      jsonb   NOT NULL -- names and contacts stand in it sealed
);

CREATE TABLE web.request (
    id        text   PRIMARY KEY,
    household text   NOT NULL,
    state     text   NOT NULL,
    tier      int    NOT NULL,
    position  bigint NOT NULL,
    doc       jsonb  NOT NULL
);
CREATE INDEX request_household ON web.request (household);

CREATE TABLE web.round (
    id       text   PRIMARY KEY,
    state    text   NOT NULL,
    position bigint NOT NULL,
    doc      jsonb  NOT NULL
);

CREATE TABLE web.offer (
    id        text        PRIMARY KEY,
    round     text        NOT NULL,
    boat      text        NOT NULL,
    request   text        NOT NULL,
    household text        NOT NULL,
    state     text        NOT NULL,
    until     timestamptz NOT NULL,
    position  bigint      NOT NULL,
    doc       jsonb       NOT NULL
);
CREATE INDEX offer_request ON web.offer (request);
CREATE INDEX offer_round ON web.offer (round);

CREATE TABLE web.paper (
    id       text   PRIMARY KEY,
    serial   text   NOT NULL,
    boat     text   NOT NULL,
    donor    text   NOT NULL,
    state    text   NOT NULL,
    due      date,
    position bigint NOT NULL,
    doc      jsonb  NOT NULL
);
CREATE INDEX paper_donor ON web.paper (donor);

CREATE TABLE web.comparable (
    id       text   PRIMARY KEY,
    type     text   NOT NULL,
    state    text   NOT NULL,
    sold_on  date   NOT NULL,
    position bigint NOT NULL,
    doc      jsonb  NOT NULL
);

-- One line an event, in plain words and without personal data.
CREATE TABLE web.history (
    position    bigint      PRIMARY KEY,
    boat        text        NOT NULL,
    stream      text        NOT NULL,
    kind        text        NOT NULL,
    actor       text        NOT NULL,
    look        text        NOT NULL, -- the look-over that it belongs to, whose inspector works blind
    happened_at timestamptz NOT NULL,
    recorded_at timestamptz NOT NULL,
    summary     text        NOT NULL
);
CREATE INDEX history_boat ON web.history (boat, position);
CREATE INDEX history_stream ON web.history (stream, position);

-- Who is signed in. The cookie's secret is kept as a hash only.
CREATE TABLE web.session (
    hash    text        PRIMARY KEY,
    person  text        NOT NULL,
    link    text        NOT NULL, -- the private link by which somebody came, or empty for a member
    expires timestamptz NOT NULL,
    seen    bigint      NOT NULL
);
CREATE INDEX session_person ON web.session (person);
GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA web TO refloat_app;
