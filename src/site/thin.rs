//! What a browser does not need of a script or a style sheet.
//!
//! Scripts lose what nobody uses, spaces and the names of variables; oxc does it. The names of functions and classes
//! stay, so that a stack trace in somebody's report can be read. Style sheets lose comments and indentation.

use oxc::codegen::{Codegen, CodegenOptions, CommentOptions};
use oxc::minifier::{
    CompressOptions, CompressOptionsKeepNames, MangleOptions, MangleOptionsKeepNames, Minifier,
    MinifierOptions,
};
use stallheat::error::Error;

use super::script::with_syntax;

/// The script `name` in as few bytes as its meaning needs.
pub fn minified(name: &str, text: &str) -> Result<String, Error> {
    with_syntax(name, text, |allocator, mut program| {
        let kept = MangleOptionsKeepNames { function: true, class: true };
        let options = MinifierOptions {
            // Names that a classic script declares are those of its page.
            mangle: Some(MangleOptions {
                top_level: program.source_type.is_module(),
                keep_names: kept,
                debug: false,
            }),
            compress: Some(CompressOptions {
                keep_names: CompressOptionsKeepNames { function: true, class: true },
                ..CompressOptions::smallest()
            }),
        };
        let minified = Minifier::new(options).minify(allocator, &mut program);
        let options = CodegenOptions {
            minify: true,
            comments: CommentOptions::disabled(),
            ..CodegenOptions::default()
        };
        Ok(Codegen::new()
            .with_options(options)
            .with_scoping(minified.scoping)
            .with_private_member_mappings(minified.class_private_mappings)
            .build(&program)
            .code)
    })
}

/// The style sheet without comments that stand on lines of their own, and without indentation.
pub fn thinned(text: &str) -> String {
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
        } else {
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
    fn of_a_script_what_it_does_stays_and_the_names_of_its_functions() {
        let text = "// Head\nimport { far } from \"./a.js\";\nfunction unused() {}\nfunction shown(value) {\n  return far(value) + 1; // two\n}\nconsole.log(shown(2));\n";
        let expected =
            "import{far as e}from\"./a.js\";function shown(t){return e(t)+1}console.log(shown(2));";
        assert_eq!(minified("a.js", text).unwrap(), expected);
        let classic = "const KEPT = 1;\nfunction alsoKept() {}";
        assert!(minified("sw.js", classic).unwrap().contains("KEPT"));
    }

    #[test]
    fn what_is_no_script_is_an_error_with_its_line() {
        let error = minified("a.js", "const a = 1;\nconst b = ;\n").unwrap_err();
        assert_eq!(error.field, "www/a.js:2");
    }

    #[test]
    fn a_style_sheet_loses_comment_lines_and_indentation() {
        let text = "/* Head\n   more */\n  a { b: url(//c) }\n//d { e: f }\n/* one */ g {}\n";
        assert_eq!(thinned(text), "a { b: url(//c) }\n//d { e: f }\ng {}\n");
    }
}
