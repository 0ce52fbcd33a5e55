//! The JSON Schema of a translation: every text that may be given anew, with the English one beside it, so
//! that an editor shows what is translated as one types.

use super::library::FileSet;
use super::translation::{Path, english_texts};
use serde_json::{Map, Value as Json, json};
use std::collections::BTreeMap;

/// The schema's own fields; its name, title and description are added by [`super::schema`].
pub(super) fn translation(files: &FileSet) -> Json {
    let texts = english_texts(files);
    let names: Vec<&str> = texts.keys().map(String::as_str).collect();
    let texts_of = |of: &&str| {
        json!({
            "if": { "properties": { "of": { "const": of } }, "required": ["of"] },
            "then": { "properties": { "texts": { "$ref": format!("#/$defs/{of}") } } },
        })
    };
    json!({
        "type": "object",
        "additionalProperties": false,
        "required": ["language", "of", "texts"],
        "properties": {
            "language": text("Language", "Its IETF tag, which is the name of its folder: fr, pt-BR."),
            "of": {
                "enum": names,
                "title": "Of what",
                "description": "What the texts are of: words (the farmer's report, the score, the sheet), pages \
                                (all others), interventions, factors, lesions, or a checklist's id.",
            },
            "texts": {
                "type": "object",
                "title": "Texts",
                "description": "Each under the names that lead to it. What is left out is shown in English.",
            },
        },
        "allOf": names.iter().map(texts_of).collect::<Vec<_>>(),
        "$defs": texts.iter().map(|(of, texts)| (of.clone(), block(texts))).collect::<Map<_, _>>(),
    })
}

fn text(title: &str, description: &str) -> Json {
    json!({
        "type": ["string", "number", "boolean"], "minLength": 1, "title": title, "description": description,
    })
}

/// A block of the texts below one name.
fn block(texts: &[(Path, String)]) -> Json {
    let mut inner: BTreeMap<&str, Vec<(Path, String)>> = BTreeMap::new();
    let mut fields = Map::new();
    for (path, english) in texts {
        match path.as_slice() {
            [] => {}
            [name] => {
                let mut text = text(name, english);
                text["type"] = json!(["string", "number", "boolean", "null"]);
                fields.insert(name.clone(), text);
            }
            [name, rest @ ..] => inner.entry(name).or_default().push((rest.to_vec(), english.clone())),
        }
    }
    for (name, texts) in inner {
        fields.insert(name.to_owned(), block(&texts));
    }
    json!({ "type": ["object", "null"], "additionalProperties": false, "properties": fields })
}
