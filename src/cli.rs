//! The command line: what can be asked, in the parser's own terms.

use std::net::SocketAddr;
use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};
use clap_complete::Shell;

use crate::units::quantity::UnitSystem;

/// First heat of a refractory lining: plan it in burner pulses, follow it on thermocouples, keep the record.
#[derive(Clone, Debug, PartialEq, Parser)]
#[command(
    name = "firstheat",
    version,
    max_term_width = 110,
    after_help = "Examples:\n  \
                  firstheat try\n  \
                  firstheat new --what barrel-forge -o my-forge.toml\n  \
                  firstheat plan my-forge.toml\n\n\
                  Exit codes: 0 done; 1 done, and the answer is no (no safe plan, danger was reached, a replay differs); \
                  2 could not.\n\
                  It advises and never touches the gas. Colours are left out when NO_COLOR is set."
)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What can be asked.
#[derive(Clone, Debug, PartialEq, Subcommand)]
pub enum Command {
    /// Describe a lining: asks a few questions, or takes flags, and writes a lining file
    New(Box<NewArgs>),
    /// Say what to cut, mix, buy and weigh for a lining
    Cuts(CutsArgs),
    /// Say what linings will do in service: shell, heat, gas, time to heat, water; side by side
    Wall(WallArgs),
    /// Find the shortest pulsed heat-up that is safe on a lining
    Plan(PlanArgs),
    /// Try any schedule on a lining: pressure, danger, dryness and shell over time
    Simulate(SimulateArgs),
    /// Follow a heat-up live: cues, forecasts, warnings, and a log that survives a power cut
    Follow(FollowArgs),
    /// Follow many simulated furnaces that are not quite as believed, with operators who err, and count what went well
    Rehearse(RehearseArgs),
    /// Run a log through the same engine again and compare what it says
    Replay(ReplayArgs),
    /// Tell what happened in a heat-up: one page with plots, the dryness verdict, and what to do next
    Report(ReportArgs),
    /// Compare heat-ups of one lining on like terms: is it wearing out?
    Trend(TrendArgs),
    /// See the whole job in about a minute on a simulated furnace
    Try(TryArgs),
    /// Say what a lining, plan, probe or log file means, or what is wrong with it
    Check(CheckArgs),
    /// Find out whether the thermocouples tell the truth: ports, live readings, ice and boiling water, EMF
    Probes(ProbesArgs),
    /// Print the script with which a shell completes commands, options and values
    Completions(CompletionsArgs),
    /// Print the manual page
    Man(ManArgs),
}

/// How many guesses stand for what is not known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Args)]
pub struct BeliefArgs {
    /// Members of the ensemble: more is slower and surer
    #[arg(long, value_name = "N", default_value_t = 16, value_parser = clap::value_parser!(u16).range(1..=256))]
    pub members: u16,
    /// Seed of the ensemble's draw
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
}

/// Units in which a person wants to read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Units {
    /// °C, mm, kg, bar
    #[default]
    Metric,
    /// °F, in, lb, psi
    Us,
}

impl From<Units> for UnitSystem {
    fn from(units: Units) -> Self {
        match units {
            Units::Metric => Self::Metric,
            Units::Us => Self::Us,
        }
    }
}

/// `new`.
#[derive(Clone, Debug, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  \
    firstheat new\n  \
    firstheat new --what barrel-forge --diameter '10 in' --length 350mm -o my-forge.toml\n  \
    firstheat new --what box-forge --layers '3 mm air-setting-mortar, 50 mm rigidised-fibre' --burner '12 kW'\n\n\
    With --what nothing is asked: what no flag says stands at the usual. Sizes take mm, cm, m, in or ft.\n\
    A file that is there is never overwritten.")]
pub struct NewArgs {
    /// Starting point: barrel-forge, melter, box-forge or kiln-arch; asked when left out
    #[arg(long, value_name = "WHAT")]
    pub what: Option<String>,
    /// Where to write the lining; named after the furnace when left out
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Answers
    #[command(flatten)]
    pub answers: AnswerArgs,
}

/// Answers to what `new` would ask.
#[derive(Clone, Debug, Default, PartialEq, Eq, Args)]
pub struct AnswerArgs {
    /// Name of the furnace
    #[arg(long, value_name = "NAME")]
    pub name: Option<String>,
    /// Inside diameter of a round shell
    #[arg(long, value_name = "LENGTH")]
    pub diameter: Option<String>,
    /// Length, depth or height of the chamber
    #[arg(long, value_name = "LENGTH")]
    pub length: Option<String>,
    /// Inside width of a box
    #[arg(long, value_name = "LENGTH")]
    pub width: Option<String>,
    /// Inside height of a box, or of the walls below an arch
    #[arg(long, value_name = "LENGTH")]
    pub height: Option<String>,
    /// Span of an arch
    #[arg(long, value_name = "LENGTH")]
    pub span: Option<String>,
    /// Rise of an arch
    #[arg(long, value_name = "LENGTH")]
    pub rise: Option<String>,
    /// Layers of the wall (or arch) from the fire outwards: '25 mm dense-castable, 50 mm fibre-blanket-128'
    #[arg(long, value_name = "LAYERS")]
    pub layers: Option<String>,
    /// Layers of the floor
    #[arg(long, value_name = "LAYERS")]
    pub floor: Option<String>,
    /// Layers of the lid
    #[arg(long, value_name = "LAYERS")]
    pub roof: Option<String>,
    /// Layers of the walls below an arch
    #[arg(long, value_name = "LAYERS")]
    pub walls: Option<String>,
    /// Heat of the burner, or jet and pressure: '12 kW', '0.9 mm at 0.7 bar'
    #[arg(long, value_name = "BURNER")]
    pub burner: Option<String>,
    /// What its fire can be turned down to: 'low 0.1 bar, half 50 %'; 'ramps' where the control of a kiln holds them
    #[arg(long, value_name = "MARKS")]
    pub turndown: Option<String>,
    /// Mouth or flue: '100 mm' across, or '5 in x 4 in'
    #[arg(long, value_name = "SIZE")]
    pub opening: Option<String>,
    /// How long wet layers dried in the air
    #[arg(long, value_name = "TIME")]
    pub drying: Option<String>,
    /// Air where it stands
    #[arg(long, value_name = "TEMPERATURE")]
    pub temperature: Option<String>,
    /// Humidity where it stands
    #[arg(long, value_name = "SHARE")]
    pub humidity: Option<String>,
}

impl AnswerArgs {
    /// The flags that were given, by the key of the question that each answers.
    #[must_use]
    pub fn given(&self) -> Vec<(&'static str, &str)> {
        let all = [
            ("name", &self.name),
            ("diameter", &self.diameter),
            ("length", &self.length),
            ("width", &self.width),
            ("height", &self.height),
            ("span", &self.span),
            ("rise", &self.rise),
            ("layers", &self.layers),
            ("floor", &self.floor),
            ("roof", &self.roof),
            ("walls", &self.walls),
            ("burner", &self.burner),
            ("turndown", &self.turndown),
            ("opening", &self.opening),
            ("drying", &self.drying),
            ("temperature", &self.temperature),
            ("humidity", &self.humidity),
        ];
        all.into_iter().filter_map(|(key, answer)| answer.as_deref().map(|answer| (key, answer))).collect()
    }
}

/// `cuts`.
#[derive(Clone, Debug, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  \
    firstheat cuts my-forge.toml\n  \
    firstheat cuts my-forge.toml --svg sheets.svg --csv sheets.csv --units us\n  \
    firstheat cuts my-forge.toml --json\n\n\
    Ports, how a barrel lies, how blankets are laid, roll and bag sizes and prices are told in the lining file; what it does\n\
    not say is taken as usual. The drawing is to scale when it is printed at its own size.")]
pub struct CutsArgs {
    /// Lining file
    pub lining: PathBuf,
    /// Where to write the sheets and rolls as a drawing to scale (SVG)
    #[arg(long, value_name = "FILE")]
    pub svg: Option<PathBuf>,
    /// Where to write everything as a table (CSV: mm, kg, L)
    #[arg(long, value_name = "FILE")]
    pub csv: Option<PathBuf>,
    /// Replace these files when they are there already
    #[arg(long)]
    pub force: bool,
    /// Print JSON instead of the text: m, kg, L, degrees
    #[arg(long)]
    pub json: bool,
    /// Units of the text and the drawing; batches are always in grams
    #[arg(long, value_enum, default_value_t)]
    pub units: Units,
}

/// `wall`.
#[derive(Clone, Debug, PartialEq, Args)]
#[command(after_help = "Examples:\n  \
    firstheat wall my-forge.toml --coat --blanket=25mm --hard-face='12 mm forge-castable'\n  \
    firstheat wall box-forge.toml thin-coat-forge.toml --at 1250C --units us\n\n\
    Each alternative stands beside each lining by itself. One more blanket goes behind everything (the shell grows); coat and\n\
    hard face go inside (the bore shrinks).")]
pub struct WallArgs {
    /// Lining files
    #[arg(required = true, value_name = "LINING")]
    pub linings: Vec<PathBuf>,
    /// Chamber temperature at work
    #[arg(long, value_name = "TEMPERATURE", default_value = "1200C")]
    pub at: String,
    /// Hot-face temperature at which work begins: forging 950 to 1250 C
    #[arg(long, value_name = "TEMPERATURE", default_value = "1100C")]
    pub heat: String,
    /// Also with an infrared-reflecting coat
    #[arg(long)]
    pub coat: bool,
    /// Also with one more blanket behind, 25 mm when no thickness is given
    #[arg(long, value_name = "THICKNESS", num_args = 0..=1, require_equals = true, default_missing_value = "25 mm")]
    pub blanket: Option<String>,
    /// Also with a cast hard face, '12 mm forge-castable' when nothing is said
    #[arg(long, value_name = "LAYER", num_args = 0..=1, require_equals = true, default_missing_value = "12 mm forge-castable")]
    pub hard_face: Option<String>,
    /// Ensemble
    #[command(flatten)]
    pub belief: BeliefArgs,
    /// Print JSON instead of a table
    #[arg(long, conflicts_with = "units")]
    pub json: bool,
    /// Units of the table
    #[arg(long, value_enum, default_value_t)]
    pub units: Units,
}

/// `plan`.
#[derive(Clone, Debug, PartialEq, Args)]
#[command(after_help = "Examples:\n  \
    firstheat plan school-foundry.toml -o school-foundry-plan.toml\n  \
    firstheat plan school-foundry.toml --units us > card.txt\n  \
    firstheat plan kiln-arch.toml --start '2026-05-02 08:00' --watch 08:00-18:00 --page card.html\n  \
    firstheat plan kiln-arch.toml --why --dry\n  \
    firstheat plan kiln-arch.toml --json\n\n\
    The card goes to standard output, progress and the name of the plan file to standard error.\n\
    A watch is when somebody is there: 08:00-12:00,13:00-18:00, or Mon-Fri 08:00-16:00. Outside it the burner stays off; the plan\n\
    cools, heats anew what cooled, and says which hours need a person.\n\
    The exit code is 1 when no heat-up is safe; then it says what to change, which takes several searches more.")]
pub struct PlanArgs {
    /// Lining file
    pub lining: PathBuf,
    /// Where to write the plan; when left out it is named after the lining file, and with --json it is only printed
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Where to write the card as a page to print on A4 and tape to the wall (HTML)
    #[arg(long, value_name = "FILE")]
    pub page: Option<PathBuf>,
    /// Replace these files when they are there already
    #[arg(long)]
    pub force: bool,
    /// When the first pulse begins, such as '2026-05-02 08:00': then the card has clock times
    #[arg(long, value_name = "DATE TIME")]
    pub start: Option<String>,
    /// Hours in which somebody is there, such as 08:00-18:00; always when left out
    #[arg(long, value_name = "HOURS", requires = "start")]
    pub watch: Option<String>,
    /// Advice
    #[command(flatten)]
    pub advice: AdviceArgs,
    /// Ensemble
    #[command(flatten)]
    pub belief: BeliefArgs,
    /// Print the plan as JSON instead of a card
    #[arg(long)]
    pub json: bool,
    /// Units of the card
    #[arg(long, value_enum, default_value_t, conflicts_with = "json")]
    pub units: Units,
}

/// What is to be searched beside the plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Args)]
pub struct AdviceArgs {
    /// Also say how many hours each single change to lining, drying or burner would save
    #[arg(long)]
    pub why: bool,
    /// Also say what a day, three days or a week of drying before the first flame would save
    #[arg(long)]
    pub dry: bool,
}

/// `simulate`.
#[derive(Clone, Debug, PartialEq, Args)]
#[command(after_help = "Examples:\n  \
    firstheat simulate school-foundry.toml --schedule C D school-foundry-plan.toml\n  \
    firstheat simulate kiln-arch.toml --schedule my-schedule.toml --json\n  \
    firstheat simulate --published\n  \
    firstheat simulate --published --plans --members 8\n  \
    firstheat simulate --wall wall-r.toml\n\n\
    A schedule is a letter of the published ones (A to Q), a schedule file, or a plan file. Ramps and holds are those of the\n\
    chamber gas; a plan drives the burner. With --published all of the published ones are tried, on the lining or on four\n\
    plain ones from a thin coat to a thick sealed casting; that takes minutes and ends with 0. Else the exit code is 1 when the danger number reached 1 for 95 of 100 possible\n\
    linings, or a wall file's expected values are not met.")]
pub struct SimulateArgs {
    /// Lining file
    #[arg(required_unless_present_any = ["wall", "published"])]
    pub lining: Option<PathBuf>,
    /// Schedules to try, side by side
    #[arg(short, long, value_name = "FILE|LETTER", num_args = 1.., required_unless_present_any = ["wall", "published"])]
    pub schedule: Vec<String>,
    /// Every published schedule, as one table
    #[arg(long, conflicts_with_all = ["schedule", "wall"])]
    pub published: bool,
    /// With --published: beside each the hours of our plan, to the same temperature and at no more danger; takes many minutes
    #[arg(long, requires = "published")]
    pub plans: bool,
    /// Bare wall with every coefficient given, instead of a lining
    #[arg(long, value_name = "FILE", conflicts_with_all = ["lining", "schedule"])]
    pub wall: Option<PathBuf>,
    /// Ensemble
    #[command(flatten)]
    pub belief: BeliefArgs,
    /// Print JSON instead of tables
    #[arg(long)]
    pub json: bool,
}

/// `follow`.
#[derive(Clone, Debug, PartialEq, Args)]
#[command(after_help = "Examples:\n  \
    firstheat follow school-foundry.toml --plan school-foundry-plan.toml --probes probes.toml\n  \
    firstheat follow lining.toml --plan plan.toml --probes probes.toml --headless < words > verdicts.jsonl\n  \
    firstheat follow --resume school-foundry-2026-03-14.csv\n\n\
    Words on standard input (with --headless or --plain): on, off, pause, resume, silence, replan, quit.")]
#[allow(clippy::struct_excessive_bools, reason = "flags of a command line")]
pub struct FollowArgs {
    /// Lining file
    #[arg(required_unless_present = "resume")]
    pub lining: Option<PathBuf>,
    /// Plan file
    #[arg(long, value_name = "FILE", required_unless_present = "resume")]
    pub plan: Option<PathBuf>,
    /// Probe file
    #[arg(long, value_name = "FILE", required_unless_present = "resume")]
    pub probes: Option<PathBuf>,
    /// Log file to begin; named after lining and date when left out
    #[arg(long, value_name = "FILE")]
    pub log: Option<PathBuf>,
    /// Go on with the heat-up of this log after a crash or power cut; lining, plan and probes stand in it
    #[arg(long, value_name = "LOG", conflicts_with_all = ["lining", "plan", "probes", "log", "notes", "time_from_probe", "members", "seed"])]
    pub resume: Option<PathBuf>,
    /// Keep to the plan after a pause or a missed cue, only later; search no new one for the rest
    #[arg(long)]
    pub keep_plan: bool,
    /// What a warning sounds like, beside the words
    #[arg(long, value_name = "SOUND", value_enum, default_value_t = Sound::Bell)]
    pub sound: Sound,
    /// Command for each warning, run by the shell with `FIRSTHEAT_CAUSE`, `FIRSTHEAT_ACTION`, `FIRSTHEAT_REASON` set
    #[arg(long, value_name = "COMMAND")]
    pub alarm_command: Option<String>,
    /// Serve figures as `OpenMetrics` text on this loopback address, such as 127.0.0.1:9400
    #[arg(long, value_name = "ADDRESS")]
    pub metrics: Option<SocketAddr>,
    /// One JSON object a line on standard output, words on standard input
    #[arg(long, conflicts_with = "plain")]
    pub headless: bool,
    /// Plain lines instead of the dashboard
    #[arg(long)]
    pub plain: bool,
    /// Elapsed time is the `t` of the probe lines, in seconds, instead of the clock
    #[arg(long)]
    pub time_from_probe: bool,
    /// Circumstances to keep in the log, once for each: gas-pressure, jet, ambient, load, probe-age
    #[arg(long = "note", value_name = "NAME=VALUE")]
    pub notes: Vec<String>,
    /// Ensemble
    #[command(flatten)]
    pub belief: BeliefArgs,
}

/// `rehearse`.
#[derive(Clone, Debug, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  \
    firstheat rehearse --heat-ups 200\n  \
    firstheat rehearse lining.toml --plan plan.toml --heat-ups 20 --each\n\n\
    Every furnace differs from the lining file: permeability within a factor of 3, water and burner by up to 20 %,\n\
    conductivity by up to 15 %; its probes are noisy, late, off by up to 2 K and sit up to 3 mm beside their place.\n\
    Every third operator errs; in a fifth as many heat-ups more the operator leaves with the burner lit, to measure how\n\
    long before danger 1 warnings come. The exit code is 1 when a bar is missed.")]
pub struct RehearseArgs {
    /// Lining file; a school foundry's small crucible furnace when left out
    pub lining: Option<PathBuf>,
    /// Plan file; searched when left out
    #[arg(long, value_name = "FILE")]
    pub plan: Option<PathBuf>,
    /// How many heat-ups
    #[arg(long, value_name = "N", default_value_t = 20, value_parser = clap::value_parser!(u32).range(0..=10_000))]
    pub heat_ups: u32,
    /// How many more in which a lining is ten times as tight again and the operator leaves with the burner lit, on a thick
    /// casting unless a lining is named; a fifth as many when left out
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(0..=10_000))]
    pub heedless: Option<u32>,
    /// Seed of the furnaces, probes and operators
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub luck: u64,
    /// One line for each heat-up as well
    #[arg(long)]
    pub each: bool,
    /// Ensemble
    #[command(flatten)]
    pub belief: BeliefArgs,
}

/// What a warning sounds like.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Sound {
    /// The terminal's bell, again each 20 s as long as a warning stands that nobody has silenced
    #[default]
    Bell,
    /// Nothing
    None,
}

/// `replay`.
#[derive(Clone, Debug, PartialEq, Eq, Args)]
#[command(after_help = "Example:\n  firstheat replay school-foundry-2026-03-14.csv\n\n\
    The exit code is 1 when the verdicts differ from those in the log.")]
pub struct ReplayArgs {
    /// Log file
    pub log: PathBuf,
    /// Print the verdicts as JSON lines
    #[arg(long)]
    pub json: bool,
}

/// `report`.
#[derive(Clone, Debug, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  \
    firstheat report school-foundry-2026-03-14.csv\n  \
    firstheat report heat-up.csv -o report.html --force\n  \
    firstheat report heat-up.csv --units us\n  \
    firstheat report heat-up.csv --json\n\n\
    The page is one HTML file that fetches nothing and prints on A4.\n\
    The exit code is 1 when danger was reached or the lining is not known to be dry.")]
pub struct ReportArgs {
    /// Log file
    pub log: PathBuf,
    /// Where to write the page; beside the log when left out, and with --json not at all
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Replace the page when it is there already
    #[arg(long)]
    pub force: bool,
    /// Print the account as JSON instead of a short text; always °C, MPa, kg
    #[arg(long)]
    pub json: bool,
    /// Units of page and text
    #[arg(long, value_enum, default_value_t)]
    pub units: Units,
}

/// `trend`.
#[derive(Clone, Debug, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  \
    firstheat trend school-foundry-*.csv\n  \
    firstheat trend school-foundry-*.csv -o wear.html --force --units us\n\n\
    The oldest heat-up of the dry lining is the baseline. A probe at a hot face and one on the shell behind it are needed.\n\
    Note what else differs when you follow: --note 'gas-pressure=0.7 bar' --note 'ambient=12 C' --note load=empty\n\
    The exit code is 1 when the lining should be inspected.")]
pub struct TrendArgs {
    /// Log files, in any order
    #[arg(required = true, value_name = "LOG")]
    pub logs: Vec<PathBuf>,
    /// Where to write a page with plots
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Replace the page when it is there already
    #[arg(long, requires = "output")]
    pub force: bool,
    /// The lining had been dried before the oldest of these heat-ups
    #[arg(long)]
    pub heated_before: bool,
    /// Print JSON instead of a table; always °C, bar, kg
    #[arg(long, conflicts_with = "units")]
    pub json: bool,
    /// Units of table and page
    #[arg(long, value_enum, default_value_t)]
    pub units: Units,
}

/// `completions`.
#[derive(Clone, Debug, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  \
    firstheat completions bash > ~/.local/share/bash-completion/completions/firstheat\n  \
    firstheat completions fish > ~/.config/fish/completions/firstheat.fish\n\n\
    The script goes to standard output. A new shell reads it from the place above; zsh looks for a file `_firstheat` in the\n\
    directories of its variable fpath.")]
pub struct CompletionsArgs {
    /// Shell to complete for
    #[arg(value_enum)]
    pub shell: Shell,
}

/// `man`.
#[derive(Clone, Debug, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  \
    firstheat man > firstheat.1\n  \
    firstheat man --all ~/.local/share/man/man1\n\n\
    Read it with: man ./firstheat.1")]
pub struct ManArgs {
    /// Write one page for the program and one for each command into this directory, instead of printing the program's
    #[arg(long, value_name = "DIRECTORY")]
    pub all: Option<PathBuf>,
    /// Replace pages that are there already
    #[arg(long, requires = "all")]
    pub force: bool,
}

/// `try`.
#[derive(Clone, Debug, PartialEq, Eq, Args)]
#[command(after_help = "Example:\n  firstheat try\n\n\
    Everything it makes goes into a new directory firstheat-try-DATE, which it names at the end.")]
pub struct TryArgs {
    /// Plain lines instead of the dashboard
    #[arg(long)]
    pub plain: bool,
}

/// `check`.
#[derive(Clone, Debug, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  firstheat check school-foundry.toml\n  firstheat check probes.toml plan.toml\n  \
    firstheat check my-plan.toml --lining school-foundry.toml --page card.html")]
pub struct CheckArgs {
    /// Files to look at
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// Lining file on which the plans are simulated
    #[arg(long, value_name = "FILE")]
    pub lining: Option<PathBuf>,
    /// Simulate on cells half as wide as usual: slower, to see that the cells do not decide
    #[arg(long, requires = "lining")]
    pub fine: bool,
    /// Where to write the card of a plan that keeps its limits, as a page to print (HTML)
    #[arg(long, value_name = "FILE", requires = "lining")]
    pub page: Option<PathBuf>,
    /// When the first pulse begins, such as '2026-05-02 08:00': then the page has clock times
    #[arg(long, value_name = "DATE TIME", requires = "page")]
    pub start: Option<String>,
    /// Ensemble
    #[command(flatten)]
    pub belief: BeliefArgs,
    /// Units of what is said about a simulated plan
    #[arg(long, value_enum, default_value_t)]
    pub units: Units,
}

/// `probes`.
#[derive(Clone, Debug, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  \
    firstheat probes ports\n  \
    firstheat probes find /dev/ttyUSB0 -o probes.toml\n  \
    firstheat probes watch probes.toml\n  \
    firstheat probes bath probes.toml ice --store\n  \
    firstheat probes emf --type K 500C")]
pub struct ProbesArgs {
    /// What to do.
    #[command(subcommand)]
    pub command: ProbesCommand,
}

/// What can be done with probes.
#[derive(Clone, Debug, PartialEq, Eq, Subcommand)]
pub enum ProbesCommand {
    /// Turn temperature into EMF and EMF into temperature, with tolerances
    Emf(EmfArgs),
    /// List the serial ports by the names that stay theirs, and what each says
    Ports(PortsArgs),
    /// Find out what hangs on a port and at which speed, and write a probe file to begin with
    Find(FindArgs),
    /// Show what the boards send and what it means, as it comes
    Watch(WatchArgs),
    /// Check probes in ice water or boiling water, and store their offsets
    Bath(BathArgs),
}

/// `probes emf`.
#[derive(Clone, Debug, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  \
    firstheat probes emf --type K 500C\n  \
    firstheat probes emf --type K --cold-junction 25C 19.644mV\n  \
    firstheat probes emf --type T -- -50C\n\n\
    Reference functions of ITS-90 (NIST Monograph 175, IEC 60584-1).")]
pub struct EmfArgs {
    /// Temperatures (500C, 932F) or EMFs (20.644mV, 20644uV), in any mixture
    #[arg(required = true, value_name = "FIGURE")]
    pub figures: Vec<String>,
    /// Thermocouple type: K, N, S, R, B, J, E or T
    #[arg(long = "type", value_name = "LETTER")]
    pub couple: String,
    /// Temperature of the terminals
    #[arg(long, value_name = "TEMPERATURE", default_value = "0C", allow_hyphen_values = true)]
    pub cold_junction: String,
    /// Print JSON lines
    #[arg(long)]
    pub json: bool,
}

/// `probes ports`.
#[derive(Clone, Debug, PartialEq, Eq, Args)]
#[command(after_help = "Example:\n  firstheat probes ports --speed 9600\n\n\
    Opening a port resets many boards. The exit code is 1 when there is no port.")]
pub struct PortsArgs {
    /// Ports to listen to; all when left out
    #[arg(value_name = "PORT")]
    pub ports: Vec<String>,
    /// Speed to listen at, baud
    #[arg(long, default_value_t = 38_400)]
    pub speed: u32,
}

/// `probes find`.
#[derive(Clone, Debug, PartialEq, Eq, Args)]
#[command(after_help = "Example:\n  firstheat probes find /dev/ttyUSB0 -o probes.toml\n\n\
    It listens for lines first, then asks for an instrument's name, then for devices 1 to 16 on a bus: half a minute in all.\n\
    The exit code is 1 when nothing was found.")]
pub struct FindArgs {
    /// Port
    pub port: String,
    /// Where to write the probe file; printed when left out
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
}

/// `probes watch`.
#[derive(Clone, Debug, PartialEq, Eq, Args)]
#[command(after_help = "Example:\n  firstheat probes watch probes.toml --for 10s\n\n\
    The exit code is 1 when no reading came.")]
pub struct WatchArgs {
    /// Probe file
    pub probes: PathBuf,
    /// How long to watch; until interrupted when left out
    #[arg(long = "for", value_name = "TIME")]
    pub span: Option<String>,
    /// Print JSON lines
    #[arg(long)]
    pub json: bool,
}

/// A bath of known temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum BathKind {
    /// Crushed ice in water, stirred: 0 °C
    Ice,
    /// Water at a rolling boil: 100 °C at the sea, less higher up
    Boiling,
}

/// `probes bath`.
#[derive(Clone, Debug, PartialEq, Eq, Args)]
#[command(after_help = "Examples:\n  \
    firstheat probes bath probes.toml ice --channel hot\n  \
    firstheat probes bath probes.toml boiling --altitude 620m --store\n\n\
    The exit code is 1 when a probe did not settle, or is off by more than an offset should hide.")]
pub struct BathArgs {
    /// Probe file
    pub probes: PathBuf,
    /// What the tips are in
    #[arg(value_enum)]
    pub bath: BathKind,
    /// Probe that is in it; all when left out
    #[arg(long = "channel", value_name = "NAME")]
    pub channels: Vec<String>,
    /// Height above the sea, for boiling water
    #[arg(long, value_name = "HEIGHT", default_value = "0m", allow_hyphen_values = true)]
    pub altitude: String,
    /// How long to listen; the last half counts
    #[arg(long = "for", value_name = "TIME", default_value = "30s")]
    pub span: String,
    /// Write offset and date into the probe file
    #[arg(long)]
    pub store: bool,
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_consistent() {
        Cli::command().debug_assert();
    }
}
