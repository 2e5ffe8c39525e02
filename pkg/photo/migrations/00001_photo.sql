-- +goose Up
-- Clean photos, by the SHA-256 of the large form. JPEG does not compress further.
CREATE TABLE photo.picture (
    hash    text        PRIMARY KEY,
    width   int         NOT NULL,
    height  int         NOT NULL,
    large   bytea       NOT NULL,
    small   bytea       NOT NULL,
    made_at timestamptz NOT NULL DEFAULT now()
);
ALTER TABLE photo.picture ALTER large SET STORAGE EXTERNAL, ALTER small SET STORAGE EXTERNAL;

-- Files that are coming in, piece by piece.
CREATE TABLE photo.upload (
    id       text        PRIMARY KEY,
    owner    text        NOT NULL, -- who sends it
    size     int         NOT NULL, -- of the whole file, in bytes
    begun_at timestamptz NOT NULL DEFAULT now()
);
CREATE INDEX upload_owner ON photo.upload (owner);
CREATE TABLE photo.piece (
    upload text  NOT NULL REFERENCES photo.upload ON DELETE CASCADE,
    at     int   NOT NULL, -- where in the file it begins
    data   bytea NOT NULL,
    PRIMARY KEY (upload, at)
);
GRANT SELECT, INSERT, DELETE ON photo.picture, photo.upload, photo.piece TO refloat_app;
GRANT UPDATE ON photo.upload TO refloat_app;
