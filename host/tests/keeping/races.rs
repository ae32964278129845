//! Four runs of the program that want the same at once: exactly one gets it, and the others say why not.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test may stop at the first surprise"
)]

use std::path::Path;
use std::sync::Barrier;

use crate::bench_studio::program::{Told, place, run};
use host::app::book::verify::verify;
use host::app::ports::book::Names;
use host::app::ports::{Store, StoreError};
use host::store::Database;
use host_core::entries::{Drive, EntryBody, MachineAdded, PersonAdded, PersonTag, Pile};
use shared_types::{MachineTag, UtcMillis};

const WRITERS: usize = 4;

/// Rounds of each race; more on request.
fn rounds() -> usize {
    std::env::var("RACE_ROUNDS").ok().and_then(|rounds| rounds.parse().ok()).unwrap_or(6)
}

/// Runs the same words four times at once.
fn race(db: &Path, words: &[&str]) -> Vec<Told> {
    let all = vec![words; WRITERS];
    race_of(db, &all)
}

fn race_of(db: &Path, words: &[&[&str]]) -> Vec<Told> {
    let start = Barrier::new(words.len());
    std::thread::scope(|scope| {
        let runs: Vec<_> = words
            .iter()
            .map(|words| {
                let start = &start;
                scope.spawn(move || {
                    start.wait();
                    run(db, words)
                })
            })
            .collect();
        runs.into_iter().map(|run| run.join().unwrap()).collect()
    })
}

/// Exactly one run succeeds; each other says why in these words.
#[track_caller]
fn one_wins(told: &[Told], why: &str) {
    let won = told.iter().filter(|told| told.code() == 0).count();
    assert_eq!(won, 1, "{told:#?}");
    for lost in told.iter().filter(|told| told.code() != 0) {
        assert!(lost.err_words().contains(why), "{}", lost.err_words());
    }
}

#[test]
fn only_one_of_each() {
    let (_folder, db) = place();
    for round in 1..=rounds() {
        let (number, gun, rug, person) =
            (round.to_string(), format!("Gun {round}"), format!("Rug {round}"), format!("Ann {round}"));
        one_wins(&race(&db, &["machine", "add", &gun]), "machine::name");
        one_wins(&race(&db, &["person", "add", &person]), "person::exists");
        one_wins(&race(&db, &["rug", "new", &rug]), "rug::exists");
        one_wins(&race(&db, &["machine", "lend", &number, "--to", &format!("Bo {round}")]), "machine::lent");
        one_wins(&race(&db, &["part", "fit", "needle", "--machine", &number]), "part::on");
        one_wins(&race(&db, &["job", "start", "tracing"]), "job::running");
        one_wins(&race(&db, &["job", "stop"]), "job::none");
    }
    let store = Database::open(&db).unwrap();
    assert!(verify(&store, None).unwrap().is_fine);
}

#[test]
fn a_database_that_somebody_is_just_making_is_taken_for_ours() {
    for _ in 0..rounds() * 20 {
        let (_folder, db) = place();
        let at_once = Barrier::new(WRITERS);
        std::thread::scope(|scope| {
            let open = || {
                at_once.wait();
                Database::open(&db).map(drop)
            };
            let opened: Vec<_> = (0..WRITERS).map(|_| scope.spawn(open)).collect();
            for thread in opened {
                let opened = thread.join().unwrap();
                assert!(opened.is_ok(), "{opened:?}");
            }
        });
    }
}

#[test]
fn four_machines_at_once_get_four_numbers() {
    let (_folder, db) = place();
    for round in 0..rounds() {
        let names: Vec<String> = (0..WRITERS).map(|writer| format!("Gun {round} {writer}")).collect();
        let words: Vec<[&str; 3]> = names.iter().map(|name| ["machine", "add", name]).collect();
        let words: Vec<&[&str]> = words.iter().map(<[&str; 3]>::as_slice).collect();
        for told in race_of(&db, &words) {
            assert_eq!(told.code(), 0, "{told:?}");
        }
    }
    let entries = Database::open(&db).unwrap().entries().unwrap().with_withdrawn().to_vec();
    let mut numbers: Vec<u32> = entries
        .iter()
        .filter_map(|entry| match &entry.body {
            EntryBody::MachineAdded(added) => Some(added.machine.0),
            _ => None,
        })
        .collect();
    numbers.sort_unstable();
    let all: Vec<u32> = (1..).take(rounds() * WRITERS).collect();
    assert_eq!(numbers, all);
}

#[test]
fn two_people_do_not_come_by_one_name_through_renaming() {
    let (_folder, db) = place();
    for name in ["One", "Two", "Three", "Four"] {
        assert_eq!(run(&db, &["person", "add", name]).code(), 0);
    }
    for round in 0..rounds() {
        let wanted = format!("Kim {round}");
        let words: Vec<[&str; 4]> =
            ["1", "2", "3", "4"].map(|person| ["person", "rename", person, wanted.as_str()]).to_vec();
        let words: Vec<&[&str]> = words.iter().map(<[&str; 4]>::as_slice).collect();
        one_wins(&race_of(&db, &words), "person::exists");
    }
}

const NOW: UtcMillis = UtcMillis(1_790_000_000_000);

fn machine(number: u32) -> EntryBody {
    EntryBody::MachineAdded(MachineAdded {
        machine: MachineTag(number),
        name: format!("Gun {number}"),
        pile: Pile::Cut,
        before_logger: None,
        since: NOW,
        drive: Drive::Electric,
        has_logger: None,
        is_second_hand: None,
    })
}

#[test]
fn an_act_from_a_book_that_has_grown_keeps_nothing_and_the_next_reading_lets_it_go_on() {
    let (_folder, db) = place();
    let (mut one, mut other) = (Database::open(&db).unwrap(), Database::open(&db).unwrap());
    assert_eq!(one.entries().unwrap().with_withdrawn().to_vec(), []);
    other.add_entry(NOW, &machine(1)).unwrap();
    // Read again within the same answer: what was checked first was checked on less.
    assert_eq!(one.entries().unwrap().with_withdrawn().len(), 1);
    let refused = one.together(|store| {
        store.set_name(PersonTag(1), Some("Ann"))?;
        store.add_entry(NOW, &machine(1))
    });
    assert!(matches!(refused, Err(StoreError::Grown)), "{refused:?}");
    assert_eq!((one.entries().unwrap().with_withdrawn().len(), one.names().unwrap()), (1, vec![]));
    one.add_entry(NOW, &machine(2)).unwrap();
    assert_eq!(one.entries().unwrap().with_withdrawn().len(), 2);
    other.add_entry(NOW, &EntryBody::PersonAdded(PersonAdded { person: PersonTag(1) })).unwrap();
    let refused = one.add_entry(NOW, &machine(3));
    assert!(matches!(refused, Err(StoreError::GrownHalf)), "{refused:?}");
}

#[test]
fn whoever_was_asked_meanwhile_reads_anew() {
    let (_folder, db) = place();
    let (mut one, mut other) = (Database::open(&db).unwrap(), Database::open(&db).unwrap());
    assert_eq!(one.entries().unwrap().with_withdrawn().to_vec(), []);
    other.add_entry(NOW, &machine(1)).unwrap();
    one.read_anew();
    assert_eq!(one.entries().unwrap().with_withdrawn().len(), 1);
    one.add_entry(NOW, &machine(2)).unwrap();
}
