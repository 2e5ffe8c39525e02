-- +goose Up
-- The checkpoint of the book that was mailed to the auditor last, and when. Not made
-- from the book: it remembers what left the house.
CREATE TABLE people.checkpoint_sent (
    sent_on date PRIMARY KEY,
    note    text NOT NULL
);
GRANT SELECT, INSERT, UPDATE, DELETE ON people.checkpoint_sent TO refloat_app;
