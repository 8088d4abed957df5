//! The five sockets of a kernel and what is said over them.

use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use super::wire::{Message, Signer};
use super::zmtp::{Frames, Socket};

/// The signer, in the hands of all threads.
pub struct Signing(Mutex<Signer>);

impl Signing {
    /// With the key of the connection file.
    pub fn new(key: &str) -> Signing {
        Signing(Mutex::new(Signer::new(key)))
    }
    fn signer(&self) -> MutexGuard<'_, Signer> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
    /// A message that is proven; none for others, of which the kernel's own log says a word.
    pub fn read(&self, frames: Frames) -> Option<Message> {
        let read = self.signer().read(frames);
        match read {
            Ok(message) => Some(message),
            Err(refused) => {
                use std::io::Write;
                // Where stderr is closed there is nobody to tell.
                let _ = writeln!(std::io::stderr(), "a message was refused: {refused}");
                None
            }
        }
    }
    /// A message as frames.
    pub fn write(&self, to: &[Vec<u8>], parent: &Value, kind: &str, content: &Value) -> Frames {
        self.signer().write(to, parent, kind, content)
    }
}

/// Which of the two ways a request came.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// In its turn.
    Shell,
    /// Past all others.
    Control,
}

/// The sockets.
pub struct Lines {
    /// Sends back what comes.
    pub heartbeat: Socket,
    /// Requests that cannot wait.
    pub control: Socket,
    /// Questions to the person.
    pub stdin: Socket,
    /// Requests.
    pub shell: Socket,
    /// What all see.
    pub iopub: Socket,
    /// The signer.
    pub signing: std::sync::Arc<Signing>,
}

impl Lines {
    /// Answers a request.
    pub fn reply(&self, way: Way, request: &Message, kind: &str, content: &Value) {
        let socket = match way {
            Way::Shell => &self.shell,
            Way::Control => &self.control,
        };
        self.send(socket, &request.identities, &request.header, kind, content);
    }
    /// Asks whoever sent a request.
    pub fn ask(&self, request: &Message, content: &Value) {
        let kind = "input_request";
        self.send(
            &self.stdin,
            &request.identities,
            &request.header,
            kind,
            content,
        );
    }
    fn send(&self, socket: &Socket, to: &[Vec<u8>], parent: &Value, kind: &str, content: &Value) {
        let frames = self.signing.write(to, parent, kind, content);
        if let Some((identity, rest)) = frames.split_first() {
            socket.send(identity, rest);
        }
    }
    /// Tells all.
    pub fn publish(&self, parent: &Value, kind: &str, content: &Value) {
        let topic = format!("kernel.{}.{kind}", self.signing.signer().session());
        let frames = self
            .signing
            .write(&[topic.into_bytes()], parent, kind, content);
        self.iopub.publish(&frames);
    }
    /// Tells all whether it works for that request.
    pub fn status(&self, parent: &Value, state: &str) {
        self.publish(parent, "status", &json!({ "execution_state": state }));
    }
    /// Answers a request to end, to who asked and to all.
    pub fn shut_down(&self, way: Way, request: &Message) {
        let restart = request.content["restart"].as_bool().unwrap_or(false);
        let content = json!({ "status": "ok", "restart": restart });
        self.publish(&request.header, "shutdown_reply", &content);
        self.reply(way, request, "shutdown_reply", &content);
    }
    /// The ports, as an answer.
    pub fn ports(&self) -> Value {
        json!({
            "status": "ok",
            "shell_port": self.shell.port(),
            "iopub_port": self.iopub.port(),
            "stdin_port": self.stdin.port(),
            "control_port": self.control.port(),
            "hb_port": self.heartbeat.port(),
        })
    }
    /// Lets all go, once what was sent has left.
    pub fn close(&self, patience: Duration) {
        // One end for all of them: a program that restarts its kernel waits for this.
        let until = Instant::now() + patience;
        for socket in [
            &self.iopub,
            &self.shell,
            &self.control,
            &self.stdin,
            &self.heartbeat,
        ] {
            socket.close(until);
        }
    }
}
