//! What other firmware than this may know: records that version 0.1.0 does not, and records that this one does not.
//!
//! A newer kind of entry leaves the base alone and carries neither run time nor edges, so whoever does not know it steps over it
//! and loses nothing else. A whole record (code 48) of an event that is not known here was written by a firmware that did not
//! keep to the later code; its boot and moment stand in front of the event and can be read all the same.

use shared_types::log::{Event, Fault, Record};
use shared_types::{BootId, UptimeMillis};

use super::bytes::ByteReader;

/// Faults of version 0.1.0 have smaller numbers.
const FIRST_NEWER_FAULT: Fault = Fault::StampsAlone;

/// Numbers of the contract's enums, of which only the first of a later kind matters here: the reasons of a start, the kinds of a
/// press, the sources of an anchor, the events.
const REASONS: u64 = 4;
const PRESS_KINDS: u64 = 4;
const CLOCK_SOURCES: u64 = 2;
const EVENTS: u64 = 8;

/// Whether firmware 0.1.0 reads a record of this event. What is added to the contract later belongs on the other side.
pub(super) fn is_known_to_0_1_0(event: &Event) -> bool {
    match event {
        Event::Fault(change) => change.fault.bit() < FIRST_NEWER_FAULT.bit(),
        Event::Started(_)
        | Event::Segment(_)
        | Event::Press(_)
        | Event::Control(_)
        | Event::Anchor(_)
        | Event::Settings(_)
        | Event::Fitted(_) => true,
    }
}

/// Whether a record may stand under the later code: of the base's boot, and no running.
pub(super) fn may_stand_apart(record: &Record, boot: BootId) -> bool {
    record.boot == boot && !matches!(record.event, Event::Segment(_))
}

/// Boot and moment of a whole record that does not decode because its event, or a number within it, was added later; `None` for
/// anything else that does not decode.
pub(super) fn moment_of_later(body: &[u8]) -> Option<(BootId, UptimeMillis)> {
    let mut reader = ByteReader::new(body);
    let boot = BootId(u32::try_from(reader.take_varint()?).ok()?);
    let at = UptimeMillis(reader.take_varint()?);
    let is_later = match reader.take_varint()? {
        0 => reader.take_varint()? >= REASONS,
        2 => reader.take_varint()? >= PRESS_KINDS,
        4 => {
            reader.take_varint()?;
            reader.take_varint()? >= CLOCK_SOURCES
        }
        6 => usize::try_from(reader.take_varint()?).is_ok_and(|fault| fault >= Fault::ALL.len()),
        // A segment, a trace, settings and a fitting hold no numbers that can grow.
        event => event >= EVENTS,
    };
    is_later.then_some((boot, at))
}

#[cfg(test)]
mod tests {
    use shared_types::log::FaultChange;

    use super::*;

    // Written by hand after FORMAT.md: boot 7, uptime 300 = 0x2c + 2 * 128, then the event.
    const FRONT: [u8; 3] = [7, 0xAC, 2];
    const MOMENT: (BootId, UptimeMillis) = (BootId(7), UptimeMillis(300));

    fn moment(event: &[u8]) -> Option<(BootId, UptimeMillis)> {
        moment_of_later(&[&FRONT, event].concat())
    }

    #[test]
    fn the_moment_stands_in_front_of_an_event_that_is_not_known() {
        // Event 8; fault 14; reason 4; press 4; an anchor 1 ms after 1970 (zigzag 2) of source 2.
        for event in [&[8, 1, 2, 3][..], &[6, 14, 1], &[0, 4], &[2, 4], &[4, 2, 2]] {
            assert_eq!(moment(event), Some(MOMENT), "{event:?}");
        }
    }

    #[test]
    fn what_is_known_and_cut_short_is_not_taken_for_something_later() {
        // A segment, a control, settings and a fitting without their fields; fault 13, reason 3, press 3, source 1; nothing at all.
        for event in [&[1][..], &[3], &[5], &[7], &[6, 13], &[0, 3], &[2, 3], &[4, 2, 1], &[]] {
            assert_eq!(moment(event), None, "{event:?}");
        }
        assert_eq!(moment_of_later(&[0xFF; 3]), None);
    }

    #[test]
    fn the_faults_of_0_1_0_are_the_eleven_in_its_format() {
        // FORMAT.md of 0.1.0 lists faults 0 to 10.
        let known = Fault::ALL.into_iter().filter(|fault| {
            let change = FaultChange { fault: *fault, present: true };
            is_known_to_0_1_0(&Event::Fault(change))
        });
        assert_eq!(known.count(), 11);
    }
}
