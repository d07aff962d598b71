//! How much a box carries: many teams of people at their links, a real server process, real sockets on loopback.
//!
//! Each client joins, watches readings, and says something now and then with a number in it. From the numbers come, for
//! each command, the time to its acknowledgement (it is on disk then) and the time until the last of its team has seen
//! it. Beside it, with the same clients at the same rates: a server that does nothing but pass frames on, and a database
//! that does nothing but commit. Client and server share the machine, so figures are on the careful side.
//!
//! `cargo run --release -p deadship-tests --bin deadship-load -- --runs 100 --clients 1000`
#![allow(clippy::disallowed_types, clippy::disallowed_methods, reason = "it measures time")]

mod bare;
mod client;
mod commits;
mod figures;
mod school;

use clap::Parser;
use client::{Plan, Tally};
use figures::{Machine, Quantiles};
use std::process::ExitCode;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// What is measured.
#[derive(Clone, Debug, Parser)]
struct Args {
    /// Live runs, in real time.
    #[arg(long, default_value_t = 100)]
    runs: usize,
    /// Clients, spread over the runs.
    #[arg(long, default_value_t = 1_000)]
    clients: usize,
    /// Time that is measured, s.
    #[arg(long, default_value_t = 30)]
    seconds: u64,
    /// Commands in a second, of all clients together.
    #[arg(long, default_value_t = 200.0)]
    rate: f64,
    /// Of the clients, how many take nothing from their sockets.
    #[arg(long, default_value_t = 0)]
    stalled: usize,
    /// Drill that is opened.
    #[arg(long, default_value = "first-light")]
    drill: String,
    /// Readings that each client watches, as a pattern.
    #[arg(long, default_value = "*.pressure")]
    watch: String,
    /// Also measure the bare server and the bare commits.
    #[arg(long)]
    bare: bool,
    /// Be the server, in a process of its own. For this program itself.
    #[arg(long, hide = true)]
    be: Option<String>,
    /// From one frame of readings to the next of the bare server, ms.
    #[arg(long, hide = true, default_value_t = 100)]
    readings_ms: u64,
    /// Data folder of that server.
    #[arg(long, hide = true)]
    data: Option<String>,
    /// Address of that server.
    #[arg(long, hide = true, default_value = "127.0.0.1:0")]
    listen: String,
}

fn main() -> ExitCode {
    let args = Args::parse();
    match args.be.as_deref() {
        Some("deadship") => {
            let data = args.data.clone().unwrap_or_default();
            let words = ["deadship-server", "--listen", &args.listen, "--data", &data];
            deadship_server::run(deadship_server::Args::parse_from(words))
        }
        Some(_) => bare::serve(args.readings_ms),
        None => measure(&args),
    }
}

fn measure(args: &Args) -> ExitCode {
    let runtime = match tokio::runtime::Builder::new_multi_thread().enable_all().build() {
        Ok(runtime) => runtime,
        Err(error) => {
            eprintln!("the system gives no threads: {error}");
            return ExitCode::from(2);
        }
    };
    println!(
        "{} runs, {} clients ({} stalled), {} commands/s, {} s",
        args.runs, args.clients, args.stalled, args.rate, args.seconds
    );
    println!();
    println!(
        "| server | commands | acknowledged p50 / p99 / max | seen by the whole team p50 / p99 / max | frames/s | server CPU | clients' CPU | memory | tick lag |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    let school = school::School::open(args);
    let ours =
        runtime.block_on(load(args, "deadship", school.plan(args), || school.ticks(), school.machine()));
    drop(school);
    if args.bare {
        let server = bare::Process::start(readings_ms(args, ours));
        let bare =
            runtime.block_on(load(args, "bare broadcast", server.plan(args), Vec::new, server.machine()));
        drop(server);
        println!("\nFrames to clients, of the bare server's: {:.2}", ours / bare.max(1e-9));
        commits::compare(args.runs, args.rate);
    }
    ExitCode::SUCCESS
}

/// How often each client of ours got a frame that nobody's command brought: the bare server shall send as many.
fn readings_ms(args: &Args, frames_s: f64) -> u64 {
    let readers = args.clients - args.stalled;
    // Each command is acknowledged to one and shown to all of its team.
    let of_commands_s = args.rate * (1.0 + readers as f64 / args.runs as f64);
    let each_s = (frames_s - of_commands_s) / readers as f64;
    (1000.0 / each_s.max(0.1)) as u64
}

/// Loads one server and prints its line. Gives frames a second.
async fn load(args: &Args, name: &str, plan: Plan, ticks: impl Fn() -> Vec<u64>, machine: Machine) -> f64 {
    let tally = Arc::new(Tally::new(&plan, args));
    let clients = client::start_all(&plan, args, &tally).await;
    // Everybody is in; the rush of joining shall be over before it counts.
    tokio::time::sleep(Duration::from_secs(5)).await;
    let (before, ticks_before) = (machine.look(), ticks());
    let began = Instant::now();
    tally.begin();
    tokio::time::sleep(Duration::from_secs(args.seconds)).await;
    tally.end();
    let elapsed = began.elapsed();
    let (after, ticks_after) = (machine.look(), ticks());
    // What is on its way may still arrive.
    tokio::time::sleep(Duration::from_secs(2)).await;
    let frames = tally.frames() as f64 / elapsed.as_secs_f64();
    let (acknowledged, seen) = (Quantiles::of(tally.acknowledged()), Quantiles::of(tally.seen()));
    let lag = figures::lag(&ticks_before, &ticks_after, elapsed);
    println!(
        "| {name} | {} of {} | {acknowledged} | {seen} | {frames:.0} | {:.0} % | {:.0} % | {:.0} MiB | {lag} |",
        acknowledged.count,
        tally.sent(),
        100.0 * (after.server_s - before.server_s) / elapsed.as_secs_f64(),
        100.0 * (after.own_s - before.own_s) / elapsed.as_secs_f64(),
        after.server_mib,
    );
    for client in clients {
        client.abort();
    }
    frames
}
