//! The computer side of Needlehours.
