//! An evening's order: what is to be done, by the names that people use, the lines in which an order is written down, and of
//! which of them a run is.

use serde::{Deserialize, Serialize, Serializer};

/// What is to be done: a score may change until then.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Planned {
    /// The fight.
    pub fight: String,
    /// The set of weapons; nothing for those that the score names.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weapons: Option<String>,
    /// The first phrase; nothing for the fight's first.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    /// The last phrase; nothing for the fight's last.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<String>,
    /// Percent of performance tempo; nothing in a walk-through, move by move.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub percent: Option<u16>,
    /// Beats of count-in; nothing for the house's usual.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub count_in: Option<u32>,
}

/// An item of the order, as it is written down.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct OrderLine {
    /// Its number, which a run of it names.
    pub item: u32,
    /// What is to be done.
    #[serde(flatten, serialize_with = "with_percent")]
    pub planned: Planned,
    /// The desk's word on whether it is done; nothing where its runs say it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub word: Option<bool>,
}

/// A run is of an item of the order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct OfItem {
    /// The item's number.
    pub item: u32,
    /// True when the item is done once this run is complete: it goes to the end of it.
    pub to_its_end: bool,
}

/// A line of an order has a `percent` of null for a walk-through: what is written down stays as it is.
fn with_percent<S: Serializer>(planned: &Planned, to: S) -> Result<S::Ok, S::Error> {
    #[derive(Serialize)]
    struct Line<'p> {
        #[serde(flatten)]
        planned: &'p Planned,
        #[serde(skip_serializing_if = "Option::is_none")]
        percent: Option<Option<u16>>,
    }
    Line { planned, percent: planned.percent.is_none().then_some(None) }.serialize(to)
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    /// As lines stand in journals, and as they were written when an order was first kept.
    #[test]
    fn a_line_is_written_as_it_always_was() {
        let whole = Planned {
            fight: "The Quay".into(),
            weapons: Some("wood".into()),
            from: Some("One".into()),
            to: Some("Two".into()),
            percent: Some(50),
            count_in: Some(2),
        };
        let bare = Planned { weapons: None, from: None, to: None, percent: None, count_in: None, ..whole.clone() };
        let rows: [(OrderLine, Value); 3] = [
            (
                OrderLine { item: 3, planned: whole, word: Some(true) },
                json!({ "item": 3, "fight": "The Quay", "weapons": "wood", "from": "One", "to": "Two", "percent": 50,
                    "count_in": 2, "word": true }),
            ),
            (
                OrderLine { item: 4, planned: bare.clone(), word: None },
                json!({ "item": 4, "fight": "The Quay", "percent": null }),
            ),
            (
                OrderLine { item: 4, planned: Planned { percent: Some(100), ..bare.clone() }, word: None },
                json!({ "item": 4, "fight": "The Quay", "percent": 100 }),
            ),
        ];
        for (line, written) in rows {
            assert_eq!(serde_json::to_value(&line).unwrap(), written);
            assert_eq!(serde_json::from_value::<OrderLine>(written).unwrap(), line);
        }
        // What somebody asks for is kept without it.
        assert_eq!(serde_json::to_value(&bare).unwrap(), json!({ "fight": "The Quay" }));
    }
}
