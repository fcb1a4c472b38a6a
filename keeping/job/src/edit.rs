//! Changing a document without touching the rest of it: comments, order and spacing stay as the person left them.

use crate::problem::Problem;
use crate::read::read;
use serde::{Deserialize, Serialize};
use thiserror::Error;
use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, Value};

/// One step down into the document.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Where {
    /// A key of a table.
    Key(String),
    /// A place in a list, from 0; one past the end appends.
    Index(usize),
    /// The entry of a list that has this name, as in `[[photo]]`. It is added where none has it.
    Named {
        /// The name.
        name: String,
    },
}

/// One change: what stands at `path` becomes `value`, or goes away.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Edit {
    /// From the top of the document, e.g. `["photo", {"name": "front"}, "axis"]`.
    pub path: Vec<Where>,
    /// The new value; null takes the key or entry out.
    pub value: serde_json::Value,
}

/// Why a change was not made. The document is then as it was.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum EditError {
    /// The path leads nowhere.
    #[error("the change can't be made at `{path}`: {why}; load the page again to see the document as it is")]
    NoSuchPlace {
        /// The path, spelled.
        path: String,
        /// What stands in the way.
        why: &'static str,
    },
    /// The value is nothing a document can hold.
    #[error("the value for `{path}` is nothing a document can hold: {why}")]
    BadValue {
        /// The path, spelled.
        path: String,
        /// What is wrong with it.
        why: &'static str,
    },
    /// The same thing was changed elsewhere in the meantime.
    #[error("`{path}` was changed elsewhere in the meantime: it is now {theirs}; yours was {ours}. Choose one; nothing was written")]
    Conflict {
        /// The path, spelled.
        path: String,
        /// What stands there now.
        theirs: String,
        /// What this change wanted.
        ours: String,
    },
    /// The document would have errors afterwards, all listed.
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
    Refused(Vec<Problem>),
}

/// More changes than this in one go are no person's doing.
const MOST_EDITS: usize = 1000;

/// Makes all changes, or none; the outcome is a document without errors.
///
/// # Errors
/// The first change that can't be made, or all problems that the changed document would have.
pub fn apply(text: &str, edits: &[Edit]) -> Result<String, EditError> {
    if edits.len() > MOST_EDITS {
        return Err(EditError::BadValue { path: String::new(), why: "more than 1,000 changes at once" });
    }
    let mut tree: DocumentMut =
        text.parse().map_err(|_| EditError::NoSuchPlace { path: String::new(), why: "the document on disk is no TOML" })?;
    for edit in edits {
        change(tree.as_item_mut(), edit)?;
    }
    let changed = tree.to_string();
    read(&changed).map_err(EditError::Refused)?;
    Ok(changed)
}

/// Makes changes that were meant for `base` to the document as it is `now`. What others changed elsewhere stays; what they changed in the
/// same place is a conflict, unless both mean the same.
///
/// # Errors
/// As [`apply`], and [`EditError::Conflict`].
pub fn merge(base: &str, now: &str, edits: &[Edit]) -> Result<String, EditError> {
    if base != now {
        let (before, after) = (as_json(base), as_json(now));
        for edit in edits {
            let (was, is) = (before.as_ref().and_then(|t| at(t, &edit.path)), after.as_ref().and_then(|t| at(t, &edit.path)));
            let wanted = (!edit.value.is_null()).then(|| edit.value.clone());
            if was != is && is != wanted {
                let shown = |value: Option<serde_json::Value>| value.map_or("gone".to_string(), |v| v.to_string());
                return Err(EditError::Conflict { path: spelled(&edit.path), theirs: shown(is), ours: shown(wanted) });
            }
        }
    }
    apply(now, edits)
}

/// A document as JSON, key for key as it is written; `None` where it is no TOML.
pub fn as_json(text: &str) -> Option<serde_json::Value> {
    toml::from_str::<toml::Table>(text).ok().and_then(|table| serde_json::to_value(table).ok())
}

fn at(tree: &serde_json::Value, path: &[Where]) -> Option<serde_json::Value> {
    let mut place = tree;
    for step in path {
        place = match step {
            Where::Key(key) => place.get(key)?,
            Where::Index(i) => place.get(i)?,
            Where::Named { name } => place.as_array()?.iter().find(|entry| entry.get("name").and_then(|n| n.as_str()) == Some(name))?,
        };
    }
    Some(place.clone())
}

fn change(root: &mut Item, edit: &Edit) -> Result<(), EditError> {
    let nowhere = |why| EditError::NoSuchPlace { path: spelled(&edit.path), why };
    let Some((last, above)) = edit.path.split_last() else { return Err(nowhere("the path is empty")) };
    if edit.path.len() > 16 {
        return Err(nowhere("the path is too deep"));
    }
    if edit.value.is_null() {
        // Taking out what is not there is done already; nothing on the way is made for it.
        let mut place = root;
        for step in above {
            match existing(place, step) {
                Some(next) => place = next,
                None => return Ok(()),
            }
        }
        take_out(place, last);
        return Ok(());
    }
    let mut place = root;
    for (depth, step) in above.iter().enumerate() {
        let list_below = matches!(edit.path.get(depth + 1), Some(Where::Named { .. } | Where::Index(_)));
        place = entered(place, step, list_below).ok_or_else(|| nowhere("something else stands on the way"))?;
    }
    let value = to_toml(&edit.value, 0).map_err(|why| EditError::BadValue { path: spelled(&edit.path), why })?;
    put(place, last, value).ok_or_else(|| nowhere("the place is no table or list"))
}

fn existing<'a>(place: &'a mut Item, step: &Where) -> Option<&'a mut Item> {
    match step {
        Where::Key(key) => place.as_table_like_mut()?.get_mut(key),
        Where::Index(_) | Where::Named { .. } => entered_entry(place, step, false),
    }
}

/// Goes one step down, making tables and lists of tables where nothing is.
fn entered<'a>(place: &'a mut Item, step: &Where, list_below: bool) -> Option<&'a mut Item> {
    match step {
        Where::Key(key) => {
            let table = place.as_table_like_mut()?;
            if table.get(key).is_none_or(Item::is_none) {
                let fresh = if list_below { Item::ArrayOfTables(ArrayOfTables::new()) } else { Item::Table(Table::new()) };
                table.insert(key, fresh);
            }
            table.get_mut(key)
        }
        Where::Index(_) | Where::Named { .. } => entered_entry(place, step, true),
    }
}

/// Goes into an entry of a list, making it where a name is not there yet and `make` says so.
fn entered_entry<'a>(place: &'a mut Item, step: &Where, make: bool) -> Option<&'a mut Item> {
    let index = match step {
        Where::Index(i) => *i,
        Where::Named { name } => match position(place, name) {
            Some(i) => i,
            None if make => {
                let tables = place.as_array_of_tables_mut()?;
                let mut table = Table::new();
                table.insert("name", Item::Value(Value::from(name.as_str())));
                tables.push(table);
                tables.len() - 1
            }
            None => return None,
        },
        Where::Key(_) => return None,
    };
    place.get_mut(index)
}

fn position(place: &Item, name: &str) -> Option<usize> {
    place.as_array_of_tables()?.iter().position(|table| table.get("name").and_then(Item::as_str) == Some(name))
}

fn take_out(place: &mut Item, step: &Where) {
    match step {
        Where::Key(key) => {
            if let Some(table) = place.as_table_like_mut() {
                table.remove(key);
            }
        }
        Where::Index(_) | Where::Named { .. } => {
            let index = match step {
                Where::Index(i) => Some(*i),
                Where::Named { name } => position(place, name),
                Where::Key(_) => None,
            };
            let Some(index) = index else { return };
            if let Some(tables) = place.as_array_of_tables_mut() {
                if index < tables.len() {
                    tables.remove(index);
                }
            } else if let Some(array) = place.as_array_mut().filter(|array| index < array.len()) {
                array.remove(index);
            }
        }
    }
}

fn put(place: &mut Item, step: &Where, value: Value) -> Option<()> {
    match step {
        Where::Key(key) => {
            let table = place.as_table_like_mut()?;
            match table.get_mut(key).and_then(Item::as_value_mut) {
                // The comment behind the old value stays.
                Some(old) => {
                    let decor = old.decor().clone();
                    *old = value;
                    *old.decor_mut() = decor;
                }
                None => {
                    table.insert(key, Item::Value(value));
                }
            }
            Some(())
        }
        Where::Index(index) => {
            if let Some(array) = place.as_array_mut() {
                if *index < array.len() {
                    drop(array.replace(*index, value))
                } else {
                    array.push(value)
                }
                return Some(());
            }
            put_entry(place, Some(*index), value)
        }
        Where::Named { name } => {
            let index = position(place, name);
            put_entry(place, index, value)
        }
    }
}

fn put_entry(place: &mut Item, index: Option<usize>, value: Value) -> Option<()> {
    let Value::InlineTable(fields) = value else { return None };
    let tables = place.as_array_of_tables_mut()?;
    let fresh = fields.into_table();
    match index.and_then(|i| tables.get_mut(i)) {
        Some(old) => {
            let keys: Vec<String> = old.iter().map(|(key, _)| key.to_string()).collect();
            for key in keys.iter().filter(|key| !fresh.contains_key(key)) {
                old.remove(key);
            }
            for (key, item) in fresh.iter() {
                old.insert(key, item.clone());
            }
        }
        None => tables.push(fresh),
    }
    Some(())
}

fn to_toml(value: &serde_json::Value, depth: usize) -> Result<Value, &'static str> {
    if depth > 8 {
        return Err("it is nested too deep");
    }
    Ok(match value {
        serde_json::Value::Null => return Err("null stands inside a value"),
        serde_json::Value::Bool(b) => Value::from(*b),
        serde_json::Value::Number(n) => match n.as_i64() {
            Some(whole) => Value::from(whole),
            None => Value::from(n.as_f64().filter(|v| v.is_finite()).ok_or("a number is not finite")?),
        },
        serde_json::Value::String(text) => Value::from(text.as_str()),
        serde_json::Value::Array(items) => {
            let mut array = Array::new();
            for item in items {
                array.push(to_toml(item, depth + 1)?);
            }
            Value::Array(array)
        }
        serde_json::Value::Object(fields) => {
            let mut table = InlineTable::new();
            for (key, field) in fields {
                if !field.is_null() {
                    table.insert(key, to_toml(field, depth + 1)?);
                }
            }
            Value::InlineTable(table)
        }
    })
}

fn spelled(path: &[Where]) -> String {
    let mut out = String::new();
    for step in path {
        match step {
            Where::Key(key) if out.is_empty() => out.push_str(key),
            Where::Key(key) => out.push_str(&format!(".{key}")),
            Where::Index(i) => out.push_str(&format!("[{i}]")),
            Where::Named { name } => out.push_str(&format!("[{name}]")),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    const TEXT: &str = "format = \"ringer-job 1\"\ntitle = \"t\" # a remark\n\n# the rod\n[[known]]\nname = \"shaft\"\nvalue = \"6 mm\"   # caliper\n\n[[photo]]\nname = \"front\"\nfile = \"front.jpg\"\n";

    fn edit(path: serde_json::Value, value: serde_json::Value) -> Edit {
        Edit { path: serde_json::from_value(path).expect("a path"), value }
    }

    #[test]
    fn a_change_leaves_all_else_as_it_was() {
        let changed = apply(TEXT, &[edit(json!(["known", {"name": "shaft"}, "value"]), json!("1/4 in"))]).expect("applies");
        assert_eq!(changed, TEXT.replace("6 mm", "1/4 in"));
    }

    #[test]
    fn tables_and_entries_are_made_where_they_are_missing() {
        let changed = apply(
            TEXT,
            &[
                edit(json!(["photo", {"name": "front"}, "axis"]), json!([[1.5, 2], [30, 40]])),
                edit(json!(["run", "wanted"]), json!(24)),
                edit(json!(["size", {"name": "greatest diameter"}, "choose"]), json!("7/8 in")),
                edit(json!(["photo", {"name": "side"}]), json!({"name": "side", "file": "side.jpg"})),
            ],
        )
        .expect("applies");
        let document = read(&changed).expect("a document");
        assert_eq!(document.photo[0].axis, Some([[1.5, 2.0], [30.0, 40.0]]));
        assert_eq!(document.photo[1].name, "side");
        assert_eq!(document.run.map(|run| run.wanted), Some(24));
        assert_eq!(document.size[0].choose.as_ref().map(|size| size.written.as_str()), Some("7/8 in"));
        assert!(changed.contains("# the rod") && changed.contains("# a remark"));
        let back = apply(
            &changed,
            &[
                edit(json!(["photo", {"name": "side"}]), json!(null)),
                edit(json!(["run"]), json!(null)),
                edit(json!(["none", "such"]), json!(null)),
            ],
        )
        .expect("applies");
        assert_eq!(read(&back).expect("a document").photo.len(), 1);
    }

    #[test]
    fn a_change_that_makes_an_error_is_refused_whole() {
        let refused = apply(TEXT, &[edit(json!(["title"]), json!("u")), edit(json!(["known", 0, "value"]), json!(-1))]);
        assert!(matches!(&refused, Err(EditError::Refused(problems)) if problems[0].text.contains("above 0")), "{refused:?}");
        assert!(apply(TEXT, &[edit(json!(["title", "x"]), json!(1))]).is_err());
        assert!(apply(TEXT, &[edit(json!([]), json!(1))]).is_err());
        assert!(apply(TEXT, &[edit(json!(["photo", 0, "axis"]), json!([[null, 1], [2, 3]]))]).is_err());
    }

    #[test]
    fn two_windows_merge_unless_they_touch_the_same_thing() {
        let theirs = apply(TEXT, &[edit(json!(["known", {"name": "shaft"}, "value"]), json!("1/4 in"))]).expect("applies");
        let merged = merge(TEXT, &theirs, &[edit(json!(["title"]), json!("mine"))]).expect("merges");
        assert!(merged.contains("1/4 in") && merged.contains("mine"));
        let clash = merge(TEXT, &theirs, &[edit(json!(["known", {"name": "shaft"}, "value"]), json!("7 mm"))]);
        assert!(matches!(clash, Err(EditError::Conflict { theirs, .. }) if theirs.contains("1/4 in")));
        assert!(merge(TEXT, &theirs, &[edit(json!(["known", {"name": "shaft"}, "value"]), json!("1/4 in"))]).is_ok(), "both mean the same");
    }
}
