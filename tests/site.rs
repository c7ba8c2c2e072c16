//! The built page as a browser meets it: the server's answers, its refusals, and what `build` refuses.
//!
//! A site is laid out by hand in a scratch folder, so that no test here compiles the core.

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Ipv4Addr, TcpListener, TcpStream};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};

const PROGRAM: &str = env!("CARGO_BIN_EXE_stallheat");
const VERSION_FOLDER: &str = "v-0123456789abcdef";
/// Larger than the size from which the server library would send chunks.
const WASM_BYTES: usize = 100_000;

/// A scratch folder, removed at the end.
struct Scratch(PathBuf);

impl Scratch {
    fn new(name: &str) -> Scratch {
        let folder =
            std::env::temp_dir().join(format!("stallheat-site-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir_all(&folder).unwrap();
        Scratch(folder)
    }

    fn with_site(name: &str) -> Scratch {
        let scratch = Scratch::new(name);
        let site = scratch.0.join("site");
        fs::create_dir_all(site.join(VERSION_FOLDER)).unwrap();
        fs::write(scratch.0.join("secret.txt"), "secret").unwrap();
        fs::write(site.join("unlisted.txt"), "secret").unwrap();
        fs::write(
            site.join(".stallheat-site"),
            format!("index.html\nfavicon.svg\nsw.js\n{VERSION_FOLDER}\n"),
        )
        .unwrap();
        for name in ["index.html", "favicon.svg", "sw.js"] {
            fs::write(site.join(name), name).unwrap();
        }
        for name in ["main.js", "style.css", "data.json", "log.csv", "shot.png"] {
            fs::write(site.join(VERSION_FOLDER).join(name), name).unwrap();
        }
        fs::write(site.join(VERSION_FOLDER).join("core.wasm"), vec![7; WASM_BYTES]).unwrap();
        scratch
    }

    fn site(&self) -> PathBuf {
        self.0.join("site")
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// A running server, ended at the end.
struct Running {
    child: Child,
    port: u16,
}

impl Running {
    fn start(scratch: &Scratch, port: u16) -> Running {
        let mut child = Command::new(PROGRAM)
            .args(["serve", "--port", &port.to_string(), "--built"])
            .arg(scratch.site())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.as_mut().unwrap()).read_line(&mut line).unwrap();
        let address = line.strip_prefix("stallheat: http://127.0.0.1:").expect("the address line");
        let port = address.trim_end().trim_end_matches('/').parse().unwrap();
        Running { child, port }
    }

    fn ask(&self, method: &str, path: &str) -> Answer {
        self.ask_as(method, path, &format!("127.0.0.1:{}", self.port))
    }

    fn ask_as(&self, method: &str, path: &str, host: &str) -> Answer {
        self.ask_with(method, path, host, "")
    }

    /// Asks as a browser that takes gzip.
    fn ask_packed(&self, method: &str, path: &str) -> Answer {
        let host = format!("127.0.0.1:{}", self.port);
        self.ask_with(method, path, &host, "Accept-Encoding: gzip, deflate, br\r\n")
    }

    /// `more`: header lines with their ends.
    fn ask_with(&self, method: &str, path: &str, host: &str, more: &str) -> Answer {
        let mut stream = TcpStream::connect((Ipv4Addr::LOCALHOST, self.port)).unwrap();
        write!(
            stream,
            "{method} {path} HTTP/1.1\r\nHost: {host}\r\n{more}Connection: close\r\n\r\n"
        )
        .unwrap();
        let mut bytes = Vec::new();
        stream.read_to_end(&mut bytes).unwrap();
        let split = bytes.windows(4).position(|four| four == b"\r\n\r\n").unwrap();
        let head = String::from_utf8_lossy(&bytes[..split]).into_owned();
        Answer { head, body: bytes[split + 4..].to_vec() }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

struct Answer {
    head: String,
    body: Vec<u8>,
}

impl Answer {
    fn status(&self) -> u16 {
        self.head.split(' ').nth(1).unwrap().parse().unwrap()
    }

    fn header(&self, name: &str) -> Option<&str> {
        self.head.lines().skip(1).find_map(|line| {
            let (field, value) = line.split_once(':')?;
            field.eq_ignore_ascii_case(name).then_some(value.trim())
        })
    }
}

#[test]
fn each_kind_of_file_has_its_type_and_caching() {
    let scratch = Scratch::with_site("types");
    let server = Running::start(&scratch, 0);
    let versioned = |name: &str| format!("/{VERSION_FOLDER}/{name}");
    let for_ever = "max-age=31536000, immutable";
    for (path, media_type, caching) in [
        ("/".to_string(), "text/html; charset=utf-8", "no-cache"),
        ("/?embed=1".to_string(), "text/html; charset=utf-8", "no-cache"),
        ("/index.html".to_string(), "text/html; charset=utf-8", "no-cache"),
        ("/favicon.svg".to_string(), "image/svg+xml", "no-cache"),
        ("/sw.js".to_string(), "text/javascript; charset=utf-8", "no-cache"),
        (versioned("main.js"), "text/javascript; charset=utf-8", for_ever),
        (versioned("style.css"), "text/css; charset=utf-8", for_ever),
        (versioned("core.wasm"), "application/wasm", for_ever),
        (versioned("data.json"), "application/json", for_ever),
        (versioned("log.csv"), "text/csv; charset=utf-8", for_ever),
        (versioned("shot.png"), "image/png", for_ever),
    ] {
        let answer = server.ask("GET", &path);
        assert_eq!(answer.status(), 200, "{path}");
        assert_eq!(answer.header("Content-Type"), Some(media_type), "{path}");
        assert_eq!(answer.header("Cache-Control"), Some(caching), "{path}");
        assert_eq!(answer.header("X-Content-Type-Options"), Some("nosniff"), "{path}");
        let policy = answer.header("Content-Security-Policy").unwrap();
        assert!(policy.contains("default-src 'self'") && policy.contains("'wasm-unsafe-eval'"));
    }
}

#[test]
fn head_tells_the_size_and_sends_nothing() {
    let scratch = Scratch::with_site("head");
    let server = Running::start(&scratch, 0);
    let path = format!("/{VERSION_FOLDER}/core.wasm");
    let size = WASM_BYTES.to_string();
    let (head, get) = (server.ask("HEAD", &path), server.ask("GET", &path));
    assert_eq!((head.status(), head.header("Content-Length")), (200, Some(size.as_str())));
    assert_eq!((get.status(), get.header("Content-Length")), (200, Some(size.as_str())));
    assert_eq!((head.body.len(), get.body.len()), (0, WASM_BYTES));
}

#[test]
fn files_are_packed_for_whoever_takes_it() {
    let scratch = Scratch::with_site("packed");
    let server = Running::start(&scratch, 0);
    let path = format!("/{VERSION_FOLDER}/core.wasm");
    let (plain, packed) = (server.ask("GET", &path), server.ask_packed("GET", &path));
    assert_eq!(plain.header("Content-Encoding"), None);
    assert_eq!(packed.header("Content-Encoding"), Some("gzip"));
    assert_eq!(packed.header("Content-Type"), Some("application/wasm"));
    for answer in [&plain, &packed] {
        assert_eq!(answer.header("Vary"), Some("Accept-Encoding"));
        assert_eq!(answer.header("Content-Length"), Some(answer.body.len().to_string().as_str()));
    }
    assert!(packed.body.len() < plain.body.len() / 10, "{}", packed.body.len());
    let mut unpacked = Vec::new();
    flate2::read::GzDecoder::new(packed.body.as_slice()).read_to_end(&mut unpacked).unwrap();
    assert_eq!(unpacked, plain.body);

    let head = server.ask_packed("HEAD", &path);
    assert_eq!(head.header("Content-Encoding"), Some("gzip"));
    assert_eq!(head.header("Content-Length"), packed.header("Content-Length"));
    assert!(head.body.is_empty());
}

#[test]
fn what_packing_makes_longer_is_sent_as_it_is() {
    let scratch = Scratch::with_site("short");
    let server = Running::start(&scratch, 0);
    let answer = server.ask_packed("GET", &format!("/{VERSION_FOLDER}/shot.png"));
    assert_eq!((answer.header("Content-Encoding"), answer.header("Vary")), (None, None));
    assert_eq!(answer.body, b"shot.png");
}

#[test]
fn there_is_no_way_out_of_the_site() {
    let scratch = Scratch::with_site("traversal");
    let server = Running::start(&scratch, 0);
    for path in [
        "/../secret.txt",
        "/v-0123456789abcdef/../../secret.txt",
        "/%2e%2e/secret.txt",
        "/..%2fsecret.txt",
        "/..%5csecret.txt",
        "/..\\secret.txt",
        "//etc/passwd",
        "/%2fetc/passwd",
        "/unlisted.txt",
        "/.stallheat-site",
        "/v-0123456789abcdef/",
        "/gone.js",
    ] {
        let answer = server.ask("GET", path);
        assert!(matches!(answer.status(), 400 | 404), "{path}: {}", answer.head);
        assert!(!answer.body.windows(6).any(|part| part == b"secret"), "{path}");
    }
}

#[test]
fn only_reading_and_only_from_this_machine() {
    let scratch = Scratch::with_site("refusals");
    let server = Running::start(&scratch, 0);
    for method in ["POST", "PUT", "DELETE", "OPTIONS"] {
        let answer = server.ask(method, "/");
        assert_eq!((answer.status(), answer.header("Allow")), (405, Some("GET, HEAD")), "{method}");
    }
    let port = server.port;
    for (host, status) in [
        (format!("localhost:{port}"), 200),
        (format!("[::1]:{port}"), 200),
        ("LOCALHOST".to_string(), 200),
        (format!("attacker.example:{port}"), 403),
        ("127.0.0.1.attacker.example".to_string(), 403),
        (String::new(), 403),
    ] {
        assert_eq!(server.ask_as("GET", "/", &host).status(), status, "{host}");
    }
}

#[test]
fn a_silent_browser_does_not_keep_others_waiting() {
    let scratch = Scratch::with_site("silent");
    let server = Running::start(&scratch, 0);
    let silent: Vec<_> = (0..8)
        .map(|_| {
            let mut stream = TcpStream::connect((Ipv4Addr::LOCALHOST, server.port)).unwrap();
            stream.write_all(b"GET / HTTP/1.1\r\nHost: loc").unwrap();
            stream
        })
        .collect();
    assert_eq!(server.ask("GET", "/").status(), 200);
    drop(silent);
}

#[test]
fn a_taken_port_means_the_next_one() {
    let scratch = Scratch::with_site("port");
    let taken = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
    let port = taken.local_addr().unwrap().port();
    let server = Running::start(&scratch, port);
    assert!(server.port > port && server.port < port.saturating_add(20));
    assert_eq!(server.ask("GET", "/").status(), 200);
}

#[test]
fn serving_a_folder_that_no_build_wrote_is_refused() {
    let scratch = Scratch::new("unbuilt");
    let output = Command::new(PROGRAM)
        .args(["serve", "--port", "0", "--built"])
        .arg(&scratch.0)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&output.stderr).contains("stallheat build"));
}

#[test]
fn building_into_foreign_or_source_folders_is_refused() {
    let scratch = Scratch::new("foreign");
    fs::write(scratch.0.join("letter.txt"), "mine").unwrap();
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    let sources = root.join("www/site");
    let roundabout = root.join("docs/../www/site");
    let elsewhere = root.join("src/new/site");
    let mut refused = vec![
        scratch.0.clone(),
        scratch.0.join("letter.txt"),
        sources.clone(),
        roundabout,
        elsewhere,
    ];
    let links = Scratch::new("links");
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(root.join("www"), links.0.join("link")).unwrap();
        refused.push(links.0.join("link/site"));
    }
    for out in refused {
        let output = Command::new(PROGRAM).args(["build", "--out"]).arg(&out).output().unwrap();
        let message = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(1), "{}: {message}", out.display());
        assert!(!message.contains("Compiling") && !message.contains("panicked"), "{message}");
    }
    assert_eq!(fs::read_to_string(scratch.0.join("letter.txt")).unwrap(), "mine");
    assert_eq!(fs::read_dir(&scratch.0).unwrap().count(), 1);
    assert!(!sources.exists());
}

/// Refused before anything is compiled: what is there stays, and nothing is left beside it.
#[test]
fn one_file_replaces_only_what_a_build_wrote() {
    let scratch = Scratch::new("single");
    let letter = scratch.0.join("letter.html");
    fs::write(&letter, "<p>mine").unwrap();
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    for out in [
        letter.clone(),
        scratch.0.clone(),
        scratch.0.join("page"),
        scratch.0.join("page.txt"),
        root.join("www/page.html"),
    ] {
        let output =
            Command::new(PROGRAM).args(["build", "--single", "--out"]).arg(&out).output().unwrap();
        let message = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(1), "{}: {message}", out.display());
        assert!(!message.contains("Compiling") && !message.contains("panicked"), "{message}");
        assert!(message.contains(&*out.file_name().unwrap().to_string_lossy()), "{message}");
    }
    assert_eq!(fs::read_to_string(letter).unwrap(), "<p>mine");
    assert_eq!(fs::read_dir(&scratch.0).unwrap().count(), 1);
    assert!(!root.join("www/page.html").exists());
}

fn source(name: &str) -> String {
    fs::read_to_string(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap()
}

/// The policy is written in three places for three kinds of server, and once in the server itself.
#[test]
fn hosts_are_told_the_policy_of_the_server() {
    let scratch = Scratch::with_site("policy");
    let server = Running::start(&scratch, 0);
    let answer = server.ask("GET", "/");
    let policy = answer.header("content-security-policy").unwrap();
    let headers = source("www/_headers");
    assert!(headers.contains(&format!("\n  Content-Security-Policy: {policy}\n")), "{policy}");
    assert_eq!(source("docs/hosting.md").matches(&format!("\"{policy}\"")).count(), 2);
    for name in ["x-content-type-options", "referrer-policy"] {
        let line = format!("{name}: {}", answer.header(name).unwrap());
        assert!(headers.to_lowercase().contains(&line), "{line}");
    }
}

#[test]
fn the_example_job_is_well_formed_and_runs_what_there_is() {
    let text = source("docs/publish.yml");
    let documents = yaml_rust2::YamlLoader::load_from_str(&text).unwrap();
    assert_eq!(documents.len(), 1);
    let steps = documents[0]["jobs"]["publish"]["steps"].as_vec().unwrap();
    let runs: Vec<&str> = steps.iter().filter_map(|step| step["run"].as_str()).collect();
    assert!(steps.iter().all(|step| step["name"].as_str().is_some()));
    let mut built = 0;
    for line in runs.iter().flat_map(|run| run.lines()) {
        if line == "tests/run" {
            assert!(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(line).is_file());
        }
        // The command line takes every build as it is written; `--help` in its end keeps it from being done.
        if let Some((_, arguments)) = line.split_once(" -- ") {
            let arguments = arguments.split(' ').chain(["--help"]);
            let output = Command::new(PROGRAM).args(arguments).output().unwrap();
            assert!(output.status.success(), "{line}");
            built += 1;
        }
    }
    assert!(built >= 2 && runs.contains(&"tests/run"), "{runs:?}");
    assert!(yaml_rust2::YamlLoader::load_from_str("a: [").is_err());
}

#[test]
fn a_wrong_command_line_ends_with_two() {
    for arguments in [
        &["build"][..],
        &["build", "--single", "--without-offline"],
        &["serve", "--port", "70000"],
        &["bake"],
        &[],
    ] {
        let output = Command::new(PROGRAM).args(arguments).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
    }
}
