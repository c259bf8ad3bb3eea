-- A history file of version 2, made by the daemon of that version.
PRAGMA application_id = 1130457957;
PRAGMA user_version = 2;
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
CREATE TABLE hours (
    start_utc_s INTEGER NOT NULL,
    point INTEGER NOT NULL,
    last INTEGER,
    lowest INTEGER,
    highest INTEGER,
    total INTEGER,
    quarter_1 INTEGER NOT NULL,
    quarter_2 INTEGER NOT NULL,
    quarter_3 INTEGER NOT NULL,
    quarter_4 INTEGER NOT NULL,
    uncertain INTEGER NOT NULL,
    bad INTEGER NOT NULL,
    worst TEXT,
    first_good_ms INTEGER,
    last_good_ms INTEGER,
    PRIMARY KEY (start_utc_s, point)
) WITHOUT ROWID;
INSERT INTO "hours" VALUES(1699999200,1,3000000,3000000,3000000,6000000,2,0,0,0,0,0,NULL,800000,810000);
CREATE TABLE minutes (
    start_utc_s INTEGER NOT NULL,
    point INTEGER NOT NULL,
    last INTEGER,
    lowest INTEGER,
    highest INTEGER,
    total INTEGER,
    good INTEGER NOT NULL,
    uncertain INTEGER NOT NULL,
    bad INTEGER NOT NULL,
    worst TEXT,
    PRIMARY KEY (start_utc_s, point)
) WITHOUT ROWID;
INSERT INTO "minutes" VALUES(1699999980,1,3000000,3000000,3000000,6000000,2,0,0,NULL);
CREATE TABLE points (
    id INTEGER PRIMARY KEY,
    collector TEXT NOT NULL,
    role TEXT NOT NULL, per_unit INTEGER NOT NULL DEFAULT 1,
    UNIQUE (collector, role)
);
INSERT INTO "points" VALUES(1,'DC-101','dp',1000000);
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
