-- What shows on reading that a page was damaged: for every table, or every log's part of one, how many rows there are and
-- a sum over their bytes (how it is made stands in RECORD_BOOK.md). What was kept is held against the chain before its sums
-- are made here; what is derived is made anew when the file is opened next, because `derived` is empty then.

DROP TABLE IF EXISTS content_sum;
CREATE TABLE content_sum (
    -- The table.
    content TEXT NOT NULL,
    -- The row of log; 0 for a table that is summed as a whole.
    log_id INTEGER NOT NULL,
    row_count INTEGER NOT NULL,
    row_sum INTEGER NOT NULL,
    PRIMARY KEY (content, log_id)
) STRICT, WITHOUT ROWID;

-- Derived like segment: numbers of which two records with different bytes were received.
DROP TABLE IF EXISTS conflict;
CREATE TABLE conflict (
    log_id INTEGER NOT NULL,
    seq INTEGER NOT NULL,
    PRIMARY KEY (log_id, seq)
) STRICT, WITHOUT ROWID;
DELETE FROM derived;

-- Steps of the chain that were not made when their rows were kept but later, all at once. Null: nobody noted when.
CREATE TABLE IF NOT EXISTS chained_later (
    first_step INTEGER PRIMARY KEY,
    last_step INTEGER NOT NULL,
    at INTEGER
) STRICT;

-- There is a row while an erased name may still be found in the file: opening the file goes on with it.
CREATE TABLE IF NOT EXISTS erasure (
    only INTEGER PRIMARY KEY CHECK (only = 1)
) STRICT;
