//! What a browser does not need of a script or a style sheet: comments on lines of their own, indentation.
//!
//! Nothing is parsed, so nothing else is touched: a line that only holds a comment goes, any other keeps all after its
//! indentation. A file in which a template literal goes on over a line's end is left as it is, for there indentation
//! may mean something. Names, line ends and statements stay, so that a stack trace can still be read.

/// The text of `name` without its comment lines and indentation; other files as they are.
pub fn thinned(name: &str, text: &str) -> String {
    let script = name.ends_with(".js");
    if !script && !name.ends_with(".css") {
        return text.to_string();
    }
    let ticks = |line: &str| line.matches('`').count() - line.matches("\\`").count();
    let comment = |line: &str| line.trim_start().starts_with("//");
    if script && text.lines().any(|line| !comment(line) && ticks(line) % 2 == 1) {
        return text.to_string();
    }
    let mut thin = String::with_capacity(text.len());
    let mut within = false;
    for line in text.lines() {
        let code = line.trim();
        within |= code.starts_with("/*");
        if within {
            // What follows a comment on its last line is code.
            let Some((_, rest)) = code.split_once("*/") else { continue };
            within = false;
            push(&mut thin, rest.trim_start());
        } else if !(script && code.starts_with("//")) {
            push(&mut thin, code);
        }
    }
    thin
}

fn push(thin: &mut String, code: &str) {
    if !code.is_empty() {
        thin.push_str(code);
        thin.push('\n');
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comment_lines_and_indentation_go_and_nothing_else() {
        let text = "// Head\nimport { a } from \"./a.js\"; // stays\n\n/**\n * Words.\n */\n  f(\"// no comment\", `/* nor ${this}`);\n/* one */ g();\n";
        let expected = "import { a } from \"./a.js\"; // stays\nf(\"// no comment\", `/* nor ${this}`);\ng();\n";
        assert_eq!(thinned("a.js", text), expected);
        assert_eq!(
            thinned("a.css", "/* Head\n   more */\n  a { b: url(//c) }\n"),
            "a { b: url(//c) }\n"
        );
    }

    #[test]
    fn what_might_mean_something_stays() {
        let text = "// Head\nconst a = `one\n  two`;\n";
        assert_eq!(thinned("a.js", text), text);
        assert_eq!(thinned("a.html", "  // text\n"), "  // text\n");
        // In a style sheet two strokes are no comment.
        assert_eq!(thinned("a.css", "//a { b: c }\n"), "//a { b: c }\n");
    }
}
