//! `new`: asks a few plain questions, or takes flags, and writes a lining file with comments.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::{self, BufRead};
use std::path::PathBuf;

use super::{AppError, Outcome, chain, print};
use crate::cli::NewArgs;
use crate::files::{free_lining_name, refuse_taken, write_new};
use crate::lining::material::Materials;
use crate::lining::starts::{Question, STARTS, Start, lining_text, questions, start_of};
use crate::lining::text::parse_lining;
use crate::units::quantity::{Shown, UnitSystem};

/// Answers by the key of their question.
type Answers = BTreeMap<&'static str, String>;

/// Runs the command.
///
/// # Errors
/// When a flag cannot be used, the answers end too early or do not make a lining, or the file cannot be written.
pub fn run(args: &NewArgs) -> Result<Outcome, AppError> {
    if let Some(path) = &args.output {
        // Told before the questions, which take a person's time.
        refuse_taken(path)?;
    }
    let Some(what) = &args.what else { return ask_all(args) };
    let refused = |source| AppError::Answer { flag: "what".to_owned(), source };
    let start = start_of(what).map_err(refused)?;
    let answers = from_flags(args, start)?;
    let text = text_of(start, &answers)?;
    print(&understood(start, &answers, &text)?)?;
    write(args, &answers, &text)
}

/// The answers that flags gave, each checked.
fn from_flags(args: &NewArgs, start: Start) -> Result<Answers, AppError> {
    let asked = questions(start);
    let mut answers = Answers::new();
    for (key, answer) in args.answers.given() {
        let Some(question) = asked.iter().find(|question| question.key == key) else {
            let known: Vec<String> = asked.iter().map(|question| format!("--{}", question.key)).collect();
            let what = word_of(start).to_owned();
            return Err(AppError::NoQuestion { flag: key.to_owned(), what, known: known.join(", ") });
        };
        question.understood(answer).map_err(|source| AppError::Answer { flag: key.to_owned(), source })?;
        answers.insert(key, answer.to_owned());
    }
    Ok(answers)
}

fn word_of(start: Start) -> &'static str {
    STARTS.iter().find(|(_, other, _)| *other == start).map_or("lining", |(word, ..)| word)
}

/// The lining file, read back to make sure that it is one.
fn text_of(start: Start, answers: &Answers) -> Result<String, AppError> {
    let text = lining_text(start, |key| answers.get(key).cloned())
        .map_err(|source| AppError::Answer { flag: "what".to_owned(), source })?;
    parse_lining(&text, Materials::built_in()).map_err(AppError::Answers)?;
    Ok(text)
}

/// What was understood: every answer in both units, and what the lining comes to.
fn understood(start: Start, answers: &Answers, text: &str) -> Result<String, AppError> {
    let mut page = String::from("Understood:\n");
    for question in questions(start) {
        let answer = answers.get(question.key).map_or(question.usual, String::as_str);
        let refused = |source| AppError::Answer { flag: question.key.to_owned(), source };
        let meaning = question.understood(answer).map_err(refused)?;
        // Writing to a string cannot fail.
        let _ = writeln!(page, "  {:<12} {meaning}", question.key);
    }
    let lining = parse_lining(text, Materials::built_in()).map_err(AppError::Answers)?;
    let (dry, water) = (lining.dry_mass().shown(UnitSystem::Metric), lining.water_kg().shown(UnitSystem::Metric));
    let _ = writeln!(page, "  It weighs {dry} dry and holds {water} of water before it dries.");
    Ok(page)
}

/// Asks on standard output and takes answers from standard input until they make a lining.
fn ask_all(args: &NewArgs) -> Result<Outcome, AppError> {
    let mut lines = io::stdin().lock().lines();
    let mut next = |question: &str| match lines.next() {
        Some(Ok(line)) => Ok(line),
        Some(Err(source)) => Err(AppError::System { doing: "to read the answers", source }),
        None => Err(AppError::NoAnswer { question: question.to_owned() }),
    };
    print(
        "A few questions about the lining. Every size takes mm, cm, m, in or ft. Enter alone takes what stands in brackets.\n",
    )?;
    let start = ask_start(&mut next)?;
    let mut answers: Answers = args.answers.given().into_iter().map(|(key, answer)| (key, answer.to_owned())).collect();
    loop {
        for question in questions(start) {
            let answer = ask(&question, answers.get(question.key), &mut next)?;
            answers.insert(question.key, answer);
        }
        let text = match text_of(start, &answers) {
            Ok(text) => text,
            Err(error) => {
                print(&format!("\n{}\nOnce more; Enter keeps what you said.\n", chain(&error)))?;
                continue;
            }
        };
        print(&format!("\n{}", understood(start, &answers, &text)?))?;
        print("Write it? [yes] ")?;
        match next("Write it?")?.trim().to_lowercase().as_str() {
            "" | "y" | "yes" => return write(args, &answers, &text),
            "q" | "quit" => return Ok(Outcome::AnswerIsNo),
            _ => print("Once more; Enter keeps what you said, and quit at the end leaves without a file.\n")?,
        }
    }
}

fn ask_start(next: &mut impl FnMut(&str) -> Result<String, AppError>) -> Result<Start, AppError> {
    let mut words = String::from("\nWhat are you building?\n");
    for (number, (word, _, what)) in STARTS.iter().enumerate() {
        let _ = writeln!(words, "  {} {word:<13} {what}", number + 1);
    }
    loop {
        print(&format!("{words}[1] "))?;
        let answer = next("What are you building?")?;
        match start_of(if answer.trim().is_empty() { "1" } else { &answer }) {
            Ok(start) => return Ok(start),
            Err(error) => print(&format!("  {error}\n"))?,
        }
    }
}

/// Asks until the answer is one.
fn ask(
    question: &Question,
    said: Option<&String>,
    next: &mut impl FnMut(&str) -> Result<String, AppError>,
) -> Result<String, AppError> {
    let usual = said.map_or(question.usual, String::as_str);
    loop {
        let why = textwrap::fill(question.why, textwrap::Options::new(90).initial_indent("  ").subsequent_indent("  "));
        print(&format!("\n{}\n{why}\n[{usual}] ", question.words))?;
        let line = next(question.words)?;
        let answer = if line.trim().is_empty() { usual } else { line.trim() };
        match question.understood(answer) {
            Ok(meaning) => {
                print(&format!("  {meaning}\n"))?;
                return Ok(answer.to_owned());
            }
            Err(error) => print(&format!("  {error}\n"))?,
        }
    }
}

fn write(args: &NewArgs, answers: &Answers, text: &str) -> Result<Outcome, AppError> {
    let name = answers.get("name").map_or("my furnace", String::as_str);
    let path: PathBuf = args.output.clone().unwrap_or_else(|| free_lining_name(name));
    write_new(&path, text)?;
    let path = path.display();
    print(&format!(
        "lining file: {path}\nnext: firstheat cuts {path}; firstheat wall {path}; firstheat plan {path}\n"
    ))?;
    Ok(Outcome::Done)
}
