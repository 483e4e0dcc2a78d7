//! What GPX and KML share: an XML text with line and column, and text that XML can hold.

use super::{ExchangeError, Format, Mark};
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesText, Event};
use roxmltree::{Document, Node, ParsingOptions};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::io;
use windfall_facts::Sentence;

/// Elements, attributes and texts of one file; a walk of a day is a few ten thousand.
const MOST_NODES: u32 = 5_000_000;

/// An XML file that knows its format.
#[derive(Debug)]
pub(super) struct Xml<'a> {
    pub(super) document: Document<'a>,
    format: Format,
    left_out: RefCell<BTreeMap<String, usize>>,
}

impl<'a> Xml<'a> {
    /// # Errors
    /// Where the text is no XML, or its outermost element is not called `root`.
    pub(super) fn parse(text: &'a str, format: Format, root: &str) -> Result<Self, ExchangeError> {
        // Document types are refused: they are how an XML file makes a reader expand or fetch things.
        let options =
            ParsingOptions { allow_dtd: false, nodes_limit: MOST_NODES, ..ParsingOptions::default() };
        let document = Document::parse_with_options(text, options).map_err(|error| {
            let at = error.pos();
            let mark = Mark { line: at.row as usize, column: Some(at.col as usize) };
            ExchangeError::Unreadable { format, mark, message: error.to_string() }
        })?;
        let xml = Self { document, format, left_out: RefCell::default() };
        let found = xml.document.root_element().tag_name().name();
        if found == root {
            return Ok(xml);
        }
        let why = Sentence::OuterElement { found: found.into(), allowed: root.into() };
        Err(xml.refusal(xml.document.root_element().range().start, found, why))
    }

    pub(super) fn refusal(&self, offset: usize, field: &str, why: impl Into<Sentence>) -> ExchangeError {
        let mark = Mark::at(self.document.input_text(), offset);
        ExchangeError::field(self.format, Some(mark), field, why)
    }

    /// What `read` makes of an attribute that must be there.
    pub(super) fn attribute<T>(
        &self,
        node: Node<'_, '_>,
        name: &str,
        field: &str,
        read: impl Fn(&str) -> Result<T, Sentence>,
    ) -> Result<T, ExchangeError> {
        let field = format!("{field}.{name}");
        match node.attribute_node(name) {
            Some(it) => {
                read(it.value()).map_err(|message| self.refusal(it.range_value().start, &field, message))
            }
            None => Err(self.refusal(node.range().start, &field, Sentence::MissingHere {})),
        }
    }

    /// What `read` makes of the text of an element, if there is any.
    pub(super) fn content<T>(
        &self,
        node: Node<'_, '_>,
        field: &str,
        read: impl Fn(&str) -> Result<T, Sentence>,
    ) -> Result<Option<T>, ExchangeError> {
        let name = node.tag_name().name();
        text_of(node)
            .map(|text| {
                read(&text)
                    .map_err(|message| self.refusal(node.range().start, &format!("{field}.{name}"), message))
            })
            .transpose()
    }

    /// Counts an element that this program does not read.
    pub(super) fn leave_out(&self, name: &str) {
        *self.left_out.borrow_mut().entry(name.to_owned()).or_default() += 1;
    }

    /// What was left out, in words.
    pub(super) fn left_out(&self) -> Vec<String> {
        let times = |count: usize| if count == 1 { "once".into() } else { format!("{count} times") };
        let left_out = self.left_out.borrow();
        left_out.iter().map(|(name, count)| format!("<{name}> is not read ({})", times(*count))).collect()
    }
}

/// The text of an element without the white space around it; none if it is empty.
pub(super) fn text_of(node: Node<'_, '_>) -> Option<String> {
    let text: String = node.descendants().filter(Node::is_text).filter_map(|it| it.text()).collect();
    let text = text.trim();
    (!text.is_empty()).then(|| text.to_owned())
}

/// The child elements, in the order of the file.
pub(super) fn elements<'a, 'input>(node: Node<'a, 'input>) -> impl Iterator<Item = Node<'a, 'input>> {
    node.children().filter(Node::is_element)
}

/// A document written by `write`.
pub(super) fn written(
    format: Format,
    write: impl FnOnce(&mut Writer<Vec<u8>>) -> io::Result<()>,
) -> Result<String, ExchangeError> {
    let mut writer = Writer::new_with_indent(Vec::new(), b' ', 1);
    let done = writer
        .write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))
        .and_then(|()| write(&mut writer));
    let said = |message: String| ExchangeError::cannot_hold(format, message);
    done.map_err(|error| said(error.to_string()))?;
    let mut text = String::from_utf8(writer.into_inner()).map_err(|error| said(error.to_string()))?;
    text.push('\n');
    Ok(text)
}

/// An element with nothing but text in it.
pub(super) fn leaf(writer: &mut Writer<Vec<u8>>, name: &str, text: &str) -> io::Result<()> {
    writer.create_element(name).write_text_content(BytesText::new(&clean(text)))?;
    Ok(())
}

/// The same, if there is a text.
pub(super) fn leaf_of(writer: &mut Writer<Vec<u8>>, name: &str, text: Option<&str>) -> io::Result<()> {
    text.map_or(Ok(()), |text| leaf(writer, name, text))
}

/// Text with what XML 1.0 cannot hold at all (section 2.2, production Char) replaced.
pub(super) fn clean(text: &str) -> String {
    let holds = |c: char| !matches!(c, '\0'..='\u{8}' | '\u{b}' | '\u{c}' | '\u{e}'..='\u{1f}' | '\u{fffe}' | '\u{ffff}');
    text.chars().map(|c| if holds(c) { c } else { char::REPLACEMENT_CHARACTER }).collect()
}
