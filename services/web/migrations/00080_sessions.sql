-- +goose Up
-- What tells a member's sessions apart: a name of its own, since the hash is the
-- key of the door; when it began and was last used, to five minutes; and on what.
ALTER TABLE web.session ADD COLUMN id      text        NOT NULL DEFAULT gen_random_uuid()::text;
ALTER TABLE web.session ADD COLUMN began   timestamptz;
ALTER TABLE web.session ADD COLUMN used    timestamptz;
ALTER TABLE web.session ADD COLUMN machine text        NOT NULL DEFAULT '';
UPDATE web.session SET began = expires - interval '14 days', used = expires - interval '14 days';
CREATE UNIQUE INDEX session_id ON web.session (id);
