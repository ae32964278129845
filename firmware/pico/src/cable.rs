//! The USB cable: a serial port, one request and one reply at a time.
//!
//! What can surprise: the logger has a supply of its own, so a pulled cable shows only as a host that stops reading. Every
//! write has a time limit; after one has passed, the next reply begins with a zero byte that closes the torn frame.
//! Nothing hangs on whether the host raises DTR.

use core::fmt::Write;

use embassy_futures::yield_now;
use embassy_rp::peripherals::USB;
use embassy_rp::usb::Driver;
use embassy_time::{Duration, with_timeout};
use embassy_usb::class::cdc_acm::{CdcAcmClass, State};
use embassy_usb::{Builder, Config, UsbDevice};
use firmware::link_server::LinkServer;
use heapless::String;
use shared_types::LoggerId;
use shared_types::limits::{MAX_FRAME, MAX_MESSAGE};
use shared_types::link::frame::{FrameReader, encode_frame};
use static_cell::StaticCell;

use crate::sampler::SET_CHIP;
use crate::{SharedLogger, WAKE, uptime};

/// A test identity from pid.codes, for use inside a workshop; a logger that is sold needs a product id of its own.
const VENDOR: u16 = 0x1209;
const PRODUCT: u16 = 0x0001;
const PACKET_BYTES: u16 = 64;
/// A host that takes no packet for this long has stopped reading.
const HOST_PATIENCE: Duration = Duration::from_millis(500);
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
    let mut builder =
        Builder::new(driver, config, about_device, about_bus, &mut [], CONTROL.init([0; 64]));
    let port = CdcAcmClass::new(&mut builder, STATE.init(State::new()), PACKET_BYTES);
    (builder.build(), port)
}

/// Answers the bus itself.
#[embassy_executor::task]
pub async fn run_device(mut device: Device) {
    device.run().await;
}

/// Answers requests for ever.
#[embassy_executor::task]
pub async fn serve(mut port: Port, logger: &'static SharedLogger) {
    static BUFFERS: StaticCell<(FrameReader, Replies)> = StaticCell::new();
    let (reader, replies) = BUFFERS.init((FrameReader::new(), Replies::new()));
    let mut packet = [0; PACKET_BYTES as usize];
    loop {
        port.wait_connection().await;
        reader.reset();
        defmt::info!("the cable is in");
        while let Ok(count) = port.read_packet(&mut packet).await {
            for &byte in packet.iter().take(count) {
                match reader.push(byte) {
                    Some(Ok(message)) => replies.answer(message, &mut port, logger).await,
                    Some(Err(error)) => defmt::warn!("dropped a frame: {}", error),
                    None => {}
                }
            }
        }
    }
}

struct Replies {
    server: LinkServer,
    message: [u8; MAX_MESSAGE],
    // A zero that may go ahead, the frame, its closing zero.
    frame: [u8; MAX_FRAME + 2],
    is_torn: bool,
}

impl Replies {
    const fn new() -> Self {
        Self {
            server: LinkServer::new(),
            message: [0; MAX_MESSAGE],
            frame: [0; MAX_FRAME + 2],
            is_torn: false,
        }
    }

    /// Serves one request, then lets the sampling loop have its turn.
    async fn answer(&mut self, request: &[u8], port: &mut Port, logger: &'static SharedLogger) {
        let reply = {
            let mut logger = logger.lock().await;
            let now = uptime();
            let outcome = self.server.handle(&mut logger, now, request, &mut self.message);
            if let Some(utc) = outcome.set_chip {
                SET_CHIP.signal((utc, now));
                WAKE.signal(());
            }
            outcome.reply
        };
        yield_now().await;
        let Some((zero, rest)) = self.frame.split_first_mut() else { return };
        *zero = 0;
        let length = match encode_frame(reply, rest) {
            Ok(frame) => frame.len(),
            Err(error) => {
                defmt::error!("a reply does not fit: {}", error);
                return;
            }
        };
        let start = usize::from(!self.is_torn);
        let frame = self.frame.get(start..=length).unwrap_or_default();
        self.is_torn = send(port, frame).await.is_err();
    }
}

/// The host went away or stopped reading.
struct Gone;

async fn send(port: &mut Port, frame: &[u8]) -> Result<(), Gone> {
    // A transfer ends with a packet that is not full; where the last one is full an empty one follows.
    let end = frame.len().is_multiple_of(usize::from(PACKET_BYTES)).then_some::<&[u8]>(&[]);
    for packet in frame.chunks(usize::from(PACKET_BYTES)).chain(end) {
        match with_timeout(HOST_PATIENCE, port.write_packet(packet)).await {
            Ok(Ok(())) => {}
            Ok(Err(_)) | Err(_) => return Err(Gone),
        }
    }
    Ok(())
}
