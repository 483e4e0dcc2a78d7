//! Where in a JSON text a field stands, so that an error can name its line.

use super::Mark;
use serde_json::value::RawValue;
use std::collections::HashMap;

/// The place of `field`, written as in `rocket.stages[0].dry_mass_g`; of what holds it, if it is not there.
pub(super) fn mark_of(text: &str, field: &str) -> Option<Mark> {
    let mut here: &RawValue = serde_json::from_str(text).ok()?;
    for step in field.split(['.', '[']).filter(|step| !step.is_empty()) {
        let inner = match step.strip_suffix(']').map(str::parse::<usize>) {
            Some(Ok(index)) => serde_json::from_str::<Vec<&RawValue>>(here.get())
                .ok()
                .and_then(|items| items.get(index).copied()),
            _ => serde_json::from_str::<HashMap<String, &RawValue>>(here.get())
                .ok()
                .and_then(|keys| keys.get(step).copied()),
        };
        let Some(inner) = inner else { break };
        here = inner;
    }
    // Raw values borrow from the text, so the distance of the two is the offset.
    let offset = (here.get().as_ptr() as usize).checked_sub(text.as_ptr() as usize)?;
    Some(Mark::at(text, offset))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_field_is_found_on_its_line_or_else_what_holds_it() {
        let text = "{\n  \"pad\": {\"lat\": 1,\n    \"lon\": [5, {\n \"deep\": 7}]}\n}";
        let at = |field: &str| mark_of(text, field).map(|mark| (mark.line, mark.column.unwrap()));
        assert_eq!(at("pad.lat"), Some((2, 18)));
        assert_eq!(at("pad.lon[1].deep"), Some((4, 10)));
        assert_eq!(at("pad.lon[9].deep"), Some((3, 12)));
        assert_eq!(at("pad.elevation_m"), Some((2, 10)));
        assert_eq!(at("file"), Some((1, 1)));
        assert_eq!(mark_of("{", "pad"), None);
    }
}
