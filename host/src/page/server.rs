//! Listening, the addresses of all pages, and the end.

use std::future::{Future, IntoFuture as _};
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
use tokio::task::{JoinError, JoinSet};
use tokio::time::timeout;

use super::answers::{self, Make, show, tap};
use super::desk::{Desk, PageClock};
use super::error::ServeError;
use super::forms::{Forms, Said};
use super::guard::{Door, guard};
use super::live::{Board, LiveNow, Looked, Watcher};
use super::shared::{MOST_PHONE_STREAMS, Shared};
use super::taps::TAPS;
use super::{
    assets, care, cloth, day, heavy, machine, now, pairing, papers, rugs, settings, steps, stream, who,
};
use crate::store::Database;

/// The most that a form may bring, in bytes.
const MOST_BODY_BYTES: usize = 16 * 1024;
/// Answers that are under way may take so long at the end.
const LAST_ANSWERS: Duration = Duration::from_secs(3);

/// What the page needs of the world.
#[expect(missing_debug_implementations, reason = "it holds a closure")]
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
    /// The address with a code that lets a phone in; none where none is let in.
    pub for_a_phone: Option<String>,
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
    let changes = Arc::new(watch::channel(0).0);
    let told = Arc::clone(&changes);
    let others_wrote = move || told.send_modify(|changes| *changes += 1);
    let (desk, database) = match Desk::start(world.open, world.clock, others_wrote) {
        Ok(started) => started,
        Err(Some(error)) => return Ok(Err(error)),
        Err(None) => return Err(ServeError::Start(std::io::ErrorKind::OutOfMemory.into())),
    };
    let (end, ends) = watch::channel(false);
    let (live, told) = watch::channel(LiveNow::default());
    let looked = Looked::default();
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
        phones: Arc::default(),
        phone_streams: Arc::new(Semaphore::new(MOST_PHONE_STREAMS)),
    };
    let outcome = runtime.block_on(async {
        let address = SocketAddr::new(Ipv4Addr::LOCALHOST.into(), world.port);
        let (listener, port) = listen(address).await?;
        let names = ["127.0.0.1", "localhost"].map(|name| format!("{name}:{port}"));
        let door = Door { shared: shared.clone(), hosts: names.to_vec(), is_phone: false };
        let here = axum::serve(listener, router(door)).with_graceful_shutdown(end_of(&shared));
        let mut serving = JoinSet::new();
        serving.spawn(here.into_future());
        let mut at = Listening { address: format!("http://127.0.0.1:{port}/"), for_a_phone: None };
        if let Some(host) = world.for_phones {
            let (listener, port) = listen(SocketAddr::new(host, port)).await?;
            let code = shared.phones.new_code().map_err(ServeError::Start)?;
            let name = SocketAddr::new(host, port).to_string();
            let door = Door { shared: shared.clone(), hosts: vec![name], is_phone: true };
            let there = axum::serve(listener, router(door)).with_graceful_shutdown(end_of(&shared));
            serving.spawn(there.into_future());
            at.for_a_phone = Some(pairing::address(host, port, &code));
        }
        listening(&at);
        tokio::select! {
            Some(ended) = serving.join_next() => return broken_off(ended),
            () = stop => {}
        }
        end.send_replace(true);
        // Who does not hang up in time is hung up on.
        let last = async {
            while let Some(ended) = serving.join_next().await {
                broken_off(ended)?;
            }
            Ok(())
        };
        timeout(LAST_ANSWERS, last).await.unwrap_or(Ok(()))
    });
    end.send_replace(true);
    drop(shared);
    drop(runtime);
    // A thread that ended otherwise has nothing left to close.
    watching.join().unwrap_or_default();
    database.join().unwrap_or_default();
    outcome.map(Ok)
}

/// Ready when the server ends.
fn end_of(shared: &Shared) -> impl Future<Output = ()> + Send + use<> {
    let mut ends = shared.ends.clone();
    async move {
        // An error means that the other end is gone, which is the end as well.
        ends.wait_for(|end| *end).await.map(drop).unwrap_or_default();
    }
}

fn broken_off(ended: Result<std::io::Result<()>, JoinError>) -> Result<(), ServeError> {
    ended.map_err(std::io::Error::other).flatten().map_err(ServeError::BrokeOff)
}

async fn listen(address: SocketAddr) -> Result<(TcpListener, u16), ServeError> {
    let refused = |source| ServeError::Listen { address, source };
    let listener = TcpListener::bind(address).await.map_err(refused)?;
    let port = listener.local_addr().map_err(refused)?.port();
    Ok((listener, port))
}

/// Every page with its address.
const PAGES: &[(&str, Make)] = &[
    ("/", now::now),
    ("/machine", machine::machine),
    ("/who", who::who),
    ("/day", day::day),
    ("/care", care::care),
    ("/care/steps", steps::steps),
    ("/cloth", cloth::cloth),
    ("/rugs", rugs::rugs),
    ("/rugs/next", rugs::next),
    ("/rugs/quote", rugs::quote_paper),
    ("/rug", rugs::one),
    ("/rug/sheet", papers::rug_sheet),
    ("/rug/card", papers::rug_card),
    ("/heavy", heavy::heavy),
    ("/book", papers::book),
    ("/book/machine", papers::record_book),
    ("/settings", settings::settings),
];

fn router(door: Door) -> Router {
    let fixed = Router::new()
        .route("/live", get(stream::events))
        .route("/page.css", get(assets::style))
        .route("/page.js", get(assets::script))
        .route("/mark.svg", get(assets::mark))
        // What a browser asks for of a paper, which names no mark.
        .route("/favicon.ico", get(assets::mark))
        .route("/paper/{name}", get(assets::paper))
        .route("/picture/tears.svg", get(picture))
        .route("/pair", get(pairing::pairing).post(pairing::pair))
        .route("/phones/forget", post(pairing::forget))
        .route("/undo", post(undo));
    let pages = PAGES.iter().fold(fixed, |router, (address, make)| {
        let (address, make) = (*address, *make);
        router.route(
            address,
            get(move |State(door): State<Door>, Query(said)| show(door, address, make, Said(said))),
        )
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

async fn picture(State(door): State<Door>, Query(said): Query<Vec<(String, String)>>) -> Response {
    answers::picture(door, cloth::picture, Said(said)).await
}

async fn undo(State(door): State<Door>, Form(said): Form<Vec<(String, String)>>) -> Response {
    answers::undo(door, Said(said)).await
}
