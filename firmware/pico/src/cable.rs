//! The USB cable: a serial port, one request and one reply at a time.
//!
//! What can surprise: the logger has a supply of its own, so a pulled cable shows only as a host that stops reading, or stops in
//! the middle of a request: a read that waits is not told when the cable goes and comes again. Every write has a time limit;
//! after one has passed, the next reply begins with a zero byte that closes the torn frame. A request that pauses for as long
//! is forgotten. Nothing hangs on whether the host raises DTR.

use core::fmt::Write;

use embassy_futures::yield_now;
use embassy_rp::peripherals::USB;
use embassy_rp::usb::Driver;
use embassy_time::{Duration, Instant, with_timeout};
use embassy_usb::class::cdc_acm::{CdcAcmClass, State};
use embassy_usb::{Builder, Config, UsbDevice};
use firmware::link_server::{LinkServer, REPLY_BYTES};
use heapless::String;
use shared_types::LoggerId;
use static_cell::StaticCell;

use super::sampler::SET_CHIP;
use super::{SharedLogger, WAKE, facts, uptime};

/// A test identity from pid.codes, for use inside a workshop; a logger that is sold needs a product id of its own.
const VENDOR: u16 = 0x1209;
const PRODUCT: u16 = 0x0001;
const PACKET_BYTES: u16 = 64;
/// The byte that ends a request (FORMAT.md).
const FRAME_END: u8 = 0;
/// A host that takes no packet for this long has stopped reading; one that sends none in the middle of a request has gone.
const HOST_TIMEOUT: Duration = Duration::from_millis(500);
/// What the logger asks of the cable, in mA; measured on no board yet.
const MOST_CURRENT_MA: u16 = 100;

type Device = UsbDevice<'static, Driver<'static, USB>>;
type Port = CdcAcmClass<'static, Driver<'static, USB>>;

/// Describes the device to the host: its serial number is the logger's own, in 16 hexadecimal digits.
pub fn plug(driver: Driver<'static, USB>, id: LoggerId) -> (Device, Port) {
    static SERIAL: StaticCell<String<16>> = StaticCell::new();
    static DESCRIPTORS: StaticCell<[[u8; 256]; 2]> = StaticCell::new();
    static CONTROL: StaticCell<[u8; 64]> = StaticCell::new();
    static STATE: StaticCell<State<'static>> = StaticCell::new();
    let serial = SERIAL.init(String::new());
    if write!(serial, "{:016x}", id.0).is_err() {
        defmt::error!("sixteen digits do not fit into sixteen places");
    }
    let mut config = Config::new(VENDOR, PRODUCT);
    config.manufacturer = Some("Needlehours");
    config.product = Some("Needlehours logger");
    config.serial_number = Some(serial.as_str());
    config.max_power = MOST_CURRENT_MA;
    let [about_device, about_bus] = DESCRIPTORS.init([[0; 256]; 2]);
    let mut builder = Builder::new(driver, config, about_device, about_bus, &mut [], CONTROL.init([0; 64]));
    let port = CdcAcmClass::new(&mut builder, STATE.init(State::new()), PACKET_BYTES);
    (builder.build(), port)
}

/// Answers the bus itself.
#[embassy_executor::task]
pub async fn run_device(mut device: Device) {
    device.run().await;
}

/// Answers requests for ever, one at a time: after each the sampling loop has its turn.
#[embassy_executor::task]
pub async fn serve(mut port: Port, logger: &'static SharedLogger) {
    static SERVER: StaticCell<LinkServer> = StaticCell::new();
    static REPLY: StaticCell<[u8; REPLY_BYTES + 1]> = StaticCell::new();
    let (server, reply) = (SERVER.init(LinkServer::new()), REPLY.init([0; REPLY_BYTES + 1]));
    let mut packet = [0; PACKET_BYTES as usize];
    let mut is_torn = false;
    loop {
        port.wait_connection().await;
        server.hang_up();
        defmt::info!("the cable is in");
        let mut heard_at = Instant::now();
        while let Ok(count) = port.read_packet(&mut packet).await {
            if heard_at.elapsed() > HOST_TIMEOUT {
                server.hang_up();
            }
            heard_at = Instant::now();
            for &byte in packet.iter().take(count) {
                let Some(length) = take(server, byte, reply, logger).await else { continue };
                yield_now().await;
                // The zero in front of the frame is there for the one that was torn.
                let frame = reply.get(usize::from(!is_torn)..=length).unwrap_or_default();
                is_torn = send(&mut port, frame).await.is_err();
            }
        }
    }
}

/// Takes one byte; where it completes a request, gives the length of the reply, which stands behind a zero in `reply`.
async fn take(
    server: &mut LinkServer,
    byte: u8,
    reply: &mut [u8],
    logger: &'static SharedLogger,
) -> Option<usize> {
    let mut logger = logger.lock().await;
    let now = uptime();
    if byte == FRAME_END {
        let known = logger.board_facts();
        logger.note_board(facts::now(known));
    }
    let outcome = server.take(&mut logger, now, byte, reply.get_mut(1..)?)?;
    if let Some(utc) = outcome.set_chip {
        SET_CHIP.signal((utc, now));
        WAKE.signal(());
    }
    (outcome.reply_len > 0).then_some(outcome.reply_len)
}

/// The host went away or stopped reading.
struct Gone;

async fn send(port: &mut Port, frame: &[u8]) -> Result<(), Gone> {
    // A transfer ends with a packet that is not full; where the last one is full an empty one follows.
    let end = frame.len().is_multiple_of(usize::from(PACKET_BYTES)).then_some::<&[u8]>(&[]);
    for packet in frame.chunks(usize::from(PACKET_BYTES)).chain(end) {
        match with_timeout(HOST_TIMEOUT, port.write_packet(packet)).await {
            Ok(Ok(())) => {}
            Ok(Err(_)) | Err(_) => return Err(Gone),
        }
    }
    Ok(())
}
