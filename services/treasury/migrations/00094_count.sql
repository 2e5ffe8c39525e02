-- +goose Up
-- How boats were found when they were counted.
CREATE TABLE treasury.boat_count (
    boat        text   NOT NULL,
    count       text   NOT NULL,
    position    bigint NOT NULL,
    on_day      date   NOT NULL,
    recorded_on date   NOT NULL,
    found       text   NOT NULL,
    words       text   NOT NULL,
    PRIMARY KEY (boat, count)
);
CREATE INDEX ON treasury.boat_count (on_day);
GRANT SELECT, INSERT, UPDATE, DELETE ON treasury.boat_count TO refloat_app;
