-- +goose Up
-- How far each boat had come, and what its giver bound it to, with the day (UTC) on which
-- each was written down, so that a statement can say it as it was known on a day. A
-- row has the one or the other. Filled by a rebuild.
CREATE TABLE treasury.boat_said (
    boat        text   NOT NULL,
    position    bigint NOT NULL,
    recorded_on date   NOT NULL,
    state       text,
    restriction text,
    PRIMARY KEY (boat, position)
);
GRANT SELECT, INSERT, UPDATE, DELETE ON treasury.boat_said TO refloat_app;
