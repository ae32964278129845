//! Start of the store: identity, boot number, mount of the log.

use core::ops::Range;

use embedded_storage::nor_flash::NorFlash;
use shared_types::log::Settings;
use shared_types::{BootId, LogId, LoggerId, RecordSeq, Totals};

use super::{StartFacts, StoreError};
use crate::flash_log::{FlashLog, FormatParams, FormatProgress, Mounted, Ring, mount};
use crate::settings::{Kept, Slots};
use crate::split_mix::mixed;

/// Content of the flash at a start.
pub(super) struct Started {
    pub(super) slots: Slots,
    pub(super) kept: Kept,
    pub(super) log: Option<FlashLog>,
    pub(super) format: Option<FormatProgress>,
    /// An identity was drawn, or taken from the log; or a log is to be begun.
    pub(super) is_new: bool,
}

pub(super) fn start<F: NorFlash>(
    flash: &mut F,
    settings: Range<u32>,
    ring: Ring,
    facts: StartFacts,
) -> Result<Started, StoreError<F::Error>> {
    let (slots, found) = Slots::find(flash, settings)?;
    let wanted = found.and_then(|kept| kept.log);
    let formatting = found.is_some_and(|kept| kept.formatting);
    let mounted = mount(flash, ring, wanted)?;
    let mut kept = found.unwrap_or_else(|| Kept {
        logger: drawn_logger(facts),
        boot: BootId(0),
        log: None,
        formatting: false,
        next: RecordSeq(0),
        totals: Totals::default(),
        settings: Settings::default(),
    });
    let mut log = None;
    let mut format = None;
    match mounted {
        Mounted::Log(mut mounted) => {
            if found.is_none() {
                // The slots are gone, but the log remembers who wrote it.
                kept.logger = mounted.logger();
            }
            kept.boot = kept.boot.max(mounted.last_boot());
            if wanted.is_some() && !formatting {
                mounted.raise(kept.next, kept.totals);
            }
            kept.formatting = false;
            kept.log = Some(mounted.id());
            kept.next = mounted.next_seq();
            kept.totals = mounted.totals();
            log = Some(mounted);
        }
        Mounted::Foreign if formatting => format = Some(FormatProgress::begin()),
        Mounted::Blank => {
            // Blank under a log that was once finished: a new one, so that its numbers are not taken for the old one's.
            if !formatting {
                kept.log = Some(drawn_log(facts.random ^ u64::from(kept.boot.0)));
            }
            format = Some(FormatProgress::of_blank(&ring));
            kept.formatting = true;
            kept.next = RecordSeq(0);
        }
        Mounted::Foreign => {}
    }
    kept.boot = BootId(kept.boot.0.saturating_add(1));
    let is_new = found.is_none() || format.is_some_and(|format| format.is_nearly_done(&ring));
    Ok(Started { slots, kept, log, format, is_new })
}

/// One step of a format; at its end clears the flag in the settings.
pub(super) fn continue_format<F: NorFlash>(
    flash: &mut F,
    slots: &mut Slots,
    kept: &mut Kept,
    ring: Ring,
    format: &mut Option<FormatProgress>,
) -> Result<Option<FlashLog>, StoreError<F::Error>> {
    let Some(step) = format.as_mut() else { return Ok(None) };
    let log = kept.log.unwrap_or_else(|| drawn_log(kept.logger.0));
    let params = FormatParams { logger: kept.logger, log, boot: kept.boot, totals: kept.totals };
    let made = step.step(flash, ring, params)?;
    if made.is_some() {
        *format = None;
        kept.formatting = false;
        slots.write(flash, kept)?;
    }
    Ok(made)
}

/// The chip's own number alone does not do: some chips have none, and some answer with the same as all of their kind.
fn drawn_logger(facts: StartFacts) -> LoggerId {
    let chip = facts.chip_id.map_or(0, |id| id.0);
    LoggerId(mixed(chip ^ mixed(facts.random)) | 1)
}

pub(super) fn drawn_log(random: u64) -> LogId {
    let [a, b, c, d, ..] = mixed(random ^ 0x6C6F_675F_6964).to_le_bytes();
    LogId(u32::from_le_bytes([a, b, c, d]) | 1)
}
