//! The requirements of the model, on annotations built like the published
//! examples of the Recommendation "Web Annotation Data Model" (W3C, 23
//! February 2017), section by section; words and addresses are our own.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

use ganosis_exchange::problems;
use serde_json::{Value, json};

const CONTEXT: &str = "http://www.w3.org/ns/anno.jsonld";

fn annotation(more: Value) -> Value {
    let mut value = json!({"@context": CONTEXT, "id": "http://example.org/a1", "type": "Annotation",
        "target": "http://example.org/boss.glb"});
    for (name, field) in more.as_object().unwrap() {
        value[name] = field.clone();
    }
    value
}

#[test]
fn what_is_built_like_the_published_examples_has_all_that_is_required() {
    for (section, value) in [
        (
            "3.1 annotations",
            annotation(json!({"body": "http://example.org/post1"})),
        ),
        (
            "3.2.1 external resources",
            annotation(json!({
            "body": {"id": "http://example.org/a.mp3", "format": "audio/mpeg", "language": "fr"},
            "target": {"id": "http://example.org/p.pdf", "format": "application/pdf", "language": ["en", "ar"],
                "textDirection": "ltr", "processingLanguage": "en"}})),
        ),
        (
            "3.2.2 classes",
            annotation(
                json!({"body": {"id": "http://example.org/v", "type": "Video"},
            "target": {"id": "http://example.org/w", "type": "Text"}}),
            ),
        ),
        (
            "3.2.3 segments",
            annotation(
                json!({"target": {"id": "http://example.org/i#xywh=1,1,3,3", "type": "Image"}}),
            ),
        ),
        (
            "3.2.4 embedded textual body",
            annotation(json!({"body": {"type": "TextualBody",
            "value": "<p>j'ai vu</p>", "format": "text/html", "language": "fr"}})),
        ),
        (
            "3.2.5 string body",
            annotation(json!({"bodyValue": "Seen by daylight"})),
        ),
        (
            "3.2.6 cardinality",
            annotation(json!({"body": ["http://example.org/d1",
            {"type": "TextualBody", "value": "tag1"}],
            "target": ["http://example.org/1", "http://example.org/2"]})),
        ),
        (
            "3.2.7 choice",
            annotation(json!({"body": {"type": "Choice", "items": [
            {"id": "http://example.org/en", "language": "en"}, {"id": "http://example.org/fr", "language": "fr"}]}})),
        ),
        (
            "3.3.1 lifecycle",
            annotation(
                json!({"creator": "http://example.org/u1", "created": "2015-01-28T12:00:00Z",
            "modified": "2015-01-29T09:00:00.25+01:00"}),
            ),
        ),
        (
            "3.3.5 motivation and purpose",
            annotation(json!({"motivation": "bookmarking",
            "body": [{"type": "TextualBody", "value": "readme", "purpose": "tagging"}]})),
        ),
        (
            "4 specific resources",
            annotation(
                json!({"body": {"type": "SpecificResource", "purpose": "tagging",
            "source": "http://example.org/city"}}),
            ),
        ),
        (
            "4.2.1 fragment selector",
            annotation(
                json!({"target": {"source": "http://example.org/v1", "selector":
            {"type": "FragmentSelector", "conformsTo": "http://www.w3.org/TR/media-frags/", "value": "t=30,60"}}}),
            ),
        ),
        (
            "5.1 annotation collection",
            json!({"@context": CONTEXT, "id": "http://example.org/c", "type": "AnnotationCollection",
            "label": "Two annotations", "total": 2, "first": {"id": "http://example.org/p1", "type": "AnnotationPage",
            "startIndex": 0, "items": [
                {"id": "http://example.org/a1", "type": "Annotation", "target": "http://example.org/1"},
                {"id": "http://example.org/a2", "type": "Annotation", "target": "http://example.org/2"}]}}),
        ),
        (
            "5.2 annotation page",
            json!({"@context": CONTEXT, "id": "http://example.org/p1", "type": "AnnotationPage",
            "partOf": "http://example.org/c", "next": "http://example.org/p2", "startIndex": 0, "items": []}),
        ),
    ] {
        assert_eq!(problems(&value, false), Vec::<String>::new(), "{section}");
    }
}

#[test]
fn what_lacks_something_required_is_told_with_its_place() {
    let page = |page: Value| {
        json!({"@context": CONTEXT, "id": "http://example.org/c", "type": "AnnotationCollection",
        "total": 1, "first": page})
    };
    for (place, value) in [
        (
            "@context",
            json!({"id": "x", "type": "Annotation", "target": "y"}),
        ),
        ("id", annotation(json!({"id": null}))),
        ("type", annotation(json!({"type": "Note"}))),
        ("target", annotation(json!({"target": []}))),
        (
            "bodyValue",
            annotation(json!({"bodyValue": "a", "body": "http://example.org/b"})),
        ),
        ("bodyValue", annotation(json!({"bodyValue": ["a", "b"]}))),
        (
            "body[0].value",
            annotation(json!({"body": {"type": "TextualBody"}})),
        ),
        (
            "body[0].items",
            annotation(json!({"body": {"type": "Choice"}})),
        ),
        (
            "body[0].id",
            annotation(json!({"body": {"format": "text/csv"}})),
        ),
        (
            "body[0].purpose",
            annotation(
                json!({"body": {"type": "TextualBody", "value": "a", "purpose": "shouting"}}),
            ),
        ),
        ("motivation", annotation(json!({"motivation": "shouting"}))),
        ("created", annotation(json!({"created": "2025-03-14"}))),
        (
            "created",
            annotation(json!({"created": "2025-13-14T00:00:00Z"})),
        ),
        (
            "modified",
            annotation(json!({"modified": "2025-03-14T00:00:00"})),
        ),
        (
            "target[0].source",
            annotation(json!({"target": {"type": "SpecificResource", "selector": []}})),
        ),
        (
            "target[0].selector[0].value",
            annotation(
                json!({"target": {"source": "x", "selector": {"type": "FragmentSelector"}}}),
            ),
        ),
        (
            "target[0].selector[0].type",
            annotation(json!({"target": {"source": "x", "selector": {"value": "t=1"}}})),
        ),
        ("first", page(Value::Null)),
        (
            "first.id",
            page(json!({"type": "AnnotationPage", "items": []})),
        ),
        (
            "first.items",
            page(json!({"id": "p", "type": "AnnotationPage"})),
        ),
        (
            "first.startIndex",
            page(json!({"id": "p", "type": "AnnotationPage", "items": [], "startIndex": -1})),
        ),
        (
            "first.items[0].target",
            page(
                json!({"id": "p", "type": "AnnotationPage", "items": [{"id": "a", "type": "Annotation"}]}),
            ),
        ),
    ] {
        let found = problems(&value, false);
        assert!(
            found
                .iter()
                .any(|problem| problem.starts_with(&format!("{place}: "))),
            "{place}: {found:?}"
        );
    }
}
