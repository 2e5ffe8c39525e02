-- +goose Up
CREATE TABLE vault.person_key (
    person       text PRIMARY KEY,
    wrapped      bytea,
    made_at      timestamptz NOT NULL DEFAULT now(),
    destroyed_at timestamptz,
    -- A row has a key, or it is the tombstone of one.
    CHECK ((wrapped IS NULL) = (destroyed_at IS NOT NULL))
) WITH (
    -- A destroyed key leaves a dead row version behind: have it cleared soon.
    autovacuum_vacuum_threshold = 0, autovacuum_vacuum_scale_factor = 0
);

-- +goose StatementBegin
CREATE FUNCTION vault.keep_tombstone() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'the key of % was destroyed and is never given again', OLD.person USING ERRCODE = 'restrict_violation';
END $$;
-- +goose StatementEnd

CREATE TRIGGER keep_tombstone BEFORE UPDATE OR DELETE ON vault.person_key
    FOR EACH ROW WHEN (OLD.destroyed_at IS NOT NULL) EXECUTE FUNCTION vault.keep_tombstone();

-- By which a wrong or lost master key is noticed; it says nothing about the key.
CREATE TABLE vault.master_key (
    one         boolean PRIMARY KEY DEFAULT true CHECK (one),
    fingerprint text NOT NULL
);

GRANT SELECT, INSERT ON vault.person_key, vault.master_key TO refloat_app;
GRANT UPDATE (wrapped, destroyed_at) ON vault.person_key TO refloat_app;
