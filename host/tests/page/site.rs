//! The server in a thread, and a small client that speaks plain HTTP.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may stop at the first surprise")]

use std::io::{Read as _, Write as _};
use std::net::{IpAddr, SocketAddr, TcpStream};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::mpsc::channel;
use std::thread::{self, JoinHandle};
use std::time::Duration;

use host::app::ports::{Clock, StoreError};
use host::page::{Board, Listening, NoBoard, PageClock, World, serve};
use host::store::Database;
use shared_types::UtcMillis;
use tokio::sync::oneshot;

use crate::bench_studio::{MONDAY_8, Studio};

/// Four hours after Monday at eight, and a second later at each look.
#[derive(Default)]
struct Ticking(AtomicI64);

impl Clock for Ticking {
    fn now(&self) -> UtcMillis {
        let seconds = self.0.fetch_add(1, Ordering::Relaxed);
        UtcMillis(MONDAY_8 + 4 * 3_600_000 + seconds * 1_000)
    }

    fn zone(&self) -> jiff::tz::TimeZone {
        jiff::tz::TimeZone::UTC
    }
}

/// The page of a studio.
pub struct Site {
    pub studio: Studio,
    pub listening: Listening,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Site {
    /// On this computer alone, without a board.
    pub fn of(studio: Studio) -> Self {
        Self::with(studio, None, Box::new(NoBoard))
    }

    pub fn with(studio: Studio, for_phones: Option<IpAddr>, board: Box<dyn Board>) -> Self {
        let path: PathBuf = studio.path();
        let world = World {
            open: move || Database::open(&path),
            clock: PageClock(Arc::new(Ticking::default())),
            board,
            port: 0,
            for_phones,
        };
        let (stop, stopped) = oneshot::channel::<()>();
        let (told, listening) = channel();
        let thread = thread::spawn(move || {
            let stop = async { stopped.await.unwrap_or_default() };
            let outcome: Result<(), StoreError> =
                serve(world, |at| told.send(at.clone()).unwrap(), stop).unwrap();
            outcome.unwrap();
        });
        let listening = listening.recv_timeout(Duration::from_secs(30)).unwrap();
        Self { studio, listening, stop: Some(stop), thread: Some(thread) }
    }

    /// The name under which it may be asked for.
    pub fn host(&self) -> String {
        host_of(&self.listening.address)
    }

    pub fn get(&self, path: &str) -> Answer {
        ask(
            &self.host(),
            &format!("GET {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", self.host()),
        )
    }

    /// As a browser sends a form.
    pub fn post(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let origin = format!("Origin: http://{}\r\n", self.host());
        self.post_with(path, &origin, fields)
    }

    pub fn post_with(&self, path: &str, headers: &str, fields: &[(&str, &str)]) -> Answer {
        ask(&self.host(), &form(&self.host(), path, headers, fields))
    }

    /// The token and number that stand in the first form of a page.
    pub fn form_of(&self, path: &str) -> (String, String) {
        let body = self.get(path).body;
        (value_of(&body, "token"), value_of(&body, "number"))
    }

    /// Taps with a new form, follows where it leads to, and returns that page.
    pub fn tap(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let (token, number) = self.form_of("/");
        let all: Vec<(&str, &str)> = [("token", token.as_str()), ("number", number.as_str())]
            .into_iter()
            .chain(fields.iter().copied())
            .collect();
        let answer = self.post(path, &all);
        match answer.header("location") {
            Some(to) => self.get(&to),
            None => answer,
        }
    }

    /// Ends it; a stream that is open does not hold it.
    pub fn end(mut self) -> Studio {
        self.stop.take().unwrap().send(()).unwrap();
        self.thread.take().unwrap().join().unwrap();
        std::mem::replace(&mut self.studio, Studio::empty())
    }
}

impl Drop for Site {
    fn drop(&mut self) {
        drop(self.stop.take());
        if let Some(thread) = self.thread.take() {
            thread.join().unwrap_or_default();
        }
    }
}

pub fn host_of(address: &str) -> String {
    address.trim_start_matches("http://").split('/').next().unwrap().to_owned()
}

pub fn form(host: &str, path: &str, headers: &str, fields: &[(&str, &str)]) -> String {
    let body: Vec<String> = fields.iter().map(|(name, value)| format!("{name}={}", encoded(value))).collect();
    let body = body.join("&");
    format!(
        "POST {path} HTTP/1.1\r\nHost: {host}\r\n{headers}Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\nConnection: close\r\n\r\n{body}",
        body.len()
    )
}

pub fn encoded(text: &str) -> String {
    text.bytes()
        .map(
            |byte| {
                if byte.is_ascii_alphanumeric() {
                    char::from(byte).to_string()
                } else {
                    format!("%{byte:02X}")
                }
            },
        )
        .collect()
}

/// The value of a hidden field.
pub fn value_of(body: &str, name: &str) -> String {
    let mark = format!("name=\"{name}\" value=\"");
    body.split(&mark).nth(1).and_then(|rest| rest.split('"').next()).unwrap_or_default().to_owned()
}

#[derive(Debug)]
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: String,
}

impl Answer {
    pub fn header(&self, name: &str) -> Option<String> {
        let mark = format!("{name}:");
        let line = self.head.lines().find(|line| line.to_lowercase().starts_with(&mark))?;
        Some(line.get(mark.len()..)?.trim().to_owned())
    }
}

pub fn connect(host: &str) -> TcpStream {
    let address: SocketAddr = host.parse().unwrap();
    let stream = TcpStream::connect(address).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
    stream
}

pub fn ask(host: &str, request: &str) -> Answer {
    let mut stream = connect(host);
    // Who sends more than is taken may be hung up on; what was answered until then counts.
    stream.write_all(request.as_bytes()).unwrap_or_default();
    let mut bytes = Vec::new();
    stream.read_to_end(&mut bytes).unwrap_or_default();
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
    let status = head.split(' ').nth(1).and_then(|code| code.parse().ok()).unwrap_or(0);
    Answer { status, head: head.to_owned(), body: body.to_owned() }
}
