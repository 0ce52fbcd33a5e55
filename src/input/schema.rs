//! JSON Schemas (draft 2020-12) of every YAML file, so that an editor completes and underlines as one types.
//! Their fields, ranges and words are those that the readers ask for ([`super::outline`]); what a field
//! means, with its unit and examples, is in [`super::schema_words`].

use super::checklist::read_checklist;
use super::evidence::{effect, source};
use super::factors::factor;
use super::field::{Block, Bounds, End, Page, Refers, Value};
use super::interventions::intervention;
use super::library::{FileSet, read_library};
use super::measure::Dimension;
use super::outline::{Field, Needs, Outline, PartId, Shape};
use super::schema_translation::translation;
use super::schema_words::{EXTRA, FILES, WORDS};
use super::walk::ANSWER_FIELDS;
use super::yaml::{Node, NodeKind, Scalar};
use super::{actions, burden, card, checklist, walk};
use crate::finding::{Findings, SourceText};
use crate::model::Library;
use crate::model::checklist::{Choice, Item, Kind};
use crate::model::intervention::Each;
use serde_json::{Map, Value as Json, json};

/// Names of the schemas.
pub const SCHEMAS: [&str; 10] = [
    "walk",
    "checklist",
    "sources",
    "effects",
    "factors",
    "interventions",
    "burden",
    "card",
    "actions",
    TRANSLATION,
];

const TRANSLATION: &str = "translation";

/// The JSON Schema of a kind of file as text; `None` where there is no such kind. The checklists, factors,
/// options and sources of `files` are what an editor offers.
pub fn schema(name: &str, files: &FileSet) -> Option<String> {
    let libraries: Vec<Library> = files
        .checklist_ids()
        .into_iter()
        .filter_map(|id| read_library(files, id, &mut Findings::new()))
        .collect();
    let mut schema = match name {
        TRANSLATION => translation(files),
        _ => {
            let outline = outline(name, libraries.first())?;
            let drawing = Drawing { outline: &outline, library: libraries.first() };
            let mut schema = drawing.draw(name, 0);
            schema["$defs"] = drawing.names_known();
            schema
        }
    };
    if let (Some(fields), Some((_, title, say))) =
        (schema.as_object_mut(), FILES.iter().find(|it| it.0 == name))
    {
        fields.insert("$schema".to_owned(), json!("https://json-schema.org/draft/2020-12/schema"));
        fields.insert("$id".to_owned(), json!(format!("urn:underfoot:schema:{name}")));
        fields.insert("title".to_owned(), json!(title));
        fields.insert("description".to_owned(), json!(say));
    }
    if name == "walk" {
        answers(&mut schema, files, &libraries);
    }
    serde_json::to_string_pretty(&schema).ok().map(|text| text + "\n")
}

/// Every field of a kind of file that its reader asks for, by its path, such as `walk.segments[].length_m`.
#[cfg(test)]
fn paths(name: &str, library: &Library) -> Vec<String> {
    let mut found = Vec::new();
    if let Some(outline) = outline(name, Some(library)) {
        collect(&outline, name, 0, &mut found);
    }
    found
}

#[cfg(test)]
fn collect(outline: &Outline, path: &str, part: PartId, found: &mut Vec<String>) {
    found.push(path.to_owned());
    match outline.part(part).and_then(|part| part.shape.as_ref()) {
        Some(Shape::List(inner) | Shape::OneOrList(inner)) => {
            collect(outline, &format!("{path}[]"), *inner, found)
        }
        Some(Shape::Free(_, value)) => collect(outline, &format!("{path}.*"), *value, found),
        Some(Shape::Named(named, _)) => {
            named.iter().for_each(|(_, part)| collect(outline, &format!("{path}.*"), *part, found));
        }
        Some(Shape::Block(fields, _)) => {
            fields.iter().for_each(|it| collect(outline, &format!("{path}.{}", it.name), it.part, found));
        }
        _ => {}
    }
}

/// Lets the reader of a kind of file note what it asks for.
fn outline(name: &str, library: Option<&Library>) -> Option<Outline> {
    match name {
        "walk" => {
            let library = library?;
            Some(noted(|block| walk::fields(block, library)))
        }
        "checklist" => Some(noted(checklist::fields)),
        "sources" => Some(listed("sources", source)),
        "effects" => Some(listed("effects", effect)),
        "factors" => Some(listed("factors", factor)),
        "interventions" => Some(listed("interventions", intervention)),
        "burden" => Some(noted(burden::fields)),
        "card" => Some(noted(card::fields)),
        "actions" => Some(noted(actions::fields)),
        _ => None,
    }
}

fn noted<T>(read: impl FnOnce(&Block<'_>) -> Option<T>) -> Outline {
    let text = SourceText::new("", "");
    let stand_in = Node { span: 0..0, kind: NodeKind::Scalar(Scalar { value: "a".to_owned(), plain: true }) };
    let page = Page::outlining(&text);
    page.root(&stand_in).block(|block| read(block));
    page.into_outline()
}

fn listed<T>(field: &'static str, read: impl Fn(Value<'_>) -> Option<T>) -> Outline {
    noted(|block| {
        let items = block.req(field)?.list()?;
        Some(items.into_iter().filter_map(read).count())
    })
}

/// An outline while its schema is drawn.
struct Drawing<'a> {
    outline: &'a Outline,
    library: Option<&'a Library>,
}

impl Drawing<'_> {
    fn draw(&self, path: &str, id: PartId) -> Json {
        let Some(part) = self.outline.part(id) else { return json!({}) };
        let mut schema = match &part.shape {
            None => Map::new(),
            Some(shape) => self.shape(path, shape),
        };
        if part.nullable {
            or_null(&mut schema);
        }
        describe(path, &mut schema);
        Json::Object(schema)
    }

    fn shape(&self, path: &str, shape: &Shape) -> Map<String, Json> {
        let schema = match shape {
            Shape::Text => json!({ "type": ["string", "number", "boolean"], "minLength": 1 }),
            Shape::Id => id(),
            Shape::Mention(Refers::Source) => known_name("source"),
            Shape::Mention(Refers::Factor) => known_name("factor"),
            Shape::Mention(Refers::Option) => known_name("option"),
            Shape::Number(bounds) => number(bounds),
            Shape::Whole(least, most) => json!({ "type": "integer", "minimum": least, "maximum": most }),
            Shape::Measure(dimension, bounds) => measure(*dimension, bounds),
            Shape::Flag => json!({ "type": "boolean" }),
            Shape::Date => json!({ "type": "string", "format": "date", "pattern": "^\\d{4}-\\d{2}-\\d{2}$" }),
            Shape::Currency => json!({ "type": "string", "pattern": "^[A-Z]{3}$" }),
            Shape::Words(words) => json!({ "enum": words }),
            Shape::List(inner) => {
                json!({ "type": "array", "items": self.draw(&format!("{path}[]"), *inner) })
            }
            Shape::OneOrList(inner) => {
                let one = self.draw(&format!("{path}[]"), *inner);
                json!({ "anyOf": [one, { "type": "array", "items": one }] })
            }
            Shape::Numbers(count, bounds) => {
                json!({ "type": "array", "items": number(bounds), "minItems": count, "maxItems": count })
            }
            Shape::Pair(first, second) => json!({
                "type": "array",
                "prefixItems": [self.draw(&format!("{path}[0]"), *first), self.draw(&format!("{path}[1]"), *second)],
                "minItems": 2,
                "maxItems": 2,
            }),
            Shape::Free(key, value) => json!({
                "type": "object",
                "propertyNames": self.names(*key),
                "additionalProperties": self.draw(&format!("{path}.*"), *value),
            }),
            Shape::Named(named, all) => {
                let draw =
                    |(name, part): &(String, PartId)| (name.clone(), self.draw(&format!("{path}.*"), *part));
                let properties: Map<String, Json> = named.iter().map(draw).collect();
                let names: Vec<&String> = named.iter().filter(|_| *all).map(|(name, _)| name).collect();
                json!({ "type": "object", "properties": properties, "required": names, "additionalProperties": false })
            }
            Shape::Block(fields, needs) => self.block(path, fields, *needs),
        };
        match schema {
            Json::Object(fields) => fields,
            _ => Map::new(),
        }
    }

    fn block(&self, path: &str, fields: &[Field], needs: Needs) -> Json {
        let draw =
            |field: &Field| (field.name.to_owned(), self.draw(&format!("{path}.{}", field.name), field.part));
        let properties: Map<String, Json> = fields.iter().map(draw).collect();
        let required: Vec<&str> =
            fields.iter().filter(|field| field.required).map(|field| field.name).collect();
        let mut schema = json!({
            "type": "object",
            "properties": properties,
            "required": required,
            "additionalProperties": false,
        });
        if needs == Needs::Provenance {
            let given = json!({ "not": { "type": "null" }, "minItems": 1 });
            let sourced = json!({ "properties": { "source": given }, "required": ["source"] });
            let judged =
                json!({ "properties": { "judgement": { "const": true } }, "required": ["judgement"] });
            schema["anyOf"] = json!([sourced, judged]);
        }
        schema
    }

    /// What the names of a block may be.
    fn names(&self, key: PartId) -> Json {
        match self.outline.part(key).and_then(|part| part.shape.as_ref()) {
            Some(shape) => Json::Object(self.shape("", shape)),
            None => json!({}),
        }
    }

    /// Ids that are known are offered; others may be the user's own.
    fn names_known(&self) -> Json {
        let offer = |known: Vec<&str>| json!({ "anyOf": [{ "enum": known }, { "type": ["string", "number", "boolean"], "minLength": 1 }] });
        let Some(library) = self.library else { return json!({}) };
        json!({
            "source": offer(library.sources.iter().map(|source| source.id.as_str()).collect()),
            "factor": offer(library.factors.iter().map(|factor| factor.id.as_str()).collect()),
            "option": offer(library.interventions.iter().map(|option| option.id.as_str()).collect()),
            "skip": { "type": ["string", "number", "boolean", "null"], "minLength": 1, "title": "Not answered, because",
                "description": "The reason; the item counts as not looked at, never as good." },
            "note": { "type": ["string", "number", "boolean", "null"], "minLength": 1, "title": "Remark" },
        })
    }
}

fn known_name(of: &str) -> Json {
    json!({ "$ref": format!("#/$defs/{of}") })
}

/// Anything but spaces and ASCII marks other than `-`, `_` and `.`: patterns know no letters beyond ASCII
/// that every validator reads.
const ID: &str = "^[^\\s!-,/:-@\\[-\\^`{-~]+$";

fn id() -> Json {
    json!({ "type": ["string", "number", "boolean"], "pattern": ID, "maxLength": 64 })
}

fn number(bounds: &Bounds) -> Json {
    let mut schema = json!({ "type": "number" });
    match bounds.low {
        End::Open => {}
        End::At(low) => schema["minimum"] = json!(low),
        End::Beyond(low) => schema["exclusiveMinimum"] = json!(low),
    }
    match bounds.high {
        End::Open => {}
        End::At(high) => schema["maximum"] = json!(high),
        End::Beyond(high) => schema["exclusiveMaximum"] = json!(high),
    }
    schema
}

/// A number; or text with a unit.
fn measure(dimension: Dimension, bounds: &Bounds) -> Json {
    let units = match dimension {
        Dimension::Length => "m|metres?|meters?|ft|foot|feet|yds?|yards?",
        Dimension::Area => {
            "m2|m²|sq m|sq ft|ft2|ft²|square (foot|feet)|sq yd|yd2|yd²|square yards?|acres?|ac|ha|hectares?"
        }
        Dimension::Other => return number(bounds),
    };
    let mut schema = number(bounds);
    schema["type"] = json!(["number", "string"]);
    schema["pattern"] = json!(format!("^ *[+-]?[0-9.]+ *({units}) *$"));
    schema
}

/// Null is the same as left out.
fn or_null(schema: &mut Map<String, Json>) {
    if let Some(of) = schema.remove("$ref") {
        schema.insert("anyOf".to_owned(), json!([{ "$ref": of }]));
    }
    match schema.get_mut("type") {
        Some(Json::Array(types)) => types.push(json!("null")),
        Some(one) => *one = json!([one.clone(), "null"]),
        None => {}
    }
    for list in ["enum", "anyOf"] {
        let null = if list == "enum" { json!(null) } else { json!({ "type": "null" }) };
        // The `anyOf` of a block says what it needs, not what it may be.
        if !schema.contains_key("properties")
            && let Some(Json::Array(values)) = schema.get_mut(list)
        {
            values.push(null);
        }
    }
    if schema.contains_key("properties")
        && let Some(needs) = schema.remove("anyOf")
    {
        let null = json!({ "type": "null" });
        let needs = needs.as_array().cloned().unwrap_or_default();
        schema.insert("anyOf".to_owned(), Json::Array(needs.into_iter().chain([null]).collect()));
    }
}

/// The words of a field: those of its path, else of the longest end of it that is listed.
fn words(path: &str) -> Option<usize> {
    let exact = WORDS.iter().position(|words| words.0 == path);
    let end = || {
        let ends = |(at, words): (usize, &(&str, &str, &str, &str))| {
            let tail = words.0.strip_prefix('*')?;
            path.ends_with(tail).then_some((tail.len(), at))
        };
        WORDS.iter().enumerate().filter_map(ends).max().map(|(_, at)| at)
    };
    exact.or_else(end)
}

fn describe(path: &str, schema: &mut Map<String, Json>) {
    if let Some((_, title, say, examples)) = words(path).and_then(|at| WORDS.get(at)) {
        schema.insert("title".to_owned(), json!(title));
        schema.insert("description".to_owned(), json!(say));
        if let Ok(Json::Array(examples)) = serde_json::from_str(examples) {
            schema.insert("examples".to_owned(), Json::Array(examples));
        }
    }
    let extra =
        EXTRA.iter().find(|(of, _)| *of == path).and_then(|(_, extra)| serde_json::from_str(extra).ok());
    if let Some(Json::Object(extra)) = extra {
        schema.extend(extra);
    }
}

/// The answers of each checklist that can be read: its items, with what they ask and what may be answered.
fn answers(schema: &mut Json, files: &FileSet, libraries: &[Library]) {
    let ids: Vec<&str> = libraries.iter().map(|library| library.checklist.id.as_str()).collect();
    if let Some(walk) = schema["properties"]["walk"].as_object_mut() {
        walk.remove("type");
        walk.remove("minLength");
        walk.insert("anyOf".to_owned(), json!([{ "enum": ids }, { "type": "string", "minLength": 1 }]));
    }
    let one = |library: &Library| {
        let checklist = files
            .get(&format!("{}.yaml", library.checklist.id))
            .and_then(|source| read_checklist(source, &mut Findings::new()).0)
            .unwrap_or_else(|| library.checklist.clone());
        let items: Map<String, Json> =
            checklist.items().map(|item| (item.id.clone(), answer_of(item))).collect();
        json!({
            "if": { "properties": { "walk": { "const": checklist.id } }, "required": ["walk"] },
            "then": { "properties": {
                "answers": { "type": ["object", "null"], "properties": items, "additionalProperties": false },
                "herd": { "properties": { "system": { "const": checklist.system.id() } } },
            } },
        })
    };
    schema["allOf"] = Json::Array(libraries.iter().map(one).collect());
}

/// The answer to an item: for the farm, or for each segment.
fn answer_of(item: &Item) -> Json {
    let mut schema = match item.each {
        Each::Farm => one_answer(item),
        Each::Segment => json!({
            "type": ["object", "null"],
            "properties": { "skip": known_name("skip"), "note": known_name("note") },
            "additionalProperties": one_answer(item),
        }),
    };
    let unit = item.unit.as_deref().map_or(String::new(), |unit| format!(" ({unit})"));
    schema["title"] = json!(format!("{}{unit}", item.ask));
    if let Some(look) = &item.look {
        schema["description"] = json!(look);
    }
    schema
}

fn one_answer(item: &Item) -> Json {
    let whole =
        |least: u64, title: &str| json!({ "type": ["integer", "null"], "minimum": least, "title": title });
    let unit = item.unit.as_deref().unwrap_or_default();
    let measured = |unit: &str, bounds: &Bounds, title: &str| {
        let mut schema = measure(Dimension::of_unit(unit).0, bounds).as_object().cloned().unwrap_or_default();
        or_null(&mut schema);
        schema.insert("title".to_owned(), json!(title));
        Json::Object(schema)
    };
    let (mut properties, halves) = match &item.kind {
        Kind::Choice(choices) => (json!({ "choose": chosen(choices) }), Vec::new()),
        Kind::Number(scale) => {
            let never_negative = scale.points().first().is_some_and(|point| point.0 >= 0.0);
            let bounds = if never_negative { super::field::NOT_NEGATIVE } else { super::field::ANY };
            (json!({ "value": measured(unit, &bounds, unit) }), Vec::new())
        }
        Kind::Count(_) => {
            let (counted, over) = unit.split_once('/').unwrap_or((unit, "looked at"));
            let over = measured(over, &super::field::POSITIVE, over);
            (
                json!({ "count": whole(0, counted), "over": over }),
                vec![without("over", "count"), without("count", "over")],
            )
        }
        Kind::Share(_) => {
            let (count, of) = (whole(0, "How many"), whole(1, "Of how many"));
            (json!({ "count": count, "of": of }), vec![without("of", "count"), without("count", "of")])
        }
    };
    properties["skip"] = known_name("skip");
    properties["note"] = known_name("note");
    let answers = ANSWER_FIELDS.iter().filter(|field| **field != "skip" && properties.get(**field).is_some());
    let two_ways = answers.map(|field| json!({ "type": "object", "required": ["skip", field] }));
    let wrong: Vec<Json> = two_ways.chain(halves).collect();
    json!({
        "type": ["object", "null"],
        "properties": properties,
        "additionalProperties": false,
        "not": { "anyOf": wrong },
    })
}

/// An answer in two fields of which one is left out or null.
fn without(missing: &str, given: &str) -> Json {
    json!({
        "type": "object",
        "required": [given],
        "properties": { given: { "not": { "type": "null" } }, missing: { "type": "null" } },
    })
}

/// The options of a choice, each with what the observer sees.
fn chosen(choices: &[Choice]) -> Json {
    let one = |choice: &Choice| json!({ "const": choice.id, "title": choice.say, "description": choice.say });
    let null = json!({ "type": "null" });
    json!({ "title": "What was seen", "anyOf": choices.iter().map(one).chain([null]).collect::<Vec<_>>() })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every field has words, and every entry of the words is of some field.
    #[test]
    fn every_field_is_described_and_every_description_is_of_a_field() {
        let library =
            read_library(&FileSet::builtin(), "pasture-herd", &mut Findings::new()).expect("shipped");
        let all: Vec<String> = SCHEMAS.iter().flat_map(|name| paths(name, &library)).collect();
        let is_field = |path: &&String| path.contains('.') && !path.ends_with(']') && !path.ends_with('*');
        let silent: Vec<&String> = all.iter().filter(is_field).filter(|path| words(path).is_none()).collect();
        assert!(silent.is_empty(), "without words: {silent:#?}");
        let used: std::collections::BTreeSet<usize> = all.iter().filter_map(|path| words(path)).collect();
        let idle: Vec<&str> =
            WORDS.iter().enumerate().filter(|(at, _)| !used.contains(at)).map(|(_, words)| words.0).collect();
        assert!(idle.is_empty(), "of no field: {idle:?}");
        let stray: Vec<&str> =
            EXTRA.iter().map(|it| it.0).filter(|of| !all.iter().any(|path| path == of)).collect();
        assert!(stray.is_empty(), "of no field: {stray:?}");
        for (path, _, _, examples) in WORDS.iter().filter(|words| !words.3.is_empty()) {
            assert!(serde_json::from_str::<Vec<Json>>(examples).is_ok(), "{path}: {examples}");
        }
    }
}
