//! Messages as frames: identities, a mark, the signature, and four parts of JSON.

use std::collections::{BTreeSet, VecDeque};
use std::hash::{BuildHasher, Hasher, RandomState};
use std::time::{SystemTime, UNIX_EPOCH};

use hmac::{Hmac, KeyInit, Mac};
use serde_json::{Value, json};
use sha2::Sha256;

use super::zmtp::Frames;

/// The version of the message protocol that is spoken here.
pub const PROTOCOL: &str = "5.4";

const MARK: &[u8] = b"<IDS|MSG>";

/// A message that came in, its signature proven.
#[derive(Clone, Debug)]
pub struct Message {
    /// Who it came from, for the way back.
    pub identities: Frames,
    /// Who, when, and of which kind.
    pub header: Value,
    /// What it says.
    pub content: Value,
}

impl Message {
    /// Its kind, e.g. `execute_request`.
    pub fn kind(&self) -> &str {
        self.header["msg_type"].as_str().unwrap_or_default()
    }
}

/// Why a message was refused.
#[derive(Debug, PartialEq, Eq, thiserror::Error)]
pub enum Refused {
    /// Parts are missing, or are no JSON.
    #[error("it is not in the form of a message")]
    Form,
    /// Somebody else signed it, or nobody.
    #[error("its signature is wrong")]
    Signature,
    /// The same message came before.
    #[error("it came before")]
    Again,
}

/// How many signatures are remembered, so that a message that was overheard cannot be sent again.
const REMEMBERED: usize = 1 << 16;

/// Signs what goes out and proves what comes in.
pub struct Signer {
    /// None where the connection file has no key: then nothing is signed.
    key: Option<Hmac<Sha256>>,
    session: String,
    seen: BTreeSet<[u8; 32]>,
    order: VecDeque<[u8; 32]>,
}

impl Signer {
    /// With the key of the connection file.
    pub fn new(key: &str) -> Signer {
        let keyed = (!key.is_empty()).then(|| Hmac::new_from_slice(key.as_bytes()).ok());
        Signer {
            key: keyed.flatten(),
            session: unique(),
            seen: BTreeSet::new(),
            order: VecDeque::new(),
        }
    }
    /// The id under which this kernel sends.
    pub fn session(&self) -> &str {
        &self.session
    }

    /// Takes a message apart and proves it.
    ///
    /// # Errors
    /// It has no form, a wrong signature, or came before.
    pub fn read(&mut self, mut frames: Frames) -> Result<Message, Refused> {
        let mark = frames.iter().position(|f| f == MARK).ok_or(Refused::Form)?;
        let rest = frames.split_off(mark);
        let [_, signature, header, parent, metadata, content, ..] = &rest[..] else {
            return Err(Refused::Form);
        };
        if let Some(key) = &self.key {
            let given = unhex(signature).ok_or(Refused::Signature)?;
            let mut mac = key.clone();
            for part in [header, parent, metadata, content] {
                mac.update(part);
            }
            // Takes the same time wherever the first wrong byte stands.
            mac.verify_slice(&given).map_err(|_| Refused::Signature)?;
            if !self.seen.insert(given) {
                return Err(Refused::Again);
            }
            self.order.push_back(given);
            if self.order.len() > REMEMBERED
                && let Some(oldest) = self.order.pop_front()
            {
                self.seen.remove(&oldest);
            }
        }
        let part = |bytes: &[u8]| {
            let value: Value = serde_json::from_slice(bytes).map_err(|_| Refused::Form)?;
            if value.is_object() {
                Ok(value)
            } else {
                Err(Refused::Form)
            }
        };
        Ok(Message {
            identities: frames,
            header: part(header)?,
            content: part(content)?,
        })
    }

    /// A message as frames, behind those that say where it goes.
    pub fn write(&self, to: &[Vec<u8>], parent: &Value, kind: &str, content: &Value) -> Frames {
        let header = json!({
            "msg_id": unique(),
            "session": self.session,
            "username": "kernel",
            "date": now(),
            "msg_type": kind,
            "version": PROTOCOL,
        });
        let parts: Frames = [&header, parent, &json!({}), content]
            .iter()
            .map(|part| part.to_string().into_bytes())
            .collect();
        let mut frames = to.to_vec();
        frames.push(MARK.to_vec());
        frames.push(self.key.as_ref().map_or_else(Vec::new, |key| {
            let mut mac = key.clone();
            parts.iter().for_each(|part| mac.update(part));
            hex(&mac.finalize().into_bytes()).into_bytes()
        }));
        frames.extend(parts);
        frames
    }
}

/// An id that no other message has.
pub fn unique() -> String {
    // Each hasher of this kind is keyed by the system's own dice.
    let word = || RandomState::new().build_hasher().finish();
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    let nanos = since.map_or(0, |d| d.as_nanos()) as u64;
    format!("{:016x}{:016x}", word(), word() ^ nanos)
}

/// The time in UTC, ISO 8601.
fn now() -> String {
    let since = SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .unwrap_or_default();
    let (days, second) = (since.as_secs() / 86_400, since.as_secs() % 86_400);
    let (year, month, day) = civil(days as i64);
    format!(
        "{year:04}-{month:02}-{day:02}T{:02}:{:02}:{:02}.{:06}Z",
        second / 3600,
        second / 60 % 60,
        second % 60,
        since.subsec_micros()
    )
}

/// Year, month and day of a number of days after 1 January 1970. Years are counted from March, so that the leap day is
/// the last of its year; 400 of them have 146097 days.
fn civil(days: i64) -> (i64, i64, i64) {
    let from_march = days + 719_468;
    let (era, day) = (
        from_march.div_euclid(146_097),
        from_march.rem_euclid(146_097),
    );
    let year = (day - day / 1_460 + day / 36_524 - day / 146_096) / 365;
    let of_year = day - (365 * year + year / 4 - year / 100);
    let march = (5 * of_year + 2) / 153;
    let month = if march < 10 { march + 3 } else { march - 9 };
    let year = year + era * 400 + i64::from(month <= 2);
    (year, month, of_year - (153 * march + 2) / 5 + 1)
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

fn unhex(text: &[u8]) -> Option<[u8; 32]> {
    let mut out = [0; 32];
    if text.len() != 64 {
        return None;
    }
    for (byte, pair) in out.iter_mut().zip(text.chunks(2)) {
        let digit = |c: u8| char::from(c).to_digit(16);
        *byte = (digit(pair[0])? * 16 + digit(pair[1])?) as u8;
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4231, test case 2: the HMAC-SHA-256 of "what do ya want for nothing?" under the key "Jefe".
    #[test]
    fn signatures_are_those_of_the_rfc() {
        let mut mac = Signer::new("Jefe").key.expect("a key");
        mac.update(b"what do ya want for nothing?");
        assert_eq!(
            hex(&mac.finalize().into_bytes()),
            "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
        );
    }

    #[test]
    fn what_was_written_reads_back_and_what_was_changed_does_not() {
        let mut signer = Signer::new("key");
        let to = [b"me".to_vec()];
        let frames = signer.write(&to, &json!({}), "execute_request", &json!({ "code": "1" }));
        let message = signer.read(frames.clone()).expect("as written");
        assert_eq!(
            (message.kind(), &message.content["code"]),
            ("execute_request", &json!("1"))
        );
        assert_eq!(message.identities, to);
        assert_eq!(signer.read(frames.clone()).unwrap_err(), Refused::Again);
        for at in 2..frames.len() {
            let mut changed = signer.write(&to, &json!({}), "x", &json!({ "code": "1" }));
            changed[at].push(b' ');
            assert_eq!(
                signer.read(changed).unwrap_err(),
                Refused::Signature,
                "{at}"
            );
        }
        assert_eq!(
            signer.read(frames[..4].to_vec()).unwrap_err(),
            Refused::Form
        );
        assert_eq!(signer.read(vec![b"x".to_vec()]).unwrap_err(), Refused::Form);
        let other = Signer::new("other").write(&to, &json!({}), "x", &json!({}));
        assert_eq!(signer.read(other).unwrap_err(), Refused::Signature);
    }

    #[test]
    fn days_are_those_of_the_calendar() {
        assert_eq!(civil(0), (1970, 1, 1));
        assert_eq!(civil(11_016), (2000, 2, 29));
        assert_eq!(civil(20_783), (2026, 11, 26));
    }
}
