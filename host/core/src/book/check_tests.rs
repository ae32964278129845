use super::*;
use crate::book::canonical::entry;

/// A chain over so many entries.
fn chain(entries: i64) -> Vec<Step> {
    let mut previous = Link::BEFORE_THE_FIRST;
    (1..=entries)
        .map(|id| {
            let content = entry(id, 1_000 * id, b"kind", format!("{{\"n\":{id}}}").as_bytes());
            let position = id.unsigned_abs();
            previous = Link::after(previous, position, &content);
            Step {
                position,
                covers: Covers::Entry { entry: id },
                link: Some(previous),
                content: Some(content),
            }
        })
        .collect()
}

fn check(steps: &[Step], against: Option<&str>) -> ChainReport {
    let mut checker = Checker::new(against.map(|head| head.parse().unwrap()));
    for step in steps {
        checker.step(step);
    }
    checker.finished()
}

/// The chain made anew over changed content, as somebody would who knows how it is made.
fn forged(mut steps: Vec<Step>, at: usize) -> Vec<Step> {
    steps[at].content = Some(entry(99, 0, b"forged", b"{}"));
    let mut previous = if at == 0 { Link::BEFORE_THE_FIRST } else { steps[at - 1].link.unwrap() };
    for step in &mut steps[at..] {
        previous = Link::after(previous, step.position, step.content.as_ref().unwrap());
        step.link = Some(previous);
    }
    steps
}

fn places(report: &ChainReport) -> Vec<(Option<u64>, Why)> {
    report.breaks.iter().map(|broken| (broken.step, broken.why)).collect()
}

#[test]
fn an_untouched_chain_holds_and_one_change_breaks_one_place() {
    let mut steps = chain(5);
    let report = check(&steps, None);
    assert!(report.is_fine());
    assert_eq!((report.steps, report.entries, report.head.steps), (5, 5, Some(5)));
    steps[2].content = Some(entry(3, 3_000, b"kind", b"{\"n\":4}"));
    let report = check(&steps, None);
    assert_eq!(places(&report), [(Some(3), Why::Changed)]);
    assert_eq!(report.breaks[0].covers, Some(Covers::Entry { entry: 3 }));
}

#[test]
fn an_entry_gone_a_step_gone_and_an_entry_put_in_are_told_apart() {
    let mut steps = chain(4);
    steps[1].content = None;
    assert_eq!(places(&check(&steps, None)), [(Some(2), Why::Gone)]);
    let mut steps = chain(4);
    steps.remove(1);
    assert_eq!(places(&check(&steps, None)), [(Some(2), Why::StepGone)]);
    let mut checker = Checker::new(None);
    checker.outside(Covers::Entry { entry: 7 });
    assert_eq!(places(&checker.finished()), [(None, Why::PutInPastTheChain)]);
}

#[test]
fn two_entries_that_changed_places_break_both() {
    let mut steps = chain(4);
    let (one, other) = (steps[1].content.clone(), steps[2].content.clone());
    (steps[1].content, steps[2].content) = (other, one);
    assert_eq!(places(&check(&steps, None)), [(Some(2), Why::Changed), (Some(3), Why::Changed)]);
}

#[test]
fn a_head_of_yesterday_holds_after_new_entries() {
    let yesterday = check(&chain(3), None).head.to_string();
    let report = check(&chain(6), Some(&yesterday));
    assert_eq!(report.against_result, Some(Against::Holds));
    assert!(report.is_fine());
    let bare = yesterday.split_once('-').unwrap().1;
    assert_eq!(check(&chain(6), Some(bare)).against_result, Some(Against::Holds));
}

#[test]
fn a_chain_made_anew_looks_whole_and_only_a_head_printed_before_tells() {
    let head = check(&chain(6), None).head.to_string();
    let steps = forged(chain(6), 1);
    assert!(check(&steps, None).is_whole, "without an older head nothing shows");
    let report = check(&steps, Some(&head));
    assert_eq!(report.against_result, Some(Against::Rewritten));
    assert!(!report.is_fine());
    let bare = head.split_once('-').unwrap().1;
    assert_eq!(check(&steps, Some(bare)).against_result, Some(Against::Unknown));
}

#[test]
fn entries_written_anew_after_the_head_do_not_touch_it() {
    let head = check(&chain(3), None).head.to_string();
    assert_eq!(check(&forged(chain(6), 3), Some(&head)).against_result, Some(Against::Holds));
}

#[test]
fn a_chain_cut_short_is_told() {
    let head = check(&chain(6), None).head.to_string();
    let report = check(&chain(4), Some(&head));
    assert!(report.is_whole, "a chain that was cut at its end holds in itself");
    assert_eq!(report.against_result, Some(Against::Shorter));
}

#[test]
fn a_change_before_the_head_is_told_with_it_and_one_after_it_is_not() {
    let head = check(&chain(3), None).head.to_string();
    let change = |place: usize| {
        let mut steps = chain(6);
        steps[place].content = Some(entry(0, 0, b"", b""));
        check(&steps, Some(&head)).against_result.unwrap()
    };
    assert_eq!(
        [0, 2, 3, 5].map(change),
        [Against::BrokenBefore, Against::BrokenBefore, Against::Holds, Against::Holds]
    );
}

#[test]
fn the_head_of_an_empty_chain_is_before_everything() {
    let head = check(&[], None).head.to_string();
    assert_eq!(head, format!("0-{}", "0".repeat(64)));
    assert_eq!(check(&chain(2), Some(&head)).against_result, Some(Against::Holds));
    let wrong = format!("0-{}", "1".repeat(64));
    assert_eq!(check(&chain(2), Some(&wrong)).against_result, Some(Against::Rewritten));
}

#[test]
fn more_breaks_than_are_listed_are_counted() {
    let mut steps = chain(150);
    for step in &mut steps {
        step.content = None;
    }
    let report = check(&steps, None);
    assert_eq!((report.breaks.len(), report.breaks_found), (100, 150));
}
