-- A journal file of version 1, made by the daemon of that version.
PRAGMA application_id = 1130457957;
PRAGMA user_version = 1;
BEGIN TRANSACTION;
CREATE TABLE about (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    instance_id TEXT NOT NULL,
    scan_s REAL NOT NULL
);
INSERT INTO "about" VALUES(1,'772b5fd1-09af-4271-8d84-f8560b242bd5',12.5);
CREATE TABLE cursors (
    outlet TEXT PRIMARY KEY,
    seq INTEGER NOT NULL
) WITHOUT ROWID;
INSERT INTO "cursors" VALUES('mqtt',1);
CREATE TABLE journal (
    seq INTEGER PRIMARY KEY,
    event_id TEXT NOT NULL,
    at_utc_s REAL NOT NULL,
    tag TEXT,
    body TEXT NOT NULL
);
INSERT INTO "journal" VALUES(1,'0123456789abcdef-1',1700000000.0,'PDAH-101','{"kind":"alarm","happened":"raised","text":"one","collector":"DC-101","tag":"PDAH-101"}');
INSERT INTO "journal" VALUES(2,'0123456789abcdef-2',1700000000.0,NULL,'{"kind":"alarm","happened":"raised","text":"two","collector":"DC-101"}');
CREATE TABLE set_aside_events (
    outlet TEXT NOT NULL,
    seq INTEGER NOT NULL,
    at_utc_s REAL NOT NULL,
    why TEXT NOT NULL,
    PRIMARY KEY (outlet, seq)
) WITHOUT ROWID;
INSERT INTO "set_aside_events" VALUES('mqtt',1,1700000000.0,'too large');
CREATE TABLE snapshots (
    collector TEXT PRIMARY KEY,
    state TEXT NOT NULL
);
INSERT INTO "snapshots" VALUES('DC-101','{"n":1}');
CREATE INDEX journal_by_tag ON journal (tag);
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
COMMIT;
