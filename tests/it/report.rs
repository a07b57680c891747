//! `holdfast report`.
