-- A database as the program wrote it before there was a chain, written out as SQL. Never made anew.
CREATE TABLE log (
    id INTEGER PRIMARY KEY,
    logger INTEGER NOT NULL,
    log INTEGER NOT NULL,
    -- Every number below is held, or known to be gone from the logger. Where a pull goes on.
    settled INTEGER NOT NULL DEFAULT 0,
    UNIQUE (logger, log)
) STRICT;
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
INSERT INTO entry VALUES (1, 1795610356782, 'machine_added', '{"before_logger":144000000,"kind":"machine_added","machine":1,"name":"Rosie","pile":"cut","since":1767571200000}');
INSERT INTO entry VALUES (2, 1795610356787, 'rug_ordered', '{"at":1795610356787,"cloth_lot":null,"height_mm":1200,"kind":"rug_ordered","rug":"Fox","width_mm":800}');
INSERT INTO entry VALUES (3, 1795610356792, 'care_done', '{"at":1769947200000,"finding":null,"kind":"care_done","machine":1,"note":"lint & <fluff>","task":"brush-out"}');
INSERT INTO entry VALUES (4, 1795610356796, 'care_done', '{"at":1770033600000,"finding":null,"kind":"care_done","machine":1,"note":null,"task":"oiling"}');
INSERT INTO entry VALUES (5, 1795610356800, 'withdrawn', '{"entry":4,"kind":"withdrawn","reason":"wrong machine"}');
INSERT INTO log VALUES (1, 190731757, 852513621, 17210);
INSERT INTO hello VALUES (1, 1772524820000, 'the simulated logger', 190731757, 852513621, 0, 3, 0, 0, 0, 0, 0, 1, 20000, 0, 1, '0.1.0', 'bench', '{"machine":0,"knob_step":24,"limits":{"look_at":null,"stop_at":null,"retension_at":null,"retension_every":null,"ceiling":null}}');
INSERT INTO hello VALUES (2, 1772611220000, 'the simulated logger', 190731757, 852513621, 0, 346, 3, 0, 0, 1736450, 21476, 3, 20000, 0, 1, '0.1.0', 'bench', '{"machine":1,"knob_step":24,"limits":{"look_at":null,"stop_at":null,"retension_at":2043463,"retension_every":900000,"ceiling":null}}');
INSERT INTO raw_record VALUES (1, 0, 0, 1772524820000, X'01010000000001000000');
INSERT INTO raw_record VALUES (1, 1, 0, 1772524820000, X'0101000500180000000000');
INSERT INTO raw_record VALUES (1, 2, 0, 1772524820000, X'0101000480a0b0ab966700');
INSERT INTO raw_record VALUES (1, 3, 0, 1772611220000, X'0101a09c0104c0d8b2ab966701');
INSERT INTO raw_record VALUES (1, 4, 0, 1772611220000, X'0101a09c010501180000000000');
INSERT INTO raw_record VALUES (1, 5, 0, 1772611220000, X'0101a09c010701');
INSERT INTO raw_record VALUES (1, 6, 0, 1772611220000, X'0101a09c010501180180f4ee060180aea60a01a0f73601a0f73600');
INSERT INTO raw_record VALUES (1, 7, 0, 1772611220000, X'0101a8c30104d0a6b3ab966700');
INSERT INTO raw_record VALUES (1, 8, 0, 1772611220000, X'01020000000001000000');
INSERT INTO raw_record VALUES (1, 9, 0, 1772611220000, X'0102000501180180f4ee060180aea60a01a0f73601a0f73600');
INSERT INTO raw_record VALUES (1, 10, 0, 1772611220000, X'01020004c0c0c5d1966700');
INSERT INTO raw_record VALUES (1, 11, 0, 1772611220000, X'0102a5c11001aa273e01e00200');
INSERT INTO raw_record VALUES (1, 12, 0, 1772611220000, X'010291d011018b314d01e00200');
INSERT INTO raw_record VALUES (1, 13, 0, 1772611220000, X'0102c3fa1201e4111c01e00200');
INSERT INTO raw_record VALUES (1, 14, 0, 1772611220000, X'0102cef91301f64c7801e00200');
INSERT INTO raw_record VALUES (1, 15, 0, 1772611220000, X'0102c4c61401e60c1401e00201');
INSERT INTO raw_record VALUES (1, 16, 0, 1772611220000, X'01029f8b1501f54c7901df0200');
INSERT INTO raw_record VALUES (1, 17, 0, 1772611220000, X'010294d815018a243801e00201');
INSERT INTO raw_record VALUES (1, 18, 0, 1772611220000, X'0102caa816019c040701e00200');
INSERT INTO raw_record VALUES (1, 19, 0, 1772611220000, X'010296e616018a0d1501e10200');
INSERT INTO raw_record VALUES (1, 20, 0, 1772611220000, X'0102a7fb1601904d7901e00200');
INSERT INTO raw_record VALUES (1, 21, 0, 1772611220000, X'0102b7c81701db4c7801df0201');
INSERT INTO raw_record VALUES (1, 22, 0, 1772611220000, X'010292951801d44c7801df0201');
INSERT INTO raw_record VALUES (1, 23, 0, 1772611220000, X'0102e6e118019f131e01e10201');
INSERT INTO raw_record VALUES (1, 24, 0, 1772611220000, X'0102fdc7250192172401e10200');
INSERT INTO raw_record VALUES (1, 25, 0, 1772611220000, X'0102b3ff2501984d7901e10200');
INSERT INTO raw_record VALUES (1, 26, 0, 1772611220000, X'0102cbcc2601e82c4601e10201');
INSERT INTO raw_record VALUES (1, 27, 0, 1772611220000, X'0102a18c27019f0d1501df0200');
INSERT INTO raw_record VALUES (1, 28, 0, 1772611220000, X'01029fc32701854d7901e10200');
INSERT INTO raw_record VALUES (1, 29, 0, 1772611220000, X'0102a4902801ae446b01e10201');
INSERT INTO raw_record VALUES (1, 30, 0, 1772611220000, X'0102f8fe2801ed1b2c01e10200');
INSERT INTO raw_record VALUES (1, 31, 0, 1772611220000, X'0102cf982a01df4c7801e10200');
INSERT INTO raw_record VALUES (1, 32, 0, 1772611220000, X'0102aee52a01810b1101e10201');
INSERT INTO raw_record VALUES (1, 33, 0, 1772611220000, X'0102fbfc2a01d81f3201df0200');
INSERT INTO raw_record VALUES (1, 34, 0, 1772611220000, X'0102e2fd2b01c8385901df0200');
INSERT INTO raw_record VALUES (1, 35, 0, 1772611220000, X'0102fcc72c01d2131f01e00200');
INSERT INTO raw_record VALUES (1, 36, 0, 1772611220000, X'0102a49c3301b1213401df0200');
INSERT INTO raw_record VALUES (1, 37, 0, 1772611220000, X'0102f8b53801cc111c01e10200');
INSERT INTO raw_record VALUES (1, 38, 0, 1772611220000, X'0102c6873a01bb192801e10200');
INSERT INTO raw_record VALUES (1, 39, 0, 1772611220000, X'0102a0b33a019d385801e10200');
INSERT INTO derived VALUES (1, '0.1.0/1');
INSERT INTO segment VALUES (1, 11, 2, 270501, 5034, 62, 352, 0);
INSERT INTO segment VALUES (1, 12, 2, 288785, 6283, 77, 352, 0);
INSERT INTO segment VALUES (1, 13, 2, 310595, 2276, 28, 352, 0);
INSERT INTO segment VALUES (1, 14, 2, 326862, 9846, 120, 352, 0);
INSERT INTO segment VALUES (1, 15, 2, 336708, 1638, 20, 352, 1);
INSERT INTO segment VALUES (1, 16, 2, 345503, 9845, 121, 351, 0);
INSERT INTO segment VALUES (1, 17, 2, 355348, 4618, 56, 352, 1);
INSERT INTO segment VALUES (1, 18, 2, 365642, 540, 7, 352, 0);
INSERT INTO segment VALUES (1, 19, 2, 373526, 1674, 21, 353, 0);
INSERT INTO segment VALUES (1, 20, 2, 376231, 9872, 121, 352, 0);
INSERT INTO segment VALUES (1, 21, 2, 386103, 9819, 120, 351, 1);
INSERT INTO segment VALUES (1, 22, 2, 395922, 9812, 120, 351, 1);
INSERT INTO segment VALUES (1, 23, 2, 405734, 2463, 30, 353, 1);
INSERT INTO segment VALUES (1, 24, 2, 615421, 2962, 36, 353, 0);
INSERT INTO segment VALUES (1, 25, 2, 622515, 9880, 121, 353, 0);
INSERT INTO segment VALUES (1, 26, 2, 632395, 5736, 70, 353, 1);
INSERT INTO segment VALUES (1, 27, 2, 640545, 1695, 21, 351, 0);
INSERT INTO segment VALUES (1, 28, 2, 647583, 9861, 121, 353, 0);
INSERT INTO segment VALUES (1, 29, 2, 657444, 8750, 107, 353, 1);
INSERT INTO segment VALUES (1, 30, 2, 671608, 3565, 44, 353, 0);
INSERT INTO segment VALUES (1, 31, 2, 691279, 9823, 120, 353, 0);
INSERT INTO segment VALUES (1, 32, 2, 701102, 1409, 17, 353, 1);
INSERT INTO segment VALUES (1, 33, 2, 704123, 4056, 50, 351, 0);
INSERT INTO segment VALUES (1, 34, 2, 720610, 7240, 89, 351, 0);
INSERT INTO segment VALUES (1, 35, 2, 730108, 2514, 31, 352, 0);
INSERT INTO segment VALUES (1, 36, 2, 839204, 4273, 52, 351, 0);
INSERT INTO segment VALUES (1, 37, 2, 924408, 2252, 28, 353, 0);
INSERT INTO segment VALUES (1, 38, 2, 951238, 3259, 40, 353, 0);
INSERT INTO segment VALUES (1, 39, 2, 956832, 7197, 88, 353, 0);
INSERT INTO event VALUES (1, 0, 'started');
INSERT INTO event VALUES (1, 1, 'settings');
INSERT INTO event VALUES (1, 2, 'anchor');
INSERT INTO event VALUES (1, 3, 'anchor');
INSERT INTO event VALUES (1, 4, 'settings');
INSERT INTO event VALUES (1, 5, 'fitted');
INSERT INTO event VALUES (1, 6, 'settings');
INSERT INTO event VALUES (1, 7, 'anchor');
INSERT INTO event VALUES (1, 8, 'started');
INSERT INTO event VALUES (1, 9, 'settings');
INSERT INTO event VALUES (1, 10, 'anchor');
PRAGMA application_id = 1315204168;
PRAGMA user_version = 1;
