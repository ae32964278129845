//! How the machine ran before a press. A tear makes the hand drop the trigger and turn the knob down, so what counts is the time
//! before the last running second, never the knob at the press.

use shared_types::limits::TRACE_STEP_MS;
use shared_types::log::Trace;

use crate::entries::KnobMarks;
use crate::records::knob::{self, PerMille};

/// The end of a trace that is left out: at least this much running before the press, in whole steps. Milliseconds.
pub const LEFT_OUT_MS: u32 = 1_000;

/// How the machine ran before a press.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Before {
    /// The knob's place: the mean over the steps that count, weighted by their edges.
    pub knob: Option<PerMille>,
    /// Edges in the steps that count.
    pub edges: u64,
    /// Running time of the steps that count, in milliseconds.
    pub run_ms: u64,
}

/// Reads a trace. The newest steps are left out until they hold a second of running; steps without an angle say nothing about
/// the knob; where nothing is left, nothing is known.
#[must_use]
pub fn before(trace: &Trace, marks: Option<&KnobMarks>) -> Before {
    let mut left_out = 0_u32;
    let newest_first = trace.steps.iter().rev().enumerate().filter(|(age, _)| {
        let counts = left_out >= LEFT_OUT_MS;
        left_out += u32::from(if *age == 0 { trace.newest_ms } else { TRACE_STEP_MS });
        counts
    });
    let mut before = Before::default();
    let (mut weighted, mut weight) = (0_u64, 0_u64);
    for (_, step) in newest_first {
        before.edges += u64::from(step.edges);
        before.run_ms += u64::from(TRACE_STEP_MS);
        let place = marks.zip(step.angle).and_then(|(marks, angle)| knob::place(marks, angle));
        if let Some(place) = place {
            weighted += u64::from(step.edges) * u64::from(place.per_mille.get());
            weight += u64::from(step.edges);
        }
    }
    before.knob = (weighted + weight / 2)
        .checked_div(weight)
        .and_then(|mean| u16::try_from(mean).ok())
        .and_then(PerMille::new);
    before
}

#[cfg(test)]
mod tests {
    use super::*;
    use shared_types::log::TraceStep;
    use shared_types::{MachineTag, RawAngle};

    /// Per mille and angle are the same number here: marks at 0 and 1000.
    const MARKS: KnobMarks =
        KnobMarks { machine: MachineTag(1), slow: RawAngle::new(0), fast: RawAngle::new(1000), rising: true };

    fn trace(newest_ms: u16, steps: &[(u16, Option<u16>)]) -> Trace {
        let steps =
            steps.iter().map(|(edges, angle)| TraceStep { edges: *edges, angle: angle.map(RawAngle::new) });
        Trace { newest_ms, steps: steps.collect() }
    }

    #[test]
    fn the_knob_turned_down_at_the_press_does_not_count() {
        // The two newest steps hold 500 ms each and are left out; (10 * 800 + 30 * 600) / 40 = 650 by hand.
        let seen = trace(500, &[(10, Some(800)), (30, Some(600)), (9, Some(20)), (2, Some(0))]);
        let before = before(&seen, Some(&MARKS));
        assert_eq!(before.knob.unwrap().get(), 650);
        assert_eq!((before.edges, before.run_ms), (40, 1000));
    }

    #[test]
    fn a_begun_newest_step_leaves_out_one_more() {
        let seen = trace(200, &[(10, Some(800)), (10, Some(600)), (10, Some(400)), (2, Some(0))]);
        assert_eq!(before(&seen, Some(&MARKS)).knob.unwrap().get(), 800);
    }

    #[test]
    fn a_run_of_one_second_or_less_tells_nothing() {
        assert_eq!(before(&trace(500, &[(10, Some(500)), (10, Some(500))]), Some(&MARKS)), Before::default());
        assert_eq!(before(&Trace::default(), Some(&MARKS)), Before::default());
    }

    #[test]
    fn steps_without_an_angle_and_machines_without_marks_have_no_knob() {
        let seen = trace(500, &[(10, None), (10, Some(300)), (9, Some(0)), (9, Some(0))]);
        assert_eq!(before(&seen, Some(&MARKS)).knob.unwrap().get(), 300);
        assert_eq!(before(&seen, None).knob, None);
        assert_eq!(before(&seen, None).edges, 20);
    }
}
