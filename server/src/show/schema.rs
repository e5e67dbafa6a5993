//! The JSON Schema of `flankwise.toml`, for editors that complete and check it. It is made by
//! asking the reader of the configuration itself: which keys it knows in a table, and what it wants
//! a key to be. So it says what the reader says, and nothing else.

use rules::checks::RULES;
use rules::facts::Config;
use serde_json::{Map, Value, json};

use super::json::print;

/// A word that is no key, no rule and no choice, nor near one.
const STRANGER: &str = "qqqqqqqqqqqqqqqq";

/// What a key means, where its name does not say it.
const MEANINGS: [(&str, &str); 22] = [
    (
        "acceleration_m_s2",
        "Acceleration of the axis while threading, m/s²",
    ),
    (
        "baseline",
        "File with the findings that are known already, from the folder of this file",
    ),
    ("by", "Who signed the waiver"),
    (
        "decimal",
        "How lengths without a point are read: as whole units or as least increments",
    ),
    (
        "designation",
        "The thread as the drawing calls it, such as M24x3-6g",
    ),
    (
        "diameter_mode",
        "Whether X is a diameter where the program has no word for it",
    ),
    ("fail_on", "Lowest severity that fails a run"),
    (
        "files",
        "Which programs it is for: file patterns from the folder of this file; a pattern without / is for a name in any folder",
    ),
    (
        "finish_allowance_mm",
        "Finishing allowance that the control uses when a cycle does not write it, mm",
    ),
    ("id", "Name of the machine in the shop"),
    ("max_rpm", "Highest spindle speed, 1/min"),
    (
        "max_uses",
        "Most findings that the waiver is for in one run; more are told",
    ),
    (
        "max_thread_feed_mm_min",
        "Highest feed rate while threading, mm/min",
    ),
    (
        "min_cut_mm",
        "Minimum depth of cut that the control uses when a cycle does not write it, mm",
    ),
    ("rapid_x_m_min", "Rapid along X, m/min"),
    ("rapid_z_m_min", "Rapid along Z, m/min"),
    ("reason", "Why the shop allows it"),
    ("rule", "Name of the rule that is waived"),
    (
        "section",
        "Fingerprint of the one thread that it is for, as `check --format json` prints it",
    ),
    (
        "servo_time_constant_s",
        "Time constant of the axis drive, s",
    ),
    (
        "time_budget_s",
        "Most seconds that a change may add to a part",
    ),
    ("until", "Last day of the waiver"),
];

/// The messages of the reader about a text.
fn messages(text: &str) -> Vec<String> {
    let rules: Vec<&str> = RULES.iter().map(|rule| rule.name).collect();
    match Config::parse("flankwise.toml", text, &rules) {
        Ok(_) => Vec::new(),
        Err(errors) => errors.into_iter().map(|error| error.message).collect(),
    }
}

/// The names behind `known are` in the message about the stranger.
fn known(text: &str) -> Option<Vec<String>> {
    let about = messages(text)
        .into_iter()
        .find(|message| message.contains(STRANGER))?;
    let (_, names) = about.split_once("known are ")?;
    Some(names.split(", ").map(str::to_owned).collect())
}

/// What the reader wants a key to be.
fn wanted(text: &str, key: &str) -> Option<String> {
    let head = format!("`{key}` must be ");
    let found = messages(text);
    let found = found
        .iter()
        .find_map(|message| message.strip_prefix(&head))?;
    Some(
        found
            .split(", here it is")
            .next()
            .unwrap_or(found)
            .to_owned(),
    )
}

/// Two numbers of `from 1 to 100`.
fn bounds(text: &str) -> Option<(f64, f64)> {
    let (least, most) = text.split_once("from ")?.1.split_once(" to ")?;
    Some((least.parse().ok()?, most.parse().ok()?))
}

/// A whole number without `.0`.
fn bound(value: f64) -> Value {
    if value.fract() == 0.0 {
        json!(value as i64)
    } else {
        json!(value)
    }
}

/// The schema of one key of a table that begins with `head`.
fn key(head: &str, name: &str) -> Value {
    let given = |value: &str| wanted(&format!("{head}{name} = {value}\n"), name);
    let mut schema = match given("{}").as_deref() {
        // A table is what it wants.
        None => table(&format!("{head}{name}.")),
        Some("a text in quotes") => match known(&format!("{head}{name} = \"{STRANGER}\"\n")) {
            Some(choices) => json!({"type": "string", "enum": choices}),
            None => json!({"type": "string"}),
        },
        Some("true or false") => json!({"type": "boolean"}),
        Some("a number") => match given("-1e300").as_deref() {
            Some(text) if text.contains("above 0") => {
                json!({"type": "number", "exclusiveMinimum": 0})
            }
            Some(text) if text.contains("not below 0") => json!({"type": "number", "minimum": 0}),
            Some(text) => match bounds(text) {
                Some((least, most)) => {
                    json!({"type": "number", "minimum": bound(least), "maximum": bound(most)})
                }
                None => json!({"type": "number"}),
            },
            None => json!({"type": "number"}),
        },
        Some(text) if text.starts_with("a list of texts") => {
            json!({"type": "array", "items": {"type": "string"}})
        }
        Some(text) if text.starts_with("a list of numbers") => {
            let mut list = json!({"type": "array", "items": {"type": "number", "minimum": 0}});
            if given("[1]").is_some_and(|text| text.starts_with("two numbers")) {
                list["minItems"] = json!(2);
                list["maxItems"] = json!(2);
            }
            list
        }
        Some(text) if text.starts_with("a whole number") => match bounds(text) {
            Some((least, most)) => {
                json!({"type": "integer", "minimum": bound(least), "maximum": bound(most)})
            }
            None => json!({"type": "integer"}),
        },
        Some(text) if text.starts_with("a tool number") => {
            json!({"type": "integer", "minimum": 0, "maximum": 99_999_999})
        }
        Some(text) if text.starts_with("a day") => json!({"type": "string", "format": "date"}),
        Some(text) if text.starts_with("a fingerprint") => json!({"type": "string"}),
        // A new kind of key: its description has to do.
        Some(_) => json!({}),
    };
    let told = MEANINGS
        .iter()
        .find(|(known, _)| *known == name)
        .map(|(_, told)| (*told).to_owned());
    if let Some(told) = told.or_else(|| given("{}").filter(|_| schema == json!({}))) {
        schema["description"] = json!(told);
    }
    if name == "rule" {
        schema["enum"] = RULES.iter().map(|rule| rule.name).collect();
    }
    schema
}

/// The schema of the table that begins with `head`.
fn table(head: &str) -> Value {
    let names = known(&format!("{head}{STRANGER} = 1\n")).unwrap_or_default();
    let mut properties = Map::new();
    for name in &names {
        properties.insert(name.clone(), key(head, name));
    }
    let mut schema = json!({
        "type": "object",
        "additionalProperties": false,
        "properties": properties,
    });
    // An empty table is told what it lacks.
    let lacks = messages(head);
    let needed = names.iter().filter(|name| {
        let add = format!("add `{name} = ");
        lacks.iter().any(|message| message.contains(&add))
    });
    let needed: Vec<&String> = needed.collect();
    if !needed.is_empty() {
        schema["required"] = json!(needed);
    }
    schema
}

/// The table of rules: every rule with what it may be.
fn rules() -> Value {
    let settings = RULES
        .first()
        .and_then(|rule| known(&format!("[rules]\n{} = \"{STRANGER}\"\n", rule.name)));
    let mut properties = Map::new();
    for rule in RULES {
        properties.insert(
            rule.name.to_owned(),
            json!({
                "description": format!("{} [default: {}]", rule.summary, rule.severity.name()),
                "enum": settings,
            }),
        );
    }
    json!({"type": "object", "additionalProperties": false, "properties": properties})
}

/// A table of the file, or a list of them.
fn part(name: &str) -> Value {
    if name == "rules" {
        return rules();
    }
    if name == "rules_for" {
        let files = key("[[rules_for]]\n", "files");
        let one = json!({"type": "object", "additionalProperties": false,
            "required": ["files", "rules"], "properties": {"files": files, "rules": rules()}});
        return json!({"type": "array", "items": one});
    }
    let single = format!("[{name}]\n");
    let several = format!("[[{name}]]\n");
    let takes = |text: &str| known(&format!("{text}{STRANGER} = 1\n")).is_some();
    match (takes(&several), takes(&single)) {
        (true, true) => {
            json!({"anyOf": [table(&single), {"type": "array", "items": table(&several)}]})
        }
        (true, false) => json!({"type": "array", "items": table(&several)}),
        _ => table(&single),
    }
}

/// The schema, with a line for each part, so that differences can be read.
pub(crate) fn text() -> String {
    let names = known(&format!("{STRANGER} = 1\n")).unwrap_or_default();
    let parts: Vec<String> = names
        .iter()
        .map(|name| format!("{}:{}", print(name), print(&part(name))))
        .collect();
    format!(
        "{{\"$schema\":\"http://json-schema.org/draft-07/schema#\",\n\"title\":\"flankwise.toml\",\n\
         \"description\":\"Facts of a shop about machines, threads and rules\",\n\"type\":\"object\",\n\
         \"additionalProperties\":false,\n\"properties\":{{\n{}\n}}}}\n",
        parts.join(",\n")
    )
}
