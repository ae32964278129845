//! How the answers grow with the years of one machine: a log of half the years and one of all, a hundred thousand bursts a
//! year, each asked with the program itself, its checks included. Prints seconds and their ratio: two is straight growth,
//! four would be the square. There is no pass mark.
//!
//! The logger is pulled daily and marks its clock chip's time hourly; once it stays on all the years (one boot), once it is
//! switched on each morning (a boot a day). Those are the shapes in which each clock reading may meet each other one. No date
//! before 2024 is believed, so most boots of the second shape have none and its running is known by its limits only; a third
//! shape puts as many bursts into daily boots since then, all of them dated.
//!
//! `cargo bench -p host --bench growth -- [years]`; ten years when no number is given.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::cast_possible_truncation,
    reason = "a benchmark may stop at the first surprise"
)]

use std::fs;
use std::hint::black_box;
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use host::app::ports::{RawRecord, Store};
use host::app::whole_book::Book;
use host::store::Database;
use host_core::entries::{
    CareDone, CareTaskName, Drive, EntryBody, Finding, Fitting, KnobMarks, MachineAdded, Pile, RugName,
    RugOrdered, RugWork, WorkChange,
};
use host_core::records::log_records::LogKey;
use host_core::records::timeline::Timeline;
use jiff::Timestamp;
use shared_types::limits::MAX_RECORD_BODY;
use shared_types::link::{LogState, LoggerStatus};
use shared_types::log::{
    Anchor, ClockSource, Event, FirmwareVersion, Press, PressKind, Record, Segment, Settings, Trace,
    encode_body,
};
use shared_types::{
    BootId, Edges, LogId, LoggerId, MachineTag, RawAngle, RecordSeq, RunMillis, Totals, UptimeMillis,
    UtcMillis,
};

const KEY: LogKey = LogKey { logger: LoggerId(1), log: LogId(1) };
const ONE: MachineTag = MachineTag(1);
const SECOND: u64 = 1_000;
const HOUR: u64 = 3_600 * SECOND;
const DAY: u64 = 24 * HOUR;
const BURSTS_A_DAY: u64 = 274;

/// What is asked; `{rug}` stands for a rug's name, `{file}` for a file to write.
const ANSWERS: [&str; 26] = [
    "hours",
    "hours check",
    "due",
    "care",
    "rug list",
    "rug sessions",
    "rug progress",
    "rug sheet {rug}",
    "rug history {rug}",
    "quote --size 90x120cm",
    "speed",
    "speed cost",
    "tear list",
    "heavy",
    "slowing",
    "exposure",
    "interval",
    "machine loans",
    "plot usage --out {file}.svg",
    "plot hours --out {file}.svg",
    "plot year --out {file}.svg",
    "plot density --out {file}.svg",
    "plot tears --out {file}.svg",
    "plot slowing --out {file}.svg",
    "book --out {file}.html",
    "done brush-out",
];

/// Pages that are timed.
const PAGES: [&str; 10] = [
    "/",
    "/machine",
    "/care",
    "/care/steps?task=oiling",
    "/cloth",
    "/picture/tears.svg",
    "/rugs",
    "/rug?name=Rug+1",
    "/rug/sheet?name=Rug+1",
    "/heavy",
];

/// The days since the first date that is believed, on the day on which this was written.
const DATED_DAYS: u64 = 1_060;

#[derive(Clone, Copy, PartialEq)]
enum Boots {
    One,
    Daily,
    DailyDated,
}

fn main() {
    let years = std::env::args().skip(1).find_map(|argument| argument.parse().ok()).unwrap_or(10_u64);
    let folder = tempfile::tempdir().unwrap();
    for (boots, name) in
        [(Boots::One, "one boot"), (Boots::Daily, "a boot a day"), (Boots::DailyDated, "a boot a day, dated")]
    {
        let of = |years: u64| {
            let db = folder.path().join(format!("{years} years, {name}.db"));
            studio(&db, boots, years);
            db
        };
        let (half, all) = (of(years / 2), of(years));
        println!("{:<30} {:>7} y {:>7} y {:>7}", name, years / 2, years, "ratio");
        line("timeline alone", timeline(&half), timeline(&all));
        for words in ANSWERS {
            line(words, answer(&half, words), answer(&all, words));
        }
        let (of_half, of_all) = (pages(&half), pages(&all));
        for ((path, half), (_, all)) in of_half.times.iter().zip(&of_all.times) {
            line(path, *half, *all);
        }
        println!("{:<30} {:>7} MB {:>6} MB", "memory of the page", of_half.memory_mb, of_all.memory_mb);
        println!();
    }
}

fn line(what: &str, half: Duration, all: Duration) {
    let ratio = all.as_secs_f64() / half.as_secs_f64();
    println!("{what:<30} {:>7.3} s {:>7.3} s {ratio:>7.2}", half.as_secs_f64(), all.as_secs_f64());
}

fn timeline(db: &Path) -> Duration {
    let book = Book::read(&Database::open(db).unwrap()).unwrap();
    let log = book.logs.first().unwrap();
    let start = Instant::now();
    black_box(Timeline::of_heard(log, &book.heard));
    start.elapsed()
}

/// The shorter of two runs of the program.
fn answer(db: &Path, words: &str) -> Duration {
    let file = db.with_extension("").display().to_string();
    let once = || {
        let start = Instant::now();
        let mut program = Command::new(env!("CARGO_BIN_EXE_needlehours"));
        program.arg("--db").arg(db).stdout(Stdio::null()).stderr(Stdio::null()).stdin(Stdio::null());
        for word in words.split(' ') {
            program.arg(word.replace("{file}", &file).replace("{rug}", "Rug 1"));
        }
        let code = program.status().unwrap().code().unwrap();
        assert!(code == 0 || code == 3, "`{words}` ended with code {code}");
        start.elapsed()
    };
    once().min(once())
}

/// What the page beside the frame took.
struct Pages {
    times: Vec<(String, Duration)>,
    /// Resident at the end; zero where the system does not tell it as Linux does.
    memory_mb: u64,
}

/// The pages from the server, in the state in which a maker meets them: it runs, and nothing was written since the last look. The
/// first look and the first one after a tap, which have to work everything out anew, stand in lines of their own.
fn pages(db: &Path) -> Pages {
    let mut server = Command::new(env!("CARGO_BIN_EXE_needlehours"))
        .args(["page", "--port", "0", "--db"])
        .arg(db)
        .stdout(Stdio::piped())
        .stdin(Stdio::null())
        .spawn()
        .unwrap();
    let mut printed = BufReader::new(server.stdout.take().unwrap());
    let mut address = String::new();
    printed.read_line(&mut address).unwrap();
    let host = address.trim().trim_start_matches("http://").trim_end_matches('/').to_owned();
    let get = |path: &str| {
        let start = Instant::now();
        let mut stream = TcpStream::connect(&host).unwrap();
        let asked = format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n");
        stream.write_all(asked.as_bytes()).unwrap();
        let mut told = Vec::new();
        stream.read_to_end(&mut told).unwrap();
        assert!(told.starts_with(b"HTTP/1.1 200"), "{path}");
        start.elapsed()
    };
    let mut times: Vec<(String, Duration)> = vec![("page /, the first time".to_owned(), get("/"))];
    for path in PAGES {
        get(path);
    }
    times.extend(PAGES.map(|path| (format!("page {path}"), get(path).min(get(path)))));
    answer(db, "done brush-out");
    times.push(("page /, after a command".to_owned(), get("/")));
    let status = fs::read_to_string(format!("/proc/{}/status", server.id())).unwrap_or_default();
    let resident = status.lines().find_map(|line| line.strip_prefix("VmRSS:")?.split_whitespace().next());
    let memory_mb = resident.and_then(|kb| kb.parse::<u64>().ok()).unwrap_or(0) / 1_024;
    server.kill().unwrap();
    server.wait().unwrap();
    Pages { times, memory_mb }
}

/// Makes the database of so many years that end today.
fn studio(db: &Path, boots: Boots, years: u64) {
    let now = Timestamp::now().as_millisecond();
    let (days, bursts_a_day) = match boots {
        Boots::One | Boots::Daily => (years * 365, BURSTS_A_DAY),
        Boots::DailyDated => (DATED_DAYS, years * 365 * BURSTS_A_DAY / DATED_DAYS),
    };
    let start = now - i64::try_from(days * DAY).unwrap();
    let at = |day: u64, time: u64| UtcMillis(start + i64::try_from(day * DAY + time).unwrap());
    let mut store = Database::open(db).unwrap();
    store.add_entries(UtcMillis(now), &entries(days, &at)).unwrap();
    let (records, totals) = (Vec::new(), Totals::default());
    let mut log = Log { records, totals, boots, bursts_a_day, start, next: RecordSeq(0) };
    for day in 0..days {
        log.day(day);
        if day % 100 == 99 || day + 1 == days {
            store.keep_records(at(day, 18 * HOUR), KEY, &std::mem::take(&mut log.records)).unwrap();
        }
        store.note_status(at(day, 18 * HOUR), &log.status(day), "bench").unwrap();
    }
}

fn entries(days: u64, at: &impl Fn(u64, u64) -> UtcMillis) -> Vec<EntryBody> {
    let LogKey { logger, log } = KEY;
    let mut said = vec![
        EntryBody::MachineAdded(MachineAdded {
            machine: ONE,
            name: "Blue".to_owned(),
            pile: Pile::Cut,
            before_logger: None,
            since: at(0, 0),
            drive: Drive::Electric,
            has_logger: None,
            is_second_hand: None,
        }),
        EntryBody::LoggerFitted(Fitting { machine: ONE, logger, log, from: RecordSeq(0) }),
        EntryBody::KnobMarked(KnobMarks {
            machine: ONE,
            slow: RawAngle::new(500),
            fast: RawAngle::new(3_500),
            rising: true,
        }),
    ];
    for (number, day) in (0..days).step_by(5).enumerate() {
        let rug = RugName(format!("Rug {number}"));
        let (width_mm, height_mm, cloth_lot) = (Some(900), Some(1_200), Some(format!("lot {}", number / 10)));
        said.push(EntryBody::RugOrdered(RugOrdered {
            rug: rug.clone(),
            width_mm,
            height_mm,
            cloth_lot,
            at: at(day, 7 * HOUR),
        }));
        let work = |change, at| EntryBody::RugWork(RugWork { rug: rug.clone(), machine: None, change, at });
        said.push(work(WorkChange::Started, at(day, 8 * HOUR)));
        said.push(work(WorkChange::Finished, at((day + 4).min(days - 1), 19 * HOUR)));
    }
    said.extend((0..days).step_by(14).map(|day| {
        EntryBody::CareDone(CareDone {
            machine: ONE,
            task: CareTaskName("oiling".to_owned()),
            at: at(day, 18 * HOUR),
            finding: Some(if day % 3 == 0 { Finding::Clean } else { Finding::GreyBlackOil }),
            note: None,
        })
    }));
    said
}

struct Log {
    records: Vec<RawRecord>,
    totals: Totals,
    boots: Boots,
    bursts_a_day: u64,
    start: i64,
    next: RecordSeq,
}

impl Log {
    fn day(&mut self, day: u64) {
        for hour in 0..24 {
            if self.boots == Boots::One || (8..19).contains(&hour) {
                self.clock(day, hour * HOUR, ClockSource::ClockChip);
            }
            if (9..17).contains(&hour) {
                let bursts = self.bursts_a_day * (hour - 8) / 8 - self.bursts_a_day * (hour - 9) / 8;
                let apart = HOUR / (bursts + 1);
                (0..bursts).for_each(|burst| self.burst(day, hour * HOUR + burst * apart + SECOND));
            }
            let pressed = match hour {
                10 => Some(PressKind::Retension),
                16 if day % 20 == 7 => Some(PressKind::Tear),
                17 if day.is_multiple_of(5) => Some(PressKind::CareDone),
                _ => None,
            };
            if let Some(kind) = pressed {
                let press = Press { kind, still_ms: 0, trace: Trace::default() };
                self.push(day, hour * HOUR + HOUR - SECOND, Event::Press(press));
            }
            if hour == 17 {
                self.clock(day, hour * HOUR + HOUR, ClockSource::Host);
            }
        }
    }

    fn clock(&mut self, day: u64, time: u64, source: ClockSource) {
        let utc = UtcMillis(self.start + i64::try_from(day * DAY + time).unwrap());
        self.push(day, time, Event::Anchor(Anchor { utc, source }));
    }

    fn burst(&mut self, day: u64, time: u64) {
        let drawn = (day * BURSTS_A_DAY + time / SECOND).wrapping_mul(2_654_435_761);
        let run = RunMillis(1_000 + (drawn >> 13) % 9_000);
        let angle = 500 + (drawn >> 7) % 3_000;
        let edges = (run.0 * (5 + angle / 100) / 1_000) as u32;
        self.totals = self.totals.plus(run, Edges(edges.into()));
        let angle = Some(RawAngle::new(angle as u16));
        self.push(day, time, Event::Segment(Segment { run, edges, angle, continues: false }));
    }

    fn push(&mut self, day: u64, time: u64, event: Event) {
        let (boot, at) = self.moment(day, time);
        let mut out = [0; MAX_RECORD_BODY];
        let body = encode_body(&Record { boot, at, event }, &mut out).unwrap().to_vec();
        self.records.push(RawRecord { seq: self.next, body });
        self.next.0 += 1;
    }

    /// How the logger stands when it is pulled at the end of a day.
    fn status(&self, day: u64) -> LoggerStatus {
        let (boot, uptime) = self.moment(day, 18 * HOUR);
        let acknowledged = RecordSeq(self.next.0 - 1);
        let (oldest, next, formatted_with) = (RecordSeq(0), self.next, Totals::default());
        LoggerStatus {
            record_version: 1,
            firmware: FirmwareVersion { major: 0, minor: 2, patch: 0 },
            build: "bench".try_into().unwrap(),
            logger: KEY.logger,
            log: LogState::Ready { log: KEY.log, oldest, next, acknowledged, formatted_with },
            boot,
            uptime,
            totals: self.totals,
            settings: Settings::default(),
            faults: 0,
        }
    }

    fn moment(&self, day: u64, time: u64) -> (BootId, UptimeMillis) {
        match self.boots {
            Boots::One => (BootId(1), UptimeMillis(day * DAY + time)),
            Boots::Daily | Boots::DailyDated => (BootId(day as u32 + 1), UptimeMillis(time - 8 * HOUR)),
        }
    }
}
