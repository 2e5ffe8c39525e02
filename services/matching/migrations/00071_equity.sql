-- +goose Up
-- When a request ended, and which rules kept boats from those who got none in the
-- newest solution of each round: for the report on who is served.
ALTER TABLE matching.request ADD COLUMN ended_at timestamptz;
CREATE TABLE matching.refusal (
    round   text NOT NULL,
    request text NOT NULL,
    rule    text NOT NULL,
    PRIMARY KEY (round, request, rule)
);
GRANT SELECT, INSERT, UPDATE, DELETE ON matching.refusal TO refloat_app;
