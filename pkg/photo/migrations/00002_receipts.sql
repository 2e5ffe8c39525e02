-- +goose Up
-- Photos of receipts are kept apart from those of boats, as other people see them
-- and nobody destroys them. Bytes that are both are kept twice.
ALTER TABLE photo.picture ADD COLUMN kind text NOT NULL DEFAULT 'boat';
ALTER TABLE photo.picture DROP CONSTRAINT picture_pkey, ADD PRIMARY KEY (hash, kind);
