//! A chip with a nearly full log, made by the firmware library where it takes seconds instead of months.

use std::path::Path;
use std::sync::Arc;

use firmware::sim::nor::{Nor, SECTOR};
use firmware::split_mix::SplitMix64;
use firmware::store::{Layout, StartFacts, Store};
use shared_types::link::LogState;
use shared_types::log::Record;
use shared_types::{LoggerId, RecordSeq};

use crate::board_image::{Contents, FLASH_START};
use crate::power_cut::work::Work;

/// The board's flash chip. Bytes.
const CHIP_BYTES: usize = 2 * 1024 * 1024;
/// The number of the emulated flash chip, which becomes the logger's.
const CHIP_ID: LoggerId = LoggerId(0xE660_5481_DB00_0001);

/// The chip and everything that is on record in it.
#[derive(Clone, Debug)]
pub struct UsedFlash {
    nor: Nor,
    layout: Layout,
    image: Arc<Contents>,
    /// Every record ever written, its number being its place.
    pub records: Vec<Record>,
    /// The most records that one sector took.
    pub most_in_a_sector: u32,
}

impl UsedFlash {
    /// Fills the log until all sectors of its region but the last hold records.
    ///
    /// # Panics
    /// When the library does not take the records.
    #[must_use]
    pub fn make(image: &Path, seed: u64) -> Self {
        let image = Arc::new(Contents::read(image));
        let place = |name: &str| u32::try_from(image.symbols[name] - FLASH_START).expect("a place in flash");
        let layout = Layout {
            settings: place("_settings_start")..place("_settings_end"),
            log: place("_log_start")..place("_log_end"),
        };
        let nor = Nor::new(CHIP_BYTES / SECTOR, seed);
        let mut used = Self { nor, layout, image, records: Vec::new(), most_in_a_sector: 0 };
        let last = used.layout.log.end / SECTOR as u32 - 1;
        let mut store = used.open(used.nor.clone());
        let mut work = Work::new(seed);
        let (mut sector, mut in_sector) = (0, 0);
        while store.flash().last_programmed_sector() != last {
            let record = work.next(store.boot());
            let RecordSeq(seq) = store.append(&record).expect("no cut here");
            assert_eq!(seq as usize, used.records.len(), "numbers without gaps");
            used.records.push(record);
            let now_in = store.flash().last_programmed_sector();
            in_sector = if now_in == sector { in_sector + 1 } else { 1 };
            sector = now_in;
            used.most_in_a_sector = used.most_in_a_sector.max(in_sector);
        }
        let below = RecordSeq(used.records.len() as u32 / 2);
        store.acknowledge(below).expect("no cut here");
        used.nor = store.into_flash();
        used
    }

    /// The same with up to `most` more records, so that some logs are nearly full, and some have begun to give up their oldest.
    ///
    /// # Panics
    /// As [`Self::make`].
    #[must_use]
    pub fn with_more(&self, seed: u64, most: u64) -> Self {
        let mut used = self.clone();
        let mut store = used.open(used.nor.clone());
        let mut work = Work::new(seed);
        for _ in 0..SplitMix64::new(seed).below(most) {
            let record = work.anything(store.boot());
            store.append(&record).expect("no cut here");
            used.records.push(record);
        }
        used.nor = store.into_flash();
        used
    }

    /// The whole chip's content with the image in it.
    #[must_use]
    pub fn content(&self) -> Vec<u8> {
        let mut nor = self.nor.clone();
        for piece in &self.image.pieces {
            nor.load(piece.offset as usize, &piece.bytes);
        }
        nor.bytes().to_vec()
    }

    /// The number that the next record will get, and the oldest one that is still there.
    ///
    /// # Panics
    /// When the log cannot be read.
    #[must_use]
    pub fn span(&self) -> (u32, u32) {
        let LogState::Ready { oldest, next, .. } = self.open(self.nor.clone()).log_state() else {
            panic!("the log is unreadable")
        };
        (oldest.0, next.0)
    }

    /// Reads all records of a chip with this layout: what the library makes of what the image has left.
    ///
    /// # Errors
    /// What stands in the way.
    pub fn read_all(&self, content: &[u8]) -> Result<Vec<(u32, Record)>, String> {
        let mut nor = Nor::new(CHIP_BYTES / SECTOR, 0);
        nor.load(0, content);
        let facts = StartFacts { chip_id: Some(CHIP_ID), random: 11 };
        let mut store =
            Store::open(nor, self.layout.clone(), facts).map_err(|(error, _)| error.to_string())?;
        let mut records = Vec::new();
        let end = store
            .read_from(RecordSeq(0), &mut |seq, record| {
                records.push((seq.0, record.clone()));
                true
            })
            .map_err(|error| error.to_string())?;
        if end.reached_end { Ok(records) } else { Err("the log does not end".to_owned()) }
    }

    fn open(&self, nor: Nor) -> Store<Nor> {
        let facts = StartFacts { chip_id: Some(CHIP_ID), random: 11 };
        match Store::open(nor, self.layout.clone(), facts) {
            Ok(store) => store,
            Err((error, _)) => panic!("the log does not open: {error}"),
        }
    }
}
