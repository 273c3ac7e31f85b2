//! Saturation properties against IAPWS-95 as evaluated by the package CoolProp 8.0.0 (`tests/reference/steam.csv`).

use firstheat::physics::steam::{LiquidDensity, SteamTable};

use crate::build::{ZERO_C, near};

#[test]
fn saturation_properties_agree_with_iapws_95_to_a_thousandth() {
    let table = SteamTable::shared(LiquidDensity::Iapws);
    let rows = include_str!("../reference/steam.csv").lines().skip(1);
    let mut checked = 0;
    for row in rows {
        let numbers: Vec<f64> = row.split(',').map(|cell| cell.parse().unwrap()).collect();
        let [temp_c, pressure_pa, latent_j_kg, _, liquid_kg_m3] = numbers[..] else { panic!("five numbers in {row}") };
        if !(5.0..=340.0).contains(&temp_c) {
            continue;
        }
        let got = table.at(temp_c + ZERO_C);
        near(&format!("pressure at {temp_c}"), got.pressure, pressure_pa, 1e-3 * pressure_pa);
        near(&format!("latent heat at {temp_c}"), got.latent, latent_j_kg, 1e-3 * latent_j_kg);
        near(&format!("liquid density at {temp_c}"), got.liquid, liquid_kg_m3, 1e-3 * liquid_kg_m3);
        checked += 1;
    }
    assert!(checked > 30, "only {checked} rows between 5 and 340 °C");
}
