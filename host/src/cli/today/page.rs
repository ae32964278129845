//! `page`.

use std::fmt::Write as _;
use std::io;
use std::net::{IpAddr, Ipv4Addr, UdpSocket};
use std::process::ExitCode;
use std::sync::Arc;

use clap::Args;
use qrcode::QrCode;
use qrcode::render::unicode::Dense1x2;
use tokio::signal::ctrl_c;

use crate::app::ports::{Logger, LoggerError};
use crate::cli::logger::{plugged_in, read_quietly};
use crate::cli::shell::command_env::{CommandEnv, SystemClock};
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{exit, show};
use crate::logger_link::port_lock::{self, Holder};
use crate::page::{Board, Listening, PageClock, Refused, World, serve};

/// Open a page beside the frame: today in large letters, one tap for each answer, on this computer or a phone.
///
/// Runs until it is stopped (Ctrl-C). Its address is the first line that it prints. It is for this computer alone, unless a phone
/// is let in with --phone.
#[derive(Debug, Args)]
pub struct Page {
    /// The port on which it listens; 0 takes a free one.
    #[arg(long, value_name = "NUMBER", default_value = "8017")]
    port: u16,
    /// Let phones in the same network in: by the code that is shown, once each.
    #[arg(long)]
    phone: bool,
    /// The port on which the logger is, where it is not found by itself.
    #[arg(long, value_name = "PORT", hide = true)]
    board: Option<String>,
}

impl Page {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let (around, again) = (around.elsewhere(), around.elsewhere());
        let world = World {
            open: move || around().open_database(),
            clock: PageClock(Arc::new(SystemClock)),
            board: Box::new(Plugged { around: Box::new(again), port: self.board }),
            port: self.port,
            for_phones: if self.phone { Some(own_address()?) } else { None },
        };
        let mut told = Ok(());
        let listening = |at: &Listening| told = show::words(&words(at));
        let stop = async {
            // Without the signal nothing but the end of the terminal ends it.
            ctrl_c().await.unwrap_or_default();
        };
        serve(world, listening, stop)??;
        told?;
        Ok(exit::code(exit::FINE))
    }
}

fn words(at: &Listening) -> String {
    let mut words =
        format!("{}\nOpen this address in a browser on this computer; Ctrl-C ends it.", at.address);
    if let Some(phone) = &at.for_a_phone {
        // Light on a dark terminal, as most are.
        let drawn = |code: QrCode| {
            code.render::<Dense1x2>().dark_color(Dense1x2::Light).light_color(Dense1x2::Dark).build()
        };
        let code = QrCode::new(phone).map(drawn);
        // A text takes whatever is written to it.
        write!(
            words,
            "\n\nFor a phone in the same network, once, within ten minutes:\n{phone}\n{}\n\
             Plain http cannot keep a phone's screen awake: set its screen timeout (Auto-Lock) longer.\n\
             Who can read along in this network can read the page. Forget the phones on its page of settings.",
            code.unwrap_or_default()
        )
        .unwrap_or_default();
    }
    words
}

/// The address that this computer has in its network: where it would speak from. Nothing is sent.
fn own_address() -> Result<IpAddr, Failure> {
    let asked = || {
        let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0))?;
        // An address for documentation (RFC 5737), which is nobody's.
        socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9))?;
        socket.local_addr().map(|at| at.ip())
    };
    asked().map_err(|error| {
        Failure::other(
            "page::network",
            "this computer is in no network in which a phone could find it",
            "Join the network of the phone, and start it again.",
        )
        .because(error)
    })
}

fn no_folder(port: &str) -> LoggerError {
    LoggerError::Open { place: port.to_owned(), source: io::ErrorKind::NotFound.into() }
}

/// The board on a cable.
struct Plugged {
    around: Box<dyn Fn() -> CommandEnv + Send>,
    port: Option<String>,
}

impl Board for Plugged {
    fn port(&mut self) -> Option<String> {
        let named = self.port.clone().filter(|port| std::fs::exists(port).unwrap_or(false));
        named.or_else(|| match plugged_in().as_slice() {
            [only] => Some(only.clone()),
            _ => None,
        })
    }

    fn open(&mut self, port: &str) -> Result<Box<dyn Logger>, LoggerError> {
        let database = (self.around)().database_path().map_err(|_| no_folder(port))?;
        port_lock::open(&database, port, Holder::Page).map(|logger| Box::new(logger) as Box<dyn Logger>)
    }

    fn read(&mut self, port: &str) -> Result<(), Refused> {
        match read_quietly(&(self.around)(), port, Holder::Page) {
            Ok(_) => Ok(()),
            Err(failure) => Err(Refused::new(failure.to_string(), "It is tried again.")),
        }
    }
}
