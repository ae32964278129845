//! Listening, the addresses of all pages, and the end.

use std::future::Future;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::sync::Arc;
use std::thread;
use std::time::Duration;

use axum::Router;
use axum::extract::{DefaultBodyLimit, Form, Query, State};
use axum::middleware::from_fn_with_state;
use axum::response::Response;
use axum::routing::{get, post};
use tokio::net::TcpListener;
use tokio::runtime::Builder;
use tokio::sync::{Semaphore, watch};
use tokio::time::timeout;

use super::answers::{self, Make, show, tap};
use super::desk::{Desk, PageClock};
use super::error::ServeError;
use super::forms::{Forms, Said};
use super::guard::{Door, guard};
use super::live::{Board, LiveNow, Looked, Watcher};
use super::shared::{MOST_PHONE_STREAMS, Shared};
use super::taps::TAPS;
use super::{assets, now, stream};
use crate::store::Database;

/// The most that a form may bring, in bytes.
const MOST_BODY_BYTES: usize = 16 * 1024;
/// Answers that are under way may take so long at the end.
const LAST_ANSWERS: Duration = Duration::from_secs(3);

/// What the page needs of the world.
pub struct World<Open> {
    /// Opens the database; called once, in the thread that holds it.
    pub open: Open,
    /// The clock.
    pub clock: PageClock,
    /// The board.
    pub board: Box<dyn Board>,
    /// The port on this computer; zero takes a free one.
    pub port: u16,
    /// The address under which phones find this computer; none lets none in.
    pub for_phones: Option<IpAddr>,
}

/// Where the server listens.
#[derive(Clone, Debug)]
pub struct Listening {
    /// The page on this computer.
    pub address: String,
}

/// Serves until `stop` is ready. `listening` is told where, once.
///
/// # Errors
/// When the database cannot be opened, which is the inner error, or the address is taken.
pub fn serve<E, Open, Stop>(
    world: World<Open>,
    listening: impl FnOnce(&Listening),
    stop: Stop,
) -> Result<Result<(), E>, ServeError>
where
    E: Send + 'static,
    Open: FnOnce() -> Result<Database, E> + Send + 'static,
    Stop: Future<Output = ()>,
{
    let runtime = Builder::new_current_thread().enable_all().build().map_err(ServeError::Start)?;
    let (desk, database) = match Desk::start(world.open, world.clock) {
        Ok(started) => started,
        Err(Some(error)) => return Ok(Err(error)),
        Err(None) => return Err(ServeError::Start(std::io::ErrorKind::OutOfMemory.into())),
    };
    let (end, ends) = watch::channel(false);
    let (live, told) = watch::channel(LiveNow::default());
    let (changes, looked) = (Arc::new(watch::channel(0).0), Looked::default());
    let watcher = Watcher {
        board: world.board,
        desk: desk.clone(),
        looked: looked.clone(),
        live,
        changes: Arc::clone(&changes),
        ends: ends.clone(),
    };
    let watching = thread::Builder::new().name("board".to_owned()).spawn(move || watcher.run());
    let watching = watching.map_err(ServeError::Start)?;
    let shared = Shared {
        desk,
        forms: Forms::new().map_err(ServeError::Start)?,
        live: told,
        changes,
        looked,
        ends,
        phone_streams: Arc::new(Semaphore::new(MOST_PHONE_STREAMS)),
    };
    let outcome = runtime.block_on(async {
        let address = SocketAddr::new(Ipv4Addr::LOCALHOST.into(), world.port);
        let (listener, port) = listen(address).await?;
        let names = ["127.0.0.1", "localhost"].map(|name| format!("{name}:{port}"));
        let door = Door { shared: shared.clone(), hosts: names.to_vec(), is_phone: false };
        listening(&Listening { address: format!("http://127.0.0.1:{port}/") });
        let mut ends = shared.ends.clone();
        let graceful = async move {
            // An error means that the other end is gone, which is the end as well.
            ends.wait_for(|end| *end).await.map(drop).unwrap_or_default();
        };
        let server = axum::serve(listener, router(door)).with_graceful_shutdown(graceful);
        let mut server = Box::pin(async move { server.await });
        tokio::select! {
            ended = &mut server => return ended.map_err(ServeError::BrokeOff),
            () = stop => {}
        }
        end.send_replace(true);
        // Who does not hang up in time is hung up on.
        timeout(LAST_ANSWERS, server).await.unwrap_or(Ok(())).map_err(ServeError::BrokeOff)
    });
    end.send_replace(true);
    drop(shared);
    drop(runtime);
    // A thread that ended otherwise has nothing left to close.
    watching.join().unwrap_or_default();
    database.join().unwrap_or_default();
    outcome.map(Ok)
}

async fn listen(address: SocketAddr) -> Result<(TcpListener, u16), ServeError> {
    let refused = |source| ServeError::Listen { address, source };
    let listener = TcpListener::bind(address).await.map_err(refused)?;
    let port = listener.local_addr().map_err(refused)?.port();
    Ok((listener, port))
}

/// Every page with its address.
const PAGES: &[(&str, Make)] = &[("/", now::now)];

fn router(door: Door) -> Router {
    let fixed = Router::new()
        .route("/live", get(stream::events))
        .route("/page.css", get(assets::style))
        .route("/page.js", get(assets::script))
        .route("/mark.svg", get(assets::mark))
        .route("/paper/{name}", get(assets::paper))
        .route("/undo", post(undo));
    let pages = PAGES.iter().fold(fixed, |router, (address, make)| {
        let make = *make;
        router.route(address, get(move |State(door): State<Door>, Query(said)| show(door, make, Said(said))))
    });
    let taps = TAPS.iter().fold(pages, |router, (address, act, can_be_undone)| {
        let (address, act, can_be_undone) = (*address, *act, *can_be_undone);
        let done =
            move |State(door): State<Door>, Form(said)| tap(door, address, act, can_be_undone, Said(said));
        router.route(address, post(done))
    });
    taps.layer(DefaultBodyLimit::max(MOST_BODY_BYTES))
        .layer(from_fn_with_state(door.clone(), guard))
        .with_state(door)
}

async fn undo(State(door): State<Door>, Form(said): Form<Vec<(String, String)>>) -> Response {
    answers::undo(door, Said(said)).await
}
