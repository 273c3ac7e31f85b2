//! Lining and materials files against sheets, tables and unit definitions from outside the project.

#![allow(clippy::unwrap_used)]

use firstheat::lining::material::{Kind, Materials};
use firstheat::lining::text::parse_lining;

#[test]
fn smoke() {
    for name in ["school-foundry-melter", "box-forge", "kiln-arch", "thin-coat-forge", "cast-barrel-75"] {
        let text = std::fs::read_to_string(format!("schedules/{name}.toml")).unwrap();
        match parse_lining(&text, Materials::built_in()) {
            Ok(lining) => println!("{name}: dry {:?} water {:?}", lining.dry_mass(), lining.water_kg()),
            Err(e) => println!("{name}:\n{e}"),
        }
    }
    assert!(Materials::built_in().iter().any(|e| e.material.kind == Kind::Board));
}
