//! A port with a scripted logger behind it.

use std::io::{Read as _, Write as _};
use std::thread::JoinHandle;

use serialport::{SerialPort as _, TTYPort};

use super::Scripted;

/// A pseudo-terminal on which a scripted logger answers, until the port is let go or so many bytes were sent.
pub struct Port {
    /// Kept open, so that the far end does not hang up between two runs.
    near: TTYPort,
    far: JoinHandle<Scripted>,
}

impl Port {
    pub fn new(logger: Scripted) -> Self {
        Self::breaking_after(logger, usize::MAX)
    }

    pub fn breaking_after(mut logger: Scripted, mut bytes: usize) -> Self {
        let (mut far, near) = TTYPort::pair().unwrap();
        far.set_timeout(std::time::Duration::from_secs(60)).unwrap();
        let far = std::thread::spawn(move || {
            let mut chunk = [0; 4096];
            let mut waiting = Vec::new();
            while let Ok(count) = far.read(&mut chunk) {
                waiting.extend(&chunk[..count]);
                let Some(end) = waiting.iter().rposition(|&byte| byte == 0) else { continue };
                let request: Vec<u8> = waiting.drain(..=end).collect();
                let answer = logger.answer(&request);
                let sent = answer.len().min(bytes);
                if far.write_all(&answer[..sent]).is_err() || sent < answer.len() {
                    break;
                }
                bytes -= sent;
            }
            logger
        });
        Self { near, far }
    }

    pub fn name(&self) -> String {
        self.near.name().unwrap()
    }

    /// Hangs up and tells how the logger stands.
    pub fn let_go(self) -> Scripted {
        drop(self.near);
        self.far.join().unwrap()
    }
}
