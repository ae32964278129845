//! Adapters.
