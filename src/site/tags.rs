//! The tags of our own HTML, as far as rewriting it needs them: names, attributes, where an element ends.
//!
//! Attributes stand in double quotes or have no value; comments are passed over. Left out: elements whose end is implied,
//! and text that looks like a tag in a script, for the page has none inline.

/// Elements without an end.
const VOID: [&str; 9] = ["area", "br", "col", "hr", "img", "input", "link", "meta", "source"];

/// A start tag and where it lies in its text, in bytes.
#[derive(Debug)]
pub struct Tag<'a> {
    pub name: &'a str,
    pub start: usize,
    pub end: usize,
    attributes: Vec<(&'a str, &'a str)>,
}

impl<'a> Tag<'a> {
    /// The value of an attribute; empty if it has none.
    pub fn value(&self, name: &str) -> Option<&'a str> {
        self.attributes.iter().find(|(known, _)| *known == name).map(|(_, value)| *value)
    }
}

/// The next start tag that begins at `from` or later.
pub fn next(text: &str, mut from: usize) -> Option<Tag<'_>> {
    loop {
        let start = from + text[from..].find('<')?;
        let inside = &text[start + 1..];
        if inside.starts_with("!--") {
            from = start + inside.find("-->")?;
        } else if inside.starts_with(|letter: char| letter.is_ascii_alphabetic()) {
            return read(text, start);
        } else {
            from = start + 1;
        }
    }
}

fn read(text: &str, start: usize) -> Option<Tag<'_>> {
    let word = |text: &str| {
        text.find(|letter: char| letter.is_whitespace() || matches!(letter, '=' | '>' | '/'))
    };
    let mut at = start + 1;
    let length = word(&text[at..])?;
    let name = &text[at..at + length];
    at += length;
    let mut attributes = Vec::new();
    loop {
        let rest = &text[at..];
        at += rest.len() - rest.trim_start_matches(|c: char| c.is_whitespace() || c == '/').len();
        if text[at..].starts_with('>') {
            return Some(Tag { name, start, end: at + 1, attributes });
        }
        let length = word(&text[at..])?;
        let attribute = &text[at..at + length];
        at += length;
        let mut value = "";
        if let Some(inside) = text[at..].strip_prefix("=\"") {
            value = &inside[..inside.find('"')?];
            at += value.len() + 3;
        } else if length == 0 {
            at += 1;
        }
        attributes.push((attribute, value));
    }
}

/// Where the element of `tag` ends: behind its end tag, or behind `tag` if it has none.
pub fn end_of_element(text: &str, tag: &Tag) -> usize {
    if VOID.contains(&tag.name) {
        return tag.end;
    }
    let closing = format!("</{}>", tag.name);
    let mut depth = 1;
    let mut at = tag.end;
    loop {
        let Some(end) = text[at..].find(&closing).map(|found| at + found) else {
            return text.len();
        };
        while let Some(inner) = next(text, at).filter(|inner| inner.start < end) {
            depth += usize::from(inner.name == tag.name);
            at = inner.end;
        }
        depth -= 1;
        at = end + closing.len();
        if depth == 0 {
            return at;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_attributes_and_ends() {
        let text = "a < b <!-- <p> --><div id=\"a>b\" hidden class=\"c\"><div>x</div></div>y<img src=\"i\">z";
        let tag = next(text, 0).unwrap();
        assert_eq!(
            (tag.name, tag.value("id"), tag.value("hidden")),
            ("div", Some("a>b"), Some(""))
        );
        assert_eq!((tag.value("class"), tag.value("src")), (Some("c"), None));
        assert_eq!(&text[end_of_element(text, &tag)..], "y<img src=\"i\">z");
        let image = next(text, end_of_element(text, &tag)).unwrap();
        assert_eq!(&text[end_of_element(text, &image)..], "z");
        assert!(next(text, image.end).is_none() && next("<p", 0).is_none());
    }
}
