-- What a logger no longer has is believed for ever: such numbers are not asked for again. So these rows are guarded and
-- chained like the others; those from before are chained when this step runs.

CREATE TRIGGER IF NOT EXISTS gone_is_never_changed BEFORE UPDATE ON gone
BEGIN SELECT RAISE(ABORT, 'what is gone is never changed'); END;
CREATE TRIGGER IF NOT EXISTS gone_is_never_deleted BEFORE DELETE ON gone
BEGIN SELECT RAISE(ABORT, 'what is gone is never deleted'); END;
