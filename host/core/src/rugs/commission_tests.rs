use shared_types::UtcMillis;

use super::Commissions;
use crate::entries::amount::Money;
use crate::entries::{
    EntryBody, EntryId, JobAdded, JobKind, JobStarted, JobStopped, MoneyTerms, RugName, Stage, StageBegun,
    YarnMove, YarnWeighed,
};
use crate::test_facts::{HOUR, MONDAY_8, entries};

fn fox() -> RugName {
    RugName("Fox".to_owned())
}

fn weighed(colour: &str, moved: YarnMove, grams: u64, hour: i64) -> EntryBody {
    EntryBody::YarnWeighed(YarnWeighed {
        rug: fox(),
        colour: colour.to_owned(),
        moved,
        weight_mg: grams * 1_000,
        at: UtcMillis(MONDAY_8 + hour * HOUR),
    })
}

#[test]
fn yarn_used_is_what_was_taken_less_what_came_back_or_is_left() {
    // By hand: red 500 + 200 taken, 150 back: 550. Blue 400 taken, 90 left: 310. Green only taken: not known.
    let all = Commissions::of(&entries([
        weighed("red", YarnMove::Out, 500, 0),
        weighed("Red", YarnMove::Out, 200, 2),
        weighed("blue", YarnMove::Out, 400, 0),
        weighed("red", YarnMove::Back, 150, 5),
        weighed("blue", YarnMove::Left, 90, 4),
        weighed("green", YarnMove::Out, 100, 0),
    ]));
    let yarn = all.told(&fox()).unwrap().yarn_by_colour();
    let used: Vec<_> = yarn.iter().map(|colour| (colour.colour.as_str(), colour.used_mg())).collect();
    assert_eq!(used, [("red", Some(550_000)), ("blue", Some(310_000)), ("green", None)]);
}

#[test]
fn yarn_taken_after_a_weighing_is_left_too() {
    let all = Commissions::of(&entries([
        weighed("red", YarnMove::Out, 500, 0),
        weighed("red", YarnMove::Left, 100, 1),
        weighed("red", YarnMove::Out, 300, 2),
    ]));
    let yarn = all.told(&fox()).unwrap().yarn_by_colour();
    assert_eq!((yarn[0].left_mg, yarn[0].used_mg()), (Some(400_000), Some(400_000)));
}

fn started(job: JobKind, at: i64) -> EntryBody {
    EntryBody::JobStarted(JobStarted { job, rug: Some(fox()), at: UtcMillis(at), note: None })
}

fn stopped(started: i64, at: i64) -> EntryBody {
    EntryBody::JobStopped(JobStopped { started: EntryId(started), at: UtcMillis(at) })
}

#[test]
fn a_timer_lasts_from_its_start_to_its_own_stop_and_runs_until_then() {
    let all = Commissions::of(&entries([
        started(JobKind::Drying, MONDAY_8),
        started(JobKind::Shearing, MONDAY_8 + HOUR),
        stopped(2, MONDAY_8 + 3 * HOUR),
        EntryBody::JobAdded(JobAdded {
            job: JobKind::Tracing,
            rug: None,
            lasted_ms: 60_000,
            at: UtcMillis(MONDAY_8),
            note: None,
        }),
    ]));
    let lasted: Vec<_> = all.jobs.iter().map(|span| (span.job, span.lasted_ms)).collect();
    assert_eq!(
        lasted,
        [(JobKind::Drying, None), (JobKind::Shearing, Some(7_200_000)), (JobKind::Tracing, Some(60_000))]
    );
    let running: Vec<_> = all.running().map(|span| span.running_for_ms(UtcMillis(MONDAY_8 + HOUR))).collect();
    assert_eq!(running, [Some(3_600_000)]);
    assert_eq!(all.jobs_of(&fox()).count(), 2);
}

#[test]
fn a_stop_that_was_taken_back_lets_the_timer_run_on() {
    let all = Commissions::of(&entries([
        started(JobKind::Gluing, MONDAY_8),
        stopped(1, MONDAY_8 + HOUR),
        EntryBody::Withdrawn { entry: EntryId(2), reason: "too early".to_owned() },
    ]));
    assert!(all.jobs[0].is_running());
}

#[test]
fn a_stage_holds_from_its_moment_to_the_next() {
    let begun = |stage, hour: i64| {
        EntryBody::StageBegun(StageBegun { rug: fox(), stage, at: UtcMillis(MONDAY_8 + hour * HOUR) })
    };
    let all = Commissions::of(&entries([
        begun(Some(Stage::Fill), 2),
        begun(Some(Stage::Outline), 0),
        begun(None, 5),
    ]));
    let told = all.told(&fox()).unwrap();
    let at = |hour: i64| told.stage_at(UtcMillis(MONDAY_8 + hour * HOUR));
    assert_eq!(
        [-1, 0, 1, 2, 4, 5].map(at),
        [None, Some(Stage::Outline), Some(Stage::Outline), Some(Stage::Fill), Some(Stage::Fill), None]
    );
}

#[test]
fn wage_and_currency_are_set_each_for_itself() {
    let terms = |wage_per_hour, currency: Option<&str>| {
        EntryBody::MoneyTerms(MoneyTerms { wage_per_hour, currency: currency.map(str::to_owned) })
    };
    let all = Commissions::of(&entries([terms(Some(Money(25)), Some("EUR")), terms(Some(Money(30)), None)]));
    assert_eq!((all.terms.wage_per_hour, all.terms.currency.as_deref()), (Some(Money(30)), Some("EUR")));
}
