//! Every maximum in one place, with the relations between them checked when the crate is compiled.

use crate::units::RawAngle;

/// The needle stands still for this long: the burst has ended at its last edge. Milliseconds.
pub const IDLE_GAP_MS: u32 = 500;
/// The longest time between two strokes of a machine at work. Milliseconds; 5 strokes per second, the low end of
/// what sellers of hand machines state (common range 5 to 45 per second).
pub const SLOWEST_STROKE_MS: u32 = 200;
/// A cut may cost at most this much running. Milliseconds.
pub const RUNNING_AT_RISK_MS: u32 = 10_000;
/// A segment is written once it has run this long. Milliseconds; under the ten seconds at risk by two samples and
/// the time of the write itself, so that the promise holds at the worst moment.
pub const SEGMENT_CLOSE_MS: u32 = 9_800;
/// The longest time between two looks at the counter while the needle moves. Milliseconds.
pub const SAMPLE_MS: u32 = 50;
/// The longest that a flash chip takes to erase a sector, while nobody looks at the counter. Milliseconds; from memory, the
/// most that makers of serial flash chips state for 4 KiB.
pub const LONGEST_ERASE_MS: u32 = 400;
/// No honest segment is longer. Milliseconds. Before the look that closes it, it had run less than [`SEGMENT_CLOSE_MS`]; the
/// next edge came less than [`IDLE_GAP_MS`] later, or the burst would have ended; and the last edge that the same look sees
/// came at most one erase and one sample after that one.
pub const LONGEST_SEGMENT_MS: u32 = SEGMENT_CLOSE_MS + IDLE_GAP_MS + LONGEST_ERASE_MS + SAMPLE_MS;
/// Highest edge rate that counts exactly. Edges per second; real machines make 5 to 45 strokes per second.
pub const MAX_EDGES_PER_SECOND: u32 = 1_000;
/// A stroke rate above this is not a machine at work but noise or a wrong magnet. Edges per second.
pub const IMPLAUSIBLE_EDGES_PER_SECOND: u32 = 200;
/// The knob counts as moved when its angle differs by more than this. Steps of a 12-bit turn, about 2 degrees.
pub const KNOB_STEP: u16 = 24;
/// Length of one step of a trace in running time. Milliseconds.
pub const TRACE_STEP_MS: u16 = 500;
/// Steps of one trace: the last ten running seconds.
pub const TRACE_STEPS: usize = 20;
/// One burst in about this many carries a control trace, taken at a moment drawn beforehand.
pub const BURSTS_PER_CONTROL: u32 = 30;

/// Longest body of a link record in bytes: version byte and postcard.
pub const MAX_RECORD_BODY: usize = 192;
/// Longest run of link records in one reply, in bytes.
pub const MAX_BATCH: usize = 960;
/// Longest link message before framing, in bytes: version byte and postcard.
pub const MAX_MESSAGE: usize = 1_000;
/// Longest frame on the wire in bytes, with its check and byte stuffing, without the closing zero.
pub const MAX_FRAME: usize = MAX_MESSAGE + FRAME_CHECK + (MAX_MESSAGE + FRAME_CHECK).div_ceil(254) + 1;
/// Bytes of the check at the end of a frame's content.
pub const FRAME_CHECK: usize = 4;
/// Longest name of a firmware build in bytes.
pub const MAX_BUILD_NAME: usize = 32;

const _: () = assert!(IDLE_GAP_MS > SLOWEST_STROKE_MS, "a slow stroke must not end a burst");
const _: () = assert!(
    SEGMENT_CLOSE_MS + 2 * SAMPLE_MS + 50 <= RUNNING_AT_RISK_MS,
    "two samples and one flash write must fit between closing a segment and the ten seconds at risk"
);
const _: () = assert!(
    MAX_EDGES_PER_SECOND * 60 < 1 << 16,
    "a 16-bit counter must not wrap within a minute without a sample"
);
const _: () = assert!(
    IMPLAUSIBLE_EDGES_PER_SECOND < MAX_EDGES_PER_SECOND,
    "what is implausible must still be countable"
);
const _: () = assert!(
    TRACE_STEPS * TRACE_STEP_MS as usize == RUNNING_AT_RISK_MS as usize,
    "a trace spans ten running seconds"
);
const _: () = assert!(KNOB_STEP < RawAngle::STEPS / 8, "a knob step is a small part of a turn");
const _: () =
    assert!(2 * (MAX_RECORD_BODY + 7) < MAX_BATCH, "a batch holds at least two of the longest records");
const _: () = assert!(MAX_BATCH + 32 <= MAX_MESSAGE, "a batch and its header fit into one message");
