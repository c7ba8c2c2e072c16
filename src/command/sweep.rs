//! `stallheat sweep`: scenarios as JSON lines in, results as JSON lines out, in the same order.
//!
//! One thread reads, several compute, the main thread writes. For every line the reader puts a place for its result
//! into a queue of fixed length, so that only so many lines are ever in flight and memory does not grow with the input;
//! the writer goes through the places in order. A reader that waits for input does not keep results back: what is done
//! is written and flushed.

use std::io::{BufRead, BufWriter, Write};
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::mpsc::{Receiver, Sender, SyncSender, TryRecvError, channel, sync_channel};
use std::sync::{Arc, Mutex};
use std::thread;

use clap::Args;
use serde_json::{Map, Value, json};
use stallheat::error::{Error, ErrorKind};
use stallheat::report;
use stallheat::scenario;
use stallheat::simulate::simulate;

use super::io::{complain, file_error, read_text, written};
use super::parallel::Jobs;

#[derive(Debug, Args)]
pub struct SweepArgs {
    /// Take every line as a JSON merge patch (RFC 7396) onto this scenario
    #[arg(long, value_name = "FILE")]
    base: Option<PathBuf>,
    /// Write the whole day for every line, as `simulate --json` does
    #[arg(long)]
    full: bool,
    #[command(flatten)]
    jobs: Jobs,
}

/// Lines in flight for each thread: enough that threads have work while one slow line holds the writer up.
const LINES_PER_JOB: usize = 16;

/// What every line is computed with.
struct Plan {
    base: Option<Value>,
    full: bool,
}

/// A line of the input, or why the input could not be read further.
struct Line {
    number: u64,
    bytes: Result<Vec<u8>, Error>,
}

/// A line of the output.
struct Written {
    text: String,
    good: bool,
}

/// A line on its way to a thread, and where its result is awaited.
type Job = (Line, Sender<Written>);
/// Where the result of a line will arrive; or the end of the input, by an error.
type Place = Result<(u64, Receiver<Written>), Error>;

/// Computes all lines of standard input. Code 1 when one or more could not be computed.
pub fn run(args: &SweepArgs) -> Result<ExitCode, Error> {
    let base = match &args.base {
        Some(file) => {
            let text = read_text(file, scenario::MAX_BYTES, "a scenario")?;
            Some(scenario::read_json(&text)?)
        }
        None => None,
    };
    let plan = Arc::new(Plan { base, full: args.full });
    let jobs = args.jobs.count();
    let (to_threads, from_reader) = sync_channel::<Job>(jobs);
    let (to_writer, places) = sync_channel::<Place>(LINES_PER_JOB * jobs);
    let from_reader = Arc::new(Mutex::new(from_reader));
    // The threads are left to themselves: when nobody reads the output any more, the program ends at once, though the
    // input may go on.
    start(move || read(&to_threads, &to_writer))?;
    for number in 0..jobs {
        let (plan, from_reader) = (Arc::clone(&plan), Arc::clone(&from_reader));
        match start(move || compute(&plan, &from_reader)) {
            Err(error) if number == 0 => return Err(error),
            // A system that grants no more threads is worked on with those that it has granted.
            Err(_) => break,
            Ok(()) => {}
        }
    }
    write(&places)
}

/// Has a thread of its own do something.
fn start(work: impl FnOnce() + Send + 'static) -> Result<(), Error> {
    thread::Builder::new().spawn(work).map(|_| ()).map_err(|cause| {
        Error::new(
            ErrorKind::File,
            "--jobs",
            cause.to_string(),
            "a system that grants two threads",
            "Give fewer jobs, or the program more memory.",
        )
    })
}

/// Hands every line to the threads and its place to the writer, until the input ends or nobody listens.
fn read(to_threads: &SyncSender<Job>, to_writer: &SyncSender<Place>) {
    let mut input = std::io::stdin().lock();
    let mut number = 0;
    loop {
        number += 1;
        let bytes = match read_line(&mut input) {
            Ok(Some(bytes)) => bytes,
            Ok(None) => return,
            Err(error) => {
                let reason = file_error("standard input".as_ref(), &error.to_string());
                let _ = to_writer.send(Err(reason));
                return;
            }
        };
        if bytes.as_ref().is_ok_and(|bytes| bytes.iter().all(u8::is_ascii_whitespace)) {
            continue;
        }
        let (result, place) = channel();
        // The place goes first: it is what bounds the lines in flight.
        if to_writer.send(Ok((number, place))).is_err() {
            return;
        }
        // Without threads the result's end is dropped here, which the writer sees.
        let _ = to_threads.send((Line { number, bytes }, result));
    }
}

/// The next line without its end; `None` at the end of the input. Of one that is too long nothing is kept, but it is
/// read to its end.
fn read_line(input: &mut impl BufRead) -> std::io::Result<Option<Result<Vec<u8>, Error>>> {
    let mut line = Vec::new();
    let (mut any, mut too_long) = (false, false);
    loop {
        let buffer = match input.fill_buf() {
            Ok(buffer) => buffer,
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => continue,
            Err(error) => return Err(error),
        };
        if buffer.is_empty() && !any {
            return Ok(None);
        }
        let end = buffer.iter().position(|byte| *byte == b'\n');
        let part = &buffer[..end.unwrap_or(buffer.len())];
        let ended = end.is_some() || buffer.is_empty();
        any = true;
        too_long |= line.len() + part.len() > scenario::MAX_BYTES;
        if too_long {
            line = Vec::new();
        } else {
            line.extend_from_slice(part);
        }
        let used = part.len() + usize::from(end.is_some());
        input.consume(used);
        if ended {
            if line.last() == Some(&b'\r') {
                line.pop();
            }
            return Ok(Some(if too_long { Err(too_long_error()) } else { Ok(line) }));
        }
    }
}

fn too_long_error() -> Error {
    let limit = scenario::MAX_BYTES / 1_000_000;
    Error::new(
        ErrorKind::TooLarge,
        "line",
        format!("more than {limit} MB"),
        format!("a line has at most {limit} MB"),
        "Put one scenario on each line; check that the lines end.",
    )
}

/// Computes lines until there are no more.
fn compute(plan: &Plan, from_reader: &Mutex<Receiver<Job>>) {
    loop {
        let received = match from_reader.lock() {
            Ok(receiver) => receiver.recv(),
            Err(_) => return,
        };
        let Ok((line, place)) = received else { return };
        let written = match line.bytes.and_then(|bytes| result(plan, line.number, bytes)) {
            Ok(text) => Written { text, good: true },
            Err(error) => Written { text: refusal(line.number, &error), good: false },
        };
        // Nobody waits when the output is closed.
        let _ = place.send(written);
    }
}

/// The result of one line.
fn result(plan: &Plan, number: u64, bytes: Vec<u8>) -> Result<String, Error> {
    let text = String::from_utf8(bytes).map_err(|error| {
        Error::new(
            ErrorKind::File,
            "line",
            format!("not UTF-8 text, from byte {}", error.utf8_error().valid_up_to()),
            "a line is UTF-8 text",
            "Save the input as UTF-8.",
        )
    })?;
    let stated = scenario::read_json(&text)?;
    let scenario = match &plan.base {
        None => scenario::parse_json(&stated)?,
        Some(base) => {
            let mut patched = base.clone();
            json_patch::merge(&mut patched, &stated);
            scenario::parse_json(&patched)?
        }
    };
    let trace = simulate(&scenario)?;
    if plan.full {
        return Ok(report::json(&scenario, &trace).to_string());
    }
    let mut line = Map::new();
    line.insert("line".to_string(), json!(number));
    line.extend(report::brief(&scenario, &trace));
    Ok(Value::Object(line).to_string())
}

/// What stands in the place of a result that there is none of.
fn refusal(number: u64, error: &Error) -> String {
    // Every line is a text of its own, of one line.
    let field = error.field.strip_prefix("line 1, ").unwrap_or(&error.field);
    json!({
        "line": number,
        "error": {
            "kind": error.kind.name(),
            "field": field,
            "value": error.value,
            "limit": error.limit,
            "remedy": error.remedy,
        },
    })
    .to_string()
}

/// What stands in the place of a result whose thread did not come back.
fn lost() -> Error {
    Error::new(
        ErrorKind::Solver,
        "line",
        "no result",
        "a day that this program can compute",
        "Report this with the line.",
    )
}

/// How many results were written, and how many of them are refusals.
#[derive(Default)]
struct Tally {
    lines: u64,
    failed: u64,
}

/// Writes the results in order and says what became of them.
fn write(places: &Receiver<Place>) -> Result<ExitCode, Error> {
    let mut tally = Tally::default();
    let mut out = BufWriter::new(std::io::stdout().lock());
    let (listening, cut_short) = match write_lines(places, &mut out, &mut tally) {
        Ok(cut_short) => (true, cut_short),
        Err(error) => (written(Err(error))?, None),
    };
    if !listening {
        return Ok(ExitCode::SUCCESS);
    }
    let Tally { lines, failed } = tally;
    if failed > 0 {
        complain(format!(
            "{failed} of {lines} lines could not be computed; the reason stands in the place of each result"
        ));
    }
    match cut_short {
        Some(error) => Err(error),
        None if failed > 0 => Ok(ExitCode::FAILURE),
        None => Ok(ExitCode::SUCCESS),
    }
}

/// Writes until the input ends; gives the error that cut it short.
fn write_lines(
    places: &Receiver<Place>,
    out: &mut impl Write,
    tally: &mut Tally,
) -> std::io::Result<Option<Error>> {
    while let Some(place) = next(places, out)? {
        let (number, result) = match place {
            Ok(place) => place,
            Err(error) => {
                out.flush()?;
                return Ok(Some(error));
            }
        };
        let written = next(&result, out)?
            .unwrap_or_else(|| Written { text: refusal(number, &lost()), good: false });
        tally.lines += 1;
        tally.failed += u64::from(!written.good);
        writeln!(out, "{}", written.text)?;
    }
    out.flush()?;
    Ok(None)
}

/// Waits for what comes next, `None` when nothing will; sends on what is written before it waits.
fn next<T>(from: &Receiver<T>, out: &mut impl Write) -> std::io::Result<Option<T>> {
    match from.try_recv() {
        Ok(one) => Ok(Some(one)),
        Err(TryRecvError::Disconnected) => Ok(None),
        Err(TryRecvError::Empty) => {
            out.flush()?;
            Ok(from.recv().ok())
        }
    }
}
