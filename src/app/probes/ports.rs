//! `probes ports`: which serial ports there are, by the name that stays theirs.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::app::{AppError, Outcome, print};
use crate::cli::PortsArgs;
use crate::probe::feed::Lost;
use crate::probe::port::Tryout;
use crate::probe::set::Parity;

/// Directories of names that stay with a board or a socket (udev), the better first.
const SHELVES: [&str; 2] = ["/dev/serial/by-id", "/dev/serial/by-path"];

/// How long each port is listened to.
const LISTEN: Duration = Duration::from_millis(1500);

/// Runs the command; answers no when there is no port.
pub(super) fn run(args: &PortsArgs) -> Result<Outcome, AppError> {
    let names = if args.ports.is_empty() { found()? } else { args.ports.iter().map(PathBuf::from).collect() };
    if names.is_empty() {
        print("no serial port found; plug the board in, and look whether its driver is there (`dmesg` tells)\n")?;
        return Ok(Outcome::AnswerIsNo);
    }
    for name in names {
        let path = name.display().to_string();
        let heard = match overheard(&path, args.speed) {
            Ok(bytes) if bytes.is_empty() => {
                format!("says nothing by itself at {} baud; it may have to be asked (scpi, modbus-rtu)", args.speed)
            }
            Ok(bytes) => format!("says \"{}\" at {} baud", shown(&bytes), args.speed),
            Err(why) => why.to_string(),
        };
        print(&format!("{path}\n  {heard}\n"))?;
    }
    Ok(Outcome::Done)
}

fn overheard(path: &str, speed: u32) -> Result<Vec<u8>, Lost> {
    let mut port = Tryout::open(path)?;
    port.set_line(speed, Parity::None)?;
    port.exchange(b"", LISTEN)
}

/// The end of what was heard, printable.
fn shown(bytes: &[u8]) -> String {
    const SHOWN: usize = 100;
    bytes[bytes.len().saturating_sub(SHOWN)..].escape_ascii().to_string()
}

/// Every port once, by its most lasting name.
fn found() -> Result<Vec<PathBuf>, AppError> {
    let refused = |wrong: serialport::Error| AppError::System { doing: "a list of its ports", source: wrong.into() };
    let mut names: BTreeMap<PathBuf, PathBuf> = BTreeMap::new();
    for port in serialport::available_ports().map_err(refused)? {
        let path = PathBuf::from(port.port_name);
        names.insert(path.clone(), path);
    }
    for shelf in SHELVES.iter().rev() {
        let Ok(links) = std::fs::read_dir(Path::new(shelf)) else { continue };
        for link in links.flatten().map(|entry| entry.path()) {
            if let Ok(node) = link.canonicalize() {
                names.insert(node, link);
            }
        }
    }
    Ok(names.into_values().collect())
}
