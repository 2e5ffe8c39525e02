-- +goose Up
-- When the mail server was last spoken to about a letter: set before, and taken
-- back when its answer is known to be no. A letter that keeps it without being
-- done is one of which nobody knows whether it left.
ALTER TABLE people.letter ADD COLUMN attempt_at timestamptz;
CREATE INDEX ON people.letter (attempt_at) WHERE attempt_at IS NOT NULL AND done_at IS NULL;
