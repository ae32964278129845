//! Which ports there are, and which of them is a logger. Nothing is ever written to a port to find that out: it is told
//! by what the device says of itself on the bus.

use serialport::{SerialPortInfo, SerialPortType};

use crate::app::ports::PortSeen;

/// Vendor number of the shared range for makers and tests (pid.codes).
pub const VENDOR: u16 = 0x1209;
/// The test number in that range.
pub const PRODUCT: u16 = 0x0001;
/// How the logger calls itself on the bus; the number alone is shared with other people's experiments.
pub const PRODUCT_NAME: &str = "Needlehours logger";

/// What to do when the maker named no port.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Choice {
    /// Exactly one logger.
    One(String),
    /// No logger; the ports that are there.
    None(Vec<PortSeen>),
    /// Several loggers.
    Several(Vec<String>),
}

/// Lists the ports of this computer.
///
/// # Errors
/// When the system does not tell.
pub fn ports() -> Result<Vec<PortSeen>, serialport::Error> {
    // Where Linux has no such folder, as in some containers, the listing would panic.
    if cfg!(target_os = "linux") && !std::path::Path::new("/sys/class/tty").is_dir() {
        return Ok(Vec::new());
    }
    Ok(seen(&serialport::available_ports()?))
}

/// Judges ports by what the system knows of them.
#[must_use]
pub fn seen(infos: &[SerialPortInfo]) -> Vec<PortSeen> {
    let mut ports: Vec<PortSeen> =
        infos.iter().filter(|info| !is_second_name(&info.port_name)).map(judge).collect();
    ports.sort_by(|one, other| one.port.cmp(&other.port));
    ports
}

/// macOS lists every port twice; opening `tty.` waits for a carrier that never comes.
fn is_second_name(port: &str) -> bool {
    port.starts_with("/dev/tty.")
}

fn judge(info: &SerialPortInfo) -> PortSeen {
    let (device, is_logger) = match &info.port_type {
        SerialPortType::UsbPort(usb) => {
            // Some systems hand on spaces as underscores, some hand on no name at all.
            let name = usb.product.as_ref().map(|name| name.replace('_', " "));
            let is_named_so = name.as_deref().is_none_or(|name| name.contains(PRODUCT_NAME));
            (name, usb.vid == VENDOR && usb.pid == PRODUCT && is_named_so)
        }
        _ => (None, false),
    };
    PortSeen { port: info.port_name.clone(), device, is_logger }
}

/// Takes the only logger, or says why not.
#[must_use]
pub fn choose(ports: Vec<PortSeen>) -> Choice {
    let mut loggers: Vec<String> =
        ports.iter().filter(|port| port.is_logger).map(|port| port.port.clone()).collect();
    match (loggers.pop(), loggers.is_empty()) {
        (Some(only), true) => Choice::One(only),
        (Some(last), false) => {
            loggers.push(last);
            Choice::Several(loggers)
        }
        (None, _) => Choice::None(ports),
    }
}

#[cfg(test)]
mod tests {
    use serialport::UsbPortInfo;

    use super::*;

    fn usb(port: &str, vid: u16, pid: u16, product: Option<&str>) -> SerialPortInfo {
        SerialPortInfo {
            port_name: port.to_owned(),
            port_type: SerialPortType::UsbPort(UsbPortInfo {
                vid,
                pid,
                serial_number: None,
                manufacturer: None,
                product: product.map(str::to_owned),
            }),
        }
    }

    #[test]
    fn the_only_logger_is_taken_among_other_devices() {
        let ports = seen(&[
            usb("/dev/ttyACM1", 0x1209, 0x0001, Some("Needlehours_logger")),
            usb("/dev/ttyACM0", 0x2341, 0x0043, Some("Board")),
            SerialPortInfo { port_name: "/dev/ttyS0".to_owned(), port_type: SerialPortType::Unknown },
        ]);
        assert_eq!(ports.iter().filter(|port| port.is_logger).count(), 1);
        assert_eq!(choose(ports), Choice::One("/dev/ttyACM1".to_owned()));
    }

    #[test]
    fn another_device_with_the_shared_number_is_not_taken() {
        let ports = seen(&[usb("COM12", 0x1209, 0x0001, Some("Somebody's lamp"))]);
        assert!(matches!(choose(ports), Choice::None(ports) if ports.len() == 1));
    }

    #[test]
    fn two_loggers_are_not_guessed_between() {
        let ports = seen(&[
            usb("/dev/ttyACM1", 0x1209, 0x0001, None),
            usb("/dev/ttyACM0", 0x1209, 0x0001, Some("Needlehours logger")),
        ]);
        let both = vec!["/dev/ttyACM0".to_owned(), "/dev/ttyACM1".to_owned()];
        assert_eq!(choose(ports), Choice::Several(both));
    }

    #[test]
    fn a_port_with_two_names_is_listed_once() {
        let ports = seen(&[
            usb("/dev/tty.usbmodem1", 0x1209, 0x0001, None),
            usb("/dev/cu.usbmodem1", 0x1209, 0x0001, None),
        ]);
        assert_eq!(choose(ports), Choice::One("/dev/cu.usbmodem1".to_owned()));
    }
}
