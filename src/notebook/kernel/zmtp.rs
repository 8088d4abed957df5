//! The three kinds of socket that a kernel needs, over TCP, by the message transport protocol ZMTP 3.0 (RFC 23): ROUTER,
//! REP and XPUB, without security (NULL). One thread reads and one writes for each peer.

use std::collections::BTreeMap;
use std::io::{self, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// The frames of one message.
pub type Frames = Vec<Vec<u8>>;

/// What a socket does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Answers whoever asked, by identity.
    Router,
    /// Sends back what came, here: the heartbeat.
    Rep,
    /// Sends to all who listen, and hears who begins to.
    Xpub,
}

impl Kind {
    fn word(self) -> &'static str {
        match self {
            Kind::Router => "ROUTER",
            Kind::Rep => "REP",
            Kind::Xpub => "XPUB",
        }
    }
}

/// What comes in.
pub enum Event {
    /// A message, and who sent it.
    Message(Vec<u8>, Frames),
    /// Peer of that number wants what begins with these bytes.
    Subscribed(u64, Vec<u8>),
}

type Handler = Arc<dyn Fn(Event) + Send + Sync>;

/// Larger frames than this are no message of a notebook: the peer is let go.
const LARGEST_FRAME: u64 = 256 << 20;
/// Messages that wait for one peer; of a listener who falls further behind, the newest are dropped.
const WAITING_MOST: usize = 20_000;
/// Bytes that wait for one listener, likewise: one who stands still must not fill the memory with pictures.
const WAITING_BYTES: usize = 64 << 20;
/// How long a peer may take to introduce itself.
const GREETING: Duration = Duration::from_secs(10);

struct Peer {
    identity: Vec<u8>,
    out: SyncSender<Arc<[u8]>>,
    /// Bytes that wait to be written.
    waits: Arc<AtomicUsize>,
    writer: Option<JoinHandle<()>>,
    topics: Vec<Vec<u8>>,
}

impl Peer {
    /// Puts a message behind what waits; drops it where too much does. A single one always has room.
    fn offer(&self, bytes: Arc<[u8]>) {
        let (size, before) = (bytes.len(), self.waits.load(Ordering::Relaxed));
        if before > 0 && before + size > WAITING_BYTES {
            return;
        }
        self.waits.fetch_add(size, Ordering::Relaxed);
        if self.out.try_send(bytes).is_err() {
            self.waits.fetch_sub(size, Ordering::Relaxed);
        }
    }
    /// Lets it go once all that waits is written. The thread that reads from it holds a way out, too, so that dropping
    /// this one would not end the writing.
    fn part(&self) {
        let _ = self.out.try_send(Arc::from([]));
    }
}

#[derive(Default)]
struct Peers {
    next: u64,
    list: BTreeMap<u64, Peer>,
}

struct Inner {
    kind: Kind,
    peers: Mutex<Peers>,
    handler: Handler,
}

/// A bound socket.
#[derive(Clone)]
pub struct Socket {
    inner: Arc<Inner>,
    port: u16,
}

impl Socket {
    /// Binds and begins to listen. `handler` is called from the threads that read.
    ///
    /// # Errors
    /// The address is taken, or is none of this machine.
    pub fn bind(
        kind: Kind,
        ip: &str,
        port: u16,
        handler: impl Fn(Event) + Send + Sync + 'static,
    ) -> io::Result<Socket> {
        let listener = TcpListener::bind((ip, port))?;
        let port = listener.local_addr()?.port();
        let inner = Arc::new(Inner {
            kind,
            peers: Mutex::default(),
            handler: Arc::new(handler),
        });
        let accepting = Arc::clone(&inner);
        named(&format!("{} {port}", kind.word()), move || {
            for stream in listener.incoming().flatten() {
                let inner = Arc::clone(&accepting);
                // Where no thread can be had the peer is let go; it will try again.
                let _ = named("peer", move || {
                    let _ = inner.serve(stream);
                });
            }
        })?;
        Ok(Socket { inner, port })
    }
    /// The port it listens on.
    pub fn port(&self) -> u16 {
        self.port
    }
    /// Sends to the peer of that identity; to nobody where it has gone.
    pub fn send(&self, identity: &[u8], frames: &[Vec<u8>]) {
        let bytes = encoded(frames);
        let peers = self.inner.peers();
        let found = peers.list.values().rev().find(|p| p.identity == identity);
        let out = found.map(|p| (p.out.clone(), Arc::clone(&p.waits)));
        drop(peers);
        if let Some((out, waits)) = out {
            waits.fetch_add(bytes.len(), Ordering::Relaxed);
            // Waits where the peer is slow to read: an answer is never dropped.
            let _ = out.send(bytes);
        }
    }
    /// Sends to all who listen to what the first frame begins with.
    pub fn publish(&self, frames: &[Vec<u8>]) {
        let topic = frames.first().map_or(&[][..], Vec::as_slice);
        let bytes = encoded(frames);
        for peer in self.inner.peers().list.values() {
            if peer.topics.iter().any(|t| topic.starts_with(t)) {
                peer.offer(Arc::clone(&bytes));
            }
        }
    }
    /// Sends to one listener alone.
    pub fn tell(&self, peer: u64, frames: &[Vec<u8>]) {
        if let Some(peer) = self.inner.peers().list.get(&peer) {
            peer.offer(encoded(frames));
        }
    }
    /// Waits until what was sent has left, but no longer than until then, and lets all peers go.
    pub fn close(&self, until: Instant) {
        let list = std::mem::take(&mut self.inner.peers().list);
        list.values().for_each(Peer::part);
        let writers: Vec<JoinHandle<()>> = list
            .into_values()
            .filter_map(|mut p| p.writer.take())
            .collect();
        for writer in writers {
            while !writer.is_finished() && Instant::now() < until {
                thread::sleep(Duration::from_millis(1));
            }
        }
    }
}

impl Inner {
    fn peers(&self) -> MutexGuard<'_, Peers> {
        self.peers.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// One peer, from its greeting to its end.
    fn serve(&self, mut stream: TcpStream) -> io::Result<()> {
        stream.set_nodelay(true)?;
        stream.set_read_timeout(Some(GREETING))?;
        let said = self.greet(&mut stream)?;
        stream.set_read_timeout(None)?;
        let (out, waiting) = sync_channel::<Arc<[u8]>>(WAITING_MOST);
        let mut writing = stream.try_clone()?;
        let waits = Arc::<AtomicUsize>::default();
        let left = Arc::clone(&waits);
        let writer = named("writer", move || {
            let _ = write_all(&mut writing, &waiting, &left);
            // A peer that cannot be written to is not read from either.
            let _ = writing.shutdown(std::net::Shutdown::Both);
        })?;
        let (number, identity) = {
            let mut peers = self.peers();
            peers.next += 1;
            let number = peers.next;
            let identity = if said.is_empty() {
                // A zero in front: nobody may choose such a name for himself.
                [&[0], &number.to_be_bytes()[..]].concat()
            } else {
                said
            };
            // Who comes back under his name takes over from himself.
            peers.list.retain(|_, p| {
                let stays = p.identity != identity;
                if !stays {
                    p.part();
                }
                stays
            });
            let peer = Peer {
                identity: identity.clone(),
                out: out.clone(),
                waits: Arc::clone(&waits),
                writer: Some(writer),
                topics: Vec::new(),
            };
            peers.list.insert(number, peer);
            (number, identity)
        };
        let ended = self.hear(stream, number, &identity, &(out, waits));
        self.peers().list.remove(&number);
        ended
    }

    /// Exchanges greetings and READY; gives the identity that the peer chose, empty where it chose none.
    fn greet(&self, stream: &mut TcpStream) -> io::Result<Vec<u8>> {
        let mut greeting = [0u8; 64];
        (greeting[0], greeting[8], greeting[9]) = (0xff, 1, 0x7f);
        greeting[10] = 3;
        greeting[12..16].copy_from_slice(b"NULL");
        stream.write_all(&greeting)?;
        let mut theirs = [0u8; 64];
        stream.read_exact(&mut theirs)?;
        let fits = theirs[0] == 0xff
            && theirs[9] & 1 == 1
            && theirs[10] >= 3
            && theirs[12..32] == greeting[12..32];
        if !fits {
            return Err(io::Error::other("not a peer of ZMTP 3"));
        }
        let kind = self.kind.word();
        let mut ready = b"\x05READY\x0bSocket-Type".to_vec();
        ready.extend_from_slice(&(kind.len() as u32).to_be_bytes());
        ready.extend_from_slice(kind.as_bytes());
        let mut bytes = Vec::new();
        frame(&mut bytes, 4, &ready);
        stream.write_all(&bytes)?;
        let (flags, body) = read_frame(stream)?;
        let Some(mut rest) = body.strip_prefix(b"\x05READY").filter(|_| flags & 4 != 0) else {
            return Err(io::Error::other("no READY"));
        };
        let mut identity = Vec::new();
        while let Some((&length, after)) = rest.split_first() {
            let cut = || io::Error::other("a READY that is cut short");
            let (name, after) = after.split_at_checked(length.into()).ok_or_else(cut)?;
            let (length, after) = after.split_first_chunk::<4>().ok_or_else(cut)?;
            let length = u32::from_be_bytes(*length) as usize;
            let (value, after) = after.split_at_checked(length).ok_or_else(cut)?;
            if name.eq_ignore_ascii_case(b"Identity") && value.first() != Some(&0) {
                identity = value.to_vec();
            }
            rest = after;
        }
        Ok(identity)
    }

    fn hear(
        &self,
        stream: TcpStream,
        number: u64,
        identity: &[u8],
        out: &(SyncSender<Arc<[u8]>>, Arc<AtomicUsize>),
    ) -> io::Result<()> {
        let mut stream = io::BufReader::new(stream);
        let mut frames = Frames::new();
        let mut held = 0u64;
        loop {
            let (flags, body) = read_frame(&mut stream)?;
            if flags & 4 != 0 {
                self.command(number, &body, out);
                continue;
            }
            held += body.len() as u64;
            if held > LARGEST_FRAME || frames.len() > 10_000 {
                return Err(io::Error::other("too large a message"));
            }
            frames.push(body);
            if flags & 1 != 0 {
                continue;
            }
            let whole = std::mem::take(&mut frames);
            held = 0;
            match self.kind {
                Kind::Router => (self.handler)(Event::Message(identity.to_vec(), whole)),
                Kind::Rep => {
                    let bytes = encoded(&whole);
                    out.1.fetch_add(bytes.len(), Ordering::Relaxed);
                    let _ = out.0.send(bytes);
                }
                Kind::Xpub => match whole.first().and_then(|f| f.split_first()) {
                    Some((1, topic)) => self.subscribed(number, topic),
                    Some((0, topic)) => self.cancelled(number, topic),
                    _ => {}
                },
            }
        }
    }

    fn command(
        &self,
        number: u64,
        body: &[u8],
        (out, waits): &(SyncSender<Arc<[u8]>>, Arc<AtomicUsize>),
    ) {
        if let Some(topic) = body.strip_prefix(b"\x09SUBSCRIBE") {
            self.subscribed(number, topic);
        } else if let Some(topic) = body.strip_prefix(b"\x06CANCEL") {
            self.cancelled(number, topic);
        } else if let Some(ping) = body.strip_prefix(b"\x04PING") {
            let mut bytes = Vec::new();
            let context = ping.get(2..).unwrap_or_default();
            frame(&mut bytes, 4, &[&b"\x04PONG"[..], context].concat());
            waits.fetch_add(bytes.len(), Ordering::Relaxed);
            let _ = out.try_send(bytes.into());
        }
    }

    fn subscribed(&self, number: u64, topic: &[u8]) {
        if let Some(peer) = self.peers().list.get_mut(&number) {
            peer.topics.push(topic.to_vec());
        }
        (self.handler)(Event::Subscribed(number, topic.to_vec()));
    }

    fn cancelled(&self, number: u64, topic: &[u8]) {
        if let Some(peer) = self.peers().list.get_mut(&number)
            && let Some(at) = peer.topics.iter().position(|t| t == topic)
        {
            peer.topics.remove(at);
        }
    }
}

/// Writes what waits, as much at once as there is, until an empty message says that it was the last.
fn write_all(
    stream: &mut TcpStream,
    waiting: &Receiver<Arc<[u8]>>,
    waits: &AtomicUsize,
) -> io::Result<()> {
    let mut last = false;
    while !last && let Ok(first) = waiting.recv() {
        last = first.is_empty();
        let mut bytes = first.to_vec();
        while !last
            && bytes.len() < 1 << 16
            && let Ok(more) = waiting.try_recv()
        {
            last = more.is_empty();
            bytes.extend_from_slice(&more);
        }
        stream.write_all(&bytes)?;
        waits.fetch_sub(bytes.len(), Ordering::Relaxed);
    }
    Ok(())
}

fn read_frame(stream: &mut impl Read) -> io::Result<(u8, Vec<u8>)> {
    let mut head = [0u8; 2];
    stream.read_exact(&mut head)?;
    let length = if head[0] & 2 == 0 {
        u64::from(head[1])
    } else {
        let mut rest = [0u8; 7];
        stream.read_exact(&mut rest)?;
        let mut all = [0u8; 8];
        all[0] = head[1];
        all[1..].copy_from_slice(&rest);
        u64::from_be_bytes(all)
    };
    if length > LARGEST_FRAME {
        return Err(io::Error::other("too large a frame"));
    }
    // Grows as the bytes come: who only announces much gets no memory for it.
    let mut body = Vec::new();
    stream.take(length).read_to_end(&mut body)?;
    if body.len() as u64 != length {
        return Err(io::ErrorKind::UnexpectedEof.into());
    }
    Ok((head[0], body))
}

fn frame(out: &mut Vec<u8>, flags: u8, body: &[u8]) {
    match u8::try_from(body.len()) {
        Ok(short) => out.extend_from_slice(&[flags, short]),
        Err(_) => {
            out.push(flags | 2);
            out.extend_from_slice(&(body.len() as u64).to_be_bytes());
        }
    }
    out.extend_from_slice(body);
}

fn encoded(frames: &[Vec<u8>]) -> Arc<[u8]> {
    let mut bytes = Vec::new();
    for (at, body) in frames.iter().enumerate() {
        frame(&mut bytes, u8::from(at + 1 < frames.len()), body);
    }
    bytes.into()
}

/// Starts a thread under a name.
pub fn named(name: &str, work: impl FnOnce() + Send + 'static) -> io::Result<JoinHandle<()>> {
    thread::Builder::new().name(name.to_string()).spawn(work)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn frames_are_written_as_the_protocol_has_them() {
        let long = vec![7u8; 300];
        let bytes = encoded(&[b"ab".to_vec(), long.clone()]);
        assert_eq!(&bytes[..4], &[1, 2, b'a', b'b']);
        assert_eq!(&bytes[4..13], &[2, 0, 0, 0, 0, 0, 0, 1, 44]);
        let mut rest = &bytes[..];
        let first = read_frame(&mut rest).expect("a frame");
        let second = read_frame(&mut rest).expect("a frame");
        assert_eq!((first, second), ((1, b"ab".to_vec()), (2, long)));
        assert!(read_frame(&mut &[2u8, 0xff, 0, 0, 0, 0, 0, 0, 0, 1][..]).is_err());
        assert!(read_frame(&mut &[0u8, 9, 1, 2][..]).is_err());
    }
    /// A client by hand, up to its READY.
    fn client(port: u16, kind: &str) -> TcpStream {
        let mut stream = TcpStream::connect(("127.0.0.1", port)).expect("a connection");
        let mut greeting = [0u8; 64];
        (greeting[0], greeting[9], greeting[10]) = (0xff, 0x7f, 3);
        greeting[12..16].copy_from_slice(b"NULL");
        stream.write_all(&greeting).expect("greets");
        let mut ready = b"\x05READY\x0bSocket-Type".to_vec();
        ready.extend_from_slice(&(kind.len() as u32).to_be_bytes());
        ready.extend_from_slice(kind.as_bytes());
        let mut bytes = Vec::new();
        frame(&mut bytes, 4, &ready);
        stream.write_all(&bytes).expect("is ready");
        stream.read_exact(&mut [0u8; 64]).expect("a greeting");
        read_frame(&mut stream).expect("a READY");
        stream
    }

    fn listener(socket: &Socket, heard: &Receiver<()>) -> TcpStream {
        let mut stream = client(socket.port(), "SUB");
        stream.write_all(&[0, 1, 1]).expect("listens");
        heard.recv().expect("heard");
        stream
    }

    fn publisher() -> (Socket, Receiver<()>) {
        let (hears, heard) = sync_channel(1);
        let handler = move |_| {
            let _ = hears.send(());
        };
        let socket = Socket::bind(Kind::Xpub, "127.0.0.1", 0, handler).expect("a port");
        (socket, heard)
    }

    #[test]
    fn closing_writes_what_waits_and_does_not_wait_for_the_peer_to_leave() {
        let (socket, heard) = publisher();
        let mut stream = listener(&socket, &heard);
        socket.publish(&[b"last words".to_vec()]);
        let patience = Duration::from_secs(60);
        let begun = Instant::now();
        socket.close(begun + patience);
        assert!(begun.elapsed() < patience);
        let (_, body) = read_frame(&mut stream).expect("what was sent");
        assert_eq!(body, b"last words");
        assert_eq!(stream.read(&mut [0]).expect("an end"), 0);
    }

    #[test]
    fn a_listener_that_stands_still_holds_no_more_than_its_bytes() {
        let (socket, heard) = publisher();
        let _still = listener(&socket, &heard);
        let frames = [vec![b'x'; 1 << 20]];
        for _ in 0..200 {
            socket.publish(&frames);
        }
        let peers = socket.inner.peers();
        let waits = peers.list.values().map(|p| p.waits.load(Ordering::Relaxed));
        let most = waits.max().expect("one listens");
        assert!(most > WAITING_BYTES / 2 && most <= WAITING_BYTES, "{most}");
    }
}
