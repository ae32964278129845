//! Live values as server-sent events.

use std::convert::Infallible;
use std::time::Duration;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use futures_util::stream;
use tokio::sync::{OwnedSemaphorePermit, watch};
use tokio::time::sleep;

use super::guard::Door;
use super::live::{LiveNow, Looked};

/// So often a stream that stays open tells that somebody looks.
const LOOKS_EVERY: Duration = Duration::from_secs(3);

struct Stream {
    live: watch::Receiver<LiveNow>,
    changes: watch::Receiver<u64>,
    ends: watch::Receiver<bool>,
    looked: Looked,
    /// Held as long as the stream is open.
    _permit: Option<OwnedSemaphorePermit>,
}

impl Stream {
    /// The next event; none when the server ends.
    async fn next(&mut self) -> Option<Event> {
        loop {
            self.looked.now();
            tokio::select! {
                told = self.live.changed() => {
                    told.ok()?;
                    return Some(live(&self.live.borrow_and_update()));
                }
                told = self.changes.changed() => {
                    told.ok()?;
                    return Some(Event::default().event("changed").data("1"));
                }
                told = self.ends.changed() => {
                    told.ok()?;
                    if *self.ends.borrow() {
                        return None;
                    }
                }
                () = sleep(LOOKS_EVERY) => {}
            }
        }
    }
}

fn live(now: &LiveNow) -> Event {
    let told = serde_json::to_string(now).unwrap_or_default();
    Event::default().event("live").data(told)
}

/// Tells what the board tells, and when a page is to be looked at anew.
pub async fn events(State(door): State<Door>) -> Response {
    let shared = &door.shared;
    let permit = if door.is_phone {
        match shared.phone_streams.clone().try_acquire_owned() {
            Ok(permit) => Some(permit),
            Err(_) => {
                return (StatusCode::TOO_MANY_REQUESTS, "Too many pages are open on phones.").into_response();
            }
        }
    } else {
        None
    };
    let mut stream = Stream {
        live: shared.live.clone(),
        changes: shared.changes.subscribe(),
        ends: shared.ends.clone(),
        looked: shared.looked.clone(),
        _permit: permit,
    };
    stream.live.mark_changed();
    let events = stream::unfold(stream, |mut stream| async {
        let event = stream.next().await?;
        Some((Ok::<_, Infallible>(event), stream))
    });
    Sse::new(events).keep_alive(KeepAlive::default()).into_response()
}
