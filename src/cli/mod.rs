//! One command, one file.
