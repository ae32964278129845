//! What resets leave behind.
