//! Windfall in a terminal and over loopback HTTP.

mod log;
mod map;
mod serve;
mod words;

use clap::{Args, Parser, Subcommand};
use serde_json::json;
use std::fs;
use std::io::{self, BufRead, IsTerminal, Read, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use windfall_api::{Api, ApiError, AskBeliefs, Code, LocateText, Located, Progress};
use windfall_facts::LatLon;
use windfall_inference::{Priors, Settings};
use words::Units;

/// Exit code for a file or a line that cannot be answered; the same as for a bad command line.
const BAD_INPUT: u8 = 2;

/// Longest line of a batch: more than any flight may have, so that an endless line cannot fill the memory.
const LINE_BYTES: u64 = 64 << 20;

#[derive(Debug, Parser)]
#[command(
    name = "windfall",
    version,
    about = "Finds model rockets that drifted away: from what you saw to where it lies"
)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Says where every part of a flight may lie
    Locate(Locate),
    /// Keeps and shows what was said about flights, rockets, fields, motors, phones and days
    Log(log::Log),
    /// Says what the flights of the logbook taught
    Beliefs(BeliefsAsked),
    /// Prints what is assumed about everything that is not known
    Priors {
        /// As JSON
        #[arg(long)]
        json: bool,
    },
    /// Prints the JSON Schema of the flight file
    Schema,
    /// Serves the user interface to this machine only
    Serve(Serve),
}

#[derive(Debug, Args)]
struct Locate {
    /// The flight file; `-` for standard input
    #[arg(required_unless_present = "json_lines", conflicts_with = "json_lines")]
    file: Option<PathBuf>,
    /// Print the whole answer as JSON
    #[arg(long, group = "as_json")]
    json: bool,
    /// Read one flight per line of standard input, write one answer per line
    #[arg(long, group = "as_json", conflicts_with_all = ["map", "imperial"])]
    json_lines: bool,
    /// List this many equally likely landing points per part (with JSON)
    #[arg(long, value_name = "N", requires = "as_json")]
    samples: Option<usize>,
    /// Where you stand (default: the pad)
    #[arg(long, value_name = "LAT,LON", value_parser = place, allow_hyphen_values = true)]
    from: Option<LatLon>,
    /// Day of the search, as in 2026-05-19: after days it may be gone (default: the day of the flight)
    #[arg(long, value_name = "DATE", value_parser = day)]
    on: Option<chrono::NaiveDate>,
    /// Seed of the random draws
    #[arg(long, value_name = "N", default_value_t = Settings::default().seed)]
    seed: u32,
    /// Possible flights to keep
    #[arg(long, value_name = "N", default_value_t = Settings::default().draws, value_parser = draws)]
    draws: usize,
    /// Threads to use; the answer does not depend on it
    #[arg(long, value_name = "N", default_value_t = Settings::default().threads, value_parser = threads)]
    threads: usize,
    /// Use the rows of this table in place of the built-in ones
    #[arg(long, value_name = "FILE")]
    priors: Option<PathBuf>,
    /// Keep what the flight says, and the answer, in the logbook in this folder
    #[arg(long, value_name = "DIR")]
    logbook: Option<PathBuf>,
    /// Draw a map, .svg or .png
    #[arg(long, value_name = "FILE.svg|png", value_parser = picture)]
    map: Option<PathBuf>,
    /// Yards and acres
    #[arg(long)]
    imperial: bool,
}

#[derive(Debug, Args)]
struct Serve {
    /// Port on 127.0.0.1; 0 takes a free one
    #[arg(long, value_name = "N", default_value_t = 0)]
    port: u16,
    /// Folder of flight files
    #[arg(long, value_name = "DIR", default_value = "sample-data/flights")]
    day: PathBuf,
    /// Folder of the built user interface
    #[arg(long, value_name = "DIR", default_value = "ui/dist")]
    ui: PathBuf,
    /// Keep what is told, and the answers, in the logbook in this folder (default: a folder of your own where this
    /// system keeps data)
    #[arg(long, value_name = "DIR")]
    logbook: Option<PathBuf>,
    /// Keep nothing: without a logbook there are no rockets, fields and past flights
    #[arg(long, conflicts_with = "logbook")]
    no_logbook: bool,
}

#[derive(Debug, Args)]
struct BeliefsAsked {
    /// Folder of the logbook (default: a folder of your own where this system keeps data)
    #[arg(long, value_name = "DIR")]
    logbook: Option<PathBuf>,
    /// For this flight of the logbook only
    #[arg(long, value_name = "NAME")]
    flight: Option<String>,
    /// Reads all flights anew
    #[arg(long)]
    rebuild: bool,
    /// As JSON; how far the reading is on standard error, a line for each step
    #[arg(long)]
    json: bool,
}

fn main() -> ExitCode {
    let done = match Cli::parse().command {
        Command::Locate(asked) if asked.json_lines => locate_lines(&asked),
        Command::Locate(asked) => locate(&asked),
        Command::Log(asked) => log::run(asked),
        Command::Beliefs(asked) => beliefs(asked),
        Command::Priors { json } => show_priors(json),
        Command::Schema => print(&pretty(&windfall_api::schema())),
        Command::Serve(asked) => serve::run(&asked),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        // Whoever reads has had enough: `windfall locate ... | head`.
        Err(Failure::Output(error)) if error.kind() == io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("windfall: {failure}");
            ExitCode::from(failure.exit_code())
        }
    }
}

/// Why the program ends early.
#[derive(Debug)]
enum Failure {
    /// The use case refused; with the file it was about.
    Refused(Option<PathBuf>, ApiError),
    /// A file that was named cannot be read or written.
    File(PathBuf, io::Error),
    /// What a file says is not what is needed.
    Bad(PathBuf, String),
    /// Standard output cannot be written.
    Output(io::Error),
    /// Anything else, in words.
    Other(String),
}

impl Failure {
    fn exit_code(&self) -> u8 {
        match self {
            Self::Refused(_, error) if matches!(error.code, Code::Defect | Code::Storage) => 1,
            Self::Refused(..) | Self::File(..) | Self::Bad(..) => BAD_INPUT,
            Self::Output(_) | Self::Other(_) => 1,
        }
    }
}

impl std::fmt::Display for Failure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Refused(Some(file), error) => write!(f, "{}: {error}", file.display()),
            Self::Refused(None, error) => write!(f, "{error}"),
            Self::File(file, error) => write!(f, "{}: {error}", file.display()),
            Self::Bad(file, why) => write!(f, "{}: {why}", file.display()),
            Self::Output(error) => write!(f, "standard output: {error}"),
            Self::Other(words) => f.write_str(words),
        }
    }
}

impl From<ApiError> for Failure {
    fn from(error: ApiError) -> Self {
        Self::Refused(None, error)
    }
}

fn print(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    writeln!(out, "{text}").and_then(|()| out.flush()).map_err(Failure::Output)
}

fn pretty(value: &serde_json::Value) -> String {
    format!("{value:#}")
}

fn open(asked: &Locate) -> Result<Api, Failure> {
    let mut api = Api::new(Settings { seed: asked.seed, draws: asked.draws, threads: asked.threads });
    if let Some(file) = &asked.priors {
        let table = fs::read_to_string(file).map_err(|error| Failure::File(file.clone(), error))?;
        api = api.with_priors(&table).map_err(|error| Failure::Refused(Some(file.clone()), error))?;
    }
    if let Some(folder) = &asked.logbook {
        api = api.with_logbook(folder)?;
    }
    Ok(api)
}

/// Says what the look after opening found wrong with the logbook, once what was asked is done.
fn warn(api: &Api) {
    if let Some(warning) = api.logbook_warning_at_last() {
        eprintln!("windfall: {warning}");
    }
}

fn as_json(thing: &impl serde::Serialize) -> Result<serde_json::Value, Failure> {
    serde_json::to_value(thing).map_err(|error| Failure::Other(error.to_string()))
}

fn locate(asked: &Locate) -> Result<(), Failure> {
    let file = asked.file.as_deref().unwrap_or(Path::new("-"));
    let is_stdin = file == Path::new("-");
    let text = if is_stdin {
        let mut text = String::new();
        io::stdin().take(LINE_BYTES).read_to_string(&mut text).map(|_| text)
    } else {
        fs::read_to_string(file)
    };
    let text = text.map_err(|error| Failure::File(file.into(), error))?;
    let how = LocateText {
        id: file.file_stem().filter(|_| !is_stdin).and_then(|it| it.to_str()).map(str::to_owned),
        from: asked.from,
        samples: asked.samples,
        on: asked.on,
    };
    let api = open(asked)?;
    let located = api.locate_text(&text, &how).map_err(|error| Failure::Refused(Some(file.into()), error))?;
    let units = if asked.imperial { Units::Imperial } else { Units::Metric };
    if let Some(map) = &asked.map {
        map::write(map, &located, units)?;
    }
    print(&if asked.json { as_line(&located)? } else { words::answer(&located, units) })?;
    warn(&api);
    Ok(())
}

fn as_line(located: &Located) -> Result<String, Failure> {
    serde_json::to_string(&located.answer).map_err(|error| Failure::Other(error.to_string()))
}

/// One flight per line in, one answer or error per line out, in order; a bad line stops nothing.
fn locate_lines(asked: &Locate) -> Result<(), Failure> {
    let api = open(asked)?;
    let how = LocateText { id: None, from: asked.from, samples: asked.samples, on: asked.on };
    let mut lines = io::stdin().lock();
    let input = |error| Failure::File("-".into(), error);
    loop {
        let mut line = Vec::new();
        let read = lines.by_ref().take(LINE_BYTES).read_until(b'\n', &mut line).map_err(input)?;
        if read == 0 {
            warn(&api);
            return Ok(());
        }
        if line.last() != Some(&b'\n') {
            lines.skip_until(b'\n').map_err(input)?;
        }
        let answer = match std::str::from_utf8(&line) {
            Ok(text) => api.locate_text(text, &how),
            Err(error) => Err(ApiError::new(Code::BadFlight, format!("file: no UTF-8 text: {error}"))),
        };
        let answer = answer.map_or_else(|error| Ok(json!({ "error": error }).to_string()), |it| as_line(&it));
        print(&answer?)?;
    }
}

/// Reads every flight that was not read before, and says how far it is.
fn beliefs(asked: BeliefsAsked) -> Result<(), Failure> {
    let folder = asked.logbook.map_or_else(log::own_folder, Ok)?;
    let api = Api::new(Settings::default()).with_logbook(&folder)?;
    let is_terminal = io::stderr().is_terminal();
    let mut progress = |step: Progress| {
        let Progress { done, all } = step;
        if asked.json && asked.rebuild {
            eprintln!("{}", json!(step));
        } else if is_terminal && all > 0 {
            eprint!("\r{done} of {all} flights{}", if done == all { "\n" } else { "" });
        }
    };
    let said = api.beliefs(&AskBeliefs { flight: asked.flight, rebuild: asked.rebuild }, &mut progress)?;
    warn(&api);
    if asked.json {
        return print(&pretty(&json!(said)));
    }
    for sentence in &said.sentences {
        print(sentence)?;
    }
    if said.sentences.is_empty() {
        print(&format!("Nothing stands out yet, from {} flights.", said.flights))?;
    }
    for why in &said.unread {
        eprintln!("windfall: not read: {why}");
    }
    Ok(())
}

fn show_priors(json: bool) -> Result<(), Failure> {
    if json {
        return print(&pretty(&json!(windfall_api::priors())));
    }
    print(Priors::EMBEDDED.trim_end())
}

fn place(text: &str) -> Result<LatLon, String> {
    let number = |text: &str| text.trim().parse::<f64>().map_err(|_| format!("\"{text}\" is no number"));
    let (lat, lon) = text.split_once(',').ok_or("latitude and longitude are needed, as in 47.3,8.5")?;
    let (lat, lon) = (number(lat)?, number(lon)?);
    windfall_quantities::Position::new(lat, lon).map_err(|error| error.to_string())?;
    Ok(LatLon { lat, lon })
}

fn day(text: &str) -> Result<chrono::NaiveDate, String> {
    text.parse().map_err(|_| "a day is needed, as in 2026-05-19".into())
}

/// A name that says how to draw, looked at before the work and not after it.
fn picture(name: &str) -> Result<PathBuf, String> {
    let file = PathBuf::from(name);
    map::Format::of(&file).map(|_| file)
}

fn draws(text: &str) -> Result<usize, String> {
    within(text, 64, 1_000_000)
}

fn threads(text: &str) -> Result<usize, String> {
    within(text, 1, 256)
}

fn within(text: &str, low: usize, high: usize) -> Result<usize, String> {
    match text.parse() {
        Ok(number) if (low..=high).contains(&number) => Ok(number),
        _ => Err(format!("allowed is {low} to {high}")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refusal(arguments: &[&str]) -> String {
        let error = Cli::try_parse_from([&["windfall"], arguments].concat()).unwrap_err();
        assert_eq!(error.exit_code(), i32::from(BAD_INPUT), "{arguments:?}");
        error.to_string()
    }

    #[test]
    fn the_command_line_is_sound() {
        use clap::CommandFactory;
        Cli::command().debug_assert();
    }

    #[test]
    fn a_map_of_another_kind_is_a_mistake_in_the_command_line() {
        for name in ["x.jpg", "x", ".", "svg"] {
            let said = refusal(&["locate", "flight.json", "--map", name]);
            assert!(said.contains("--map") && said.contains(".svg or .png"), "{said}");
        }
        assert!(Cli::try_parse_from(["windfall", "locate", "flight.json", "--map", "x.SVG"]).is_ok());
    }

    #[test]
    fn the_logbook_takes_its_folder_before_or_after_what_is_asked() {
        let log = |words: &[&str]| Cli::try_parse_from([&["windfall", "log"], words].concat());
        for words in [&["--logbook", "d", "check"][..], &["check", "--logbook", "d", "--json"], &["back-up"]]
        {
            assert!(log(words).is_ok(), "{words:?}");
        }
        assert!(log(&["list", "--from", "2026-05-16", "--until", "2026-05-17", "--text", "fin"]).is_ok());
        assert!(refusal(&["log", "list", "--from", "16.5.2026"]).contains("--from"));
        assert!(refusal(&["log", "set-aside"]).contains("<ID>"));
    }

    #[test]
    fn landing_points_are_not_asked_for_where_nothing_would_list_them() {
        assert!(refusal(&["locate", "flight.json", "--samples", "9"]).contains("--json"));
        for form in [&["flight.json", "--json"][..], &["--json-lines"]] {
            assert!(Cli::try_parse_from([&["windfall", "locate", "--samples", "9"], form].concat()).is_ok());
        }
    }
}
