//! `deadship list` and `deadship faults`.

use crate::cli::{FaultsArgs, ListArgs};
use crate::failure::{Failure, WELL};
use crate::io::{Io, beside};
use crate::library::{Library, Sort};
use deadship_plant::file::read_ship;
use deadship_plant::file::toml_reader::matches;
use deadship_plant::kinds::REGISTRY;
use deadship_plant::unit::{Dimension, format_limit};
use serde_json::json;

/// `deadship list`.
pub(crate) fn list(io: &mut Io, library: &Library, args: &ListArgs) -> Result<u8, Failure> {
    for sort in Sort::ALL {
        let entries: Vec<_> = library.all(sort).collect();
        if entries.is_empty() {
            continue;
        }
        if !args.json {
            io.line(&format!("{}s", sort.word()))?;
        }
        for entry in entries {
            let (title, of) = library.head(entry);
            if args.json {
                let row = json!({
                    "sort": sort.word(),
                    "name": entry.name,
                    "title": title,
                    "of": of,
                    "built_in": entry.built_in,
                    "files": entry.files.iter().map(|file| &file.name).collect::<Vec<_>>(),
                });
                io.line(&row.to_string())?;
                continue;
            }
            let of = match (sort, of) {
                (Sort::Drill, Some(ship)) => format!(" (on {ship})"),
                (Sort::Procedure, Some(drill)) => format!(" (for {drill})"),
                _ => String::new(),
            };
            let origin = if entry.built_in { "" } else { " [data folder]" };
            io.line(&beside(&format!("  {}", entry.name), 36, &format!("{title}{of}{origin}")))?;
        }
    }
    io.flush()?;
    Ok(WELL)
}

/// `deadship faults`.
pub(crate) fn faults(io: &mut Io, library: &Library, args: &FaultsArgs) -> Result<u8, Failure> {
    let (_, files) = library.ship(&args.ship)?;
    let files: Vec<(String, String)> = files.into_iter().map(|file| (file.name, file.text)).collect();
    let spec = read_ship(REGISTRY, &files).map_err(Failure::Files)?;
    let pattern = args.pattern.as_deref().unwrap_or("*");
    let mut any = false;
    for component in &spec.components {
        for fault in component.kind.faults.iter().filter(|fault| fault.applies(&component.params)) {
            let name = format!("{}.{}", component.name, fault.name);
            if matches(pattern, &name) || component.name == pattern {
                any = true;
                let sort = if fault.deceives { "; a sensor: it deceives people and alerts" } else { "" };
                let usual = format_limit(fault.usual, Dimension::Ratio);
                io.line(&format!("{name}  (usually {usual}{sort}): {}", fault.doc))?;
            }
        }
    }
    io.flush()?;
    if !any && args.pattern.is_some() {
        let components = spec.components.iter();
        let known: Vec<String> = components
            .flat_map(|c| {
                let real = c.kind.faults.iter().filter(|fault| fault.applies(&c.params));
                real.map(|fault| format!("{}.{}", c.name, fault.name))
            })
            .collect();
        return Err(Failure::unknown("fault", pattern, known.iter().map(String::as_str)));
    }
    Ok(WELL)
}
