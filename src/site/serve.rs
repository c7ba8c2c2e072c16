//! A small web server for the page, for this machine only.
//!
//! It listens on the loopback address, answers GET and HEAD from the [`Site`] in memory and refuses any
//! `Host` that is not this machine (a foreign page could otherwise point its own name here). An address
//! is looked up as it stands: no decoding, no file system, hence no way out of the site.
//!
//! While it watches the sources, browsers are not asked to keep the page: a page from yesterday would hide today's change.
//!
//! While it runs it rebuilds the page when a source changes. A build that fails leaves the page as it
//! was. Files of the build before stay available, because an open page may still ask for them.
//!
//! Connections are tasks of axum, not threads: those that a browser opens and leaves silent keep nobody
//! waiting.
//!
//! Every file is packed once, when its build is taken over, and sent so to whoever accepts gzip.
//!
//! Not here: TLS, ranges, other machines. To publish the page, build it and use a web server.

use std::collections::BTreeMap;
use std::io::{self, Write};
use std::net::{Ipv4Addr, TcpListener};
use std::path::{Path, PathBuf};
use std::sync::{Arc, PoisonError, RwLock};
use std::thread;
use std::time::{Duration, Instant};

use axum::Router;
use axum::body::{Body, Bytes};
use axum::extract::Request;
use axum::http::{HeaderMap, HeaderValue, Method, Response, StatusCode, header};
use stallheat::error::{Error, ErrorKind};

use super::{Site, folder, make, media_type, packed, watch};

/// The port that is tried first.
pub const PORT: u16 = 8734;
/// How many ports are tried, counting up, when the first is taken.
const PORTS_TRIED: u16 = 20;
const POLL_INTERVAL: Duration = Duration::from_secs(1);

const CONTENT_SECURITY_POLICY: &str = "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; \
    style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; \
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

/// A file as it lies on the disk, and packed where that is shorter.
#[derive(Clone)]
struct File {
    plain: Bytes,
    gzip: Option<Bytes>,
}

impl File {
    fn new(bytes: Vec<u8>) -> File {
        let gzip = packed(&bytes).ok().filter(|packed| packed.len() < bytes.len()).map(Bytes::from);
        File { plain: Bytes::from(bytes), gzip }
    }
}

/// A build, ready to be sent.
struct Packed {
    version: String,
    files: BTreeMap<String, File>,
}

impl Packed {
    fn new(site: Site) -> Packed {
        let files = site.files.into_iter().map(|(name, bytes)| (name, File::new(bytes)));
        Packed { version: site.version, files: files.collect() }
    }
}

/// The site of the moment and the one before.
struct Served {
    current: Packed,
    previous: Option<Packed>,
}

impl Served {
    fn find(&self, name: &str) -> Option<File> {
        let sites = std::iter::once(&self.current).chain(&self.previous);
        sites.filter_map(|site| site.files.get(name)).next().cloned()
    }
}

type Shared = Arc<RwLock<Served>>;

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
            note("building the page; the first time takes a minute or two");
            (make(&root, !options.watch)?, Some((root, fingerprint)))
        }
    };
    let (listener, port) = listen(options.port)?;
    let served = Arc::new(RwLock::new(Served { current: Packed::new(site), previous: None }));
    say(&format!("http://127.0.0.1:{port}/"));

    if let (Some((root, fingerprint)), true) = (sources, options.watch) {
        let served = Arc::clone(&served);
        thread::spawn(move || rebuild_on_change(&root, fingerprint, &served));
    }
    answer_all(listener, served).map_err(|cause| {
        Error::new(
            ErrorKind::Serve,
            "server",
            cause.to_string(),
            "a system that lets a program answer on the loopback address",
            "Start it again; if that does not help, report it.",
        )
    })
}

/// Answers requests until the program is ended.
fn answer_all(listener: TcpListener, served: Shared) -> io::Result<()> {
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build()?;
    runtime.block_on(async {
        listener.set_nonblocking(true)?;
        let listener = tokio::net::TcpListener::from_std(listener)?;
        let router = Router::new()
            .fallback(move |request: Request| std::future::ready(answer(&request, &served)));
        axum::serve(listener, router).await
    })
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
    let program = watch::program_fingerprint(root);
    loop {
        thread::sleep(POLL_INTERVAL);
        let fingerprint = watch::fingerprint(root);
        if fingerprint == built_from {
            continue;
        }
        built_from = fingerprint;
        let start = Instant::now();
        match make(root, false) {
            Ok(site) => {
                let site = Packed::new(site);
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
                if watch::program_fingerprint(root) != program {
                    say(
                        "src changed: parameters, kinds of events and examples on the page are still those of this program; start it anew to see theirs",
                    );
                }
                let previous = std::mem::replace(&mut served.current, site);
                served.previous = Some(previous);
            }
            Err(error) => note(&format!("{error}\nstallheat: serving the page as it was")),
        }
    }
}

/// Prints a line at once; a closed output does not end the server.
fn say(line: &str) {
    let mut out = io::stdout().lock();
    let _ = writeln!(out, "stallheat: {line}").and_then(|()| out.flush());
}

fn answer(request: &Request, served: &Shared) -> Response<Body> {
    let host = request.headers().get(header::HOST).and_then(|host| host.to_str().ok());
    if !host.is_some_and(is_this_machine) {
        return text(StatusCode::FORBIDDEN, "This server answers this machine only.\n");
    }
    if !matches!(*request.method(), Method::GET | Method::HEAD) {
        return text(StatusCode::METHOD_NOT_ALLOWED, "Only GET and HEAD.\n");
    }
    let name = match request.uri().path().strip_prefix('/') {
        Some("") => "index.html",
        Some(name) => name,
        None => "",
    };
    let Some(file) = served.read().unwrap_or_else(PoisonError::into_inner).find(name) else {
        return text(StatusCode::NOT_FOUND, "There is no such file.\n");
    };
    let (media_type, caching) = (media_type(name), caching(name));
    let Some(gzip) = file.gzip else {
        return reply(StatusCode::OK, media_type, caching, file.plain);
    };
    let packed = accepts_gzip(request.headers());
    let bytes = if packed { gzip } else { file.plain };
    let mut reply = reply(StatusCode::OK, media_type, caching, bytes);
    let headers = reply.headers_mut();
    headers.insert(header::VARY, HeaderValue::from_static("Accept-Encoding"));
    if packed {
        headers.insert(header::CONTENT_ENCODING, HeaderValue::from_static("gzip"));
    }
    reply
}

/// Whether a browser takes gzip (RFC 9110, 12.5.3): what is named goes before `*`, and weight 0 means no.
fn accepts_gzip(headers: &HeaderMap) -> bool {
    let mut any = false;
    for value in headers.get_all(header::ACCEPT_ENCODING) {
        for coding in value.to_str().unwrap_or_default().split(',') {
            let (name, parameters) = coding.split_once(';').unwrap_or((coding, ""));
            let weight = parameters.trim().strip_prefix("q=").map_or(Some(1.0), |q| q.parse().ok());
            let wanted = weight.is_some_and(|weight: f32| weight > 0.0);
            match name.trim() {
                name if name.eq_ignore_ascii_case("gzip") => return wanted,
                "*" => any = wanted,
                _ => {}
            }
        }
    }
    any
}

fn text(status: StatusCode, words: &str) -> Response<Body> {
    reply(status, "text/plain; charset=utf-8", "no-store", Bytes::copy_from_slice(words.as_bytes()))
}

/// A reply with the headers that every reply has. For HEAD the server sends no body by itself.
fn reply(
    status: StatusCode,
    media_type: &'static str,
    caching: &'static str,
    bytes: Bytes,
) -> Response<Body> {
    let mut reply = Response::new(Body::from(bytes));
    *reply.status_mut() = status;
    let headers = reply.headers_mut();
    for (name, value) in [
        (header::CONTENT_TYPE, media_type),
        (header::CACHE_CONTROL, caching),
        (header::CONTENT_SECURITY_POLICY, CONTENT_SECURITY_POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::ALLOW, "GET, HEAD"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    reply
}

/// Says a line on stderr; a closed one does not end the server.
fn note(line: &str) {
    let _ = writeln!(io::stderr().lock(), "stallheat: {line}");
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gzip_is_sent_only_where_it_is_taken() {
        for (value, taken) in [
            ("gzip, deflate, br, zstd", true),
            ("br;q=1.0, GZIP;q=0.5", true),
            ("*", true),
            ("", false),
            ("br, deflate", false),
            ("gzip;q=0", false),
            ("gzip; q=0.000, *", false),
            ("*;q=0", false),
            ("identity", false),
            ("gzip;q=much", false),
        ] {
            let mut headers = HeaderMap::new();
            headers.insert(header::ACCEPT_ENCODING, HeaderValue::from_static(value));
            assert_eq!(accepts_gzip(&headers), taken, "{value}");
        }
        assert!(!accepts_gzip(&HeaderMap::new()));
    }
}
