use shared_types::log::ClockSource::Host;
use shared_types::log::PressKind;

use crate::entries::WorkChange::{Finished, Paused, Started};
use crate::entries::{
    CareDone, CareTaskName, Certainty, EntryBody, MachineLent, MachineReturned, MeterReading, Owner,
    PersonTag, PressWithdrawn, RugName,
};
use crate::records::log_records::LogRecords;
use crate::sessions::holder::{Attribution, Basis, Holder};
use crate::sessions::ledger::Ledger;
use crate::studio::{RugIndex, Studio};
use crate::test_facts::{
    HOUR, LOG, MINUTE, MONDAY_8, anchor, assigned, empty_log, entries, fitted, machine, press, rug, segment,
    work,
};
use shared_types::{MachineTag, RecordSeq, UtcMillis};

const FOX: Holder = Holder::Rug(RugIndex::of(0));
const BEAR: Holder = Holder::Rug(RugIndex::of(1));

/// Machine 1 and two commissions, and what else is said.
fn attributed(log: LogRecords, said: Vec<EntryBody>) -> Vec<(Holder, Basis)> {
    let base = [machine(1), machine(2), fitted(1, 0), rug("Fox"), rug("Bear")];
    let studio = Studio::of(&entries(base.into_iter().chain(said)));
    let logs = [log];
    let ledger = Ledger::of(&studio, &logs);
    ledger.logs[0]
        .lines
        .iter()
        .map(|line| {
            let Attribution { holder, basis } = line.attribution;
            (holder, basis)
        })
        .collect()
}

/// One boot that starts on Monday at eight, with a one-minute burst at each of these minutes; record numbers 10, 20, ...
fn bursts_at(minutes: &[u64]) -> LogRecords {
    let segments =
        (1..).zip(minutes).map(|(seq, minute)| segment(seq * 10, 1, minute * 60_000, 60_000, 700)).collect();
    LogRecords { events: vec![anchor(1, 1, 0, MONDAY_8, Host)], segments, ..empty_log() }
}

fn fox() -> Owner {
    Owner::Rug(RugName("fox".to_owned()))
}

fn bear() -> Owner {
    Owner::Rug(RugName("Bear".to_owned()))
}

#[test]
fn a_burst_goes_to_the_one_commission_that_was_active_from_its_start_to_before_its_end() {
    let said = vec![
        work("Fox", None, Started, MONDAY_8 + 10 * MINUTE),
        work("Fox", None, Finished, MONDAY_8 + 30 * MINUTE),
    ];
    assert_eq!(
        attributed(bursts_at(&[9, 10, 29, 30]), said),
        [
            (Holder::Unassigned, Basis::NothingActive),
            (FOX, Basis::Assumed),
            (FOX, Basis::Assumed),
            (Holder::Unassigned, Basis::NothingActive),
        ]
    );
}

#[test]
fn where_two_commissions_are_active_a_burst_goes_to_neither() {
    let said = vec![
        work("Fox", None, Started, MONDAY_8),
        work("Bear", None, Started, MONDAY_8 + 20 * MINUTE),
        work("Fox", None, Paused, MONDAY_8 + 40 * MINUTE),
    ];
    assert_eq!(
        attributed(bursts_at(&[5, 25, 45]), said),
        [(FOX, Basis::Assumed), (Holder::Unassigned, Basis::SeveralActive), (BEAR, Basis::Assumed)]
    );
}

#[test]
fn a_commission_on_another_machine_takes_nothing() {
    let said = vec![work("Fox", Some(2), Started, MONDAY_8), work("Bear", Some(1), Started, MONDAY_8)];
    assert_eq!(attributed(bursts_at(&[5]), said), [(BEAR, Basis::Assumed)]);
}

#[test]
fn what_the_maker_moved_wins_over_what_was_confirmed_and_that_over_the_calendar() {
    let said = vec![
        work("Fox", None, Started, MONDAY_8),
        assigned(20, 30, bear(), Certainty::Explicit),
        assigned(10, 40, fox(), Certainty::Confirmed),
        assigned(30, 30, Owner::Nobody, Certainty::Explicit),
        assigned(50, 50, Owner::Care, Certainty::Explicit),
    ];
    assert_eq!(
        attributed(bursts_at(&[1, 3, 5, 7, 9, 11]), said),
        [
            (FOX, Basis::Confirmed),
            (BEAR, Basis::Explicit),
            (Holder::Unassigned, Basis::Explicit),
            (FOX, Basis::Confirmed),
            (Holder::Care, Basis::Explicit),
            (FOX, Basis::Assumed),
        ]
    );
}

#[test]
fn of_two_equal_claims_the_later_one_wins_where_they_overlap() {
    let said = vec![
        assigned(0, 100, fox(), Certainty::Explicit),
        assigned(20, 30, bear(), Certainty::Explicit),
        assigned(30, 20, Owner::Care, Certainty::Explicit),
    ];
    let holders: Vec<_> =
        attributed(bursts_at(&[1, 3, 5, 7]), said).into_iter().map(|(holder, _)| holder).collect();
    assert_eq!(holders, [FOX, BEAR, BEAR, FOX], "a range that ends before it begins claims nothing");
}

#[test]
fn a_claim_for_a_rug_that_is_gone_counts_to_nobody() {
    let gone = Owner::Rug(RugName("Owl".to_owned()));
    let said = vec![work("Fox", None, Started, MONDAY_8), assigned(10, 10, gone, Certainty::Explicit)];
    assert_eq!(attributed(bursts_at(&[1]), said), [(Holder::Unassigned, Basis::RugIsGone)]);
}

/// Boot 1 has a reading, boot 2 none, boot 3 again one, `hours` after Monday at eight.
fn a_boot_between(hours: i64) -> LogRecords {
    LogRecords {
        events: vec![anchor(1, 1, 0, MONDAY_8, Host), anchor(30, 3, 0, MONDAY_8 + hours * HOUR, Host)],
        segments: vec![segment(10, 2, 0, 60_000, 700)],
        ..empty_log()
    }
}

#[test]
fn a_burst_of_uncertain_date_joins_a_commission_only_when_every_possible_moment_lies_in_it() {
    let inside =
        vec![work("Fox", None, Started, MONDAY_8 - HOUR), work("Fox", None, Paused, MONDAY_8 + 9 * HOUR)];
    assert_eq!(attributed(a_boot_between(8), inside.clone()), [(FOX, Basis::Assumed)]);
    // Ten hours reach beyond the pause at nine.
    assert_eq!(attributed(a_boot_between(10), inside), [(Holder::Undated, Basis::TimeUncertain)]);
    let starts_within = vec![work("Fox", None, Started, MONDAY_8 + HOUR)];
    assert_eq!(attributed(a_boot_between(8), starts_within), [(Holder::Undated, Basis::TimeUncertain)]);
    let rests_within = vec![
        work("Fox", None, Started, MONDAY_8 - HOUR),
        work("Fox", None, Paused, MONDAY_8 + 2 * HOUR),
        work("Fox", None, Started, MONDAY_8 + 3 * HOUR),
    ];
    assert_eq!(attributed(a_boot_between(8), rests_within), [(Holder::Undated, Basis::TimeUncertain)]);
}

#[test]
fn a_burst_of_uncertain_date_that_can_only_lie_outside_every_commission_is_unassigned() {
    let said = vec![work("Fox", None, Started, MONDAY_8 + 9 * HOUR)];
    assert_eq!(attributed(a_boot_between(8), said), [(Holder::Unassigned, Basis::NothingActive)]);
}

#[test]
fn an_undated_burst_can_still_be_given_away_by_hand() {
    let log = LogRecords { segments: vec![segment(10, 2, 0, 60_000, 700)], ..empty_log() };
    let active = work("Fox", None, Started, MONDAY_8);
    assert_eq!(attributed(log.clone(), vec![active.clone()]), [(Holder::Undated, Basis::TimeUncertain)]);
    let given = vec![active, assigned(10, 10, bear(), Certainty::Explicit)];
    assert_eq!(attributed(log, given), [(BEAR, Basis::Explicit)]);
}

/// A press of the care button at minute 10 (record 5), and bursts as `(start in ms, length in ms)`.
fn after_care(bursts: &[(u64, u64)]) -> LogRecords {
    let segments = (1..).zip(bursts).map(|(seq, (at, run))| segment(seq * 10, 1, *at, *run, 50)).collect();
    let events = vec![anchor(1, 1, 0, MONDAY_8, Host), press(5, 1, 600_000, PressKind::CareDone)];
    LogRecords { events, segments, ..empty_log() }
}

#[test]
fn the_first_short_burst_soon_after_the_care_button_is_a_dry_run() {
    let active = || vec![work("Fox", None, Started, MONDAY_8)];
    let care = (Holder::Care, Basis::Assumed);
    let rug = (FOX, Basis::Assumed);
    assert_eq!(attributed(after_care(&[(720_000, 90_000), (820_000, 5_000)]), active()), [care, rug]);
    assert_eq!(attributed(after_care(&[(720_001, 90_000)]), active()), [rug], "a millisecond too late");
    assert_eq!(attributed(after_care(&[(720_000, 90_001)]), active()), [rug], "a millisecond too long");
}

#[test]
fn a_care_press_that_was_a_mistake_makes_no_dry_run() {
    let mistake = EntryBody::PressWithdrawn(PressWithdrawn {
        logger: LOG.logger,
        log: LOG.log,
        seq: RecordSeq(5),
        reason: "leaned on it".to_owned(),
    });
    let said = vec![work("Fox", None, Started, MONDAY_8), mistake];
    assert_eq!(attributed(after_care(&[(620_000, 5_000)]), said), [(FOX, Basis::Assumed)]);
}

fn oiled(at: i64) -> EntryBody {
    EntryBody::CareDone(CareDone {
        machine: MachineTag(1),
        task: CareTaskName("oiling".to_owned()),
        at: UtcMillis(at),
        finding: None,
        note: None,
    })
}

#[test]
fn the_dry_run_after_an_entered_oiling_is_care_unless_the_maker_says_otherwise() {
    // Work at 8:05, oiled at 8:30, a lone minute at 8:35, work from 8:50 on.
    let log = || bursts_at(&[5, 35, 50, 51]);
    let active = || vec![work("Fox", None, Started, MONDAY_8), oiled(MONDAY_8 + 30 * MINUTE)];
    let (care, rug) = ((Holder::Care, Basis::Assumed), (FOX, Basis::Assumed));
    assert_eq!(attributed(log(), active()), [rug, care, rug, rug]);
    let moved = assigned(20, 20, fox(), Certainty::Explicit);
    let said = active().into_iter().chain([moved]).collect();
    assert_eq!(attributed(log(), said), [rug, (FOX, Basis::Explicit), rug, rug]);
    let screws = match oiled(MONDAY_8 + 30 * MINUTE) {
        EntryBody::CareDone(done) => CareDone { task: CareTaskName("screws".to_owned()), ..done },
        _ => unreachable!(),
    };
    let other = vec![work("Fox", None, Started, MONDAY_8), EntryBody::CareDone(screws)];
    assert_eq!(attributed(log(), other), [rug; 4], "only oil is followed by a dry run");
}

proptest::proptest! {
    #[test]
    fn every_burst_has_one_holder_whatever_was_oiled(
        minutes in proptest::collection::btree_set(0_u64..300, 1..20),
        oilings in proptest::collection::vec(0_i64..300, 0..6),
    ) {
        // Commissions, care and nobody together are all that ran: a dry run changes to whom, never how much.
        let minutes: Vec<u64> = minutes.into_iter().collect();
        let base = [machine(1), fitted(1, 0), rug("Fox"), work("Fox", None, Started, MONDAY_8)];
        let said = base.into_iter().chain(oilings.iter().map(|at| oiled(MONDAY_8 + at * MINUTE)));
        let studio = Studio::of(&entries(said));
        let logs = [bursts_at(&minutes)];
        let ledger = Ledger::of(&studio, &logs);
        let of = |holder| -> u64 {
            let lines = ledger.logs[0].lines.iter().filter(|line| line.attribution.holder == holder);
            lines.map(|line| line.burst.run.0).sum()
        };
        let all: u64 = logs[0].segments.iter().map(|segment| segment.run.0).sum();
        proptest::prop_assert_eq!(of(FOX) + of(Holder::Care) + of(Holder::Unassigned), all);
        // Three times three minutes after each oiling, at the most.
        proptest::prop_assert!(of(Holder::Care) <= 9 * 60_000 * u64::try_from(oilings.len()).unwrap());
    }
}

fn lent(out: i64, back: Option<i64>) -> Vec<EntryBody> {
    let lent = MachineLent {
        machine: MachineTag(1),
        to: PersonTag(1),
        at: UtcMillis(out),
        condition: None,
        reading: MeterReading::default(),
    };
    let returned = |at| MachineReturned {
        machine: MachineTag(1),
        at: UtcMillis(at),
        condition: None,
        reading: MeterReading::default(),
    };
    let back = back.map(|at| EntryBody::MachineReturned(returned(at)));
    [EntryBody::MachineLent(lent)].into_iter().chain(back).collect()
}

#[test]
fn what_runs_while_the_machine_is_lent_out_is_no_commission_of_the_owners_unless_it_is_given_to_one() {
    let on_the_frame = vec![work("Fox", None, Started, MONDAY_8)];
    let away = lent(MONDAY_8 + 10 * MINUTE, Some(MONDAY_8 + 20 * MINUTE));
    let lent_out = (Holder::Unassigned, Basis::LentOut);
    let said: Vec<EntryBody> = on_the_frame.clone().into_iter().chain(away.clone()).collect();
    let here = (FOX, Basis::Assumed);
    assert_eq!(
        attributed(bursts_at(&[9, 10, 19, 20]), said.clone()),
        [here, lent_out, lent_out, here],
        "from when it left, included, until it came back, excluded"
    );
    let given = said.into_iter().chain([assigned(20, 20, fox(), Certainty::Explicit)]).collect();
    assert_eq!(attributed(bursts_at(&[9, 10, 19]), given), [here, (FOX, Basis::Explicit), lent_out]);
    // Without any rug, too; and while it is still away.
    let still_away = lent(MONDAY_8 + 10 * MINUTE, None);
    let nobody = (Holder::Unassigned, Basis::NothingActive);
    assert_eq!(attributed(bursts_at(&[9, 10, 500]), still_away), [nobody, lent_out, lent_out]);
    // Lent and taken back at the same moment it was never away.
    let never = on_the_frame.into_iter().chain(lent(MONDAY_8 + 10 * MINUTE, Some(MONDAY_8 + 10 * MINUTE)));
    assert_eq!(attributed(bursts_at(&[9, 10, 11]), never.collect()), [here, here, here]);
}

#[test]
fn a_burst_that_may_have_run_before_or_during_a_loan_is_nobodys_until_its_date_is_known() {
    let said = [work("Fox", None, Started, MONDAY_8 - HOUR)].into_iter();
    let said = said.chain(lent(MONDAY_8 + HOUR, None)).collect();
    assert_eq!(attributed(a_boot_between(8), said), [(Holder::Undated, Basis::TimeUncertain)]);
}
