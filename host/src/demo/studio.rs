//! Three months of the made-up studio, shift by shift and pull by pull.

use firmware::sim::needle_sim::Truth;
use firmware::sim::rig::{Rig, RigSetup, StampTrouble};
use shared_types::{RawAngle, UtcMillis};

use super::maker::{Deeds, Maker};
use super::notes::Notebook;
use super::random_stream::RandomStream;
use super::scenario::{Calendar, FIRST_DAY_UTC_MS, calendar};
use host_core::entries::EntryBody;

/// The knob's angles at its slow and its fast end; the magnet was glued so that the sensor's zero lies between them.
const KNOB_MARKS: (RawAngle, RawAngle) = (RawAngle::new(3_450), RawAngle::new(1_850));
/// Strokes per second at the two ends, in thousandths.
const SPEED_MARKS: (u32, u32) = (5_000, 24_000);
/// Of the edges that fall at the very moment of a sample, so many in a thousand are counted in it and stamped in the next, or the
/// other way round, as on any two wires. The logger puts them together again.
const APART_PERMILLE: u64 = 500;
/// The clock chip of the demo gains this many millionths.
const CLOCK_DRIFT_PPM: i64 = 2;

/// The studio, played to the end.
#[derive(Debug)]
pub struct Played {
    /// What the simulated needle really did.
    pub truth: Truth,
    /// What the maker did besides.
    pub deeds: Deeds,
    /// When the last pull was.
    pub ended_at: UtcMillis,
}

/// Plays the studio of one seed. At every pull the logger has just been powered at the computer; `sit_down` gets it, what the
/// maker has written down since the last time, and the time.
///
/// # Errors
/// Whatever `sit_down` fails with.
pub fn play<E>(
    seed: u64,
    with_clock_chip: bool,
    mut sit_down: impl FnMut(&mut Rig, Vec<(UtcMillis, EntryBody)>, UtcMillis) -> Result<(), E>,
) -> Result<Played, E> {
    let Calendar { shifts, pulls_utc_ms } = calendar(&mut RandomStream::new(seed, 1));
    let opened_at = UtcMillis(FIRST_DAY_UTC_MS);
    let mut rig = Rig::new(RigSetup {
        seed: RandomStream::new(seed, 3).next_u64(),
        utc: opened_at,
        clock_drift_ppm: with_clock_chip.then_some(CLOCK_DRIFT_PPM),
        knob_marks: KNOB_MARKS,
        speed_marks: SPEED_MARKS,
        stamp_trouble: StampTrouble { apart_permille: APART_PERMILLE, ..StampTrouble::default() },
        ..RigSetup::default()
    });
    let mut maker = Maker::new(seed);
    let mut notes = Notebook::default();
    notes.machine(KNOB_MARKS, opened_at);
    maker.open_books(&mut notes, opened_at);
    let mut shifts = shifts.into_iter().peekable();
    for pull_at in pulls_utc_ms {
        while let Some(shift) = shifts.next_if(|shift| shift.from_utc_ms < pull_at) {
            maker.work(&mut rig, shift, &mut notes);
        }
        rig.power_on(UtcMillis(pull_at));
        rig.idle(20_000);
        let at = rig.utc();
        sit_down(&mut rig, notes.take(), at)?;
        rig.idle(5_000);
        rig.power_cut();
    }
    Ok(Played { truth: rig.truth().clone(), deeds: maker.deeds, ended_at: rig.utc() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use host_core::stats::HOUR_MS;

    fn played(seed: u64) -> (Played, Vec<(u64, u64)>) {
        let mut totals = Vec::new();
        let played = play(seed, true, |rig, _, _| {
            let kept = rig.logger().unwrap().totals();
            totals.push((kept.run.0, kept.edges.0));
            Ok::<(), ()>(())
        });
        (played.unwrap(), totals)
    }

    #[test]
    fn the_logger_misses_at_most_ten_running_seconds_per_cut_mid_burst() {
        for seed in [1, 2] {
            let (played, totals) = played(seed);
            let (run, edges) = *totals.last().unwrap();
            let missing = played.truth.powered.run.0 - run;
            println!("seed {seed}: {:?} {:?} missing {missing}", played.deeds, played.truth.powered);
            assert!(missing <= 10_000 * played.deeds.cuts_mid_burst, "seed {seed}: {missing} ms");
            assert!(edges <= played.truth.powered.edges.0, "seed {seed}");
            assert!(totals.windows(2).all(|pair| pair[0] <= pair[1]), "seed {seed}: a total fell");
        }
    }

    #[test]
    fn the_studio_is_as_busy_as_the_story_says() {
        let (played, _) = played(3);
        let hours = played.truth.powered.run.0 / HOUR_MS;
        assert!((15..=80).contains(&hours), "{hours} running hours in three months");
        assert!(
            played.deeds.tears > 0 && played.deeds.near_misses > played.deeds.tears,
            "{:?}",
            played.deeds
        );
        assert!(played.truth.powered_by_tag.len() >= 4, "{:?}", played.truth.powered_by_tag);
    }
}
