//! The kernel: a session behind the five sockets of the notebooks' message protocol (5.4).
//!
//! One thread answers the shell's requests in their order and runs cells; one hears control, so that an interrupt or a
//! shutdown never waits for a cell. Whatever is published goes through one socket in the order in which it arose, each
//! message with the request that it belongs to as its parent.

mod front;
mod lines;
mod shell;
mod wire;
mod zmtp;

use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, OnceLock};
use std::time::Duration;

use serde::Deserialize;
use serde_json::json;

pub use wire::unique;

use super::session::{Interrupter, Options, Session};
use lines::{Lines, Way};
use shell::Shell;
use wire::Message;
use zmtp::{Event, Kind, Socket, named};

/// Why a kernel could not start.
#[derive(Debug, thiserror::Error)]
pub enum KernelError {
    /// The connection file cannot be read.
    #[error("the connection file {} cannot be used: {reason}", path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// Why.
        reason: String,
    },
    /// A socket cannot be had.
    #[error("the kernel could not listen on {ip}, port {port} ({role}): {reason}")]
    Socket {
        /// Address.
        ip: String,
        /// Port.
        port: u16,
        /// What for.
        role: &'static str,
        /// Why.
        reason: String,
    },
}

/// The file that a notebook program writes for its kernel.
#[derive(Debug, Deserialize)]
struct Connection {
    #[serde(default = "tcp")]
    transport: String,
    ip: String,
    shell_port: u16,
    iopub_port: u16,
    stdin_port: u16,
    control_port: u16,
    hb_port: u16,
    #[serde(default)]
    key: String,
    #[serde(default = "scheme")]
    signature_scheme: String,
}

fn tcp() -> String {
    "tcp".to_string()
}

fn scheme() -> String {
    "hmac-sha256".to_string()
}

impl Connection {
    fn read(path: &Path) -> Result<Connection, KernelError> {
        let fail = |reason: String| KernelError::File {
            path: path.to_path_buf(),
            reason,
        };
        let text = std::fs::read_to_string(path).map_err(|e| fail(e.to_string()))?;
        let connection: Connection =
            serde_json::from_str(&text).map_err(|e| fail(e.to_string()))?;
        if connection.transport != "tcp" {
            let other = &connection.transport;
            return Err(fail(format!(
                "its transport is {other}; this kernel speaks tcp alone"
            )));
        }
        if !connection.key.is_empty() && connection.signature_scheme != "hmac-sha256" {
            let other = &connection.signature_scheme;
            return Err(fail(format!(
                "it signs by {other}; this kernel signs by hmac-sha256"
            )));
        }
        Ok(connection)
    }
}

/// How long what was sent last may take to leave.
const PARTING: Duration = Duration::from_millis(500);

/// Runs a kernel until it is told to end.
///
/// # Errors
/// The connection file cannot be used, or its ports cannot be had.
pub fn run(connection: &Path, options: Options) -> Result<(), KernelError> {
    let file = Connection::read(connection)?;
    let (asks, shell) = channel();
    let (orders, control) = channel();
    let (answers, stdin) = channel();
    let lines = Arc::new(bind(&file, [asks, orders, answers])?);
    let session = Session::new(options);
    let interrupter = session.interrupter();
    let (end, ended) = channel();
    on_signals(&interrupter, &end);
    with_parent(&end);
    let started = |r: std::io::Result<_>| {
        r.map_err(|e| KernelError::File {
            path: connection.to_path_buf(),
            reason: format!("no thread could be started: {e}"),
        })
    };
    let (hearing, stops, ends) = (Arc::clone(&lines), interrupter.clone(), end.clone());
    started(named("control", move || {
        hear_control(&hearing, &control, &stops, &ends)
    }))?;
    let answering = Arc::clone(&lines);
    started(named("shell", move || {
        Shell::new(session, answering, stdin, end).answer(&shell);
    }))?;
    // Nobody can end it any more where all who could are gone: that is an end, too.
    let _ = ended.recv();
    interrupter.interrupt();
    lines.close(PARTING);
    Ok(())
}

/// Binds the five sockets. What comes in is proven here and handed on.
fn bind(file: &Connection, to: [Sender<Message>; 3]) -> Result<Lines, KernelError> {
    let signing = Arc::new(lines::Signing::new(&file.key));
    let socket = |kind, port, role, handler: Box<dyn Fn(Event) + Send + Sync>| {
        Socket::bind(kind, &file.ip, port, handler).map_err(|e| KernelError::Socket {
            ip: file.ip.clone(),
            port,
            role,
            reason: e.to_string(),
        })
    };
    let hands_on = |to: Sender<Message>| -> Box<dyn Fn(Event) + Send + Sync> {
        let signing = Arc::clone(&signing);
        let to = std::sync::Mutex::new(to);
        Box::new(move |event| {
            let Event::Message(from, mut frames) = event else {
                return;
            };
            frames.insert(0, from);
            if let (Some(message), Ok(to)) = (signing.read(frames), to.lock()) {
                let _ = to.send(message);
            }
        })
    };
    let [asks, orders, answers] = to;
    let welcoming: Arc<OnceLock<Socket>> = Arc::default();
    let (welcomes, signs) = (Arc::clone(&welcoming), Arc::clone(&signing));
    let welcome = move |event| {
        if let Event::Subscribed(peer, topic) = event {
            let content = json!({ "subscription": String::from_utf8_lossy(&topic) });
            let frames = signs.write(&[topic], &json!({}), "iopub_welcome", &content);
            welcomes.wait().tell(peer, &frames);
        }
    };
    let iopub = socket(Kind::Xpub, file.iopub_port, "iopub", Box::new(welcome))?;
    let _ = welcoming.set(iopub.clone());
    Ok(Lines {
        heartbeat: socket(Kind::Rep, file.hb_port, "heartbeat", Box::new(|_| {}))?,
        control: socket(Kind::Router, file.control_port, "control", hands_on(orders))?,
        stdin: socket(Kind::Router, file.stdin_port, "stdin", hands_on(answers))?,
        shell: socket(Kind::Router, file.shell_port, "shell", hands_on(asks))?,
        iopub,
        signing,
    })
}

/// What must not wait for a cell.
fn hear_control(
    lines: &Lines,
    control: &Receiver<Message>,
    interrupter: &Interrupter,
    end: &Sender<()>,
) {
    while let Ok(request) = control.recv() {
        lines.status(&request.header, "busy");
        let mut over = false;
        match request.kind() {
            "interrupt_request" => {
                interrupter.interrupt();
                lines.reply(
                    Way::Control,
                    &request,
                    "interrupt_reply",
                    &json!({ "status": "ok" }),
                );
            }
            "shutdown_request" => {
                interrupter.interrupt();
                lines.shut_down(Way::Control, &request);
                over = true;
            }
            "kernel_info_request" => {
                lines.reply(Way::Control, &request, "kernel_info_reply", &shell::info());
            }
            "connect_request" => {
                lines.reply(Way::Control, &request, "connect_reply", &lines.ports());
            }
            _ => {}
        }
        lines.status(&request.header, "idle");
        if over {
            let _ = end.send(());
            return;
        }
    }
}

/// An interrupt from the system stops the cell that runs; a request to end ends the kernel.
#[cfg(unix)]
fn on_signals(interrupter: &Interrupter, end: &Sender<()>) {
    use signal_hook::consts::{SIGINT, SIGTERM};
    let Ok(mut signals) = signal_hook::iterator::Signals::new([SIGINT, SIGTERM]) else {
        return;
    };
    let (interrupter, end) = (interrupter.clone(), end.clone());
    let _ = named("signals", move || {
        for signal in signals.forever() {
            interrupter.interrupt();
            if signal == SIGTERM {
                let _ = end.send(());
            }
        }
    });
}

#[cfg(not(unix))]
fn on_signals(_: &Interrupter, _: &Sender<()>) {}

/// Ends with the program that started the kernel, where that one says who it is: nobody could end it afterwards.
#[cfg(unix)]
fn with_parent(end: &Sender<()>) {
    let said = std::env::var("JPY_PARENT_PID").ok();
    let parent = std::os::unix::process::parent_id();
    if said.and_then(|p| p.parse().ok()) != Some(parent) {
        return;
    }
    let end = end.clone();
    let _ = named("parent", move || {
        while std::os::unix::process::parent_id() == parent {
            std::thread::sleep(Duration::from_secs(1));
        }
        let _ = end.send(());
    });
}

#[cfg(not(unix))]
fn with_parent(_: &Sender<()>) {}
