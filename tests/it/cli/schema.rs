//! The JSON Schema of `flankwise.toml`: the committed file, and that it takes what the reader
//! takes and refuses what the reader refuses.

use serde_json::Value;

use super::*;

fn schema() -> Value {
    let ran = flankwise(["schema"], b"");
    assert_eq!(ran.exit, Exit::Clean);
    ran.json()
}

fn valid(text: &str) -> bool {
    let read: Value = toml::from_str(text).unwrap();
    jsonschema::draft7::new(&schema()).unwrap().is_valid(&read)
}

/// Whether the reader of the configuration takes it.
fn read(text: &str) -> bool {
    let rules: Vec<&str> = rules::checks::RULES.iter().map(|rule| rule.name).collect();
    rules::facts::Config::parse("flankwise.toml", text, &rules).is_ok()
}

#[test]
fn the_file_in_the_repository() {
    pages::assert_page(
        "editors/flankwise.schema.json",
        flankwise(["schema"], b"").out(),
    );
}

#[test]
fn it_is_a_schema_and_every_key_has_a_type() {
    let schema = schema();
    assert!(jsonschema::draft7::meta::is_valid(&schema));
    let properties = schema["properties"].as_object().unwrap();
    for name in ["machine", "thread", "rules", "waiver", "ci"] {
        assert!(properties.contains_key(name), "{name}");
    }
    fn typed(name: &str, schema: &Value) {
        let known = ["type", "enum", "anyOf"]
            .iter()
            .any(|key| schema.get(key).is_some());
        assert!(known, "{name}: {schema}");
        for inner in ["properties", "items"] {
            match &schema[inner] {
                Value::Object(map) if inner == "properties" => {
                    map.iter().for_each(|(key, one)| typed(key, one))
                }
                Value::Object(_) => typed(name, &schema[inner]),
                _ => {}
            }
        }
    }
    properties.iter().for_each(|(name, one)| typed(name, one));
    let machine = &properties["machine"]["items"];
    assert_eq!(machine["required"], serde_json::json!(["id"]));
    assert_eq!(machine["properties"]["max_rpm"]["exclusiveMinimum"], 0);
    assert_eq!(
        machine["properties"]["system"]["enum"],
        serde_json::json!([
            "A",
            "B",
            "C",
            "interpreter",
            "mill",
            "call",
            "compound",
            "G82"
        ])
    );
    let waiver = &properties["waiver"]["items"];
    assert_eq!(waiver["required"], serde_json::json!(["rule", "reason"]));
    assert_eq!(
        properties["rules"]["properties"].as_object().unwrap().len(),
        rules::checks::RULES.len()
    );
}

#[test]
fn it_takes_what_the_reader_takes() {
    let readme = fs::read_to_string(corpus().join("../README.md")).unwrap();
    let mut examples: Vec<String> = readme
        .split("```toml\n")
        .skip(1)
        .map(|rest| rest.split("```").next().unwrap().to_owned())
        .collect();
    assert!(!examples.is_empty());
    for rule in fs::read_dir(corpus().join("rules")).unwrap() {
        let file = rule.unwrap().path().join("flankwise.toml");
        examples.extend(fs::read_to_string(file).ok());
    }
    examples.push(
        "[[waiver]]\nrule = \"wrong-side\"\nreason = \"as ordered\"\nuntil = \"2027-03-31\"\n"
            .to_owned(),
    );
    for text in examples {
        assert!(read(&text), "{text}");
        // A date without quotes is a text for a reader of JSON.
        assert!(valid(&text), "{text}");
    }
    for text in [
        "[[machine]]\nid = \"a\"\nmax_rmp = 1\n",
        "[[machine]]\nmax_rpm = 1\n",
        "[[machine]]\nid = \"a\"\nmax_rpm = 0\n",
        "[[machine]]\nid = \"a\"\nsystem = \"D\"\n",
        "[[machine]]\nid = 3\n",
        "[machine]\nid = \"a\"\n",
        "[rules]\nwrong-site = \"off\"\n",
        "[rules]\nwrong-side = \"loud\"\n",
        "[[waiver]]\nrule = \"wrong-side\"\n",
        "[[waiver]]\nrule = \"wrong-site\"\nreason = \"as ordered\"\n",
        "[ci]\nfail_on = \"errors\"\n",
        "[ci]\ntime_budget_s = -1\n",
        "[[thread]]\ntool = \"3\"\ndesignation = \"M24x3\"\n",
        "colour = true\n",
    ] {
        assert!(!read(text), "{text}");
        assert!(!valid(text), "{text}");
    }
}
