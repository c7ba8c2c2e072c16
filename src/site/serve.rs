//! A small web server for the page, for this machine only.
//!
//! It listens on the loopback address, answers GET and HEAD from the [`Site`] in memory and refuses any
//! `Host` that is not this machine (a foreign page could otherwise point its own name here). An address
//! is looked up as it stands: no decoding, no file system, hence no way out of the site.
//!
//! While it runs it rebuilds the page when a source changes. A build that fails leaves the page as it
//! was. Files of the build before stay available, because an open page may still ask for them.
//!
//! The part of HTTP that this takes is small: a request's head is read, one reply is written, the connection
//! ends. Each connection has a thread of its own, so that one that a browser opens and leaves silent keeps
//! nobody waiting.
//!
//! Not here: TLS, compression, ranges, other machines. To publish the page, build it and use a web server.

use std::io::{self, BufRead, BufReader, Read, Write};
use std::net::{Ipv4Addr, TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::sync::{Arc, PoisonError, RwLock};
use std::thread;
use std::time::{Duration, Instant};

use stallheat::error::{Error, ErrorKind};

use super::{Site, folder, make, watch};

/// The port that is tried first.
pub const PORT: u16 = 8734;
/// How many ports are tried, counting up, when the first is taken.
const PORTS_TRIED: u16 = 20;
/// Longest head of a request (bytes), and how long a browser may be silent.
const MOST_HEAD_BYTES: u64 = 32_768;
const PATIENCE: Duration = Duration::from_secs(30);
const POLL_INTERVAL: Duration = Duration::from_secs(1);

/// `'unsafe-inline'` for styles: the drawing library measures text with styled elements.
const CONTENT_SECURITY_POLICY: &str = "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; \
    style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; connect-src 'self'; \
    object-src 'none'; base-uri 'self'; form-action 'self'; frame-ancestors *";

/// How to serve.
#[derive(Debug, Clone)]
pub struct ServeOptions {
    /// The first port to try; 0 lets the system choose.
    pub port: u16,
    /// Rebuild when a source changes.
    pub watch: bool,
    /// Serve this folder, written by an earlier build, as it is: no sources are read.
    pub built: Option<PathBuf>,
}

/// The site of the moment and the one before.
struct Served {
    current: Site,
    previous: Option<Site>,
}

impl Served {
    fn find(&self, name: &str) -> Option<&[u8]> {
        let sites = std::iter::once(&self.current).chain(&self.previous);
        sites.filter_map(|site| site.files.get(name)).next().map(Vec::as_slice)
    }
}

type Shared = Arc<RwLock<Served>>;

/// What is sent back.
struct Reply {
    status: u16,
    media_type: &'static str,
    caching: &'static str,
    bytes: Vec<u8>,
}

/// Serves the page until the program is ended. `root` is asked for only if sources are needed.
pub fn serve(
    root: impl FnOnce() -> Result<PathBuf, Error>,
    options: &ServeOptions,
) -> Result<(), Error> {
    let (site, sources) = match &options.built {
        Some(folder) => (folder::read(folder)?, None),
        None => {
            let root = root()?;
            let fingerprint = watch::fingerprint(&root);
            eprintln!("stallheat: building the page; the first time takes a minute or two");
            (make(&root)?, Some((root, fingerprint)))
        }
    };
    let (listener, port) = listen(options.port)?;
    let served = Arc::new(RwLock::new(Served { current: site, previous: None }));
    say(&format!("http://127.0.0.1:{port}/"));

    if let (Some((root, fingerprint)), true) = (sources, options.watch) {
        let served = Arc::clone(&served);
        thread::spawn(move || rebuild_on_change(&root, fingerprint, &served));
    }
    for stream in listener.incoming().flatten() {
        let served = Arc::clone(&served);
        // A browser that went away is not our business, and neither is one too many.
        let _ = thread::Builder::new().spawn(move || answer(&stream, &served));
    }
    Ok(())
}

/// Listens on the first free port from `port` on.
fn listen(port: u16) -> Result<(TcpListener, u16), Error> {
    let last = if port == 0 { 0 } else { port.saturating_add(PORTS_TRIED - 1) };
    let mut reason = String::new();
    for candidate in port..=last {
        match TcpListener::bind((Ipv4Addr::LOCALHOST, candidate))
            .and_then(|listener| listener.local_addr().map(|address| (listener, address.port())))
        {
            Ok(found) => return Ok(found),
            Err(cause) => reason = cause.to_string(),
        }
    }
    Err(Error::new(
        ErrorKind::Serve,
        "port",
        format!("{port} to {last}: {reason}"),
        "one free port among them",
        "Give another --port, or end what listens there.",
    ))
}

fn rebuild_on_change(root: &Path, mut built_from: u64, served: &Shared) {
    loop {
        thread::sleep(POLL_INTERVAL);
        let fingerprint = watch::fingerprint(root);
        if fingerprint == built_from {
            continue;
        }
        built_from = fingerprint;
        let start = Instant::now();
        match make(root) {
            Ok(site) => {
                let mut served = served.write().unwrap_or_else(PoisonError::into_inner);
                if site.version == served.current.version {
                    say("sources changed, the page did not");
                    continue;
                }
                let seconds = start.elapsed().as_secs_f64();
                say(&format!(
                    "rebuilt in {seconds:.1} s, version {}: reload the page",
                    site.version
                ));
                let previous = std::mem::replace(&mut served.current, site);
                served.previous = Some(previous);
            }
            Err(error) => eprintln!("stallheat: {error}\nstallheat: serving the page as it was"),
        }
    }
}

/// Prints a line at once; a closed output does not end the server.
fn say(line: &str) {
    let mut out = io::stdout().lock();
    let _ = writeln!(out, "stallheat: {line}").and_then(|()| out.flush());
}

/// The head of a request, as far as it matters here.
struct Head {
    method: String,
    target: String,
    host: Option<String>,
}

/// Reads the head of a request; `None` when it is not one, or too long.
fn read_head(stream: &TcpStream) -> io::Result<Option<Head>> {
    let mut reader = BufReader::new(stream.take(MOST_HEAD_BYTES));
    let mut line = String::new();
    reader.read_line(&mut line)?;
    let mut words = line.split_ascii_whitespace().map(str::to_string);
    let (Some(method), Some(target), Some(version)) = (words.next(), words.next(), words.next())
    else {
        return Ok(None);
    };
    let mut host = None;
    loop {
        line.clear();
        if reader.read_line(&mut line)? == 0 {
            return Ok(None);
        }
        let field = line.trim_end();
        if field.is_empty() {
            break;
        }
        if let Some((name, value)) = field.split_once(':')
            && name.eq_ignore_ascii_case("host")
        {
            host.get_or_insert(value.trim().to_string());
        }
    }
    Ok(version.starts_with("HTTP/1.").then_some(Head { method, target, host }))
}

fn answer(stream: &TcpStream, served: &Shared) -> io::Result<()> {
    stream.set_read_timeout(Some(PATIENCE))?;
    stream.set_write_timeout(Some(PATIENCE))?;
    let Some(head) = read_head(stream)? else {
        return send(stream, text_reply(400, "This is no request.\n"), true);
    };
    let with_body = head.method != "HEAD";
    if !head.host.is_some_and(|host| is_this_machine(&host)) {
        let reply = text_reply(403, "This server answers this machine only.\n");
        return send(stream, reply, with_body);
    }
    if !matches!(head.method.as_str(), "GET" | "HEAD") {
        return send(stream, text_reply(405, "Only GET and HEAD.\n"), with_body);
    }
    let path = head.target.split(['?', '#']).next().unwrap_or_default();
    let name = match path.strip_prefix('/') {
        Some("") => "index.html",
        Some(name) => name,
        None => "",
    };
    let found =
        served.read().unwrap_or_else(PoisonError::into_inner).find(name).map(<[u8]>::to_vec);
    let reply = match found {
        Some(bytes) => {
            Reply { status: 200, media_type: media_type(name), caching: caching(name), bytes }
        }
        None => text_reply(404, "There is no such file.\n"),
    };
    send(stream, reply, with_body)
}

fn text_reply(status: u16, text: &str) -> Reply {
    let bytes = text.as_bytes().to_vec();
    Reply { status, media_type: "text/plain; charset=utf-8", caching: "no-store", bytes }
}

/// Writes a reply, after which the connection ends.
fn send(mut stream: &TcpStream, reply: Reply, with_body: bool) -> io::Result<()> {
    let reason = match reply.status {
        200 => "OK",
        400 => "Bad Request",
        403 => "Forbidden",
        404 => "Not Found",
        _ => "Method Not Allowed",
    };
    let head = format!(
        "HTTP/1.1 {} {reason}\r\nContent-Type: {}\r\nContent-Length: {}\r\nCache-Control: {}\r\n\
         Content-Security-Policy: {CONTENT_SECURITY_POLICY}\r\nX-Content-Type-Options: nosniff\r\n\
         Referrer-Policy: no-referrer\r\nAllow: GET, HEAD\r\nConnection: close\r\n\r\n",
        reply.status,
        reply.media_type,
        reply.bytes.len(),
        reply.caching,
    );
    let mut bytes = head.into_bytes();
    if with_body {
        bytes.extend_from_slice(&reply.bytes);
    }
    stream.write_all(&bytes)
}

fn is_this_machine(host: &str) -> bool {
    let name = match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|byte| byte.is_ascii_digit()) => name,
        _ => host,
    };
    ["127.0.0.1", "localhost", "[::1]"].iter().any(|known| name.eq_ignore_ascii_case(known))
}

/// The folder named after a version never changes; everything else is asked for again.
fn caching(name: &str) -> &'static str {
    if name.starts_with("v-") { "max-age=31536000, immutable" } else { "no-cache" }
}

fn media_type(name: &str) -> &'static str {
    match name.rsplit_once('.').map(|(_, extension)| extension) {
        Some("html") => "text/html; charset=utf-8",
        Some("js" | "mjs") => "text/javascript; charset=utf-8",
        Some("css") => "text/css; charset=utf-8",
        Some("wasm") => "application/wasm",
        Some("svg") => "image/svg+xml",
        Some("png") => "image/png",
        Some("json") => "application/json",
        Some("webmanifest") => "application/manifest+json",
        Some("csv") => "text/csv; charset=utf-8",
        Some("txt" | "md") => "text/plain; charset=utf-8",
        _ => "application/octet-stream",
    }
}
