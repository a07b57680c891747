//! `holdfast sheet`.
