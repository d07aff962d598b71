//! The server as a whole: start, serve, stop.

use crate::house::{HOUSE_STREAM, House, HouseError, HouseRecord};
use crate::metrics::{self, Metrics};
use crate::privacy::{self, Expired};
use crate::rooms::{CameBack, Rooms, lost};
use crate::secret::{self, Hashed, NoRandomness, tidy};
use crate::tls::{self, Authority, TlsError};
use crate::watched_store::WatchedStore;
use crate::{link, page, rest};
use actix_tls::accept::rustls_0_23::TlsStream;
use actix_web::rt::net::TcpStream;
use actix_web::{App, HttpServer, web};
use deadship_protocol::{PATH, RunState};
use deadship_run::library::Library;
use deadship_store::{OpenReport, Opened, Options, StoreError};
use rustls::ServerConfig;
use std::io;
use std::net::{SocketAddr, TcpListener};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

/// Threads that serve sockets. Runs have their own.
const SOCKET_THREADS: usize = 2;

/// Links at a time.
const MOST_LINKS: usize = 4_000;

/// How long links may take to say goodbye, s.
const GOODBYE_S: u64 = 3;

/// What a server is started with.
#[derive(Clone, Debug)]
pub struct Config {
    /// Address to listen on; port 0: any that is free.
    pub listen: SocketAddr,
    /// Data folder.
    pub data: PathBuf,
    /// Ships, drills and procedures.
    pub library: Library,
    /// Make another key for instructors; the one before is no longer good.
    pub new_key: bool,
    /// Speak with encryption, by the box's own authority.
    pub tls: bool,
    /// Remove runs, before serving, in which nobody has done anything for so many days; `None`: keep all.
    pub keep_days: Option<u32>,
    /// Is a team shown ratings that are given when its run is over? `None`: as each drill says.
    pub team_sees_ratings: Option<bool>,
}

/// Why a server does not start. Each says what to do.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StartError {
    /// The data folder.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The server's own records.
    #[error(transparent)]
    House(#[from] HouseError),
    /// The server's own records are shorter than they were.
    #[error("the server's own records (key, join codes, seats) are not whole: {what}")]
    HouseLost {
        /// What is lost, and what to do.
        what: String,
    },
    /// The system gave no randomness.
    #[error(transparent)]
    Randomness(#[from] NoRandomness),
    /// Encryption.
    #[error(transparent)]
    Tls(#[from] TlsError),
    /// The port is taken.
    #[error("{listen} is in use by another program; stop that one, or choose another port: --listen {}:{}", listen.ip(), listen.port().wrapping_add(1))]
    PortTaken {
        /// The address.
        listen: SocketAddr,
    },
    /// The address cannot be listened on.
    #[error("{listen} cannot be listened on: {what}; choose an address of this machine with --listen")]
    Listen {
        /// The address.
        listen: SocketAddr,
        /// What the system said.
        what: String,
    },
}

/// A server that serves.
pub struct Server {
    pub(crate) rooms: Arc<Rooms>,
    address: SocketAddr,
    key: Option<String>,
    first_start: bool,
    report: OpenReport,
    expired: Option<Expired>,
    came_back: CameBack,
    authority: Option<Authority>,
    http: actix_web::dev::ServerHandle,
    serving: tokio::task::JoinHandle<io::Result<()>>,
}

/// Starts a server, on a tokio runtime of several threads. Returns when it serves.
///
/// # Errors
/// What is in the way.
pub async fn start(config: Config) -> Result<Server, StartError> {
    // The port first: who starts a server twice shall not wait for logs to be read.
    let listener = listen(config.listen)?;
    let address = listener.local_addr().map_err(|error| listen_error(config.listen, &error))?;
    let (data, keep_days) = (config.data.clone(), config.keep_days);
    let opened = tokio::task::spawn_blocking(move || {
        let expired = keep_days.map(|days| privacy::at_start(&data, days)).transpose()?.flatten();
        deadship_store::open(&data, &Options::default()).map(|opened| (opened, expired))
    });
    let (Opened { store, checkpoints, report }, expired) =
        opened.await.unwrap_or_else(|error| Err(StoreError::Poisoned { reason: error.to_string() }))?;
    let metrics = Metrics::default();
    let (store, trouble) = WatchedStore::over(Arc::new(store), metrics.clone());
    if let Some(rescued) = report.rescued.iter().find(|rescued| rescued.stream == HOUSE_STREAM) {
        return Err(StartError::HouseLost { what: lost(rescued) });
    }
    let tls = if config.tls { Some(tls::prepare(&config.data, address)?) } else { None };
    let (authority, tls) = tls.unzip();
    let house = House::open(Arc::clone(&store))?;
    let first_start = house.memory().key.is_none();
    let key = if first_start || config.new_key { Some(make_key(&house)?) } else { None };
    let rooms = Rooms::new(house, (store, trouble), Arc::from(checkpoints), config.library);
    let rooms = Arc::new(rooms.counted_by(metrics).showing_ratings(config.team_sees_ratings));
    rooms.keep_board();
    rooms.keep_recovering();
    let came_back = rooms.bring_back(&report.rescued).await;
    // Drills that cannot be read are said on the log now, not when the class waits for them.
    let reading = Arc::clone(&rooms);
    tokio::task::spawn_blocking(move || reading.drills().len());
    let (http, serving) =
        serve(listener, tls, &rooms).map_err(|error| listen_error(config.listen, &error))?;
    Ok(Server { rooms, address, key, first_start, report, expired, came_back, authority, http, serving })
}

fn listen(listen: SocketAddr) -> Result<TcpListener, StartError> {
    let listener = TcpListener::bind(listen).map_err(|error| listen_error(listen, &error))?;
    listener.set_nonblocking(true).map_err(|error| listen_error(listen, &error))?;
    Ok(listener)
}

fn listen_error(listen: SocketAddr, error: &io::Error) -> StartError {
    match error.kind() {
        io::ErrorKind::AddrInUse => StartError::PortTaken { listen },
        _ => StartError::Listen { listen, what: error.to_string() },
    }
}

fn make_key(house: &House) -> Result<String, StartError> {
    let key = secret::key()?;
    let hash = Hashed::of(&tidy(&key));
    house.remember(HouseRecord::KeyMade { hash })?;
    Ok(key)
}

type Serving = (actix_web::dev::ServerHandle, tokio::task::JoinHandle<io::Result<()>>);

fn serve(listener: TcpListener, tls: Option<ServerConfig>, rooms: &Arc<Rooms>) -> io::Result<Serving> {
    let data = web::Data::new(Arc::clone(rooms));
    let server = HttpServer::new(move || {
        App::new()
            .app_data(data.clone())
            .app_data(web::PathConfig::default().error_handler(rest::bad_path))
            .app_data(web::QueryConfig::default().error_handler(rest::bad_query))
            .app_data(web::JsonConfig::default().limit(rest::LONGEST_BODY).error_handler(rest::bad_body))
            .route("/", web::get().to(page::page))
            .route("/healthz", web::get().to(rest::health))
            .route("/metrics", web::get().to(metrics::page))
            .route(PATH, web::get().to(link::endpoint))
            .service(web::scope("/api").configure(rest::routes))
            .default_service(web::route().to(rest::not_found))
    })
    .workers(SOCKET_THREADS)
    // The limit is for each thread: twice as many would not leave files for the archive under the usual 1024.
    .max_connections(MOST_LINKS / SOCKET_THREADS)
    .client_request_timeout(Duration::from_secs(10))
    .shutdown_timeout(GOODBYE_S)
    .disable_signals()
    // Orders are short: they shall not wait for more to be sent along.
    .on_connect(|connection, _| {
        let plain = connection.downcast_ref::<TcpStream>();
        let stream = plain.or_else(|| Some(connection.downcast_ref::<TlsStream<TcpStream>>()?.get_ref().0));
        if let Some(stream) = stream {
            let _ = stream.set_nodelay(true);
        }
    });
    let server = match tls {
        Some(config) => server.listen_rustls_0_23(listener, config)?,
        None => server.listen(listener)?,
    }
    .run();
    let handle = server.handle();
    Ok((handle, tokio::spawn(server)))
}

impl Server {
    /// The address that it listens on, with the port that was chosen.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// The instructor's key, if it was made by this start. It is not kept anywhere.
    pub fn instructor_key(&self) -> Option<&str> {
        self.key.as_deref()
    }

    /// Was the data folder new?
    pub fn first_start(&self) -> bool {
        self.first_start
    }

    /// What became of runs that were kept for long enough.
    pub(crate) fn expired(&self) -> Option<&Expired> {
        self.expired.as_ref()
    }

    /// What opening the store found and did.
    pub fn report(&self) -> &OpenReport {
        &self.report
    }

    /// The box's own authority, when it speaks with encryption.
    pub fn authority(&self) -> Option<&Authority> {
        self.authority.as_ref()
    }

    /// What came back after this start.
    pub fn came_back(&self) -> &CameBack {
        &self.came_back
    }

    /// Names of the drills that can be opened.
    pub fn drills(&self) -> Vec<&str> {
        self.rooms.library.drills()
    }

    /// How the runs are.
    pub fn runs(&self) -> Vec<RunState> {
        self.rooms.list(false).into_iter().map(|info| info.state).collect()
    }

    /// Puts every run on hold, keeps it, says goodbye to everyone and frees the data folder. Gives what was kept.
    pub async fn stop(self) -> Vec<RunState> {
        let kept = self.rooms.stop().await;
        self.http.stop(true).await;
        let _ = self.serving.await;
        // The folder's lock goes with the last task that reads from the store.
        let store = Arc::downgrade(&self.rooms.store);
        drop(self.rooms);
        for _ in 0..200 {
            if store.strong_count() == 0 {
                break;
            }
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
        kept
    }
}
