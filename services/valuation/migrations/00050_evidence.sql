-- +goose Up
-- What else counts of a boat: the name on plans and sheets, whether its hull was
-- mended, and how far it has come.
ALTER TABLE valuation.boat
    ADD COLUMN name   text    NOT NULL DEFAULT '',
    ADD COLUMN mended boolean NOT NULL DEFAULT false,
    ADD COLUMN state  text    NOT NULL DEFAULT 'offered'; -- offered, taken, gone
-- What nobody who looked the boat over could see (parts and points of the guide),
-- separated by semicolons, and whether no look-over was whole.
ALTER TABLE valuation.look_over
    ADD COLUMN unseen      text    NOT NULL DEFAULT '',
    ADD COLUMN provisional boolean NOT NULL DEFAULT false;
-- Findings, which bound the grade as it lies. Those of a look-over that is not
-- finished count for nothing yet.
CREATE TABLE valuation.finding (
    boat     text    NOT NULL,
    finding  text    NOT NULL,
    look     text    NOT NULL,
    severity text    NOT NULL,
    finished boolean NOT NULL DEFAULT false,
    ended    boolean NOT NULL DEFAULT false,
    PRIMARY KEY (boat, finding)
);
CREATE INDEX ON valuation.finding (boat, look);
-- What mending came to: the history from which the cost of a missed defect is
-- taken. Money of parts and outside work, by currency.
CREATE TABLE valuation.mending (
    boat     text   NOT NULL,
    currency text   NOT NULL,
    minor    bigint NOT NULL,
    PRIMARY KEY (boat, currency)
);
CREATE TABLE valuation.mended (
    boat     text    PRIMARY KEY,
    findings int     NOT NULL,
    ready    boolean NOT NULL
);
-- The newest value of each boat, from which gains of repairs follow; data is
-- message.BoatValued as JSON.
CREATE TABLE valuation.newest (
    boat text PRIMARY KEY,
    data text NOT NULL
);
-- Repairs that are proposed; data is message.RepairProposed as JSON.
CREATE TABLE valuation.repair (
    boat     text   NOT NULL,
    repair   text   NOT NULL,
    position bigint NOT NULL,
    data     text   NOT NULL,
    PRIMARY KEY (boat, repair)
);
GRANT SELECT, INSERT, UPDATE, DELETE ON valuation.finding, valuation.mending, valuation.mended, valuation.newest, valuation.repair TO refloat_app;
