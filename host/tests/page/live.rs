//! Live values: strokes that come in, hands that stay off, and an end that waits for nobody.
#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use std::io::{BufRead as _, BufReader, Write as _};

use crate::bench_studio::{Log, Studio};
use crate::site::{Site, connect};
use host::app::ports::{Batch, Logger, LoggerError};
use host::page::{Board, NoBoard, Refused};
use shared_types::link::{Live, LoggerStatus};
use shared_types::log::Settings;
use shared_types::{LogId, MachineTag, RawAngle, RecordSeq, UptimeMillis, UtcMillis};

/// A machine that runs at ten strokes a second, its knob half way.
struct Runs {
    looks: u32,
}

impl Board for Runs {
    fn port(&mut self) -> Option<String> {
        Some("made up".to_owned())
    }

    fn open(&mut self, _: &str) -> Result<Box<dyn Logger>, LoggerError> {
        Ok(Box::new(Self { looks: self.looks }))
    }

    fn read(&mut self, _: &str) -> Result<(), Refused> {
        Ok(())
    }
}

impl Logger for Runs {
    fn status(&mut self) -> Result<LoggerStatus, LoggerError> {
        let settings = Settings { machine: MachineTag(1), ..Settings::default() };
        Ok(LoggerStatus { settings, ..Log::new().status() })
    }

    fn read_from(&mut self, _: LogId, _: RecordSeq) -> Result<Batch, LoggerError> {
        Ok(Batch::default())
    }

    fn acknowledge(&mut self, _: LogId, _: RecordSeq) -> Result<(), LoggerError> {
        Ok(())
    }

    fn set_clock(&mut self, _: UtcMillis) -> Result<(), LoggerError> {
        Ok(())
    }

    fn apply(&mut self, _: Settings) -> Result<(), LoggerError> {
        Ok(())
    }

    fn fit(&mut self, _: MachineTag) -> Result<(), LoggerError> {
        Ok(())
    }

    fn live(&mut self) -> Result<Live, LoggerError> {
        self.looks += 1;
        Ok(Live {
            uptime: UptimeMillis(u64::from(self.looks) * 1_000),
            edges_since_start: self.looks * 10,
            angle: Some(RawAngle::new(500)),
            faults: 0,
            gain: None,
        })
    }

    fn place(&self) -> String {
        "made up".to_owned()
    }
}

#[test]
fn strokes_and_knob_are_told_as_they_happen_and_hands_stay_off() {
    let studio = Studio::new();
    studio.ok(&["speed", "ceiling", "set", "40%"]);
    let site = Site::with(studio, None, Box::new(Runs { looks: 0 }));
    let mut stream = connect(&site.host());
    stream.write_all(format!("GET /live HTTP/1.1\r\nHost: {}\r\n\r\n", site.host()).as_bytes()).unwrap();
    let mut lines = BufReader::new(stream).lines().map_while(Result::ok);
    let told = lines.find(|line| line.contains("10.0 strokes a second")).unwrap();
    assert!(told.contains("\"knob\":\"knob at 50 %, your ceiling 40 %\""), "{told}");
    assert!(told.contains("\"is_over\":true") && told.contains("\"hands_off\":true"), "{told}");
    let now = site.get("/").body;
    assert!(now.contains("data-hands disabled") && now.contains("10.0 strokes a second"), "{now}");
    for never in ["stopped", "safe"] {
        assert!(!now.contains(never), "{now}");
    }
    // It is a courtesy, no guard: what was tapped all the same is saved.
    assert!(site.tap("/tap/tear", &[("machine", "1")]).body.contains("Saved"));
}

#[test]
fn a_stream_that_stays_open_does_not_hold_the_end() {
    let site = Site::with(Studio::new(), None, Box::new(NoBoard));
    let mut stream = connect(&site.host());
    stream.write_all(format!("GET /live HTTP/1.1\r\nHost: {}\r\n\r\n", site.host()).as_bytes()).unwrap();
    let mut lines = BufReader::new(stream).lines();
    let first = lines.find_map(|line| line.ok().filter(|line| line.starts_with("data:"))).unwrap();
    assert!(first.contains("\"is_plugged\":false"), "{first}");
    site.end();
    assert!(lines.map_while(Result::ok).all(|line| !line.contains("rate")), "nothing more is told");
}
