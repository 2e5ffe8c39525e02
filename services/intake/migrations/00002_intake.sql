-- +goose Up
-- People whom the club knows: only they can be named as a giver.
CREATE TABLE intake.person (
    person text PRIMARY KEY
);
-- The newest offer ceiling of each boat.
CREATE TABLE intake.ceiling (
    boat     text   PRIMARY KEY,
    minor    bigint NOT NULL,
    currency text   NOT NULL
);
-- Boats that have left the club; their hull numbers may come back.
CREATE TABLE intake.departed (
    boat text PRIMARY KEY
);
GRANT SELECT, INSERT, UPDATE, DELETE ON intake.person, intake.ceiling, intake.departed TO refloat_app;
