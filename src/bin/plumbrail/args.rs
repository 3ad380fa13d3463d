//! The command line.

use std::path::PathBuf;

use clap::{Parser, Subcommand, ValueEnum};
use clap_complete::Shell;
use plumbrail::base::{Length, Pitch};
use plumbrail::catalog::{BalusterStyle, Bays, CornerPosts, Paper};
use plumbrail::sheet::TemplatePaper;

/// Turns DXF deck plans into guard-rail layouts that can be bought, cut, drilled and approved.
///
/// Lengths are written as the trade writes them: 63in, 5'-3", 5' 3 1/2", 5.25ft, 1600mm.
///
/// Exit status: 0 complete, all checked limits met; 1 written, but incomplete or with limits broken, as the last line
/// on standard error says; 2 wrong use, or a file cannot be read or written; 3 the drawing is not usable and nothing was
/// written.
#[derive(Debug, Parser)]
#[command(name = "plumbrail", version, max_term_width = 110)]
pub struct Args {
    #[command(subcommand)]
    pub command: Command,
    /// How messages are printed on standard error
    #[arg(long, global = true, value_enum, default_value_t = MessageFormat::Text)]
    pub message_format: MessageFormat,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum MessageFormat {
    /// For people
    Text,
    /// One JSON object a line
    Json,
}

#[derive(Debug, Subcommand)]
pub enum Command {
    /// Lay out the rails of a plan and write drawings, lists and layout.json
    Layout(Layout),
    /// Lay out again at every save of the plan; --serve shows the result in a browser
    Watch(Watch),
    /// Lay out many plans on all cores, or JSON records in and out
    Batch(Batch),
    /// Lay out one opening, or one flight of stairs, without a plan and print its marks, cuts and hardware
    Panel(Panel),
    /// Show what the program sees in a drawing and what it takes for what
    Inspect(Inspect),
    /// Print the findings of a plan or of a layout.json, and write nothing
    Check(Check),
    /// List what is built in
    List(List),
    /// Rails from within CAD programs: install, list or remove what makes them call this program
    #[command(subcommand)]
    Adapters(Adapters),
    /// Print shell completions
    Completions {
        /// Shell to complete for
        shell: Shell,
    },
    /// Print the manual page, or write one page for each command
    Man {
        /// Folder for plumbrail.1, plumbrail-layout.1 and so on
        #[arg(long, value_name = "DIR")]
        out: Option<PathBuf>,
    },
}

#[derive(Debug, Clone, clap::Args)]
pub struct Layout {
    /// Deck plan, DXF; `-` reads standard input
    pub plan: PathBuf,
    /// Folder for the outputs [default: the plan's name with -rail, beside it]; `-` writes one file to standard output
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Put the rails into the plan itself; the plan as it was is kept beside it, with .bak behind its name
    #[arg(long, conflicts_with = "attach")]
    pub in_place: bool,
    #[command(flatten)]
    pub outputs: Outputs,
    #[command(flatten)]
    pub source: Source,
    #[command(flatten)]
    pub shared: Shared,
}

#[derive(Debug, clap::Args)]
pub struct Watch {
    /// Deck plan, DXF
    pub plan: PathBuf,
    /// Folder for the outputs [default: the plan's name with -rail, beside it]
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Show plan, findings and a form for the settings in a browser on this machine; the address is printed
    #[arg(long)]
    pub serve: bool,
    /// Port of that address [default: a free one]
    #[arg(long, value_name = "N", requires = "serve")]
    pub port: Option<u16>,
    #[command(flatten)]
    pub outputs: Outputs,
    #[command(flatten)]
    pub source: Source,
    #[command(flatten)]
    pub shared: Shared,
}

/// What is written of a plan.
#[derive(Debug, Clone, clap::Args)]
pub struct Outputs {
    /// What to write [default: all but png; of one plan with --out -: rail]
    #[arg(id = "formats", long = "formats", value_name = "FORMATS", value_delimiter = ',', value_enum)]
    pub only: Vec<Format>,
    /// Write layout.dxf, to be attached to the plan as an external reference, and no copy of the plan
    #[arg(long)]
    pub attach: bool,
    /// What the layout sticks of templates.pdf are printed on: roll, or the paper of the printer [default: letter or a4]
    #[arg(long, value_name = "roll|PAPER", value_parser = templates)]
    pub templates: Option<TemplatePaper>,
    /// DXF version of layout.dxf, elevations.dxf and sheets.dxf, which R12 has none of: R12, R2000, R2004, R2007, R2010, R2013 or R2018
    #[arg(long, value_name = "VERSION", default_value = "R2000", value_parser = version)]
    pub dxf_version: plumbrail::cad::Version,
}

impl Outputs {
    /// What is written: the formats that are named, else the usual ones.
    pub fn formats(&self) -> &[Format] {
        if self.only.is_empty() { &Format::USUAL } else { &self.only }
    }
}

#[derive(Debug, clap::Args)]
pub struct Batch {
    /// Deck plans, DXF
    #[arg(required_unless_present_any = ["from_file", "jsonl"])]
    pub plans: Vec<PathBuf>,
    /// More plans, a path a line; `-` reads the list from standard input
    #[arg(long, value_name = "LIST")]
    pub from_file: Option<PathBuf>,
    /// Folder for the outputs, in which each plan gets a folder of its own [default: beside each plan]
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Pass over plans whose outputs are all there, from the same plan and the same settings
    #[arg(long)]
    pub resume: bool,
    /// Read JSON records from standard input, and write an answer for each to standard output, in the same order
    #[arg(long, conflicts_with_all = ["plans", "from_file", "out", "resume", "formats", "attach", "templates", "dxf_version"])]
    pub jsonl: bool,
    /// How many plans are worked on at a time [default: the number of cores]
    #[arg(long, value_name = "N", value_parser = jobs)]
    pub jobs: Option<usize>,
    /// Longest line, and largest file that a record may name: bytes, or with KiB, MiB or GiB behind
    #[arg(long, value_name = "SIZE", default_value = "64MiB", value_parser = size, requires = "jsonl")]
    pub max_record: usize,
    /// Most entities, and most edges and panels together, that the plan of a record may have
    #[arg(long, value_name = "N", default_value_t = 20_000, requires = "jsonl")]
    pub max_work: usize,
    /// Records may name no file outside of this folder, and neither may the job file
    #[arg(long, value_name = "DIR", requires = "jsonl", conflicts_with_all = ["plans", "from_file"])]
    pub files_under: Option<PathBuf>,
    #[command(flatten)]
    pub outputs: Outputs,
    #[command(flatten)]
    pub source: Source,
    #[command(flatten)]
    pub shared: Shared,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// <plan>.rail.dxf: the plan with the rail layers in it, its own bytes as they were
    Rail,
    /// layout.dxf: the rails in plan as a drawing of their own; elevations.dxf: panels, section and stairs; sheets.dxf: all
    /// of it, with each sheet as a layout
    Dxf,
    /// plan.svg, panels/*.svg and sheets/*.svg
    Svg,
    /// sheets.pdf and templates.pdf
    Pdf,
    /// marks.csv, cuts.csv, order.csv, hardware.csv, measure.csv, handrails.csv
    Csv,
    /// schedule.xlsx
    Xlsx,
    /// layout.json
    Json,
    /// report.html: one page to look at, search, tick off and print; needs no network
    Html,
    /// sheets/*.png; only in a build with the feature png
    Png,
}

impl Format {
    /// What is written where no format is named.
    const USUAL: [Self; 8] =
        [Self::Rail, Self::Dxf, Self::Svg, Self::Pdf, Self::Csv, Self::Xlsx, Self::Json, Self::Html];
}

#[derive(Debug, clap::Args)]
pub struct Panel {
    /// Clear opening between the two faces, for example 63in or 5'-3"; on a stair it is measured level. Without it, all of
    /// the flight that --risers, --rise and --tread give
    #[arg(value_parser = length, allow_hyphen_values = true, required_unless_present = "risers")]
    pub opening: Option<Length>,
    /// Print the layout as JSON
    #[arg(long)]
    pub json: bool,
    /// Write the elevation as SVG
    #[arg(long, value_name = "FILE")]
    pub svg: Option<PathBuf>,
    /// Write the elevation as PDF, on letter or A4 or the next larger paper that it needs
    #[arg(long, value_name = "FILE")]
    pub pdf: Option<PathBuf>,
    #[command(flatten)]
    pub stair: Stair,
    #[command(flatten)]
    pub shared: Shared,
}

/// The stair that a panel stands on.
#[derive(Debug, Clone, clap::Args)]
#[command(next_help_heading = "Stair")]
pub struct Stair {
    /// Riser and tread of the stair, for example 7.75/10 or 190mm/250mm
    #[arg(long, value_name = "RISER/TREAD", value_parser = slope, allow_hyphen_values = true, group = "steps",
          conflicts_with_all = ["rise", "tread"])]
    pub slope: Option<Pitch>,
    /// Number of risers of the flight
    #[arg(long, value_name = "N", value_parser = risers, allow_hyphen_values = true, group = "steps",
          requires = "rise", requires = "tread")]
    pub risers: Option<u32>,
    /// Height of each riser
    #[arg(long, value_name = "LEN", value_parser = length, allow_hyphen_values = true, requires = "risers")]
    pub rise: Option<Length>,
    /// Depth of each tread, from nosing to nosing
    #[arg(long, value_name = "LEN", value_parser = length, allow_hyphen_values = true, requires = "risers")]
    pub tread: Option<Length>,
    /// How far each nosing stands beyond the riser beneath it [default: 0]
    #[arg(long, value_name = "LEN", value_parser = length, allow_hyphen_values = true, requires = "steps")]
    pub nosing: Option<Length>,
}

#[derive(Debug, clap::Args)]
pub struct Inspect {
    /// Drawing, DXF; `-` reads standard input
    pub plan: PathBuf,
    /// Print as JSON
    #[arg(long)]
    pub json: bool,
    /// Check the structure of the file strictly, and print each error with its line and handle
    #[arg(long)]
    pub lint: bool,
    /// Write a job file with what each layer probably is, the unit and the reasons; it is tried before it is written
    #[arg(long, value_name = "FILE.toml", conflicts_with_all = ["json", "lint"])]
    pub write_job: Option<PathBuf>,
    /// Let that file take the place of one that is there
    #[arg(long, requires = "write_job")]
    pub force: bool,
    #[command(flatten)]
    pub source: Source,
    #[command(flatten)]
    pub shared: Shared,
}

#[derive(Debug, clap::Args)]
pub struct Check {
    /// Deck plan (DXF) or layout.json
    pub file: PathBuf,
    #[command(flatten)]
    pub source: Source,
    #[command(flatten)]
    pub shared: Shared,
}

#[derive(Debug, clap::Args)]
pub struct List {
    /// What to list
    #[arg(value_enum)]
    pub what: Listed,
    /// Print one as TOML, to copy and change
    #[arg(long, value_name = "NAME")]
    pub show: Option<String>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Listed {
    /// Rail systems
    Systems,
    /// Rule sets
    Rules,
}

#[derive(Debug, Subcommand)]
pub enum Adapters {
    /// Put adapters into the user's folder of each program
    Install {
        /// Programs [default: all]
        #[arg(value_enum, value_name = "PROGRAM")]
        hosts: Vec<Host>,
        /// Another folder in which the program that is named looks for additions
        #[arg(long, value_name = "DIR")]
        to: Option<PathBuf>,
    },
    /// Show which adapters are installed, and where
    List {
        /// Programs [default: all]
        #[arg(value_enum, value_name = "PROGRAM")]
        hosts: Vec<Host>,
        /// The folder that was named at the install
        #[arg(long, value_name = "DIR")]
        to: Option<PathBuf>,
    },
    /// Take adapters away; files that are not ours stay
    Remove {
        /// Programs [default: all]
        #[arg(value_enum, value_name = "PROGRAM")]
        hosts: Vec<Host>,
        /// The folder that was named at the install
        #[arg(long, value_name = "DIR")]
        to: Option<PathBuf>,
    },
}

/// A program with an adapter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, ValueEnum)]
pub enum Host {
    /// A workbench with two commands
    Freecad,
    /// Opens *.deck.dxf, and puts the rails of a plan into a drawing
    Inkscape,
}

/// Where the plan comes from.
#[derive(Debug, Clone, clap::Args)]
#[command(next_help_heading = "Plan")]
pub struct Source {
    /// Folder with external references; those beside and below the plan are found without it
    #[arg(long, value_name = "DIR")]
    pub xref: Vec<PathBuf>,
    /// Earlier layout.json of the plan, or a folder of earlier outputs, by which your edits are known when the program that
    /// saved the drawing dropped the marks of the rails [default: the one beside the plan, or in its outputs' folder]
    #[arg(long, value_name = "LAYOUT.json|DIR")]
    pub before: Option<PathBuf>,
    /// Take rails that have lost their marks out of the drawing, by layer and kind, and put the new ones in
    #[arg(long)]
    pub replace_rails: bool,
    /// Program that makes a DXF of a DWG plan, with {in} and {out} for the two files
    #[arg(long, value_name = "CMD {in} {out}")]
    pub dwg_converter: Option<String>,
    /// Longest time for that program
    #[arg(long, value_name = "SECONDS", default_value_t = 120)]
    pub dwg_timeout: u32,
}

/// Options of all commands that lay out; each can stand in the job file, and wins over it.
#[derive(Debug, Clone, Default, clap::Args)]
#[command(next_help_heading = "Job")]
pub struct Shared {
    /// Job file
    #[arg(long, value_name = "FILE.toml")]
    pub job: Option<PathBuf>,
    /// Rail system: a built-in name or a file
    #[arg(long, value_name = "NAME|FILE.toml")]
    pub system: Option<String>,
    /// Rule set: a built-in name or a file
    #[arg(long, value_name = "NAME|FILE.toml")]
    pub rules: Option<String>,
    /// Unit of the drawing: in, ft, mm, cm or m; needed when it is unitless
    #[arg(long, value_name = "UNIT")]
    pub units: Option<String>,
    /// Layers of a role (edge, wall, opening, post, stair, keep-out, joist); the pattern takes * and ?
    #[arg(long = "layer", value_name = "ROLE=PATTERN")]
    pub layers: Vec<String>,
    /// What stands in place of RAIL in the names of the layers that are written, for example A-FLOR-HRAL
    #[arg(long, value_name = "PREFIX")]
    pub layer_prefix: Option<String>,
    /// Distance from the deck edge to the rail line
    #[arg(long, value_name = "LEN", value_parser = length, allow_hyphen_values = true)]
    pub inset: Option<Length>,
    /// How a stretch is divided: equal, stock or cost
    #[arg(long, value_name = "POLICY", value_parser = bays)]
    pub bays: Option<Bays>,
    /// Posts at a corner: one, or two held back from it
    #[arg(long, value_name = "one|two", value_parser = corner_posts)]
    pub corner_posts: Option<CornerPosts>,
    /// Divide each stretch alike from both ends
    #[arg(long)]
    pub symmetric: bool,
    /// How balusters are divided: centred, even or punched
    #[arg(long, value_name = "STYLE", value_parser = balusters)]
    pub balusters: Option<BalusterStyle>,
    /// Shop marks, for example 1/16in or 1mm
    #[arg(long, value_name = "LEN", value_parser = length)]
    pub mark: Option<Length>,
    /// Site measurements (span id, measured opening); they replace the plan's
    #[arg(long, value_name = "FILE.csv")]
    pub measured: Option<PathBuf>,
    /// Stock on hand (member, length, count), used before anything is bought
    #[arg(long, value_name = "FILE.csv")]
    pub stock: Option<PathBuf>,
    /// Finish, one of the system's
    #[arg(long, value_name = "NAME")]
    pub finish: Option<String>,
    /// Paper of the sheets: letter, ansi-b, arch-c, arch-d, a4, a3, a2 or a1
    #[arg(long, value_name = "PAPER", value_parser = paper)]
    pub sheet: Option<Paper>,
    /// Longest clear span, if shorter than the system's
    #[arg(long, value_name = "LEN", value_parser = length)]
    pub longest_panel: Option<Length>,
}

/// On the command line a bare number is inches, as it is at the saw.
fn length(text: &str) -> Result<Length, String> {
    Length::parse(text, Some(plumbrail::base::Unit::Inch)).map_err(|e| e.to_string())
}

fn paper(text: &str) -> Result<Paper, String> {
    let all = || Paper::ALL.map(Paper::name).join(", ");
    Paper::from_name(text).ok_or_else(|| format!("there is no paper `{text}`; write one of {}", all()))
}

fn templates(text: &str) -> Result<TemplatePaper, String> {
    if text.eq_ignore_ascii_case("roll") { Ok(TemplatePaper::Roll) } else { paper(text).map(TemplatePaper::Tiled) }
}

fn slope(text: &str) -> Result<Pitch, String> {
    Pitch::parse(text, Some(plumbrail::base::Unit::Inch))
}

/// Two hundred risers are ten times what any rule set allows between two landings.
fn risers(text: &str) -> Result<u32, String> {
    let number = text.parse().ok().filter(|n| (2..=200).contains(n));
    number
        .ok_or_else(|| "write a number from 2 to 200; a single riser has no slope that a rail could follow".to_owned())
}

/// More than a thousand threads are a slip of the pen.
fn jobs(text: &str) -> Result<usize, String> {
    text.parse().ok().filter(|n| (1..=1024).contains(n)).ok_or_else(|| "write a number from 1 to 1024".to_owned())
}

fn size(text: &str) -> Result<usize, String> {
    let digits = text.trim_end_matches(|c: char| !c.is_ascii_digit());
    let shift = match text.get(digits.len()..).unwrap_or_default().trim() {
        "" => 0,
        "KiB" => 10,
        "MiB" => 20,
        "GiB" => 30,
        _ => return Err("write for example 65536, 512KiB or 64MiB".to_owned()),
    };
    let number = digits.parse::<usize>().ok().and_then(|n| n.checked_mul(1 << shift)).filter(|n| *n > 0);
    number.ok_or_else(|| "write for example 65536, 512KiB or 64MiB".to_owned())
}

fn bays(text: &str) -> Result<Bays, String> {
    match text {
        "equal" => Ok(Bays::Equal),
        "stock" => Ok(Bays::Stock),
        "cost" => Ok(Bays::Cost),
        _ => Err("write equal, stock or cost".to_owned()),
    }
}

fn corner_posts(text: &str) -> Result<CornerPosts, String> {
    match text {
        "one" => Ok(CornerPosts::One),
        "two" => Ok(CornerPosts::Two),
        _ => Err("write one or two".to_owned()),
    }
}

fn balusters(text: &str) -> Result<BalusterStyle, String> {
    let all = [BalusterStyle::Centred, BalusterStyle::Even, BalusterStyle::Punched];
    all.into_iter().find(|s| s.text() == text).ok_or_else(|| "write centred, even or punched".to_owned())
}

fn version(text: &str) -> Result<plumbrail::cad::Version, String> {
    let written = plumbrail::write::dxf::VERSIONS;
    let named = plumbrail::cad::Version::KNOWN.into_iter().find(|(_, name)| name.eq_ignore_ascii_case(text));
    named.map(|(v, _)| v).filter(|v| written.contains(v)).ok_or_else(|| {
        let names: Vec<String> = written.iter().map(|v| v.name()).collect();
        format!("write {}", names.join(", "))
    })
}
