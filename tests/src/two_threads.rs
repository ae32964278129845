//! The same work for many items, on two threads.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc;

/// What comes out for each item, in their order.
pub fn each<Item: Sync, Outcome: Send>(
    items: &[Item],
    work: impl Fn(&Item) -> Outcome + Sync,
) -> Vec<Outcome> {
    let next = AtomicUsize::new(0);
    let (done, outcomes) = mpsc::channel();
    std::thread::scope(|scope| {
        for _ in 0..2 {
            let (next, work, done) = (&next, &work, done.clone());
            scope.spawn(move || {
                loop {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    let Some(item) = items.get(at) else { break };
                    if done.send((at, work(item))).is_err() {
                        break;
                    }
                }
            });
        }
    });
    drop(done);
    let mut outcomes: Vec<(usize, Outcome)> = outcomes.into_iter().collect();
    outcomes.sort_by_key(|(at, _)| *at);
    outcomes.into_iter().map(|(_, outcome)| outcome).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outcomes_come_in_the_order_of_the_items() {
        let items: Vec<u64> = (0..100).collect();
        let squares: Vec<u64> = items.iter().map(|item| item * item).collect();
        assert_eq!(each(&items, |item| item * item), squares);
        assert!(each(&[], |item: &u64| *item).is_empty());
    }
}
