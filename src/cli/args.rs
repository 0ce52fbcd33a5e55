//! Arguments and help.

use crate::input;
use crate::job::Reader;
use crate::model::System;
use crate::reckon::RankBy;
use chrono::NaiveDate;
use clap::builder::PossibleValuesParser;
use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Turns a lameness walk of a dairy farm into a ranked, costed and honest short list of what to
/// change first.
#[derive(Debug, Parser)]
#[command(name = "underfoot", version, max_term_width = 80)]
#[command(
    after_help = "Exit codes: 0 done; 1 the data has faults; 2 the command line has; 3 a file can't be read \
or written.\nNothing ever goes over a network."
)]
pub(super) struct Arguments {
    #[command(flatten)]
    pub(super) common: Common,
    #[command(subcommand)]
    pub(super) command: Command,
}

#[derive(Debug, Args)]
pub(super) struct Common {
    /// A folder of your own checklists, factors, options or evidence: a file of it takes the place of
    /// the shipped one of the same path
    #[arg(long, global = true, value_name = "DIR")]
    pub(super) checklists: Option<PathBuf>,
    /// Don't print warnings
    #[arg(long, global = true)]
    pub(super) quiet: bool,
    /// Colour in the terminal (NO_COLOR is honoured too)
    #[arg(long, global = true, value_enum, default_value_t = Colour::Auto, value_name = "WHEN")]
    pub(super) color: Colour,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Colour {
    Auto,
    Always,
    Never,
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Write a blank walk sheet: one page that works on a phone without signal, and on paper
    #[command(
        after_help = "Examples:\n  underfoot sheet\n  underfoot sheet self-check --as md --out sheet.md\n\nWithout \
--out, HTML is written here as CHECKLIST-sheet.html."
    )]
    Sheet(SheetArgs),
    /// Score a walk: where the lameness comes from and what to change first, in the terminal
    #[command(after_help = "Example: underfoot score examples/01-heronsway/walk.yaml")]
    Score {
        /// Walk record (YAML)
        walk: PathBuf,
        /// What to print
        #[arg(long = "as", value_enum, default_value_t = TextFormat::Text, value_name = "FORMAT")]
        format: TextFormat,
        #[command(flatten)]
        reckoning: Reckoning,
        #[command(flatten)]
        output: Output,
    },
    /// Write the report of a walk: two pages for the farmer, or all of it for the adviser
    #[command(
        after_help = "Examples:\n  underfoot report walk.yaml --for farmer\n  underfoot report walk.yaml \
--as md --out report.md\n\nWithout --out, HTML is written beside the walk record as WALK-report.html."
    )]
    Report {
        /// Walk record (YAML)
        walk: PathBuf,
        /// Format of the report
        #[arg(long = "as", value_enum, default_value_t = ReportFormat::Html, value_name = "FORMAT")]
        format: ReportFormat,
        /// For whom: `farmer` (two pages) or `adviser` (all of it)
        #[arg(long = "for", value_enum, default_value_t = For::Adviser, value_name = "READER")]
        reader: For,
        #[command(flatten)]
        reckoning: Reckoning,
        #[command(flatten)]
        output: Output,
    },
    /// Read checklists, evidence, walk and case records and report every fault; writes nothing
    #[command(
        after_help = "Examples:\n  underfoot check walk.yaml\n  underfoot check --checklists my-checklists\n  underfoot check \
--schema walk --out walk.schema.json\n\nEvery message is explained in docs/findings.md."
    )]
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
    #[command(subcommand)]
    Checklist(ChecklistCommand),
    /// Show every weight and where it comes from, step by step
    #[command(after_help = "Examples:\n  underfoot evidence\n  underfoot evidence overgrown-claws")]
    Evidence(EvidenceArgs),
    /// The best set of changes under a budget, and what more money would buy
    #[command(after_help = "Example: underfoot plan walk.yaml --budget 12000 --never widen-track")]
    Plan(PlanArgs),
    /// What case records say by themselves: rate, lesions, months, who saw them
    #[command(after_help = "Example: underfoot cases cases.csv --cows 274 --from 2024-10-01 --to 2025-09-30")]
    Cases(CasesArgs),
    /// What changed between two walks of a farm, and whether it worked
    #[command(after_help = "Example: underfoot revisit walk.yaml walk-2026.yaml --actions actions.yaml")]
    Revisit(RevisitArgs),
    /// The farm's anonymous card for its discussion group
    #[command(after_help = "The code that links the years is kept in farm-code.txt beside the walk record.")]
    Card(CardArgs),
    /// The group's page from its farms' cards (files or folders); five farms or more
    #[command(after_help = "Examples:\n  underfoot group cards/\n  underfoot group cards/ --mine k7m-2xq")]
    Group(GroupArgs),
}

#[derive(Debug, Subcommand)]
pub(super) enum ChecklistCommand {
    /// Write a folder to start from: a checklist, and the shipped factors and options to add to
    #[command(
        after_help = "Examples:\n  underfoot checklist new my-checklists\n  underfoot checklist new my-checklists --id \
yard-walk --from pasture-herd\n\nNo file is ever overwritten. docs/own-checklist.md goes on from there."
    )]
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
    /// An option that must be in the plan (may be given more than once)
    #[arg(long, value_name = "ID")]
    pub(super) must: Vec<String>,
    /// An option that must not be in it (may be given more than once)
    #[arg(long, value_name = "ID")]
    pub(super) never: Vec<String>,
    /// What to print
    #[arg(long = "as", value_enum, default_value_t = PlanFormat::Text, value_name = "FORMAT")]
    pub(super) format: PlanFormat,
    #[command(flatten)]
    pub(super) reckoning: Reckoning,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum PlanFormat {
    Text,
    Html,
    Md,
    Json,
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
    /// Headings of your own: date=Datum,cow=Kuh
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
    #[arg(long = "as", value_enum, default_value_t = PageFormat::Md, value_name = "FORMAT")]
    pub(super) format: PageFormat,
    #[command(flatten)]
    pub(super) output: Output,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum DayOrder {
    Iso,
    Dmy,
    Mdy,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum PageFormat {
    Md,
    Html,
    Json,
}

#[derive(Debug, Args)]
pub(super) struct RevisitArgs {
    /// Walk records, the earliest first: BEFORE AFTER, or more for the line over the years
    #[arg(required = true, num_args = 2.., value_name = "WALK")]
    pub(super) walks: Vec<PathBuf>,
    /// The agreed actions (YAML): who, by when, done when, at what cost
    #[arg(long, value_name = "FILE")]
    pub(super) actions: Option<PathBuf>,
    /// What to print
    #[arg(long = "as", value_enum, default_value_t = PageFormat::Md, value_name = "FORMAT")]
    pub(super) format: PageFormat,
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
    #[arg(long = "as", value_enum, default_value_t = PageFormat::Md, value_name = "FORMAT")]
    pub(super) format: PageFormat,
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
