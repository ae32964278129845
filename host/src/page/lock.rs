//! A lock that never panics.

use std::sync::{Mutex, MutexGuard, PoisonError};

/// Holds a lock. Whoever held it before cannot have left it half changed: nothing panics.
pub fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}
