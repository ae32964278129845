-- What shows later that a row was changed: for every row that is kept for ever one link, stored when the row is. How a
-- link is made stands in RECORD_BOOK.md. The rows of databases from before are chained once, when this step runs.

CREATE TABLE chain (
    position INTEGER PRIMARY KEY,
    -- 'entry', 'heard' or 'records'.
    covers TEXT NOT NULL,
    -- The row of entry or hello; for records the row of log.
    row_id INTEGER NOT NULL,
    -- For records: which, as variant:first-last, with commas between. Empty for others.
    numbers TEXT NOT NULL,
    link BLOB NOT NULL
) STRICT;

CREATE TRIGGER chain_is_never_changed BEFORE UPDATE ON chain
BEGIN SELECT RAISE(ABORT, 'links are never changed'); END;
CREATE TRIGGER chain_is_never_deleted BEFORE DELETE ON chain
BEGIN SELECT RAISE(ABORT, 'links are never deleted'); END;

-- Names stand outside the chain, which knows a person by number only; so a name can be put right or erased.
CREATE TABLE person_name (
    person INTEGER PRIMARY KEY,
    name TEXT NOT NULL
) STRICT;
