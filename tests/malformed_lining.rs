//! Every wrong file gets a message that says where, what was found, what is expected and what to do; none makes it panic.
//!
//! The inputs stand under `tests/malformed/`, each a working file with one thing (or a few) put wrong, named after it. The
//! expected messages are the snapshots beside this file.

#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::{Path, PathBuf};

use firstheat::lining::material::Materials;
use firstheat::lining::text::{LiningError, parse_lining, parse_materials};
use proptest::prelude::*;

fn files_of(kind: &str) -> Vec<PathBuf> {
    let dir = Path::new("tests/malformed").join(kind);
    let mut files: Vec<PathBuf> = fs::read_dir(dir).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files
}

/// All messages of the files of one kind, each under its name.
fn messages(kind: &str, parse: impl Fn(&str) -> Result<(), LiningError>) -> String {
    let each = files_of(kind).into_iter().map(|path| {
        let text = fs::read_to_string(&path).unwrap();
        let name = path.file_stem().unwrap().to_str().unwrap();
        let message = parse(&text).err().map_or_else(|| "TAKEN AS GOOD".to_owned(), |error| error.to_string());
        format!("[{name}]\n{message}\n")
    });
    each.collect::<Vec<_>>().join("\n")
}

fn lining(text: &str) -> Result<(), LiningError> {
    parse_lining(text, Materials::built_in()).map(|_| ())
}

fn materials(text: &str) -> Result<(), LiningError> {
    parse_materials(text).map(|_| ())
}

#[test]
fn each_malformed_lining_is_refused_in_these_words() {
    insta::assert_snapshot!("lining", messages("lining", lining));
}

#[test]
fn each_malformed_materials_file_is_refused_in_these_words() {
    insta::assert_snapshot!("materials", messages("materials", materials));
}

#[test]
fn no_malformed_file_is_taken_as_good() {
    assert!(files_of("lining").len() >= 20);
    for path in files_of("lining") {
        assert!(lining(&fs::read_to_string(&path).unwrap()).is_err(), "{}", path.display());
    }
    for path in files_of("materials") {
        assert!(materials(&fs::read_to_string(&path).unwrap()).is_err(), "{}", path.display());
    }
}

#[test]
fn a_refusal_points_at_the_line_and_column_of_the_fault() {
    let text = fs::read_to_string("tests/malformed/lining/negative-thickness.toml").unwrap();
    let place = lining(&text).unwrap_err().place();
    let line = text.lines().nth(place.line - 1).unwrap();
    assert_eq!(&line[place.column - 1..], "\"-50 mm\"");
}

#[test]
fn faults_are_listed_in_the_order_of_the_file() {
    let text = fs::read_to_string("tests/malformed/lining/many-faults-at-once.toml").unwrap();
    let Err(LiningError::Refused(refusals)) = lining(&text) else { panic!("taken as good") };
    assert_eq!(refusals.len(), 8);
    assert!(refusals.is_sorted_by_key(|refusal| refusal.place));
}

#[test]
fn every_refusal_says_what_was_found_and_expected() {
    for path in files_of("lining") {
        let message = lining(&fs::read_to_string(&path).unwrap()).unwrap_err().to_string();
        for line in message.lines() {
            assert!(line.starts_with("line ") && line.contains("found ") && line.contains("expected"), "{line}");
        }
    }
}

#[test]
fn a_file_full_of_faults_is_refused_with_the_first_hundred() {
    let text = fs::read_to_string("tests/malformed/lining/no-unit.toml").unwrap();
    let keys = (0..20_000).map(|number| format!("nonsense-{number} = 1\n")).collect::<Vec<_>>().concat();
    let Err(LiningError::Refused(refusals)) = lining(&text.replace("[place]", &format!("{keys}[place]"))) else {
        panic!("taken as good")
    };
    assert_eq!(refusals.len(), 100);
}

#[test]
fn brackets_without_end_are_refused() {
    for bracket in ["[", "{a=", "[["] {
        let text = format!("format = \"firstheat lining 1\"\nname = {}", bracket.repeat(100_000));
        assert!(matches!(lining(&text), Err(LiningError::NotToml { .. })), "{bracket}");
    }
}

fn shipped() -> Vec<String> {
    ["school-foundry-melter", "box-forge", "kiln-arch", "thin-coat-forge", "cast-barrel-75", "materials"]
        .map(|name| fs::read_to_string(format!("schedules/{name}.toml")).unwrap())
        .to_vec()
}

/// One way of damaging a text.
#[derive(Clone, Debug)]
enum Damage {
    Cut(prop::sample::Index),
    Drop(prop::sample::Index),
    Swap(prop::sample::Index, prop::sample::Index),
    Insert(prop::sample::Index, String),
    Replace(prop::sample::Index, char),
}

fn damage() -> impl Strategy<Value = Damage> {
    let at = any::<prop::sample::Index>;
    prop_oneof![
        at().prop_map(Damage::Cut),
        at().prop_map(Damage::Drop),
        (at(), at()).prop_map(|(a, b)| Damage::Swap(a, b)),
        (at(), "[ -~\\n]{0,12}|\\PC{0,4}|-|e999|nan|inf|0|/0|\"\"").prop_map(|(a, text)| Damage::Insert(a, text)),
        (at(), any::<char>()).prop_map(|(a, letter)| Damage::Replace(a, letter)),
    ]
}

fn damaged(text: &str, damages: &[Damage]) -> String {
    let mut letters: Vec<char> = text.chars().collect();
    for damage in damages {
        if letters.is_empty() {
            break;
        }
        let len = letters.len();
        match damage {
            Damage::Cut(at) => letters.truncate(at.index(len)),
            Damage::Drop(at) => drop(letters.remove(at.index(len))),
            Damage::Swap(a, b) => letters.swap(a.index(len), b.index(len)),
            Damage::Insert(at, text) => {
                let at = at.index(len);
                letters.splice(at..at, text.chars());
            }
            Damage::Replace(at, letter) => letters[at.index(len)] = *letter,
        }
    }
    letters.into_iter().collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_bytes_make_the_parsers_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let text = String::from_utf8_lossy(&bytes);
        prop_assert!(lining(&text).is_err());
        prop_assert!(materials(&text).is_err());
    }

    #[test]
    fn no_damage_makes_the_parsers_panic(
        which in any::<prop::sample::Index>(),
        damages in prop::collection::vec(damage(), 1..6),
    ) {
        let texts = shipped();
        let text = damaged(&texts[which.index(texts.len())], &damages);
        let _ = lining(&text);
        let _ = materials(&text);
    }

    #[test]
    fn a_lining_that_is_taken_has_finite_positive_sizes(
        key in prop::sample::select(vec!["thickness = ", "bore = ", "mix-water = ", "length = ", "temperature = "]),
        number in any::<f64>(),
        unit in prop::sample::select(vec!["mm", "in", "m", "%", "C", "F", "K", ""]),
    ) {
        let text = shipped()[0].clone();
        let at = text.find(key).unwrap() + key.len();
        let end = at + text[at..].find('\n').unwrap();
        let text = format!("{}\"{number} {unit}\"{}", &text[..at], &text[end..]);
        if let Ok(lining) = parse_lining(&text, Materials::built_in()) {
            prop_assert!(lining.water_kg().0.is_finite() && lining.water_kg().0 >= 0.0);
            prop_assert!(lining.dry_mass().0.is_finite() && lining.dry_mass().0 > 0.0);
            prop_assert!(lining.surroundings.temp.kelvin() > 273.15);
        }
    }
}
