-- History file, version 2: minutes and hours beside the steps, kept for longer.
--
-- They are filled from the steps as these are written, in the same transaction. What a file of version 1 holds
-- already is not gathered: it may be a billion rows.
--
-- last, lowest, highest and total are whole numbers of 1 / per_unit of the point's inside unit: sums of whole
-- numbers are the same in whatever order they are made, and SQLite keeps a small one in 3 or 4 bytes, not 8. A value
-- too large for that stands as a REAL, in the same unit.

ALTER TABLE points ADD COLUMN per_unit INTEGER NOT NULL DEFAULT 1;
UPDATE points SET per_unit =
    CASE role WHEN 'dp' THEN 1000000 WHEN 'header_pressure' THEN 10000 WHEN 'air_flow' THEN 100 ELSE 1 END;

-- total, lowest, highest: of the good and the uncertain readings.
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

-- total, lowest, highest: of the good readings alone; last: of the good and the uncertain. good is split by
-- quarters; the first and the last good reading as milliseconds after the start.
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
