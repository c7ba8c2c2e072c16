//! Texts of `docs/` that the page shows: `%docs/releases.md%` in a file of HTML becomes that text, from Markdown.
//!
//! A link to another text of `docs/` leads nowhere on the site and becomes plain words.

use std::fs;
use std::path::Path;

use pulldown_cmark::{Event, Parser, Tag, TagEnd, html};
use stallheat::error::{Error, ErrorKind};

const OPENING: &str = "%docs/";
const CLOSING: char = '%';

/// Puts the texts in their places; `name` is of the file in `www/`, `root` the folder of the sources.
pub fn with_texts(root: &Path, name: &str, page: &str) -> Result<String, Error> {
    let mut out = String::with_capacity(page.len());
    let mut rest = page;
    while let Some((before, after)) = rest.split_once(OPENING) {
        let (file, after) = after.split_once(CLOSING).unwrap_or((after, ""));
        let text = fs::read_to_string(root.join("docs").join(file)).map_err(|cause| {
            Error::new(
                ErrorKind::Build,
                format!("www/{name}"),
                format!("docs/{file}: {cause}"),
                "a text in docs",
                "Correct the name, or add the text.",
            )
        })?;
        out.push_str(before);
        out.push_str(&from_markdown(&text));
        rest = after;
    }
    out.push_str(rest);
    Ok(out)
}

fn from_markdown(text: &str) -> String {
    let mut depth_of_dead_link = 0;
    let events = Parser::new(text).filter(|event| match event {
        Event::Start(Tag::Link { dest_url, .. }) if !dest_url.contains("://") => {
            depth_of_dead_link += 1;
            false
        }
        Event::End(TagEnd::Link) if depth_of_dead_link > 0 => {
            depth_of_dead_link -= 1;
            false
        }
        _ => true,
    });
    let mut out = String::new();
    html::push_html(&mut out, events);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_takes_its_place() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let page = with_texts(root, "a.html", "<p>50 %</p>%docs/releases.md%<i>").unwrap();
        assert!(
            page.starts_with("<p>50 %</p><h1>What is new</h1>") && page.ends_with("<i>"),
            "{page}"
        );
        assert!(page.contains(&format!("<h2>{}</h2>", env!("CARGO_PKG_VERSION"))));
        assert!(!page.contains("accuracy.md"), "{page}");
        let error = with_texts(root, "a.html", "%docs/gone.md%").unwrap_err();
        assert!(error.value.starts_with("docs/gone.md"), "{error}");
    }

    #[test]
    fn links_to_neighbours_become_words() {
        let text = "[a *b*](c.md) and [d](https://example.org/)";
        assert_eq!(
            from_markdown(text),
            "<p>a <em>b</em> and <a href=\"https://example.org/\">d</a></p>\n"
        );
    }
}
