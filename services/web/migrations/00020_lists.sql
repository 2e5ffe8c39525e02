-- +goose Up
-- What lists show of a boat stands beside its document, so that a list reads no
-- documents. A boat logged before this shows its maker, colour and open findings
-- in lists from its next event on, or after refloat rebuild.
ALTER TABLE web.boat
    ADD maker  text NOT NULL DEFAULT '',
    ADD colour text NOT NULL DEFAULT '',
    ADD open   int  NOT NULL DEFAULT 0,  -- findings that stand and may be told
    ADD later  text NOT NULL DEFAULT ''; -- the entry as which it came back
CREATE INDEX boat_name ON web.boat (lower(name), id);
CREATE INDEX boat_state_name ON web.boat (state, lower(name), id);
CREATE INDEX boat_type_name ON web.boat (type, lower(name), id);
CREATE INDEX boat_looks ON web.boat USING gin ((doc -> 'looks') jsonb_path_ops);
DROP INDEX web.boat_state;
