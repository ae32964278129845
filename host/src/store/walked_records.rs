//! Counts the records that a walk along the chain meets, so that they need not be read again to find those in no step.

use rusqlite::Connection;

use super::chain_numbers::{Group, Numbers};

/// The records that the steps cover, as the walk met them.
#[derive(Debug, Default)]
pub struct WalkedRecords {
    /// By log.
    groups: Vec<(i64, Group)>,
    rows: u64,
}

impl WalkedRecords {
    /// Takes the records of a step; `rows` is how many of them there are.
    pub fn take(&mut self, log_id: i64, numbers: &Numbers, rows: u64) {
        self.groups.extend(numbers.groups().iter().map(|group| (log_id, *group)));
        self.rows = self.rows.saturating_add(rows);
    }

    /// Whether every record that is kept was met: as many as there are, and none twice. False says nothing.
    ///
    /// # Errors
    /// As SQLite.
    pub fn are_all(mut self, connection: &Connection) -> rusqlite::Result<bool> {
        let kept: i64 = connection.query_row("SELECT count(*) FROM raw_record", (), |row| row.get(0))?;
        self.groups.sort_unstable();
        let is_disjoint = self.groups.iter().zip(self.groups.iter().skip(1)).all(|(one, next)| {
            let is_one_run = (one.0, one.1.variant) == (next.0, next.1.variant);
            !is_one_run || one.1.to < next.1.from
        });
        Ok(is_disjoint && u64::try_from(kept) == Ok(self.rows))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Five records of log 1 and two of log 2.
    fn kept() -> Connection {
        let connection = Connection::open_in_memory().unwrap();
        connection
            .execute_batch(
                "CREATE TABLE raw_record (log_id, seq, variant, PRIMARY KEY (log_id, seq, variant)) WITHOUT ROWID;
                 INSERT INTO raw_record VALUES (1, 0, 0), (1, 1, 0), (1, 1, 1), (1, 2, 0), (1, 3, 0), (2, 0, 0), (2, 1, 0);",
            )
            .unwrap();
        connection
    }

    fn are_all(steps: &[(i64, &str, u64)]) -> bool {
        let mut walked = WalkedRecords::default();
        for (log, numbers, rows) in steps {
            walked.take(*log, &numbers.parse().unwrap(), *rows);
        }
        walked.are_all(&kept()).unwrap()
    }

    #[test]
    fn steps_that_meet_each_record_once_have_met_all() {
        assert!(are_all(&[(1, "0:0-1", 2), (2, "0:0-1", 2), (1, "0:2-3,1:1-1", 3)]));
        // A range may reach past what is there, as long as no other one does.
        assert!(are_all(&[(1, "0:0-900,1:1-1", 5), (2, "0:0-1", 2)]));
    }

    #[test]
    fn a_record_in_no_step_is_missed() {
        assert!(!are_all(&[(1, "0:0-1", 2), (2, "0:0-1", 2), (1, "0:2-3", 2)]));
        assert!(!are_all(&[]));
    }

    #[test]
    fn a_record_in_two_steps_does_not_stand_for_one_in_none() {
        // Seven rows met, as many as there are; but 0:1 twice, and 0:3 not at all.
        assert!(!are_all(&[(1, "0:0-1,1:1-1", 3), (1, "0:1-2", 2), (2, "0:0-1", 2)]));
        assert!(!are_all(&[(1, "0:0-3,1:1-1", 5), (2, "0:0-0", 1), (2, "0:0-0", 1)]));
        // A wide range hides a narrow one behind another that begins later.
        assert!(!are_all(&[(1, "0:0-3", 4), (1, "0:1-1,0:3-3", 2), (1, "1:1-1", 1)]));
    }
}
