//! Rows of a table, printed as they come: a bench of minutes is watched while it runs.

/// The widths of the columns follow their heads; the second is a name, the last a sentence.
pub(crate) struct Table {
    widths: Vec<usize>,
}

impl Table {
    /// Prints the head.
    pub(crate) fn new(heads: &[&str]) -> Table {
        let widths = heads.iter().enumerate().map(|(at, head)| if at == 1 { 14 } else { head.len().max(7) }).collect();
        let mut table = Table { widths };
        table.row(heads.iter().map(|head| (*head).to_owned()).collect());
        table
    }

    /// Prints a row. A short one ends with a sentence.
    pub(crate) fn row(&mut self, cells: Vec<String>) {
        let last = cells.len() - 1;
        let cells = cells.into_iter().enumerate().map(|(at, cell)| match (at, self.widths.get(at)) {
            (0, Some(_)) => format!("{cell:>5}"),
            (1, Some(width)) => format!("{cell:<width$}"),
            (at, Some(width)) if at < last => format!("{cell:>width$}"),
            _ => cell,
        });
        println!("{}", cells.collect::<Vec<_>>().join("  ").trim_end());
    }
}
