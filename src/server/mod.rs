//! The server: what it serves and to whom.

pub mod pages;
