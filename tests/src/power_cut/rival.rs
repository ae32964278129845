//! The same work on a library's queue, with what it needs to survive: 4-byte words, and a scrub of half-erased pages
//! before it is read. A record goes in as the link would send it, with its number in front.

use std::collections::BTreeMap;
use std::future::Future;
use std::ops::Range;
use std::pin::pin;
use std::task::{Context, Poll, Waker};

use embedded_storage_async::nor_flash::{ErrorType, MultiwriteNorFlash, NorFlash, ReadNorFlash};
use firmware::sim::nor::{ERASE_STEPS, Nor, NorCounts, NorError, SECTOR};
use firmware::split_mix::SplitMix64;
use sequential_storage::Error;
use sequential_storage::cache::page_pointers::ArrayPagePointers;
use sequential_storage::cache::page_states::ArrayPageStates;
use sequential_storage::cache::{Cache, Uncached};
use sequential_storage::queue::{QueueConfig, QueueStorage};
use shared_types::BootId;
use shared_types::log::Record;

use super::work::Work;

/// The chip as the queue must see it.
struct Words<'nor>(&'nor mut Nor);

impl ErrorType for Words<'_> {
    type Error = NorError;
}

impl ReadNorFlash for Words<'_> {
    const READ_SIZE: usize = 1;

    async fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorError> {
        embedded_storage::nor_flash::ReadNorFlash::read(self.0, offset, bytes)
    }

    fn capacity(&self) -> usize {
        embedded_storage::nor_flash::ReadNorFlash::capacity(self.0)
    }
}

impl NorFlash for Words<'_> {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = SECTOR;

    async fn erase(&mut self, from: u32, to: u32) -> Result<(), NorError> {
        embedded_storage::nor_flash::NorFlash::erase(self.0, from, to)
    }

    async fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorError> {
        embedded_storage::nor_flash::NorFlash::write(self.0, offset, bytes)
    }
}

impl MultiwriteNorFlash for Words<'_> {}

/// Nothing here ever waits, so one poll is all.
fn now<T>(future: impl Future<Output = T>) -> T {
    match pin!(future).poll(&mut Context::from_waker(Waker::noop())) {
        Poll::Ready(value) => value,
        Poll::Pending => panic!("the simulated chip made somebody wait"),
    }
}

type PageCache<const PAGES: usize> = Cache<ArrayPageStates<PAGES>, ArrayPagePointers<PAGES>, Uncached>;

struct Queue<'nor, const PAGES: usize> {
    queue: QueueStorage<Words<'nor>, PageCache<PAGES>>,
    next: u32,
    found: Vec<u32>,
}

impl<'nor, const PAGES: usize> Queue<'nor, PAGES> {
    fn open(nor: &'nor mut Nor, scrubbed: bool) -> Result<Self, Error<NorError>> {
        let region = 0..(PAGES * SECTOR) as u32;
        if scrubbed {
            scrub(nor, region.clone()).map_err(|value| Error::Storage { value })?;
        }
        let cache = Cache::new(ArrayPageStates::new(), ArrayPagePointers::new(), Uncached);
        let mut queue = QueueStorage::new(Words(nor), QueueConfig::new(region), cache);
        let mut found = Vec::new();
        now(async {
            // A whole page: junk with a matching length check is otherwise an error for ever.
            let mut buffer = [0; SECTOR];
            let mut entries = queue.iter().await?;
            while let Some(entry) = entries.next(&mut buffer).await? {
                if let Ok((seq, _)) = postcard::from_bytes::<(u32, Record)>(&entry) {
                    found.push(seq);
                }
            }
            Ok::<(), Error<NorError>>(())
        })?;
        Ok(Self { queue, next: found.last().map_or(0, |last| last + 1), found })
    }

    fn chip(&mut self) -> &Nor {
        self.queue.flash().0
    }

    fn push(&mut self, record: &Record) -> Result<u32, Error<NorError>> {
        let mut bytes = [0; 256];
        let used = postcard::to_slice(&(self.next, record), &mut bytes).expect("a record fits 256 bytes");
        now(self.queue.push(used, true))?;
        self.next += 1;
        Ok(self.next - 1)
    }
}

/// Erases every page that is neither blank nor properly begun, and of two neighbours that are both half full the second.
fn scrub(nor: &mut Nor, region: Range<u32>) -> Result<(), NorError> {
    let pages = region.len() / SECTOR;
    let mut half_full = vec![false; pages];
    for page in 0..pages {
        let start = region.start as usize + page * SECTOR;
        let mut bytes = vec![0; SECTOR];
        embedded_storage::nor_flash::ReadNorFlash::read(nor, start as u32, &mut bytes)?;
        let begun = bytes[0] == 0;
        let blank = bytes.iter().all(|byte| *byte == 0xFF);
        half_full[page] = begun && bytes[SECTOR - 1].count_zeros() < 4;
        let follows_half_full = half_full[page] && page > 0 && half_full[page - 1];
        if (!begun && !blank) || follows_half_full {
            embedded_storage::nor_flash::NorFlash::erase(nor, start as u32, (start + SECTOR) as u32)?;
            half_full[page] = false;
        }
    }
    if pages > 2 && half_full[0] && half_full[pages - 1] {
        embedded_storage::nor_flash::NorFlash::erase(nor, region.start, region.start + SECTOR as u32)?;
    }
    Ok(())
}

/// What the torture found.
#[derive(Clone, Copy, Debug, Default)]
pub struct RivalTally {
    /// Times the power went.
    pub cuts: u64,
    /// Promised records that are gone, though the page that they were written to was never erased since.
    pub lost: u64,
    /// Writes refused though the power was on.
    pub failed: u64,
    /// Lives that ended with a queue that could not be opened.
    pub bricked: u64,
}

/// Lives of a queue of eight pages, with or without the scrub, on a chip with or without weak bits.
#[must_use]
pub fn torture(seed: u64, lives: u64, cuts: u64, scrubbed: bool, weak_bits: bool) -> RivalTally {
    let mut tally = RivalTally::default();
    for life in 0..lives {
        let mut rng = SplitMix64::new(seed ^ (life << 32));
        let mut nor = Nor::new(8, rng.next_u64());
        if !weak_bits {
            nor.leave_no_weak_bits();
        }
        let mut work = Work::new(rng.next_u64());
        let mut promised = Promises::new();
        for _ in 0..cuts {
            match rng.below(8) {
                0 => nor.cut_after(rng.below(20)),
                1 | 2 => nor.cut_after(rng.below(600)),
                3 | 4 => nor.cut_in_erase(rng.below(ERASE_STEPS)),
                _ => nor.cut_after(rng.below(6_000)),
            }
            tally.cuts += 1;
            let opened = one_power_on(&mut nor, &mut work, &mut promised, scrubbed, &mut tally);
            nor.power_on();
            if !opened {
                tally.bricked += 1;
                break;
            }
        }
    }
    tally
}

/// Where each promised record was written, and how often that page had been erased by then.
type Promises = BTreeMap<u32, (usize, u32)>;

/// False when the queue cannot be opened.
fn one_power_on(
    nor: &mut Nor,
    work: &mut Work,
    promised: &mut Promises,
    scrubbed: bool,
    tally: &mut RivalTally,
) -> bool {
    let mut queue = match Queue::<8>::open(nor, scrubbed) {
        Ok(queue) => queue,
        Err(Error::Storage { .. }) => return true,
        Err(_) => return false,
    };
    let missing: Vec<u32> =
        promised.keys().filter(|seq| queue.found.binary_search(seq).is_err()).copied().collect();
    for (page, erases) in missing.iter().filter_map(|seq| promised.remove(seq)) {
        tally.lost += u64::from(queue.chip().erases_of(page) == erases);
    }
    loop {
        match queue.push(&work.next(BootId(1))) {
            Ok(seq) => {
                let page = queue.chip().last_programmed_sector() as usize;
                promised.insert(seq, (page, queue.chip().erases_of(page)));
            }
            Err(Error::Storage { .. }) => return true,
            Err(_) => {
                tally.failed += 1;
                return true;
            }
        }
    }
}

/// Bytes of flash per burst, everything included.
#[must_use]
pub fn bytes_per_burst(seed: u64) -> f64 {
    let mut nor = Nor::new(16, seed);
    let mut work = Work::new(seed);
    let mut queue = Queue::<16>::open(&mut nor, true).expect("a blank chip opens");
    // Fourteen pages and no wrap: pages begun, less the one that is not full.
    while queue.chip().bytes()[14 * SECTOR] == 0xFF {
        queue.push(&work.next(BootId(1))).expect("no cut here");
    }
    14.0 * SECTOR as f64 / work.bursts as f64
}

/// What one start reads from a full log of 470 pages.
#[must_use]
pub fn boot_cost(seed: u64) -> NorCounts {
    let mut nor = Nor::new(470, seed);
    let mut work = Work::new(seed);
    {
        let mut queue = Queue::<470>::open(&mut nor, true).expect("a blank chip opens");
        while queue.chip().bytes()[469 * SECTOR] == 0xFF {
            queue.push(&work.next(BootId(1))).expect("no cut here");
        }
    }
    nor.reset_counts();
    let opened = Queue::<470>::open(&mut nor, true).map(|queue| queue.next);
    assert!(opened.is_ok(), "the full log opens");
    nor.counts()
}
