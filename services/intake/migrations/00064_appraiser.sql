-- +goose Up
-- Who valued a boat, or set its ceiling.
CREATE TABLE intake.appraiser (
    boat   text NOT NULL,
    person text NOT NULL,
    PRIMARY KEY (boat, person)
);
GRANT SELECT, INSERT, UPDATE, DELETE ON intake.appraiser TO refloat_app;
