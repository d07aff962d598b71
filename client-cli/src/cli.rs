//! The command line.

use crate::clock::time_option;
use crate::dials::DialArgs;
use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// The terminal of deadship: drills for ship engine-room teams.
///
/// A training aid, not a procedure: on board, follow the ship's safety management system, the makers'
/// instructions, local codes and licensed engineers.
#[derive(Debug, Parser)]
#[command(name = "deadship", version, max_term_width = 100, after_help = EXIT_STATUSES)]
pub struct Cli {
    /// Folder with ships, rigs, library and procedures of your own, beside those built in.
    #[arg(long, global = true, value_name = "FOLDER")]
    pub data: Option<PathBuf>,
    /// File of the server's authority, for servers that speak with encryption (`https://HOST:PORT`).
    #[arg(long, global = true, value_name = "FILE", env = "DEADSHIP_AUTHORITY")]
    pub authority: Option<PathBuf>,
    /// Lines instead of a full screen: for scripts, screen readers and simple terminals. So are `TERM=dumb` and output that
    /// goes elsewhere.
    #[arg(long, global = true)]
    pub plain: bool,
    /// What to do.
    #[command(subcommand)]
    pub command: Option<Command>,
}

/// What ends the help of the whole program.
const EXIT_STATUSES: &str = "\
Exit statuses:
  0  it was done, and the answer is yes
  1  it was done, and the answer is no: aim missed, a line refused, a check failed
  2  it could not be done: what was asked is wrong, a file or the server fails";

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Take a seat in a team and work the ship, on a full screen or a line at a time.
    #[command(
        after_help = "Examples:\n  deadship join 192.0.2.20 T7GZJJ Ada --station engine\n  deadship join 192.0.2.20 --back"
    )]
    Join(JoinArgs),
    /// Run a class: open drills, set faults, hold and resume, see every team.
    #[command(after_help = "Examples:\n  deadship teach 192.0.2.20 --key 3RMZ-4SZD-JT5K-QSR5-WHW3")]
    Teach(TeachArgs),
    /// Run a whole drill here, without a server, with a robot crew.
    #[command(
        after_help = "Examples:\n  deadship rehearse first-light\n  deadship rehearse first-light --crew idle --quiet --record idle.jsonl"
    )]
    Rehearse(RehearseArgs),
    /// Show a drill with everything resolved that it refers to, or a ship with what stands where: as text, JSON or a drawing.
    #[command(
        after_help = "Examples:\n  deadship inspect first-light\n  deadship inspect first-light --form svg -o plan.svg\n  deadship inspect first-light --stress high\n  deadship inspect --ship quillmere --only \"sea.*\""
    )]
    Inspect(InspectArgs),
    /// Write the papers of a drill as one page to print: brief, station cards, and the pages of who leads it.
    #[command(
        after_help = "Examples:\n  deadship handout first-light -o first-light.html\n  deadship handout first-light --for-team -o brief.html"
    )]
    Handout(HandoutArgs),
    /// Say what differs between two versions of a drill, in the trade's words.
    #[command(
        after_help = "Examples:\n  deadship diff old/my-drill.toml my-drill.toml\n\nExit status 1: something differs."
    )]
    Diff(DiffArgs),
    /// Print the JSON Schema of ships, drills or procedures, for an editor.
    #[command(after_help = "Examples:\n  deadship schema drill > drill.schema.json")]
    Schema(SchemaArgs),
    /// Prove drills: nobody must fail, the expert must pass, errors must fail for their reason, whatever the seed.
    #[command(
        after_help = "Examples:\n  deadship prove first-light\n  deadship prove --seeds 3 --json\n\nExit status 1: something is not as it should be."
    )]
    Prove(ProveArgs),
    /// Run a ship or a rig without a drill and write readings down.
    #[command(
        after_help = "Examples:\n  deadship trial quillmere --state \"at sea, two sets\" --for \"10 min\" --every 30s --readings \"dg1.generator.power,*.frequency\""
    )]
    Trial(TrialArgs),
    /// Begin a drill, procedure, ship or rig of your own: commented files that are right as they stand.
    #[command(
        after_help = "Examples:\n  deadship new drill night-watch\n  deadship new ship wagtail\n  deadship new drill first-pump --ship wagtail\n  deadship new procedure first-light-too-late\n\nFiles go into library, procedures, ships or rigs below `--data`, else below the folder you are in."
    )]
    New(NewArgs),
    /// Check ship, rig, drill and procedure files; without files, all that is known.
    #[command(after_help = "Examples:\n  deadship check\n  deadship check library/my-drill.toml --data .")]
    Check(CheckArgs),
    /// Lay files out as the library's are: spaces, blank lines, long lists. Comments, order and quotes stay as they are.
    #[command(
        after_help = "Examples:\n  deadship fmt library/my-drill.toml\n  deadship fmt --data .\n  deadship fmt --check\n  deadship fmt - < my-drill.toml\n\nExit status 1: with --check, a file is not formatted; a file is no TOML, and was left alone."
    )]
    Fmt(FmtArgs),
    /// Is it a good drill? What a check cannot see: expectations that nobody can meet, deadlines shorter than a walk, too much to
    /// read, no error procedure.
    #[command(
        after_help = "Examples:\n  deadship lint\n  deadship lint first-light\n  deadship lint library/my-drill.toml --json\n  deadship lint --rules\n\nExit status 1: something was found."
    )]
    Lint(LintArgs),
    /// The events of a run, one a line.
    #[command(
        after_help = "Examples:\n  deadship timeline run.jsonl\n  deadship timeline run.jsonl --moments\n  deadship timeline run.jsonl --only acts,alerts --who boards --from 12m --find esb"
    )]
    Timeline(TimelineArgs),
    /// Rebuild a run from its log: its readings at an instant, or a check of all of it.
    #[command(
        after_help = "Examples:\n  deadship replay run.jsonl --at 12m3s --readings \"dg1.*\"\n  deadship replay run.jsonl --verify"
    )]
    Replay(ReplayArgs),
    /// Look through a run with the team: lanes over time, and the plant at any instant as one of them saw it.
    #[command(
        after_help = "Examples:\n  deadship debrief run.jsonl\n  deadship debrief --server 192.0.2.20 --key 3RMZ-4SZD-JT5K-QSR5-WHW3 Red\n  deadship debrief run.jsonl --plain --at 12:30 --as engine"
    )]
    Debrief(DebriefArgs),
    /// Why something happened: from a trip, an alert or a refusal back to what began it.
    #[command(
        after_help = "Examples:\n  deadship why run.jsonl\n  deadship why run.jsonl 628\n  deadship why run.jsonl 628 --json"
    )]
    Why(WhyArgs),
    /// What if: a run once more with something left out, shifted or added, beside the run as it went.
    #[command(
        after_help = "Examples:\n  deadship whatif run.jsonl --add \"at 13m30s: start sea.pump.harbour by boards\"\n  deadship whatif run.jsonl --drop 85 --until 40m\n  deadship whatif run.jsonl --shift 269=-20s --record other.jsonl\n  deadship whatif run.jsonl --search 628"
    )]
    Whatif(WhatIfArgs),
    /// A run as one page to read, print and look through in a browser: one file, which asks nothing of any network.
    #[command(
        after_help = "Examples:\n  deadship report run.jsonl -o report.html\n  deadship report run.jsonl --beside other.jsonl --names -o report.html"
    )]
    Report(ReportArgs),
    /// What a run took: times of the recovery and of every fault, alerts, orders, starts, unsafe acts, the moments to talk about.
    #[command(
        after_help = "Examples:\n  deadship measures run.jsonl\n  deadship measures run.jsonl --reference\n  deadship measures run.jsonl --json"
    )]
    Measures(MeasuresArgs),
    /// Marks by objective: what the log shows, how it was rated, what is left to those who rate. No overall score.
    #[command(after_help = "Examples:\n  deadship marks run.jsonl\n  deadship marks run.jsonl --json")]
    Marks(MarksArgs),
    /// What someone has shown over many runs and drills: when, as what, at which level, due again when.
    #[command(
        after_help = "Examples:\n  deadship record archives --person Ada\n  deadship record red.jsonl blue.jsonl --person Ada --due-after 365 --json"
    )]
    Record(RecordArgs),
    /// A run in open formats, for other programs: people under pseudonyms.
    #[command(
        after_help = "Examples:\n  deadship export run.jsonl --format csv -o events.csv\n  deadship export run.jsonl --format csv --table readings --readings \"dg1.*\" -o dg1.csv\n  deadship export run.jsonl --format xapi -o statements.jsonl"
    )]
    Export(ExportArgs),
    /// The closing record of a run: events, readings once a second and report, with checksums, to be read for ever.
    #[command(
        after_help = "Examples:\n  deadship seal run.jsonl -o run.seal\n  deadship seal --check run.seal\n  deadship export run.seal --format csv --table readings -o readings.csv"
    )]
    Seal(SealArgs),
    /// The drills, ships, rigs and procedures that are known.
    #[command(after_help = "Examples:\n  deadship list")]
    List(ListArgs),
    /// Every fault that a ship or rig can have.
    #[command(after_help = "Examples:\n  deadship faults quillmere \"sea.*\"")]
    Faults(FaultsArgs),
    /// The written reference of the kinds of component.
    #[command(after_help = "Examples:\n  deadship kinds\n  deadship kinds centrifugal-pump")]
    Kinds(KindsArgs),
    /// Completions for a shell, to be loaded by it.
    #[command(
        after_help = "Examples:\n  deadship completions bash > ~/.local/share/bash-completion/completions/deadship"
    )]
    Completions(CompletionsArgs),
    /// The manual: pages for `man` into a folder, or one text.
    #[command(
        after_help = "Examples:\n  deadship manual --pages ~/.local/share/man/man1\n  man deadship-join"
    )]
    Manual(ManualArgs),
}

/// Take a seat in a team.
#[derive(Debug, Args)]
pub struct JoinArgs {
    /// Address of the server: `192.168.1.20`, `192.168.1.20:8080`.
    pub address: String,
    /// Join code of the run, as the instructor tells it.
    #[arg(required_unless_present = "back")]
    pub code: Option<String>,
    /// Your name; also as `--name NAME`.
    #[arg(value_name = "NAME")]
    pub who: Option<String>,
    /// Your name.
    #[arg(long, conflicts_with = "who")]
    pub name: Option<String>,
    /// Station to take at once.
    #[arg(long)]
    pub station: Option<String>,
    /// Take the seat back that you had on this server.
    #[arg(long, conflicts_with_all = ["code", "name"])]
    pub back: bool,
    /// Look on without a seat: see what the team is told, work nothing.
    #[arg(long, conflicts_with_all = ["back", "who", "name", "station"])]
    pub look_on: bool,
}

/// Run a class.
#[derive(Debug, Args)]
pub struct TeachArgs {
    /// Address of the server.
    pub address: String,
    /// The instructor's key, as the server printed it.
    #[arg(long)]
    pub key: String,
    /// Your name, where several instructors share a server.
    #[arg(long)]
    pub name: Option<String>,
}

/// Run a whole drill without a server.
#[derive(Debug, Args)]
pub struct RehearseArgs {
    /// Drill: a name or a file.
    pub drill: String,
    /// Who does the work: `expert` (the drill's own procedure), `idle` (nobody), the name of a procedure, or a file.
    #[arg(long, default_value = "expert")]
    pub crew: String,
    /// Seed of whatever the model draws by lot, instead of the drill's.
    #[arg(long)]
    pub seed: Option<u64>,
    /// Stop after this time, for drills that set no limit.
    #[arg(long, value_name = "TIME", value_parser = time_option, default_value = "2h")]
    pub at_most: f64,
    /// The crew takes its time as people do, drawn from this seed; without it, it is as quick as its hands.
    #[arg(long, value_name = "SEED")]
    pub pace: Option<u64>,
    /// With `--pace`: at less than 100 % the crew is slower, and forgets steps.
    #[arg(long, value_name = "PER CENT", requires = "pace", value_parser = clap::value_parser!(u8).range(0..=100), default_value_t = 100)]
    pub skill: u8,
    /// Write the run's archive here; an existing file is never overwritten.
    #[arg(long, value_name = "FILE")]
    pub record: Option<PathBuf>,
    /// The debrief as JSON.
    #[arg(long)]
    pub json: bool,
    /// Print no events while it runs.
    #[arg(long)]
    pub quiet: bool,
    /// Where its dials stand.
    #[command(flatten)]
    pub dials: DialArgs,
}

/// Show a drill resolved.
#[derive(Debug, Args)]
pub struct InspectArgs {
    /// Drill: a name or a file.
    #[arg(required_unless_present = "ship")]
    pub drill: Option<String>,
    /// A ship or rig instead: a name, a file or a folder. What stands where, how it is worked, its alerts and states.
    #[arg(long, conflicts_with = "drill")]
    pub ship: Option<String>,
    /// Of a ship, only components and alerts whose names fit this pattern, and how each is worked.
    #[arg(long, value_name = "PATTERN", requires = "ship")]
    pub only: Option<String>,
    /// How.
    #[arg(long, value_enum, default_value_t = PlanForm::Text)]
    pub form: PlanForm,
    /// Another seed than the drill's own, which may draw another variant.
    #[arg(long, value_name = "SEED")]
    pub seed: Option<u64>,
    /// Write it here; an existing file is never overwritten.
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Where its dials stand.
    #[command(flatten)]
    pub dials: DialArgs,
}

/// How a plan is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum PlanForm {
    /// To read.
    Text,
    /// For programs.
    Json,
    /// A drawing over the time that there is.
    Svg,
}

/// Write the papers of a drill.
#[derive(Debug, Args)]
pub struct HandoutArgs {
    /// Drill: a name or a file.
    pub drill: String,
    /// Only what the team is given: brief and station cards.
    #[arg(long)]
    pub for_team: bool,
    /// Another seed than the drill's own, which may draw another variant.
    #[arg(long, value_name = "SEED")]
    pub seed: Option<u64>,
    /// Write it here; an existing file is never overwritten.
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Where its dials stand.
    #[command(flatten)]
    pub dials: DialArgs,
}

/// Compare two versions.
#[derive(Debug, Args)]
pub struct DiffArgs {
    /// Drill before: a name or a file.
    pub before: String,
    /// Drill after: a name or a file.
    pub after: String,
    /// One difference a line as JSON.
    #[arg(long)]
    pub json: bool,
    /// Where its dials stand.
    #[command(flatten)]
    pub dials: DialArgs,
}

/// Print a schema.
#[derive(Debug, Args)]
pub struct SchemaArgs {
    /// Of what.
    pub of: SchemaOf,
}

/// What a schema is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum SchemaOf {
    /// Ships and rigs.
    Ship,
    /// Drills.
    Drill,
    /// Procedures.
    Procedure,
}

/// Prove drills.
#[derive(Debug, Args)]
pub struct ProveArgs {
    /// Drills: names or files; without any, all that are known.
    pub drills: Vec<String>,
    /// How many seeds: of each run, and of the pace of its crew.
    #[arg(long, default_value_t = 20, value_parser = clap::value_parser!(u64).range(1..=1000))]
    pub seeds: u64,
    /// A verdict as JSON a line.
    #[arg(long)]
    pub json: bool,
    /// One table of all, as `docs/drills.md` has it.
    #[arg(long, conflicts_with = "json")]
    pub markdown: bool,
    /// Where its dials stand.
    #[command(flatten)]
    pub dials: DialArgs,
}

/// Run a ship or rig without a drill.
#[derive(Debug, Args)]
pub struct TrialArgs {
    /// Ship or rig: a name, a file or a folder.
    pub ship: String,
    /// Start state; without it everything stands as its kind says.
    #[arg(long)]
    pub state: Option<String>,
    /// Lines such as `at 10s: open sea.chest.low.valve` or `at 2 min: fault dg1.x.y 50 %`; `#` begins a comment.
    #[arg(long, value_name = "FILE")]
    pub actions: Option<PathBuf>,
    /// How long to run.
    #[arg(long = "for", value_name = "TIME", value_parser = time_option)]
    pub length: f64,
    /// How often to write readings down.
    #[arg(long, value_name = "TIME", value_parser = time_option, default_value = "1s")]
    pub every: f64,
    /// Readings, parted by commas; `*` stands for anything.
    #[arg(long, value_delimiter = ',', required = true, value_name = "NAMES")]
    pub readings: Vec<String>,
    /// How they are written.
    #[arg(long, value_enum, default_value_t = Format::Csv)]
    pub format: Format,
    /// Units as people read them, and words for states, instead of SI.
    #[arg(long)]
    pub display_units: bool,
    /// Tell what the plant finds (alerts, trips, starts) as it goes.
    #[arg(long)]
    pub events: bool,
}

/// How rows are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// A header, then a row an instant.
    Csv,
    /// A JSON object a line.
    Json,
}

/// Check files.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// Files, or folders that hold a ship.
    pub files: Vec<PathBuf>,
    /// Problems as JSON, one a line.
    #[arg(long)]
    pub json: bool,
}

/// Lay files out.
#[derive(Debug, Args)]
pub struct FmtArgs {
    /// Files, or folders that hold some; `-` reads the input and writes the output. Without any, all of `--data`, and to `--check`
    /// all that is known.
    pub files: Vec<PathBuf>,
    /// Write nothing: say which files would change, and where first.
    #[arg(long)]
    pub check: bool,
    /// What was formatted, and problems, as JSON, one a line.
    #[arg(long)]
    pub json: bool,
}

/// Begin something of your own.
#[derive(Debug, Args)]
pub struct NewArgs {
    /// What.
    #[arg(value_enum)]
    pub sort: NewSort,
    /// Its name: small letters, digits and `-`.
    pub name: String,
    /// Of a drill: the ship. Without it, quillmere.
    #[arg(long)]
    pub ship: Option<String>,
    /// Of a procedure: the drill. Without it, the one with whose name the procedure's begins.
    #[arg(long)]
    pub drill: Option<String>,
}

/// What can be begun.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum NewSort {
    /// A drill, with a procedure for the expert crew and one that shows an error.
    Drill,
    /// A procedure that shows an error in a drill; for a drill without one, the expert's.
    Procedure,
    /// A ship: a folder of files.
    Ship,
    /// A rig: one file.
    Rig,
}

/// Is it a good drill?
#[derive(Debug, Args)]
pub struct LintArgs {
    /// Files, folders or names of drills, procedures, ships and rigs; without any, all that is known.
    pub files: Vec<String>,
    /// Findings as JSON, one a line.
    #[arg(long)]
    pub json: bool,
    /// The rules, and what each is for.
    #[arg(long, conflicts_with = "files")]
    pub rules: bool,
}

/// Where a run's log is.
#[derive(Debug, Args)]
pub struct LogArgs {
    /// An archive file or a seal, or with `--server` the id of a run.
    pub run: String,
    /// Fetch the log from this server.
    #[arg(long, value_name = "ADDRESS", requires = "key")]
    pub server: Option<String>,
    /// Key for the server.
    #[arg(long)]
    pub key: Option<String>,
    /// Of a damaged or unfinished archive, use what stands before the fault.
    #[arg(long)]
    pub whole: bool,
}

/// The events of a run.
#[derive(Debug, Args)]
pub struct TimelineArgs {
    /// The log.
    #[command(flatten)]
    pub log: LogArgs,
    /// Also needs, digests and refusals' details.
    #[arg(long)]
    pub all: bool,
    /// Only these sorts of event.
    #[arg(long, value_enum, value_delimiter = ',', value_name = "SORTS")]
    pub only: Vec<EventSort>,
    /// Only what this person, this station, the drill or the plant did.
    #[arg(long, value_name = "NAME")]
    pub who: Option<String>,
    /// Only lines with this in them; capitals do not matter.
    #[arg(long, value_name = "TEXT")]
    pub find: Option<String>,
    /// From this time on.
    #[arg(long, value_name = "TIME", value_parser = time_option)]
    pub from: Option<f64>,
    /// Up to this time.
    #[arg(long, value_name = "TIME", value_parser = time_option)]
    pub to: Option<f64>,
    /// By what the drill is to teach: of each objective what became of it and its events, then what belongs to none.
    /// So it is without any option, where the drill names objectives; an event may stand under more than one.
    #[arg(long, conflicts_with = "json")]
    pub by_objective: bool,
    /// In the order of time. So it is with any other option, and where the drill names no objectives.
    #[arg(long, conflicts_with = "by_objective")]
    pub by_clock: bool,
    /// In the order of time and in parts, each ending where something expected was met or missed.
    #[arg(long, conflicts_with_all = ["json", "by_objective", "by_clock"])]
    pub by_expected: bool,
    /// Only the few moments that matter, with the reason of each.
    #[arg(long, conflicts_with_all = ["json", "only", "who", "find", "from", "to", "by_objective", "by_clock", "by_expected"])]
    pub moments: bool,
    /// As JSON, an event a line.
    #[arg(long)]
    pub json: bool,
}

/// Sorts of event.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum EventSort {
    /// What hands did, and what was refused.
    Acts,
    /// Faults set, planned and lifted.
    Faults,
    /// Alerts: raised, cleared, acknowledged, shelved.
    Alerts,
    /// What the plant did: trips, starts, lost needs.
    Plant,
    /// What was said, ordered, read back and reported.
    Talk,
    /// Notes, marks, steps ticked off, expectations.
    Marks,
    /// Who took which station and walked where, hold and speed.
    People,
}

/// Rebuild a run.
#[derive(Debug, Args)]
pub struct ReplayArgs {
    /// The log.
    #[command(flatten)]
    pub log: LogArgs,
    /// Readings at this time.
    #[arg(long, value_name = "TIME", value_parser = time_option, required_unless_present = "verify")]
    pub at: Option<f64>,
    /// Which readings; `*` stands for anything.
    #[arg(long, num_args = 1.., value_delimiter = ',', value_name = "NAMES", default_value = "*")]
    pub readings: Vec<String>,
    /// Replay all of it and compare every finding and digest.
    #[arg(long, conflicts_with = "at")]
    pub verify: bool,
}

/// Look through a run with the team.
#[derive(Debug, Args)]
pub struct DebriefArgs {
    /// The log.
    #[command(flatten)]
    pub log: LogArgs,
    /// Begin at this time; with `--plain` print the readings at it.
    #[arg(long, value_name = "TIME", value_parser = time_option)]
    pub at: Option<f64>,
    /// Through whose eyes: a person, a station, or `all`.
    #[arg(long = "as", value_name = "NAME", requires = "at")]
    pub eyes: Option<String>,
}

/// Why something happened.
#[derive(Debug, Args)]
pub struct WhyArgs {
    /// The log.
    #[command(flatten)]
    pub log: LogArgs,
    /// Number of the event, as `timeline` shows it; without it, what can be asked about.
    pub seq: Option<u64>,
    /// As JSON.
    #[arg(long)]
    pub json: bool,
}

/// A run with something changed.
#[derive(Debug, Args)]
pub struct WhatIfArgs {
    /// The log.
    #[command(flatten)]
    pub log: LogArgs,
    /// Leave out what this event did: an act, something said, a fault.
    #[arg(long, value_name = "SEQ")]
    pub drop: Vec<u64>,
    /// Do what this event did sooner or later.
    #[arg(long, value_name = "SEQ=TIME", allow_hyphen_values = true)]
    pub shift: Vec<String>,
    /// Do something besides; without `by`, someone who is wherever it takes does it.
    #[arg(long, value_name = "at TIME: WORDS [by WHO]")]
    pub add: Vec<String>,
    /// Go on until this time; without it, until the run as it went ended.
    #[arg(long, value_name = "TIME", value_parser = time_option)]
    pub until: Option<f64>,
    /// Find the smallest single change that would have avoided this event, and the last moment for it.
    #[arg(long, value_name = "SEQ", conflicts_with_all = ["drop", "shift", "add", "until", "record"])]
    pub search: Option<u64>,
    /// Write the other course's archive here; an existing file is never overwritten.
    #[arg(long, value_name = "FILE")]
    pub record: Option<PathBuf>,
    /// As JSON.
    #[arg(long)]
    pub json: bool,
}

/// A run as a page.
#[derive(Debug, Args)]
pub struct ReportArgs {
    /// The log.
    #[command(flatten)]
    pub log: LogArgs,
    /// Write the page here; an earlier report is replaced, any other file is left alone.
    #[arg(short, long, value_name = "FILE")]
    pub output: PathBuf,
    /// Names of people as they gave them, instead of `engine-1` and so on.
    #[arg(long)]
    pub names: bool,
    /// Another course of this run to be laid beside it, as `whatif --record` wrote it; may be given more than once.
    #[arg(long, value_name = "FILE")]
    pub beside: Vec<PathBuf>,
    /// Do not ask why the moments came: that computes the run many times more.
    #[arg(long)]
    pub quick: bool,
}

/// Marks by objective.
#[derive(Debug, Args)]
pub struct MarksArgs {
    /// The log.
    #[command(flatten)]
    pub log: LogArgs,
    /// As JSON.
    #[arg(long)]
    pub json: bool,
}

/// What someone has shown.
#[derive(Debug, Args)]
pub struct RecordArgs {
    /// Archives or seals, or folders that hold them.
    #[arg(required = true, value_name = "RUNS")]
    pub runs: Vec<PathBuf>,
    /// Their name, as they came in with it; capitals do not matter.
    #[arg(long, value_name = "NAME")]
    pub person: String,
    /// Days after which an objective is due again. Half a year is common practice, without a source.
    #[arg(long, value_name = "DAYS", default_value_t = 182, value_parser = clap::value_parser!(u64).range(1..=36_500))]
    pub due_after: u64,
    /// As JSON.
    #[arg(long)]
    pub json: bool,
}

/// A run in open formats.
#[derive(Debug, Args)]
pub struct ExportArgs {
    /// The log.
    #[command(flatten)]
    pub log: LogArgs,
    /// The format; `docs/exports.md` has every field of each.
    #[arg(long, value_enum)]
    pub format: ExportFormat,
    /// Which table, of `--format csv`; without it the events.
    #[arg(long, value_enum)]
    pub table: Option<ExportTable>,
    /// Which readings, of `--table readings`; `*` stands for anything, and without it all are written.
    #[arg(long, num_args = 1.., value_delimiter = ',', value_name = "NAMES")]
    pub readings: Vec<String>,
    /// Write here; an existing file is never overwritten. Without it the export is printed.
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// People under their own names instead of pseudonyms.
    #[arg(long)]
    pub names: bool,
}

/// What a run took.
#[derive(Debug, Args)]
pub struct MeasuresArgs {
    /// The log.
    #[command(flatten)]
    pub log: LogArgs,
    /// From the log alone, without replaying it: what only readings show is left out.
    #[arg(long)]
    pub no_replay: bool,
    /// Beside the same drill by its expert crew and by a crew that does nothing, which are run for it.
    #[arg(long, conflicts_with = "no_replay")]
    pub reference: bool,
    /// As JSON.
    #[arg(long)]
    pub json: bool,
}

/// A format of exports.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum ExportFormat {
    /// A JSON object an event.
    Jsonl,
    /// Tables for a spreadsheet (RFC 4180).
    Csv,
    /// What people did, as statements for a learning record store (xAPI 1.0.3), one a line.
    Xapi,
    /// A CloudEvents 1.0.2 event in JSON an event.
    Cloudevents,
    /// What lasted from one event to another, as spans of one trace (OpenTelemetry's OTLP in JSON).
    Trace,
}

/// A table of an export.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum ExportTable {
    /// An event a row.
    Events,
    /// A second of the run a row, a reading a column, SI units.
    Readings,
}

/// Seal a run, or look at a seal.
#[derive(Debug, Args)]
pub struct SealArgs {
    /// The log, or with `--check` a seal.
    #[command(flatten)]
    pub log: LogArgs,
    /// Write the seal here; an existing file is never overwritten.
    #[arg(short, long, value_name = "FILE", required_unless_present = "check")]
    pub output: Option<PathBuf>,
    /// Is the seal whole? If not: what is damaged, and what can still be read.
    #[arg(long, conflicts_with_all = ["output", "server", "whole"])]
    pub check: bool,
}

/// What is known.
#[derive(Debug, Args)]
pub struct ListArgs {
    /// As JSON.
    #[arg(long)]
    pub json: bool,
}

/// Faults of a ship.
#[derive(Debug, Args)]
pub struct FaultsArgs {
    /// Ship or rig: a name, a file or a folder.
    pub ship: String,
    /// Only those whose `component.fault` fits; `*` stands for anything.
    pub pattern: Option<String>,
}

/// The reference of kinds.
#[derive(Debug, Args)]
pub struct KindsArgs {
    /// One kind; without it a list of all.
    pub kind: Option<String>,
    /// All of it as Markdown.
    #[arg(long)]
    pub markdown: bool,
}

/// Completions.
#[derive(Debug, Args)]
pub struct CompletionsArgs {
    /// The shell.
    pub shell: clap_complete::Shell,
}

/// The manual.
#[derive(Debug, Args)]
pub struct ManualArgs {
    /// Write pages for `man`, one a command, into this folder; without it the manual is printed as Markdown.
    #[arg(long, value_name = "FOLDER")]
    pub pages: Option<PathBuf>,
}
