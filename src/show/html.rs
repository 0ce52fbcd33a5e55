//! One self-contained page from Markdown and figures: no script, no outside request.

use super::svg::{CHART_CSS, Frame, draw};
use crate::model::words::Words;
use crate::report::figure::Figure;
use pulldown_cmark::{CodeBlockKind, CowStr, Event, HeadingLevel, Options, Parser, Tag, TagEnd};
use std::collections::BTreeMap;

const STYLE: &str = include_str!("../../templates/style.css");

/// A page in the language of the words. `kind` is the class of its body, by which the style sheet lays it
/// out.
pub fn page(
    title: &str,
    kind: &str,
    words: &Words,
    markdown: &str,
    figures: &BTreeMap<String, Figure>,
) -> String {
    let mut body = String::with_capacity(markdown.len() * 2);
    pulldown_cmark::html::push_html(&mut body, events(words, markdown, figures).into_iter());
    format!(
        "<!DOCTYPE html>\n<html lang=\"{}\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src \
         'unsafe-inline'; base-uri 'none'; form-action 'none'\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n\
         <title>{}</title>\n<style>\n{STYLE}\n{CHART_CSS}</style>\n</head>\n\
         <body class=\"{kind}\">\n<main>\n{body}</main>\n</body>\n</html>\n",
        words.language,
        escape(title)
    )
}

/// Text made harmless in HTML.
pub fn escape(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\'' => escaped.push_str("&#39;"),
            _ if super::printable(character) => escaped.push(character),
            _ => escaped.push(' '),
        }
    }
    escaped
}

fn caption(figure: &Figure) -> &str {
    &figure.caption().title
}

/// The events of the Markdown, raw HTML shown as text, figures drawn, each second-level heading with
/// what follows it a section that printing keeps together, tables in a frame that scrolls where the
/// screen is narrow.
fn events<'a>(words: &Words, markdown: &'a str, figures: &BTreeMap<String, Figure>) -> Vec<Event<'a>> {
    let mut out = Vec::new();
    let (mut in_figure, mut in_section) = (false, false);
    for event in Parser::new_ext(markdown, Options::ENABLE_TABLES) {
        match event {
            Event::Start(Tag::CodeBlock(CodeBlockKind::Fenced(ref info))) if &**info == "figure" => {
                in_figure = true;
            }
            Event::End(TagEnd::CodeBlock) if in_figure => in_figure = false,
            Event::Text(name) if in_figure => out.push(raw(figure(words, name.trim(), figures))),
            Event::Code(ref code) if &**code == "fill" => {
                out.push(raw("<span class=\"fill\"></span>".to_owned()));
            }
            Event::Html(text) | Event::InlineHtml(text) => out.push(Event::Text(text)),
            Event::Start(Tag::Heading { level: HeadingLevel::H2, .. }) => {
                out.push(raw(if in_section { "</section>\n<section>\n" } else { "<section>\n" }.to_owned()));
                in_section = true;
                out.push(event);
            }
            Event::Start(Tag::Table(_)) => {
                out.push(raw("<div class=\"table\" tabindex=\"0\">".to_owned()));
                out.push(event);
            }
            Event::End(TagEnd::Table) => {
                out.push(event);
                out.push(raw("</div>\n".to_owned()));
            }
            other => out.push(other),
        }
    }
    if in_section {
        out.push(raw("</section>\n".to_owned()));
    }
    out
}

fn raw<'a>(html: String) -> Event<'a> {
    Event::Html(CowStr::from(html))
}

fn figure(words: &Words, name: &str, figures: &BTreeMap<String, Figure>) -> String {
    let Some(figure) = figures.get(name) else { return String::new() };
    format!(
        "<figure>\n<figcaption>{}</figcaption>\n{}\n</figure>\n",
        escape(caption(figure)),
        draw(figure, &Frame::phone(words, name))
    )
}
