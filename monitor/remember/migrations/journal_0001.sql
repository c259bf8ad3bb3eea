-- Journal file, version 1: what happened, who has been told, and where the judge stood.

-- One row about the file itself. scan_s is the second of the scan clock up to which everything here is known.
CREATE TABLE about (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    instance_id TEXT NOT NULL,
    scan_s REAL NOT NULL
);

-- What happened, in the order of seq and in no other: at_utc_s goes back whenever somebody sets the clock back.
-- body is the whole event as JSON; the columns beside it are those that are searched.
CREATE TABLE journal (
    seq INTEGER PRIMARY KEY,
    event_id TEXT NOT NULL,
    at_utc_s REAL NOT NULL,
    tag TEXT,
    body TEXT NOT NULL
);
CREATE INDEX journal_by_tag ON journal (tag);

-- How far each outlet has confirmed. An outlet that the site file no longer names has no row.
CREATE TABLE cursors (
    outlet TEXT PRIMARY KEY,
    seq INTEGER NOT NULL
) WITHOUT ROWID;

-- Events that an outlet could never deliver; its cursor may pass them.
CREATE TABLE set_aside_events (
    outlet TEXT NOT NULL,
    seq INTEGER NOT NULL,
    at_utc_s REAL NOT NULL,
    why TEXT NOT NULL,
    PRIMARY KEY (outlet, seq)
) WITHOUT ROWID;

-- The judge's state for each collector, written in the same transaction as the events that led to it.
CREATE TABLE snapshots (
    collector TEXT PRIMARY KEY,
    state TEXT NOT NULL
);

-- Append only, held by the file itself, whoever opens it.
CREATE TRIGGER journal_grows_at_its_end BEFORE INSERT ON journal
WHEN NEW.seq <= (SELECT max(seq) FROM journal)
BEGIN
    SELECT RAISE(ABORT, 'the journal is append-only: an event goes after the last one');
END;

CREATE TRIGGER journal_is_never_rewritten BEFORE UPDATE ON journal
BEGIN
    SELECT RAISE(ABORT, 'the journal is append-only: an event is never rewritten');
END;

CREATE TRIGGER journal_keeps_the_unconfirmed BEFORE DELETE ON journal
WHEN OLD.seq > (SELECT min(seq) FROM cursors)
BEGIN
    SELECT RAISE(ABORT, 'the journal is append-only: an outlet has not yet confirmed this event');
END;

CREATE TRIGGER cursors_only_go_forward BEFORE UPDATE ON cursors
WHEN NEW.seq < OLD.seq
BEGIN
    SELECT RAISE(ABORT, 'a cursor only goes forward');
END;

-- For a person with an SQL shell: SELECT * FROM events ORDER BY seq DESC LIMIT 20;
CREATE VIEW events AS
SELECT
    seq,
    strftime('%Y-%m-%dT%H:%M:%fZ', at_utc_s, 'unixepoch') AS at_utc,
    json_extract(body, '$.kind') AS kind,
    json_extract(body, '$.happened') AS happened,
    json_extract(body, '$.collector') AS collector,
    tag,
    json_extract(body, '$.text') AS text,
    event_id
FROM journal;
