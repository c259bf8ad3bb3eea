-- A history file of version 1, made by the daemon of that version.
PRAGMA application_id = 1130457957;
PRAGMA user_version = 1;
BEGIN TRANSACTION;
CREATE TABLE history (
    start_utc_s INTEGER NOT NULL,
    point INTEGER NOT NULL,
    last REAL,
    lowest REAL,
    highest REAL,
    mean REAL,
    good INTEGER NOT NULL,
    uncertain INTEGER NOT NULL,
    bad INTEGER NOT NULL,
    worst TEXT,
    PRIMARY KEY (start_utc_s, point)
) WITHOUT ROWID;
INSERT INTO "history" VALUES(1700000000,1,3.0,3.0,3.0,3.0,1,0,0,NULL);
INSERT INTO "history" VALUES(1700000010,1,3.0,3.0,3.0,3.0,1,0,0,NULL);
CREATE TABLE points (
    id INTEGER PRIMARY KEY,
    collector TEXT NOT NULL,
    role TEXT NOT NULL,
    UNIQUE (collector, role)
);
INSERT INTO "points" VALUES(1,'DC-101','dp');
CREATE TABLE totals (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    history_rows INTEGER NOT NULL
);
INSERT INTO "totals" VALUES(1,2);
CREATE TRIGGER count_in AFTER INSERT ON history
BEGIN
    UPDATE totals SET history_rows = history_rows + 1;
END;
CREATE TRIGGER count_out AFTER DELETE ON history
BEGIN
    UPDATE totals SET history_rows = history_rows - 1;
END;
COMMIT;
