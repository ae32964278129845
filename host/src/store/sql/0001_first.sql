-- 64-bit identities and totals are kept bit for bit in SQLite's signed integers.

CREATE TABLE log (
    id INTEGER PRIMARY KEY,
    logger INTEGER NOT NULL,
    log INTEGER NOT NULL,
    -- Every number below is held, or known to be gone from the logger. Where a pull goes on.
    settled INTEGER NOT NULL DEFAULT 0,
    UNIQUE (logger, log)
) STRICT;

-- As received, for ever. Variant 0 came first and is the one that is used; the same number with other bytes is kept
-- beside it as variant 1 and up.
CREATE TABLE raw_record (
    log_id INTEGER NOT NULL REFERENCES log (id),
    seq INTEGER NOT NULL,
    variant INTEGER NOT NULL,
    received_at INTEGER NOT NULL,
    body BLOB NOT NULL,
    PRIMARY KEY (log_id, seq, variant)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER raw_record_is_never_changed BEFORE UPDATE ON raw_record
BEGIN SELECT RAISE(ABORT, 'raw records are never changed'); END;
CREATE TRIGGER raw_record_is_never_deleted BEFORE DELETE ON raw_record
BEGIN SELECT RAISE(ABORT, 'raw records are never deleted'); END;

-- Numbers that the logger itself no longer has, so that they are not asked for again and again.
CREATE TABLE gone (
    log_id INTEGER NOT NULL REFERENCES log (id),
    from_seq INTEGER NOT NULL,
    below_seq INTEGER NOT NULL,
    PRIMARY KEY (log_id, from_seq, below_seq)
) STRICT, WITHOUT ROWID;

CREATE TABLE hello (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    heard_at INTEGER NOT NULL,
    place TEXT NOT NULL,
    logger INTEGER NOT NULL,
    -- The next five are null when the logger could not read its own log.
    log INTEGER,
    oldest INTEGER,
    next INTEGER,
    acknowledged INTEGER,
    formatted_with_run_ms INTEGER,
    formatted_with_edges INTEGER,
    total_run_ms INTEGER NOT NULL,
    total_edges INTEGER NOT NULL,
    boot INTEGER NOT NULL,
    uptime_ms INTEGER NOT NULL,
    faults INTEGER NOT NULL,
    record_version INTEGER NOT NULL,
    firmware TEXT NOT NULL,
    build TEXT NOT NULL,
    settings TEXT NOT NULL
) STRICT;
CREATE INDEX hello_by_log ON hello (logger, log);

CREATE TABLE entry (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    entered_at INTEGER NOT NULL,
    kind TEXT NOT NULL,
    body TEXT NOT NULL
) STRICT;

CREATE TRIGGER entry_is_never_changed BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END;
CREATE TRIGGER entry_is_never_deleted BEFORE DELETE ON entry
BEGIN SELECT RAISE(ABORT, 'entries are never deleted'); END;

-- Everything below is derived from raw_record and can be thrown away.

CREATE TABLE derived (
    only INTEGER PRIMARY KEY CHECK (only = 1),
    made_by TEXT NOT NULL
) STRICT;

CREATE TABLE segment (
    log_id INTEGER NOT NULL,
    seq INTEGER NOT NULL,
    boot INTEGER NOT NULL,
    at_ms INTEGER NOT NULL,
    run_ms INTEGER NOT NULL,
    edges INTEGER NOT NULL,
    angle INTEGER,
    continues INTEGER NOT NULL,
    PRIMARY KEY (log_id, seq)
) STRICT, WITHOUT ROWID;

-- Which records are something else than a segment; their content is read from raw_record.
CREATE TABLE event (
    log_id INTEGER NOT NULL,
    seq INTEGER NOT NULL,
    kind TEXT NOT NULL,
    PRIMARY KEY (log_id, seq)
) STRICT, WITHOUT ROWID;

CREATE TABLE unreadable (
    log_id INTEGER NOT NULL,
    seq INTEGER NOT NULL,
    why TEXT NOT NULL,
    PRIMARY KEY (log_id, seq)
) STRICT, WITHOUT ROWID;
