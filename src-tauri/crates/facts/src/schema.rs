//! JSON Schema of the flight file.

use crate::ranges::Range;
use crate::read::join;
use crate::{FORMAT, Flight};
use serde_json::{Map, Value, json};

/// JSON Schema (2020-12) of the flight file: keys, words and ranges, not what must agree between fields.
#[must_use]
pub fn flight_schema() -> Value {
    let mut schema = schemars::schema_for!(Flight).to_value();
    spread_pairs(&mut schema);
    for (pointer, place) in numbers(&schema) {
        if let Some(number) = schema.pointer_mut(&pointer) {
            state_range(number, Range::of(&place));
        }
    }
    allow_null(&mut schema);
    schema["properties"]["format"] = json!({"const": FORMAT});
    if let Some(definitions) = schema["$defs"].as_object_mut() {
        definitions.remove("Figure");
    }
    schema
}

/// A pair or triple of numbers, each with a range of its own.
fn spread_pairs(node: &mut Value) {
    if let Some(keys) = node.as_object_mut() {
        let length =
            keys.get("maxItems").filter(|most| keys.get("minItems") == Some(*most)).and_then(Value::as_u64);
        if let (Some(length), Some(item)) =
            (length, keys.get("items").filter(|item| item["type"] == "number").cloned())
        {
            keys.remove("items");
            keys.insert("prefixItems".into(), (0..length).map(|_| item.clone()).collect());
        }
    }
    children(node).for_each(spread_pairs);
}

fn children(node: &mut Value) -> impl Iterator<Item = &mut Value> {
    let (keys, items): (Option<&mut Map<String, Value>>, Option<&mut Vec<Value>>) = match node {
        Value::Object(keys) => (Some(keys), None),
        Value::Array(items) => (None, Some(items)),
        _ => (None, None),
    };
    keys.into_iter().flat_map(|keys| keys.values_mut()).chain(items.into_iter().flatten())
}

/// Every number of the flight file: JSON pointer in the schema, and place as the table of ranges writes it.
pub(crate) fn numbers(schema: &Value) -> Vec<(String, String)> {
    let mut found = Vec::new();
    visit(schema, schema, "", "", &mut found);
    found
}

fn visit(root: &Value, node: &Value, pointer: &str, place: &str, found: &mut Vec<(String, String)>) {
    match node.get("$ref").and_then(Value::as_str).and_then(|target| target.strip_prefix('#')) {
        Some("/$defs/Figure") => found.push((pointer.into(), place.into())),
        Some(target) => {
            if let Some(definition) = root.pointer(target) {
                visit(root, definition, target, place, found);
            }
        }
        None => {}
    }
    if accepts(node, "number") {
        found.push((pointer.into(), place.into()));
    }
    for (key, inside) in node.get("properties").and_then(Value::as_object).into_iter().flatten() {
        visit(root, inside, &format!("{pointer}/properties/{key}"), &join(place, key), found);
    }
    for list in ["anyOf", "oneOf"] {
        for (index, inside) in node.get(list).and_then(Value::as_array).into_iter().flatten().enumerate() {
            visit(root, inside, &format!("{pointer}/{list}/{index}"), place, found);
        }
    }
    if let Some(inside) = node.get("items").filter(|items| items.is_object()) {
        visit(root, inside, &format!("{pointer}/items"), &format!("{place}[]"), found);
    }
    for (index, inside) in node.get("prefixItems").and_then(Value::as_array).into_iter().flatten().enumerate()
    {
        visit(root, inside, &format!("{pointer}/prefixItems/{index}"), &format!("{place}[{index}]"), found);
    }
}

fn accepts(node: &Value, kind: &str) -> bool {
    match node.get("type") {
        Some(Value::String(only)) => only == kind,
        Some(Value::Array(kinds)) => kinds.iter().any(|it| it == kind),
        _ => false,
    }
}

/// A bare number, or one that says how well it is known; both within the range.
fn state_range(number: &mut Value, range: Option<&Range>) {
    let bare = match range {
        Some(Range { low, high, .. }) => json!({"type": "number", "minimum": low, "maximum": high}),
        None => json!({"type": "number"}),
    };
    let mut either = vec![
        bare.clone(),
        json!({
            "type": "object",
            "properties": {"value": bare, "known": {"enum": ["weighed", "stated", "guessed", null]}},
            "required": ["value"],
            "additionalProperties": false,
        }),
    ];
    if accepts(number, "null") {
        either.push(json!({"type": "null"}));
    }
    let description = number.get("description").cloned();
    *number = json!({"anyOf": either});
    if let Some(description) = description {
        number["description"] = description;
    }
}

/// What may be left out may also be null.
fn allow_null(node: &mut Value) {
    let required: Vec<Value> = node.get("required").and_then(Value::as_array).cloned().unwrap_or_default();
    for (key, inside) in node.get_mut("properties").and_then(Value::as_object_mut).into_iter().flatten() {
        let optional = !required.iter().any(|it| it == key.as_str());
        let already = accepts(inside, "null")
            || inside["anyOf"].as_array().is_some_and(|any| any.iter().any(|it| accepts(it, "null")));
        if optional && !already {
            *inside = json!({"anyOf": [inside.take(), {"type": "null"}]});
        }
    }
    children(node).for_each(allow_null);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ranges::RANGES;

    #[test]
    fn every_number_of_the_flight_file_has_a_range_and_every_range_a_number() {
        let mut schema = schemars::schema_for!(Flight).to_value();
        spread_pairs(&mut schema);
        let mut places: Vec<String> = numbers(&schema).into_iter().map(|(_, place)| place).collect();
        for place in &places {
            assert!(Range::of(place).is_some(), "{place} has no range");
        }
        places.sort();
        for range in RANGES {
            assert!(places.binary_search(&range.place.to_string()).is_ok(), "{} is no number", range.place);
        }
    }
}
