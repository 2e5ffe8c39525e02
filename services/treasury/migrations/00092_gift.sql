-- +goose Up
-- What is known of each gift beside the boat's own row, as one document, so that
-- what falls due is read in one question. Filled by a rebuild.
CREATE TABLE treasury.gift (
    boat text  PRIMARY KEY,
    doc  jsonb NOT NULL
);
GRANT SELECT, INSERT, UPDATE, DELETE ON treasury.gift TO refloat_app;
