//! The lamp's pin. The sampling loop sets it; the flash chip, whose erases hold that loop up, may put it out.
//!
//! What can surprise: a flash of the lamp that is lit when an erase begins would stay lit until it ends. On a worn chip several
//! slow ones in a row would look like *saved*, though nothing is.

use core::cell::Cell;

use embassy_rp::gpio::Output;
use embassy_sync::blocking_mutex::Mutex;
use embassy_sync::blocking_mutex::raw::CriticalSectionRawMutex;
use firmware::lamp::LampMessage;

struct Lamp {
    pin: Output<'static>,
    /// *Saved* is true and steady: it stays lit.
    says_saved: bool,
}

static LAMP: Mutex<CriticalSectionRawMutex, Cell<Option<Lamp>>> = Mutex::new(Cell::new(None));

/// Takes the pin over, dark.
pub fn wire(pin: Output<'static>) {
    LAMP.lock(|lamp| lamp.set(Some(Lamp { pin, says_saved: false })));
}

/// Lights the lamp or puts it out, as part of this message.
pub fn show(message: LampMessage, is_lit: bool) {
    change(|lamp| {
        lamp.says_saved = message == LampMessage::Saved;
        lamp.pin.set_level(is_lit.into());
    });
}

/// To be called before anything that holds the sampling loop up for long.
pub fn put_out_unless_saved() {
    change(|lamp| {
        if !lamp.says_saved {
            lamp.pin.set_low();
        }
    });
}

/// The other way round.
pub fn toggle() {
    change(|lamp| lamp.pin.toggle());
}

/// Nothing happens before [`wire`].
fn change(act: impl FnOnce(&mut Lamp)) {
    LAMP.lock(|cell| {
        let mut lamp = cell.take();
        if let Some(lamp) = &mut lamp {
            act(lamp);
        }
        cell.set(lamp);
    });
}
