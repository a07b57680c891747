//! Places in a vocabulary file: where each of its rows stands, and a fault at one.

use std::collections::BTreeMap;

/// Something wrong at a byte of the file.
pub(super) type Fault = (usize, String);

/// Where each row of the file stands, by table and word.
pub(super) type Places = BTreeMap<(&'static str, String), usize>;
