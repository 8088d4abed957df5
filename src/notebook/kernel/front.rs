//! What a cell shows, as messages.

use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::time::Duration;

use serde_json::{Value, json};

use super::lines::Lines;
use super::wire::Message;
use crate::notebook::bundle::Bundle;
use crate::notebook::session::{Front, Output};
use crate::notebook::words::Talk;

/// The front end that sent a request, and all that listen.
pub struct Asker<'a> {
    pub lines: &'a Lines,
    pub request: &'a Message,
    pub stdin: &'a Receiver<Message>,
    /// True where nothing may be shown.
    pub silent: bool,
    /// True where the person can be asked.
    pub may_ask: bool,
    /// What goes with the reply.
    pub payload: Vec<Value>,
}

impl Asker<'_> {
    fn publish(&self, kind: &str, content: &Value) {
        self.lines.publish(&self.request.header, kind, content);
    }
    fn shown(&self, bundle: &Bundle, id: Option<&str>, again: bool) {
        let kind = if again {
            "update_display_data"
        } else {
            "display_data"
        };
        let transient = id.map_or_else(|| json!({}), |id| json!({ "display_id": id }));
        self.publish(
            kind,
            &json!({ "data": bundle.json(), "metadata": {}, "transient": transient }),
        );
    }
}

impl Front for Asker<'_> {
    fn show(&mut self, output: Output) {
        if self.silent {
            return;
        }
        match output {
            Output::Printed(text) => {
                self.publish("stream", &json!({ "name": "stdout", "text": text }));
            }
            Output::Warned(text) => {
                self.publish("stream", &json!({ "name": "stderr", "text": text }));
            }
            Output::Shown { bundle, id, again } => self.shown(&bundle, id.as_deref(), again),
            Output::Cleared { wait } => self.publish("clear_output", &json!({ "wait": wait })),
            Output::Page(bundle) => self
                .payload
                .push(json!({ "source": "page", "data": bundle.json(), "start": 0 })),
            Output::NextCell(text) => self
                .payload
                .push(json!({ "source": "set_next_input", "text": text, "replace": false })),
            Output::Comm(Talk::Open(id, target, data)) => self.publish(
                "comm_open",
                &json!({ "comm_id": id, "target_name": target, "data": data }),
            ),
            Output::Comm(Talk::Message(id, data)) => {
                self.publish("comm_msg", &json!({ "comm_id": id, "data": data }));
            }
            Output::Comm(Talk::Close(id, data)) => {
                self.publish("comm_close", &json!({ "comm_id": id, "data": data }));
            }
        }
    }

    fn ask(&mut self, prompt: &str, secret: bool, give_up: &dyn Fn() -> bool) -> Option<String> {
        if !self.may_ask {
            return None;
        }
        // An answer to a question that was given up is no answer to this one.
        while self.stdin.try_recv().is_ok() {}
        self.lines.ask(
            self.request,
            &json!({ "prompt": prompt, "password": secret }),
        );
        loop {
            match self.stdin.recv_timeout(Duration::from_millis(10)) {
                // Only who was asked answers: a client bears one identity on all its sockets.
                Ok(message)
                    if message.kind() == "input_reply"
                        && message.identities == self.request.identities =>
                {
                    return message.content["value"].as_str().map(str::to_string);
                }
                Ok(_) => {}
                Err(RecvTimeoutError::Timeout) if !give_up() => {}
                Err(_) => return None,
            }
        }
    }
}
