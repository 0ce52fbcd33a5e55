//! Arguments and help.

use crate::input;
use crate::job::Reader;
use crate::model::System;
use crate::reckon::RankBy;
use chrono::NaiveDate;
use clap::builder::PossibleValuesParser;
use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// A line of examples in a command's help: what it does, and under it the command line. A test runs
/// every one of them.
macro_rules! examples {
    ($($does:literal $line:literal)+ $(; $after:literal)?) => {
        concat!("Examples:", $("\n  ", $does, ":\n    underfoot ", $line,)+ $("\n\n", $after)?)
    };
}

/// Turns a lameness walk of a dairy farm into a ranked, costed and honest short list of what to
/// change first.
#[derive(Debug, Parser)]
#[command(name = "underfoot", version, max_term_width = 80)]
#[command(after_help = examples!(
    "A blank sheet for the walk, for phone or paper" "sheet"
    "Two printed pages for the farmer" "report walk.yaml --for farmer"
    "The best of what 12,000 can buy" "plan walk.yaml --budget 12000";
    "`underfoot help COMMAND` shows each command with its options and examples.

Exit codes: 0 done; 1 the data has faults; 2 the command line has; 3 a file
can't be read or written. Nothing ever goes over a network."
))]
pub(super) struct Arguments {
    #[command(flatten)]
    pub(super) common: Common,
    #[command(subcommand)]
    pub(super) command: Command,
}

/// Heading of what every command takes.
const EVERYWHERE: &str = "Options of every command";

#[derive(Clone, Debug, Args)]
pub(super) struct Common {
    /// A folder of your own checklists, factors, options or evidence: a file of it takes the place of
    /// the shipped one of the same path
    #[arg(long, global = true, help_heading = EVERYWHERE, value_name = "DIR")]
    pub(super) checklists: Option<PathBuf>,
    /// Language of pages and sheets, such as `es`; JSON is the same in all
    #[arg(long, global = true, help_heading = EVERYWHERE, default_value = "en", value_name = "LANGUAGE")]
    pub(super) lang: String,
    /// Print no warnings, no progress and no names of written files
    #[arg(long, global = true, help_heading = EVERYWHERE)]
    pub(super) quiet: bool,
    /// Colour and bold type; `auto` is for a terminal, and not where NO_COLOR is set
    #[arg(long, global = true, help_heading = EVERYWHERE, value_enum, default_value_t = Colour::Auto, value_name = "WHEN")]
    pub(super) color: Colour,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Colour {
    Auto,
    Always,
    Never,
}

impl From<Colour> for anstream::ColorChoice {
    fn from(colour: Colour) -> Self {
        match colour {
            Colour::Auto => anstream::ColorChoice::Auto,
            Colour::Always => anstream::ColorChoice::Always,
            Colour::Never => anstream::ColorChoice::Never,
        }
    }
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Write a blank walk sheet: one page that works on a phone without signal, and on paper
    #[command(after_help = examples!(
        "The adviser's full walk of a pasture herd, as pasture-herd-sheet.html" "sheet"
        "The farmer's short one in Spanish" "sheet self-check --lang es"
        "The farmer's short one, to lay out anew" "sheet self-check --as md --out sheet.md"
        "A blank record to fill in by hand" "sheet --as yaml --out my-walk.yaml"
    ))]
    Sheet(SheetArgs),
    /// Score a walk: where the lameness comes from and what to change first, in the terminal
    #[command(after_help = examples!(
        "What to change first, by cases of lameness avoided" "score walk.yaml"
        "The same by money" "score walk.yaml --rank-by net-benefit"
        "Every figure for another program" "score walk.yaml --as json --out score.json"
    ))]
    Score {
        /// Walk record (YAML)
        walk: PathBuf,
        /// What to print
        #[arg(long = "as", value_enum, default_value_t = TextFormat::Text, value_name = "FORMAT")]
        format: TextFormat,
        #[command(flatten)]
        paid: Paid,
        #[command(flatten)]
        reckoning: Reckoning,
        #[command(flatten)]
        output: Output,
    },
    /// Write the report of a walk: two pages for the farmer, or all of it for the adviser
    #[command(after_help = examples!(
        "Two printed pages for the farmer" "report walk.yaml --for farmer"
        "The same in Spanish" "report walk.yaml --for farmer --lang es"
        "All of it, with methods and every source" "report walk.yaml"
        "Tables to sort and filter, as walk-report.xlsx" "report walk.yaml --as xlsx"
        "With the best plan for 12,000, and a blank list of who does what" "report walk.yaml --budget 12000 --write-actions agreed.yaml"
        "Text to put into a letter" "report walk.yaml --as md --out report.md";
        "HTML and XLSX are written beside the walk record as WALK-report.html and
WALK-report.xlsx, unless --out names a file."
    ))]
    Report(ReportArgs),
    /// Read checklists, evidence, walk and case records and report every fault; writes nothing
    #[command(after_help = examples!(
        "A walk record, before it is scored" "check walk.yaml"
        "Your own factors and options" "check my-checklists/factors.yaml my-checklists/interventions.yaml"
        "A whole folder of your own" "check --checklists my-checklists"
        "What is shipped" "check"
        "What lets an editor complete a walk record" "check --schema walk --out walk.schema.json";
        "Every message is explained in docs/findings.md."
    ))]
    Check {
        /// Files to check; none checks the folder of --checklists, or what is shipped
        files: Vec<PathBuf>,
        /// Print the JSON Schema of a kind of file instead, for an editor
        #[arg(long, value_name = "NAME", value_parser = PossibleValuesParser::new(input::SCHEMAS), conflicts_with = "files")]
        schema: Option<String>,
        /// Write the schema to this file
        #[arg(long, value_name = "FILE", requires = "schema")]
        out: Option<PathBuf>,
    },
    /// Begin a checklist of your own
    #[command(subcommand, after_help = examples!(
        "A folder to start from" "checklist new my-own";
        "`underfoot checklist new --help` says more; docs/own-checklist.md goes on from there."
    ))]
    Checklist(ChecklistCommand),
    /// Show every weight and where it comes from, step by step
    #[command(after_help = examples!(
        "What each weight rests on" "evidence"
        "One of them, from the published figures to the weight" "evidence overgrown-claws"
        "For housed herds" "evidence smooth-concrete --system housed"
    ))]
    Evidence(EvidenceArgs),
    /// Find the best set of changes under a budget, and what more money would buy
    #[command(after_help = examples!(
        "The best of what 12,000 can buy" "plan walk.yaml --budget 12000"
        "With a bigger yard, and no rubber in it" "plan walk.yaml --must enlarge-yard --never rubber-yard"
        "A blank list of who does what, by when" "plan walk.yaml --budget 12000 --write-actions agreed.yaml"
        "What is left over most in money, to print" "plan walk.yaml --rank-by net-benefit --as html";
        "Without --out, HTML is written beside the walk record as WALK-plan.html."
    ))]
    Plan(PlanArgs),
    /// Show what case records say by themselves: rate, lesions, months, who saw them
    #[command(after_help = examples!(
        "A year of records" "cases cases.csv --cows 274 --from 2024-10-01 --to 2025-09-30"
        "Every record there is, to print" "cases cases.csv --cows 274 --as html --out cases.html"
        "Leave out bad rows, and say how many" "cases cases.csv --cows 274 --skip-bad"
    ))]
    Cases(CasesArgs),
    /// Tell how many cows to score, where in the milking order, and how many stone squares to lay down
    #[command(after_help = examples!(
        "How many of 280 cows to score" "sample --cows 280"
        "Housed, about 25 in 100 lame, to within 5" "sample --cows 420 --system housed --expect 25 --within 5"
        "Stone squares alone" "sample --stones 6 --stones-within 25";
        "Without --cows, the stone squares alone."
    ))]
    Sample(SampleArgs),
    /// Tell what changed between two walks of a farm, and whether it worked
    #[command(after_help = examples!(
        "This year against the last" "revisit walk.yaml walk-2026.yaml"
        "With what was agreed, done and paid" "revisit walk.yaml walk-2026.yaml --actions actions.yaml";
        "With more than two walks the last is compared with the one before it, and the
farm's line runs through all. Without --out, HTML is written beside the last
walk as WALK-revisit.html."
    ))]
    Revisit(RevisitArgs),
    /// List what was agreed and is overdue, to pin to the door
    #[command(after_help = examples!(
        "What is late today" "overdue actions.yaml"
        "With the farm's name, to print" "overdue actions.yaml --walk walk.yaml --as html";
        "Without --out, HTML is written beside the actions as ACTIONS-overdue.html."
    ))]
    Overdue(OverdueArgs),
    /// Write the farm's anonymous card for its discussion group
    #[command(after_help = examples!(
        "To read before it is handed over" "card walk.yaml"
        "To hand over" "card walk.yaml --out card.yaml";
        "The code that links the years is kept in farm-code.txt beside the walk record."
    ))]
    Card(CardArgs),
    /// Compare the farms of a group by their cards; five farms or more
    #[command(after_help = examples!(
        "All cards of a folder" "group cards/"
        "The page for one of the farms, by its code" "group cards/ --mine 3wx-3qf"
        "To print" "group cards/ --as html --out group.html";
        "Without --out, HTML is written here as group.html, a farm's own page as
group-CODE.html."
    ))]
    Group(GroupArgs),
    /// Print what lets a shell complete commands and options
    #[command(after_help = examples!(
        "For bash, for this user" "completions bash --out underfoot.bash"
        "For fish" "completions fish --out underfoot.fish";
        "Put the file where your shell looks for completions, such as
~/.local/share/bash-completion/completions/underfoot for bash."
    ))]
    Completions {
        /// Which shell
        #[arg(value_enum)]
        shell: clap_complete::Shell,
        #[command(flatten)]
        output: Output,
    },
    /// Print the manual page, of the program or of one command
    #[command(after_help = examples!(
        "The whole program's" "man --out underfoot.1"
        "One command's" "man plan --out underfoot-plan.1";
        "`man ./underfoot.1` shows the page."
    ))]
    Man {
        /// Name of a command; none is the whole program
        command: Option<String>,
        #[command(flatten)]
        output: Output,
    },
}

#[derive(Debug, Args)]
pub(super) struct ReportArgs {
    /// Walk record (YAML)
    pub(super) walk: PathBuf,
    /// Format of the report: `xlsx` is the adviser's tables to sort and filter
    #[arg(long = "as", value_enum, default_value_t = ReportFormat::Html, value_name = "FORMAT")]
    pub(super) format: ReportFormat,
    /// For whom: `farmer` (two pages) or `adviser` (all of it)
    #[arg(long = "for", value_enum, default_value_t = For::Adviser, value_name = "READER")]
    pub(super) reader: For,
    /// Money that may be spent once: the report then holds the best plan for it
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    pub(super) budget: Option<f64>,
    /// How many changes that plan may hold at most
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256), requires = "budget")]
    pub(super) at_most: Option<u16>,
    #[command(flatten)]
    pub(super) blank: Blank,
    #[command(flatten)]
    pub(super) paid: Paid,
    #[command(flatten)]
    pub(super) reckoning: Reckoning,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Debug, Subcommand)]
pub(super) enum ChecklistCommand {
    /// Write a folder to start from: a checklist, and the shipped factors and options to add to
    #[command(after_help = examples!(
        "A short one with an example of each kind of answer" "checklist new my-own"
        "A copy of a shipped one" "checklist new my-own --id yard-walk --from pasture-herd";
        "No file is ever overwritten. docs/own-checklist.md goes on from there."
    ))]
    New {
        /// Folder to write into; made where there is none
        folder: PathBuf,
        /// Id of the new checklist
        #[arg(long, default_value = "my-walk", value_name = "ID")]
        id: String,
        /// A shipped checklist to copy; else a short one with an example of each kind of answer
        #[arg(long, value_name = "CHECKLIST")]
        from: Option<String>,
    },
}

#[derive(Debug, Args)]
pub(super) struct PlanArgs {
    /// Walk record (YAML)
    pub(super) walk: PathBuf,
    /// Money that may be spent once, in the walk's currency; none is no limit
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    pub(super) budget: Option<f64>,
    /// How many changes there may be at most, those that must be among them
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    pub(super) at_most: Option<u16>,
    /// An option that must be in the plan (may be given more than once)
    #[arg(long, value_name = "ID")]
    pub(super) must: Vec<String>,
    /// An option that must not be in it (may be given more than once)
    #[arg(long, value_name = "ID")]
    pub(super) never: Vec<String>,
    /// What to print
    #[arg(long = "as", value_enum, default_value_t = AnyFormat::Text, value_name = "FORMAT")]
    pub(super) format: AnyFormat,
    #[command(flatten)]
    pub(super) blank: Blank,
    #[command(flatten)]
    pub(super) paid: Paid,
    #[command(flatten)]
    pub(super) reckoning: Reckoning,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum AnyFormat {
    Text,
    Html,
    Md,
    Json,
}

#[derive(Debug, Args)]
pub(super) struct Blank {
    /// Also write a blank file of the first things to do: who, by when, what it cost. Never over a
    /// file that is there
    #[arg(long, value_name = "FILE")]
    pub(super) write_actions: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(super) struct Paid {
    /// Actions that were agreed before: what the done ones really cost takes the place of the price
    #[arg(long, value_name = "ACTIONS")]
    pub(super) paid: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(super) struct OverdueArgs {
    /// The agreed actions (YAML)
    pub(super) actions: PathBuf,
    /// The walk after which they were agreed, for the names of the tracks
    #[arg(long, value_name = "WALK")]
    pub(super) walk: Option<PathBuf>,
    /// The day of the list; today where not given
    #[arg(long, value_name = "DATE")]
    pub(super) on: Option<NaiveDate>,
    /// What to print
    #[arg(long = "as", value_enum, default_value_t = PaperFormat::Text, value_name = "FORMAT")]
    pub(super) format: PaperFormat,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum PaperFormat {
    Text,
    Html,
    Md,
}

#[derive(Debug, Args)]
pub(super) struct CasesArgs {
    /// Case records: CSV, XLSX or ODS
    pub(super) file: PathBuf,
    /// Average number of cows over the period, in milk or dry
    #[arg(long, value_name = "N")]
    pub(super) cows: f64,
    /// First day, such as 2024-10-01
    #[arg(long, value_name = "DATE")]
    pub(super) from: Option<NaiveDate>,
    /// Last day
    #[arg(long, value_name = "DATE")]
    pub(super) to: Option<NaiveDate>,
    /// Headings of the file's own: date=Datum,cow=Kuh
    #[arg(long, value_name = "NAME=HEADING,…")]
    pub(super) columns: Option<String>,
    /// Order of day and month in the file's dates
    #[arg(long, value_enum, default_value_t = DayOrder::Iso, value_name = "ORDER")]
    pub(super) dates: DayOrder,
    /// Name of the sheet of a workbook
    #[arg(long, value_name = "NAME")]
    pub(super) sheet: Option<String>,
    /// Leave out bad rows, and say how many
    #[arg(long)]
    pub(super) skip_bad: bool,
    /// What to print
    #[arg(long = "as", value_enum, default_value_t = AnyFormat::Text, value_name = "FORMAT")]
    pub(super) format: AnyFormat,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Debug, Args)]
pub(super) struct SampleArgs {
    /// Cows that are milked: those that could be scored
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    pub(super) cows: Option<u64>,
    /// Pasture or housed herd
    #[arg(long, value_enum, default_value_t = Herds::Pasture, value_name = "SYSTEM")]
    pub(super) system: Herds,
    /// Lame cows to expect among 100; none takes that of herds at large
    #[arg(long, value_name = "PERCENT", value_parser = percent)]
    pub(super) expect: Option<f64>,
    /// How far the answer may be off, either way, in cows among 100
    #[arg(long, default_value = "5", value_name = "POINTS", value_parser = percent)]
    pub(super) within: f64,
    /// Stones to expect on a square metre
    #[arg(long, default_value_t = 4.0, value_name = "N", value_parser = stones)]
    pub(super) stones: f64,
    /// How far the count of stones may be off, either way, in percent
    #[arg(long, default_value = "25", value_name = "PERCENT", value_parser = percent)]
    pub(super) stones_within: f64,
    /// What to print
    #[arg(long = "as", value_enum, default_value_t = AnyFormat::Text, value_name = "FORMAT")]
    pub(super) format: AnyFormat,
    #[command(flatten)]
    pub(super) output: Output,
}

/// A percentage above 0 and below 100, as a share.
fn percent(text: &str) -> Result<f64, String> {
    let number: Option<f64> = text.trim_end_matches('%').trim().parse().ok();
    let fits = number.filter(|number| *number > 0.0 && *number < 100.0);
    fits.map(|number| number / 100.0).ok_or_else(|| "a number above 0 and below 100, such as 5".to_owned())
}

fn stones(text: &str) -> Result<f64, String> {
    let number: Option<f64> = text.parse().ok();
    number
        .filter(|number| (0.01..=1_000.0).contains(number))
        .ok_or_else(|| "a number from 0.01 to 1000, such as 4".to_owned())
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum DayOrder {
    Iso,
    Dmy,
    Mdy,
}

#[derive(Debug, Args)]
pub(super) struct RevisitArgs {
    /// Walk records, the earliest first: BEFORE AFTER, or more for the line over the years
    #[arg(required = true, num_args = 2.., value_name = "WALK")]
    pub(super) walks: Vec<PathBuf>,
    /// The agreed actions (YAML): who, by when, done when, at what cost (may be given more than once)
    #[arg(long, value_name = "FILE")]
    pub(super) actions: Vec<PathBuf>,
    /// What to print
    #[arg(long = "as", value_enum, default_value_t = AnyFormat::Text, value_name = "FORMAT")]
    pub(super) format: AnyFormat,
    #[command(flatten)]
    pub(super) reckoning: Reckoning,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Debug, Args)]
pub(super) struct CardArgs {
    /// Walk record (YAML)
    pub(super) walk: PathBuf,
    #[command(flatten)]
    pub(super) reckoning: Reckoning,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Debug, Args)]
pub(super) struct GroupArgs {
    /// Cards, or folders of cards
    #[arg(required = true)]
    pub(super) cards: Vec<PathBuf>,
    /// The farm's own page, by its code
    #[arg(long, value_name = "CODE")]
    pub(super) mine: Option<String>,
    /// What to print
    #[arg(long = "as", value_enum, default_value_t = AnyFormat::Text, value_name = "FORMAT")]
    pub(super) format: AnyFormat,
    /// Number of draws: a power of two from 256 to 65536
    #[arg(long, default_value_t = 4096, value_name = "N", value_parser = draws)]
    pub(super) draws: usize,
    /// Seed of the draws
    #[arg(long, default_value_t = 1, value_name = "N")]
    pub(super) seed: u64,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Debug, Args)]
pub(super) struct SheetArgs {
    /// Id of the checklist
    #[arg(default_value = "pasture-herd")]
    pub(super) checklist: String,
    /// Format of the sheet: `html` for phone and printer, `md` to lay out your own, `yaml` a blank record
    #[arg(long = "as", value_enum, default_value_t = SheetFormat::Html, value_name = "FORMAT")]
    pub(super) format: SheetFormat,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum SheetFormat {
    Html,
    Md,
    Yaml,
}

#[derive(Debug, Args)]
pub(super) struct EvidenceArgs {
    /// Id of a risk factor; none lists them all
    pub(super) factor: Option<String>,
    /// Weights for pasture or housed herds
    #[arg(long, value_enum, value_name = "SYSTEM")]
    pub(super) system: Option<Herds>,
    /// What to print
    #[arg(long = "as", value_enum, default_value_t = TextFormat::Text, value_name = "FORMAT")]
    pub(super) format: TextFormat,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Herds {
    Pasture,
    Housed,
}

impl From<Herds> for System {
    fn from(herds: Herds) -> Self {
        match herds {
            Herds::Pasture => System::Pasture,
            Herds::Housed => System::Housed,
        }
    }
}

#[derive(Debug, Args)]
pub(super) struct Output {
    /// Write to this file instead (`-` is standard output)
    #[arg(long, value_name = "FILE")]
    pub(super) out: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(super) struct Reckoning {
    /// Number of draws: a power of two from 256 to 65536
    #[arg(long, default_value_t = 4096, value_name = "N", value_parser = draws)]
    pub(super) draws: usize,
    /// Seed of the draws
    #[arg(long, default_value_t = 1, value_name = "N")]
    pub(super) seed: u64,
    /// What to rank the options by
    #[arg(long, value_enum, default_value_t = Rank::Cases, value_name = "MEASURE")]
    pub(super) rank_by: Rank,
}

fn draws(text: &str) -> Result<usize, String> {
    let count: usize = text.parse().map_err(|_| format!("`{text}` is not a whole number"))?;
    let fits = count.is_power_of_two() && (256..=65_536).contains(&count);
    if fits { Ok(count) } else { Err("a power of two from 256 to 65536, such as 4096".to_owned()) }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Rank {
    Cases,
    LameDays,
    NetBenefit,
}

impl From<Rank> for RankBy {
    fn from(rank: Rank) -> Self {
        match rank {
            Rank::Cases => RankBy::Cases,
            Rank::LameDays => RankBy::LameDays,
            Rank::NetBenefit => RankBy::NetBenefit,
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum TextFormat {
    Text,
    Json,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum ReportFormat {
    Html,
    Md,
    Json,
    Xlsx,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum For {
    Farmer,
    Adviser,
}

impl From<For> for Reader {
    fn from(reader: For) -> Self {
        match reader {
            For::Farmer => Reader::Farmer,
            For::Adviser => Reader::Adviser,
        }
    }
}
