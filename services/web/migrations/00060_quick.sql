-- +goose Up
-- What pages ask of every boat has an index, so that no page reads every document.
ALTER TABLE web.boat ADD paperless boolean NOT NULL DEFAULT false; -- a gift that has no paper that stands
UPDATE web.boat SET paperless = doc ? 'received' AND doc->>'taking' <> 'purchase'
	AND NOT jsonb_path_exists(doc, '$.papers[*] ? (!exists(@.cancelled))');
CREATE INDEX boat_paperless ON web.boat ((doc->'received'->>'on'), id) WHERE paperless;
CREATE INDEX boat_giver ON web.boat ((doc->>'giver'));
CREATE INDEX boat_timers ON web.boat (lower(name)) WHERE doc ? 'timers';
