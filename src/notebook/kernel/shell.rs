//! Requests of the shell, answered in their order.

use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{Receiver, Sender};
use std::sync::{Arc, PoisonError};

use serde_json::{Map, Value, json};

use super::front::Asker;
use super::lines::{Lines, Way};
use super::wire::{Message, PROTOCOL};
use crate::notebook::bundle::Bundle;
use crate::notebook::help::{self, Finished};
use crate::notebook::session::{CellError, Front, Output, Session};
use crate::notebook::words::{Comm, from_json};

/// A cell that was run and is remembered.
struct Past {
    count: u32,
    code: String,
    output: Option<String>,
}

/// The session and what belongs to the requests to it.
pub struct Shell {
    session: Session,
    lines: Arc<Lines>,
    stdin: Receiver<Message>,
    end: Sender<()>,
    count: u32,
    past: Vec<Past>,
}

/// What the kernel says of itself.
pub fn info() -> Value {
    json!({
        "status": "ok",
        "protocol_version": PROTOCOL,
        "implementation": "plugread",
        "implementation_version": env!("CARGO_PKG_VERSION"),
        "language_info": {
            "name": "plugread",
            "version": env!("CARGO_PKG_VERSION"),
            "mimetype": "text/x-rustsrc",
            "file_extension": ".rhai",
            "pygments_lexer": "rust",
            "codemirror_mode": "rust",
        },
        "banner": format!(
            "plugread {}: open a log with `let run = open(\"run.csv\", \"sheet.toml\")`; help() lists the words",
            env!("CARGO_PKG_VERSION")
        ),
        "debugger": false,
        "help_links": [],
    })
}

impl Shell {
    /// Around a session.
    pub fn new(
        session: Session,
        lines: Arc<Lines>,
        stdin: Receiver<Message>,
        end: Sender<()>,
    ) -> Shell {
        Shell {
            session,
            lines,
            stdin,
            end,
            count: 0,
            past: Vec::new(),
        }
    }

    /// Answers until nobody can ask any more.
    pub fn answer(mut self, requests: &Receiver<Message>) {
        let mut waiting: VecDeque<Message> = VecDeque::new();
        self.lines.status(&json!({}), "starting");
        while let Some(request) = waiting.pop_front().or_else(|| requests.recv().ok()) {
            self.lines.status(&request.header, "busy");
            // A panic in here would be our own bug: it costs one answer, not the kernel.
            let done = catch_unwind(AssertUnwindSafe(|| self.one(&request)));
            let done = done.unwrap_or_else(|_| broken(&request, self.count));
            let mut given_up = VecDeque::new();
            if let Some(answer) = done {
                if answer.aborts {
                    // Before the answer leaves: what its receiver asks then is a new start.
                    waiting.extend(requests.try_iter());
                    let all = waiting.drain(..);
                    (given_up, waiting) = all.partition(|r| r.kind() == "execute_request");
                }
                self.lines
                    .reply(Way::Shell, &request, "execute_reply", &answer.content);
            }
            self.lines.status(&request.header, "idle");
            given_up.iter().for_each(|cell| self.abort(cell));
        }
    }

    /// Answers a request; the answer to a cell is handed back.
    fn one(&mut self, request: &Message) -> Option<Answer> {
        let reply = |kind: &str, content: &Value| {
            self.lines.reply(Way::Shell, request, kind, content);
        };
        match request.kind() {
            "execute_request" => return Some(self.execute(request)),
            "kernel_info_request" => reply("kernel_info_reply", &info()),
            "connect_request" => reply("connect_reply", &self.lines.ports()),
            "complete_request" => reply("complete_reply", &self.complete(&request.content)),
            "inspect_request" => reply("inspect_reply", &self.inspect(&request.content)),
            "is_complete_request" => {
                let code = request.content["code"].as_str().unwrap_or_default();
                let content = match help::finished(&self.session, code) {
                    Finished::Yes => json!({ "status": "complete" }),
                    Finished::Not(indent) => json!({ "status": "incomplete", "indent": indent }),
                    Finished::Wrong => json!({ "status": "invalid" }),
                };
                reply("is_complete_reply", &content);
            }
            "history_request" => reply("history_reply", &self.history(&request.content)),
            "comm_info_request" => reply("comm_info_reply", &self.comms(&request.content)),
            "comm_open" | "comm_msg" | "comm_close" => self.comm(request),
            "shutdown_request" => {
                self.lines.shut_down(Way::Shell, request);
                let _ = self.end.send(());
            }
            "interrupt_request" => reply("interrupt_reply", &json!({ "status": "ok" })),
            _ => {}
        }
        None
    }

    fn execute(&mut self, request: &Message) -> Answer {
        let asked = &request.content;
        let flag = |name: &str, else_: bool| asked[name].as_bool().unwrap_or(else_);
        let code = asked["code"].as_str().unwrap_or_default();
        let silent = flag("silent", false);
        let stored = flag("store_history", true) && !silent;
        let number = self.count + 1;
        if stored {
            self.count = number;
        }
        if !silent {
            let input = json!({ "code": code, "execution_count": number });
            self.lines.publish(&request.header, "execute_input", &input);
        }
        let mut front = Asker {
            lines: &self.lines,
            request,
            stdin: &self.stdin,
            silent,
            may_ask: flag("allow_stdin", false),
            payload: Vec::new(),
        };
        let outcome = self
            .session
            .run(&format!("cell [{number}]"), code, &mut front);
        let payload = front.payload;
        if stored {
            let shown = outcome.as_ref().ok().and_then(Option::as_ref);
            let output = shown.and_then(|b| b.text("text/plain")).map(str::to_string);
            self.past.push(Past {
                count: number,
                code: code.to_string(),
                output,
            });
        }
        match outcome {
            Ok(shown) => {
                if let Some(bundle) = shown.filter(|_| !silent) {
                    let result = json!({
                        "execution_count": number,
                        "data": bundle.json(),
                        "metadata": {},
                    });
                    self.lines
                        .publish(&request.header, "execute_result", &result);
                }
                let content = json!({
                    "status": "ok",
                    "execution_count": number,
                    "user_expressions": self.expressions(&asked["user_expressions"]),
                    "payload": payload,
                });
                Answer {
                    content,
                    aborts: false,
                }
            }
            Err(error) => {
                let mut content = told(&error);
                if !silent {
                    self.lines.publish(&request.header, "error", &content);
                }
                content["status"] = "error".into();
                content["execution_count"] = number.into();
                content["user_expressions"] = json!({});
                content["payload"] = json!([]);
                Answer {
                    content,
                    aborts: flag("stop_on_error", true),
                }
            }
        }
    }

    /// A cell that waited behind one that failed.
    fn abort(&self, request: &Message) {
        self.lines.status(&request.header, "busy");
        let content = json!({
            "status": "aborted",
            "execution_count": self.count,
            "user_expressions": {},
            "payload": [],
        });
        self.lines
            .reply(Way::Shell, request, "execute_reply", &content);
        self.lines.status(&request.header, "idle");
    }

    /// Expressions that the front end wants to know beside a cell.
    fn expressions(&mut self, wanted: &Value) -> Value {
        let Some(wanted) = wanted.as_object() else {
            return json!({});
        };
        let mut out = Map::new();
        for (name, code) in wanted {
            let code = code.as_str().unwrap_or_default();
            let value = match self
                .session
                .run(&format!("expression {name}"), code, &mut Deaf)
            {
                Ok(bundle) => {
                    let bundle = bundle.unwrap_or_else(|| Bundle::plain("()"));
                    json!({ "status": "ok", "data": bundle.json(), "metadata": {} })
                }
                Err(error) => {
                    let mut content = told(&error);
                    content["status"] = "error".into();
                    content
                }
            };
            out.insert(name.clone(), value);
        }
        Value::Object(out)
    }

    fn complete(&self, asked: &Value) -> Value {
        let (code, cursor) = place(asked);
        let found = help::complete(&self.session, code, cursor);
        let characters = |at: usize| code[..at].chars().count();
        let matches: Vec<&str> = found.matches.iter().map(|m| m.0.as_str()).collect();
        let kinds: Vec<Value> = found
            .matches
            .iter()
            .map(|(text, kind)| {
                json!({
                    "text": text,
                    "type": kind,
                    "start": characters(found.start),
                    "end": characters(found.end),
                })
            })
            .collect();
        json!({
            "status": "ok",
            "matches": matches,
            "cursor_start": characters(found.start),
            "cursor_end": characters(found.end),
            "metadata": { "_jupyter_types_experimental": kinds },
        })
    }

    fn inspect(&self, asked: &Value) -> Value {
        let (code, cursor) = place(asked);
        let found = help::inspect(&self.session, code, cursor);
        json!({
            "status": "ok",
            "found": found.is_some(),
            "data": found.map_or_else(|| json!({}), |b| b.json()),
            "metadata": {},
        })
    }

    fn history(&self, asked: &Value) -> Value {
        let number = |name: &str| asked[name].as_i64();
        let with_output = asked["output"].as_bool().unwrap_or(false);
        let most = number("n").and_then(|n| usize::try_from(n).ok());
        let mut list: Vec<&Past> = self.past.iter().collect();
        match asked["hist_access_type"].as_str().unwrap_or("tail") {
            "range" => {
                // There is this session alone: under its own number, or under 0 for the present one.
                let here = matches!(number("session"), None | Some(0 | 1));
                let from = number("start").unwrap_or(1);
                let to = number("stop").unwrap_or(i64::MAX);
                list.retain(|p| here && i64::from(p.count) >= from && i64::from(p.count) < to);
            }
            "search" => {
                let pattern = asked["pattern"].as_str().unwrap_or("*");
                list.retain(|p| fits(pattern, &p.code));
                if asked["unique"].as_bool().unwrap_or(false) {
                    let mut seen = std::collections::BTreeSet::new();
                    list.reverse();
                    list.retain(|p| seen.insert(p.code.as_str()));
                    list.reverse();
                }
                cut(&mut list, most);
            }
            _ => cut(&mut list, most),
        }
        let row = |p: &&Past| {
            if with_output {
                json!([1, p.count, [p.code, p.output]])
            } else {
                json!([1, p.count, p.code])
            }
        };
        let rows: Vec<Value> = list.iter().map(row).collect();
        json!({ "status": "ok", "history": rows })
    }

    fn comms(&self, asked: &Value) -> Value {
        let wanted = asked["target_name"].as_str().filter(|t| !t.is_empty());
        let comms = self.session.store().comms.lock();
        let comms = comms.unwrap_or_else(PoisonError::into_inner);
        let open = comms.open.iter();
        let open: Map<String, Value> = open
            .filter(|(_, target)| wanted.is_none_or(|w| w == *target))
            .map(|(id, target)| (id.clone(), json!({ "target_name": target })))
            .collect();
        json!({ "status": "ok", "comms": open })
    }

    fn comm(&mut self, request: &Message) {
        let text = |name: &str| request.content[name].as_str().unwrap_or_default();
        let id = text("comm_id").to_string();
        let (comm, hears) = {
            let comms = self.session.store().comms.lock();
            let mut comms = comms.unwrap_or_else(PoisonError::into_inner);
            match request.kind() {
                "comm_open" => {
                    let target = text("target_name").to_string();
                    let Some(hears) = comms.targets.get(&target).cloned() else {
                        drop(comms);
                        // Nobody here knows the word: the other end may not wait for an answer.
                        let content = json!({ "comm_id": id, "data": {} });
                        self.lines.publish(&request.header, "comm_close", &content);
                        return;
                    };
                    comms.open.insert(id.clone(), target.clone());
                    (Comm { id, target }, hears)
                }
                "comm_close" => {
                    comms.open.remove(&id);
                    comms.hears.remove(&id);
                    return;
                }
                _ => {
                    let Some(target) = comms.open.get(&id).cloned() else {
                        return;
                    };
                    let hears = comms.hears.get(&id).or_else(|| comms.targets.get(&target));
                    let Some(hears) = hears.cloned() else {
                        return;
                    };
                    (Comm { id, target }, hears)
                }
            }
        };
        let said = from_json(&request.content["data"]);
        let mut front = Asker {
            lines: &self.lines,
            request,
            stdin: &self.stdin,
            silent: false,
            may_ask: false,
            payload: Vec::new(),
        };
        if let Err(error) = self.session.hear(hears, comm, said, &mut front) {
            self.lines.publish(&request.header, "error", &told(&error));
        }
    }
}

/// The answer to a cell.
struct Answer {
    content: Value,
    /// True where cells that wait already are not run any more.
    aborts: bool,
}

/// The answer to a cell that we ourselves failed at: without one its front end would wait for ever.
fn broken(request: &Message, count: u32) -> Option<Answer> {
    let what = "plugread itself failed here: please report this with the cell";
    let mut content = told(&CellError::general("Ours", what));
    content["status"] = "error".into();
    content["execution_count"] = count.into();
    (request.kind() == "execute_request").then_some(Answer {
        content,
        aborts: true,
    })
}

/// Shows nothing to nobody.
struct Deaf;

impl Front for Deaf {
    fn show(&mut self, _: Output) {}
    fn ask(&mut self, _: &str, _: bool, _: &dyn Fn() -> bool) -> Option<String> {
        None
    }
}

fn told(error: &CellError) -> Value {
    json!({
        "ename": error.kind,
        "evalue": error.line(),
        "traceback": error.lines(),
    })
}

/// Code and cursor of a request; the protocol counts characters, here bytes are counted.
fn place(asked: &Value) -> (&str, usize) {
    let code = asked["code"].as_str().unwrap_or_default();
    let characters = asked["cursor_pos"]
        .as_u64()
        .and_then(|n| usize::try_from(n).ok());
    let at = characters.and_then(|n| code.char_indices().nth(n));
    (code, at.map_or(code.len(), |at| at.0))
}

/// The last so many.
fn cut(list: &mut Vec<&Past>, most: Option<usize>) {
    if let Some(most) = most {
        list.drain(..list.len().saturating_sub(most));
    }
}

/// True where a text fits a pattern, in which `*` stands for any text and `?` for any character.
fn fits(pattern: &str, text: &str) -> bool {
    let (pattern, text): (Vec<char>, Vec<char>) =
        (pattern.chars().collect(), text.chars().collect());
    let (mut p, mut t) = (0, 0);
    let mut star: Option<(usize, usize)> = None;
    while t < text.len() {
        if p < pattern.len() && (pattern[p] == '?' || pattern[p] == text[t]) && pattern[p] != '*' {
            (p, t) = (p + 1, t + 1);
        } else if p < pattern.len() && pattern[p] == '*' {
            star = Some((p, t));
            p += 1;
        } else if let Some((at, from)) = star {
            star = Some((at, from + 1));
            (p, t) = (at + 1, from + 1);
        } else {
            return false;
        }
    }
    pattern[p..].iter().all(|c| *c == '*')
}

#[cfg(test)]
mod tests {
    use super::fits;

    #[test]
    fn patterns_of_the_history() {
        assert!(fits("1?2*", "1+2+3") && fits("*", "") && fits("*b", "aab") && fits("a*c", "abc"));
        assert!(!fits("1?2", "1+2+3") && !fits("b*", "ab") && !fits("", "a"));
    }
}
