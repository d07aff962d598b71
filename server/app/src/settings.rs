//! Where the server's settings come from: flags win over the environment, the environment over the file, and the file
//! over what is built in.

use crate::args::{Args, default_data};
use clap::parser::ValueSource;
use clap::{ArgMatches, Command, FromArgMatches, Parser as _};
use deadship_plant::file::toml_reader::{At, Parsed, Problems};
use std::collections::BTreeMap;
use std::fmt;
use std::path::{Path, PathBuf};

/// The file's name in the data folder.
const FILE: &str = "deadship.toml";

/// A setting that a file can hold: its name as flag and key, how it goes from one set of arguments to another, how it
/// is shown.
struct Setting {
    name: &'static str,
    form: Form,
    take: fn(&mut Args, Args),
    show: fn(&Args) -> String,
}

/// What a value is in the file.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Form {
    Text,
    /// Text, meant from where it is written.
    Path,
    /// `true` or `false`.
    Truth,
    /// A whole number from 1.
    Number,
}

const SETTINGS: [Setting; 7] = [
    Setting {
        name: "listen",
        form: Form::Text,
        take: |args, from| args.listen = from.listen,
        show: |args| args.listen.to_string(),
    },
    Setting {
        name: "data",
        form: Form::Path,
        take: |args, from| args.data = from.data,
        show: |args| args.data.clone().unwrap_or_else(default_data).display().to_string(),
    },
    Setting {
        name: "drills",
        form: Form::Path,
        take: |args, from| args.drills = from.drills,
        show: |args| {
            args.drills.as_ref().map_or_else(|| "(built in only)".to_owned(), |d| d.display().to_string())
        },
    },
    Setting {
        name: "log",
        form: Form::Text,
        take: |args, from| args.log = from.log,
        show: |args| format!("{:?}", args.log).to_lowercase(),
    },
    Setting {
        name: "tls",
        form: Form::Truth,
        take: |args, from| args.tls = from.tls,
        show: |args| args.tls.to_string(),
    },
    Setting {
        name: "keep-days",
        form: Form::Number,
        take: |args, from| args.keep_days = from.keep_days,
        show: |args| args.keep_days.map_or_else(|| "(all are kept)".to_owned(), |days| days.to_string()),
    },
    Setting {
        name: "team-sees-ratings",
        form: Form::Truth,
        take: |args, from| args.team_sees_ratings = from.team_sees_ratings,
        show: |args| {
            args.team_sees_ratings.map_or_else(|| "(as each drill says)".to_owned(), |seen| seen.to_string())
        },
    },
];

/// Longest that runs can be kept other than for ever: a hundred years.
const MOST_KEEP_DAYS: i64 = 36_500;

/// What was given by flag or environment; the rest is for the file.
#[derive(Clone, Debug, Default)]
pub struct Given(BTreeMap<&'static str, Source>);

/// Where a value comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Source {
    Flag,
    Environment,
    File(String),
    BuiltIn,
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Source::Flag => write!(f, "flag"),
            Source::Environment => write!(f, "environment"),
            Source::File(place) => write!(f, "{place}"),
            Source::BuiltIn => write!(f, "built in"),
        }
    }
}

impl FromArgMatches for Given {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Given, clap::Error> {
        let source = |name: &str| match matches.value_source(name) {
            Some(ValueSource::CommandLine) => Some(Source::Flag),
            Some(ValueSource::EnvVariable) => Some(Source::Environment),
            _ => None,
        };
        Ok(Given(SETTINGS.iter().filter_map(|s| Some((s.name, source(s.name)?))).collect()))
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), clap::Error> {
        *self = Given::from_arg_matches(matches)?;
        Ok(())
    }
}

impl clap::Args for Given {
    fn augment_args(command: Command) -> Command {
        command
    }

    fn augment_args_for_update(command: Command) -> Command {
        command
    }
}

/// All settings, with their sources.
#[derive(Clone, Debug)]
pub(crate) struct Settings {
    /// As if all had been given by flag.
    pub(crate) args: Args,
    sources: BTreeMap<&'static str, Source>,
    file: Option<PathBuf>,
}

impl Settings {
    /// Lays the file beneath what was given.
    ///
    /// # Errors
    /// Everything that is wrong with the file, a line each.
    pub(crate) fn gather(args: Args) -> Result<Settings, String> {
        let sources = args.given.0.clone();
        let mut settings = Settings { args, sources, file: None };
        let named = settings.args.config.clone();
        let file = match &named {
            Some(file) => file.clone(),
            // A demonstration has a folder of its own.
            None if settings.args.demo && settings.args.data.is_none() => return Ok(settings),
            None => settings.args.data.clone().unwrap_or_else(default_data).join(FILE),
        };
        let text = match std::fs::read_to_string(&file) {
            Ok(text) => text,
            Err(error) if named.is_none() && error.kind() == std::io::ErrorKind::NotFound => {
                return Ok(settings);
            }
            Err(error) => {
                return Err(format!("{} cannot be read: {error}; see to --config", file.display()));
            }
        };
        settings.read(&file, text, named.is_none())?;
        settings.file = Some(file);
        Ok(settings)
    }

    fn read(&mut self, file: &Path, text: String, in_data: bool) -> Result<(), String> {
        let problems = Problems::new(&[(file.display().to_string(), text)]);
        let parsed = problems.parse();
        for document in parsed.iter().flatten() {
            self.take(document, &problems, file, in_data);
        }
        if !problems.any() {
            return Ok(());
        }
        let lines: Vec<String> = problems.sorted().iter().map(ToString::to_string).collect();
        Err(lines.join("\n"))
    }

    fn take(&mut self, document: &Parsed<'_>, problems: &Problems, file: &Path, in_data: bool) {
        let root = document.root(problems);
        for setting in &SETTINGS {
            let Some(field) = root.get(setting.name) else { continue };
            if in_data && setting.name == "data" {
                problems.report_with_help(
                    field.key_spot(),
                    "the file in the data folder cannot name another data folder",
                    "name it with --data, or in a file given with --config",
                );
                continue;
            }
            let written = match setting.form {
                Form::Text | Form::Path => field.text(),
                Form::Number => field
                    .whole(1, MOST_KEEP_DAYS)
                    .map(|At { value, spot }| At { value: value.to_string(), spot }),
                Form::Truth => field.flag().map(|At { value, spot }| At { value: value.to_string(), spot }),
            };
            let Some(At { value, spot }) = written else { continue };
            let value = match file.parent() {
                Some(folder) if setting.form == Form::Path => folder.join(value).display().to_string(),
                _ => value,
            };
            let flag = format!("--{}={value}", setting.name);
            match Args::try_parse_from(["deadship-server", &flag]) {
                Ok(_) if self.sources.contains_key(setting.name) => {}
                Ok(from) => {
                    (setting.take)(&mut self.args, from);
                    self.sources.insert(setting.name, Source::File(problems.describe(spot)));
                }
                Err(error) => field.report(&first_line(&error)),
            }
        }
        root.finish();
    }

    /// What holds, and where each value comes from.
    pub(crate) fn table(&self) -> String {
        let mut table = match &self.file {
            Some(file) => format!("The file is {}.\n", file.display()),
            None => "There is no file.\n".to_owned(),
        };
        for setting in &SETTINGS {
            let source = self.sources.get(setting.name).unwrap_or(&Source::BuiltIn);
            let value = (setting.show)(&self.args);
            table.push_str(&format!("{:<18}{value:<40}  {source}\n", setting.name));
        }
        table
    }
}

/// What is wrong, without the help for a command line.
fn first_line(error: &clap::Error) -> String {
    let text = error.to_string();
    let line = text.lines().next().unwrap_or_default().trim_start_matches("error: ");
    // "invalid value 'x' for '--listen <ADDR>': why": the key is said already.
    line.split_once("': ").map_or(line, |(_, why)| why).to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gather(words: &[&str]) -> Result<Settings, String> {
        let words = ["deadship-server"].iter().chain(words);
        Settings::gather(Args::try_parse_from(words).unwrap())
    }

    fn written(text: &str) -> (tempfile::TempDir, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("deadship.toml");
        std::fs::write(&file, text).unwrap();
        (folder, file)
    }

    #[test]
    fn flags_win_over_the_file_and_paths_are_meant_from_it() {
        let (folder, file) = written("listen = \"0.0.0.0:7000\"\nlog = \"json\"\ndata = \"runs\"\n");
        let file = file.display().to_string();
        let settings = gather(&["--config", &file, "--log", "text"]).unwrap();
        assert_eq!(settings.args.listen.port(), 7000);
        assert_eq!(settings.args.log, crate::LogForm::Text);
        assert_eq!(settings.args.data, Some(folder.path().join("runs")));
        assert_eq!(settings.sources["log"], Source::Flag);
        assert_eq!(settings.sources["listen"], Source::File(format!("{file}:1:10")));
        assert!(!settings.sources.contains_key("drills"));
        let table = settings.table();
        assert!(
            table.contains("0.0.0.0:7000") && table.contains("built in") && table.contains(":1:10"),
            "{table}"
        );
    }

    #[test]
    fn the_file_in_the_data_folder_is_found() {
        let (folder, _file) = written("listen = \"127.0.0.1:7001\"\n");
        let data = folder.path().display().to_string();
        assert_eq!(gather(&["--data", &data]).unwrap().args.listen.port(), 7001);
        let settings = gather(&["config", "--data", &data, "--listen", "127.0.0.1:7002"]).unwrap();
        assert_eq!(settings.args.listen.port(), 7002);
        assert_eq!(settings.sources["listen"], Source::Flag);
        assert!(gather(&["--data", "/no/such/folder"]).unwrap().file.is_none());
        assert!(gather(&["--config", "/no/such/file"]).unwrap_err().contains("/no/such/file cannot be read"));
    }

    #[test]
    fn encryption_is_a_setting_like_the_others() {
        let (_folder, file) = written("tls = true\n");
        let file = file.display().to_string();
        let settings = gather(&["--config", &file]).unwrap();
        assert!(settings.args.tls && settings.sources["tls"] == Source::File(format!("{file}:1:7")));
        assert!(settings.table().contains("tls               true"), "{}", settings.table());
        // A flag turns it off for once as well.
        let settings = gather(&["--config", &file, "--tls=false"]).unwrap();
        assert!(!settings.args.tls && settings.sources["tls"] == Source::Flag);
        assert!(gather(&["config", "--tls"]).unwrap().args.tls);
        let (_folder, file) = written("tls = \"yes\"\n");
        let file = file.display().to_string();
        let said = gather(&["--config", &file]).unwrap_err();
        assert!(said.starts_with(&format!("{file}:1:7: ")) && said.contains("true or false"), "{said}");
    }

    #[test]
    fn how_long_runs_are_kept_is_a_number_of_days() {
        let (_folder, file) = written("keep-days = 180\n");
        let file = file.display().to_string();
        let settings = gather(&["--config", &file]).unwrap();
        assert_eq!(settings.args.keep_days, Some(180));
        assert_eq!(gather(&["--config", &file, "--keep-days", "7"]).unwrap().args.keep_days, Some(7));
        for wrong in ["keep-days = 0\n", "keep-days = \"180\"\n", "keep-days = 1.5\n"] {
            let (_folder, file) = written(wrong);
            let file = file.display().to_string();
            let said = gather(&["--config", &file]).unwrap_err();
            assert!(said.starts_with(&format!("{file}:1:13: ")), "{said}");
        }
        assert!(Args::try_parse_from(["deadship-server", "--keep-days", "0"]).is_err());
    }

    #[test]
    fn every_mistake_is_said_with_its_place() {
        let (_folder, file) = written("lisen = \"127.0.0.1:7001\"\nlog = \"xml\"\nlisten = 7001\n");
        let file = file.display().to_string();
        let said = gather(&["--config", &file]).unwrap_err();
        let lines: Vec<&str> = said.lines().collect();
        assert!(lines[0].starts_with(&format!("{file}:1:1: ")) && lines[0].contains("`listen`"), "{said}");
        assert!(lines[1].starts_with(&format!("{file}:2:7: ")), "{said}");
        assert!(lines[2].starts_with(&format!("{file}:3:10: ")), "{said}");
        assert_eq!(lines.len(), 3, "{said}");
        let (folder, _file) = written("data = \"elsewhere\"\n");
        let said = gather(&["--data", &folder.path().display().to_string()]).unwrap_err();
        assert!(said.contains(":1:1: "), "{said}");
        let (_folder, file) = written("listen = \"127.0.0.1\n");
        let said = gather(&["--config", &file.display().to_string()]).unwrap_err();
        assert!(said.contains("not well formed"), "{said}");
    }
}
