-- History file, version 1: the readings, thinned to one row for each point and step.

CREATE TABLE points (
    id INTEGER PRIMARY KEY,
    collector TEXT NOT NULL,
    role TEXT NOT NULL,
    UNIQUE (collector, role)
);

-- Sorted by time first: new rows go to one end and old ones leave at the other, so a flush touches few pages
-- (flash wears by pages) and the room of the oldest is used again by the newest.
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

-- Counted as it changes: counting millions of rows at every start would take seconds.
CREATE TABLE totals (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    history_rows INTEGER NOT NULL
);
INSERT INTO totals VALUES (1, 0);

CREATE TRIGGER count_in AFTER INSERT ON history
BEGIN
    UPDATE totals SET history_rows = history_rows + 1;
END;

CREATE TRIGGER count_out AFTER DELETE ON history
BEGIN
    UPDATE totals SET history_rows = history_rows - 1;
END;
