//! What the program is started with.

use crate::describe::Document;
use crate::log::LogForm;
use crate::qr::Qr;
use crate::settings::Given;
use clap::{ArgAction, Parser, Subcommand, value_parser};
use deadship_protocol::DEFAULT_PORT;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;

/// The drill server for ship engine-room teams.
#[derive(Clone, Debug, Parser)]
#[command(name = "deadship-server", version, about)]
pub struct Args {
    /// What was given, so that a file can give the rest. It stands first: it looks before the others take their values.
    #[command(flatten)]
    pub given: Given,

    /// What to do other than to serve.
    #[command(subcommand)]
    pub command: Option<Command>,

    /// File with settings; a flag or a variable wins over it [default: deadship.toml in the data folder].
    #[arg(long, value_name = "FILE", env = "DEADSHIP_CONFIG", global = true)]
    pub config: Option<PathBuf>,

    /// Address and port to listen on. 0.0.0.0:7333 serves a class on the LAN; port 0 takes any that is free.
    #[arg(long, value_name = "ADDR", global = true, env = "DEADSHIP_LISTEN", default_value_t = loopback())]
    pub listen: SocketAddr,

    /// Data folder: every run is kept here [default: the deadship folder among your data files].
    #[arg(long, value_name = "DIR", global = true, env = "DEADSHIP_DATA")]
    pub data: Option<PathBuf>,

    /// Folder with ships, rigs, drills and procedures of your own, beside those that are built in.
    #[arg(long, value_name = "DIR", global = true, env = "DEADSHIP_DRILLS")]
    pub drills: Option<PathBuf>,

    /// How the log on standard error is written.
    #[arg(long, value_enum, value_name = "FORM", global = true, env = "DEADSHIP_LOG", default_value_t)]
    pub log: LogForm,

    /// Speak with encryption. The box makes an authority of its own; its file is what the terminals need.
    #[arg(
        long,
        value_name = "true|false",
        global = true,
        env = "DEADSHIP_TLS",
        num_args = 0..=1,
        require_equals = true,
        default_missing_value = "true",
        default_value = "false",
        hide_possible_values = true,
        action = ArgAction::Set,
        value_parser = value_parser!(bool)
    )]
    pub tls: bool,

    /// Remove runs at each start in which nobody has done anything for so many days [default: keep all].
    #[arg(long, id = "keep-days", value_name = "DAYS", global = true, env = "DEADSHIP_KEEP_DAYS", value_parser = value_parser!(u32).range(1..))]
    pub keep_days: Option<u32>,

    /// Is a team shown the ratings that are given when its run is over? [default: as each drill says].
    #[arg(
        long,
        id = "team-sees-ratings",
        value_name = "true|false",
        global = true,
        env = "DEADSHIP_TEAM_SEES_RATINGS",
        hide_possible_values = true,
        action = ArgAction::Set,
        value_parser = value_parser!(bool)
    )]
    pub team_sees_ratings: Option<bool>,

    /// Make another key for the instructor; the one before is no longer good.
    #[arg(long)]
    pub new_key: bool,

    /// Draw a QR code of the page that says how to join.
    #[arg(long, value_enum, value_name = "WHEN", default_value = "auto")]
    pub qr: Qr,

    /// Show a class with a robot crew, in a data folder of its own that is deleted afterwards.
    #[arg(long)]
    pub demo: bool,

    /// How fast the demonstration goes against the clock.
    #[arg(long, value_name = "N", requires = "demo", default_value_t = crate::demo::SPEED, value_parser = speed)]
    pub speed: f64,
}

/// What to do other than to serve.
#[derive(Clone, Debug, Subcommand)]
pub enum Command {
    /// Print the settings that hold, and where each comes from.
    Config,
    /// Look whether this machine is fit to serve a class, how large a one, and what to do if not.
    Doctor {
        /// As JSON, for programs.
        #[arg(long)]
        json: bool,
    },
    /// Print the description of the interface for programs: REST as OpenAPI, the link as AsyncAPI.
    Describe {
        /// Which.
        document: Document,
    },
    /// What is done with a data folder.
    #[command(flatten)]
    Keep(crate::keeping::Command),
}

fn loopback() -> SocketAddr {
    SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), DEFAULT_PORT)
}

fn speed(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(speed) if (1.0..=1_000.0).contains(&speed) => Ok(speed),
        _ => Err("a number from 1 to 1000".to_owned()),
    }
}

/// The data folder unless another is given: where this system's programs keep what is the user's own.
pub(crate) fn default_data() -> PathBuf {
    let set = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    let base = if cfg!(windows) {
        set("LOCALAPPDATA")
    } else if cfg!(target_os = "macos") {
        set("HOME").map(|home| home.join("Library/Application Support"))
    } else {
        // A relative path there is to be passed over, says the XDG base directory specification.
        let xdg = set("XDG_DATA_HOME").filter(|path| path.is_absolute());
        xdg.or_else(|| set("HOME").map(|home| home.join(".local/share")))
    };
    base.map_or_else(|| PathBuf::from("deadship-data"), |base| base.join("deadship"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_flags_are_read() {
        let args =
            Args::try_parse_from(["deadship-server", "--listen", "127.0.0.1:0", "--demo", "--speed", "60"]);
        let args = args.unwrap();
        assert!(args.demo && !args.new_key);
        assert_eq!((args.listen.port(), args.speed), (0, 60.0));
        assert!(Args::try_parse_from(["deadship-server", "--speed", "60"]).is_err());
        assert!(Args::try_parse_from(["deadship-server", "--demo", "--speed", "0"]).is_err());
        for words in [["backup", "to"], ["restore", "from"], ["verify", "--replay"]] {
            let args = ["deadship-server", words[0], words[1], "--data", "here"];
            let args = Args::try_parse_from(args).unwrap();
            assert!(args.command.is_some() && args.data.is_some_and(|data| data.ends_with("here")));
        }
    }
}
