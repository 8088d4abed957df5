//! The sockets by their bytes: a kernel as a process of its own, and a client that writes frames by hand.

use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

struct Kernel {
    child: Child,
    ports: Vec<u16>,
    _folder: tempfile::TempDir,
}

impl Drop for Kernel {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn started() -> Kernel {
    let folder = tempfile::tempdir().expect("a folder");
    let held: Vec<TcpListener> = (0..5)
        .map(|_| TcpListener::bind("127.0.0.1:0").expect("a port"))
        .collect();
    let ports: Vec<u16> = held
        .iter()
        .map(|l| l.local_addr().expect("an address").port())
        .collect();
    drop(held);
    let file = folder.path().join("connection.json");
    let text = format!(
        "{{\"transport\":\"tcp\",\"ip\":\"127.0.0.1\",\"shell_port\":{},\"iopub_port\":{},\"stdin_port\":{},\
         \"control_port\":{},\"hb_port\":{},\"key\":\"secret\",\"signature_scheme\":\"hmac-sha256\"}}",
        ports[0], ports[1], ports[2], ports[3], ports[4]
    );
    std::fs::write(&file, text).expect("a file");
    let child = Command::new(env!("CARGO_BIN_EXE_plugread"))
        .args(["kernel", "run"])
        .arg(&file)
        .stderr(Stdio::null())
        .spawn()
        .expect("the kernel starts");
    Kernel {
        child,
        ports,
        _folder: folder,
    }
}

/// Connects, and greets as a peer of that type.
fn greeted(port: u16, kind: &str) -> TcpStream {
    let until = Instant::now() + Duration::from_secs(20);
    let mut stream = loop {
        match TcpStream::connect(("127.0.0.1", port)) {
            Ok(stream) => break stream,
            Err(_) if Instant::now() < until => std::thread::sleep(Duration::from_millis(5)),
            Err(error) => panic!("nobody listens: {error}"),
        }
    };
    let patience = Some(Duration::from_secs(20));
    stream.set_read_timeout(patience).expect("a timeout");
    let mut greeting = vec![0xff, 0, 0, 0, 0, 0, 0, 0, 1, 0x7f, 3, 0];
    greeting.extend(b"NULL");
    greeting.resize(64, 0);
    stream.write_all(&greeting).expect("written");
    let mut theirs = [0; 64];
    stream.read_exact(&mut theirs).expect("a greeting");
    assert_eq!((theirs[0], theirs[9], theirs[10]), (0xff, 0x7f, 3));
    assert_eq!(&theirs[12..17], b"NULL\0");
    let mut ready = b"\x05READY\x0bSocket-Type\0\0\0".to_vec();
    ready.push(kind.len() as u8);
    ready.extend(kind.as_bytes());
    let mut frame = vec![4, ready.len() as u8];
    frame.extend(ready);
    stream.write_all(&frame).expect("written");
    let (flags, body) = read(&mut stream);
    assert!(flags == 4 && body.starts_with(b"\x05READY"));
    stream
}

fn read(stream: &mut TcpStream) -> (u8, Vec<u8>) {
    let mut head = [0; 2];
    stream.read_exact(&mut head).expect("a frame");
    let length = if head[0] & 2 == 0 {
        u64::from(head[1])
    } else {
        let mut rest = [0; 8];
        rest[0] = head[1];
        stream.read_exact(&mut rest[1..]).expect("a length");
        u64::from_be_bytes(rest)
    };
    let mut body = vec![0; usize::try_from(length).expect("it fits")];
    stream.read_exact(&mut body).expect("a body");
    (head[0], body)
}

#[test]
fn the_heartbeat_sends_back_what_came() {
    let kernel = started();
    let mut beat = greeted(kernel.ports[4], "REQ");
    for word in [&b"ping"[..], &[7; 200]] {
        let mut bytes = vec![1, 0, 0, word.len() as u8];
        bytes.extend(word);
        beat.write_all(&bytes).expect("written");
        assert_eq!(read(&mut beat), (1, Vec::new()));
        assert_eq!(read(&mut beat), (0, word.to_vec()));
    }
}

#[test]
fn a_listener_is_welcomed_and_noise_harms_nobody() {
    let kernel = started();
    // Peers that speak no ZMTP, announce more than there is, or leave in the middle.
    for noise in [&b"GET / HTTP/1.1\r\n\r\n"[..], &[0xff; 64], b"", &[2; 9]] {
        let mut stream = greeted(kernel.ports[0], "DEALER");
        stream.write_all(noise).expect("written");
        let mut raw = TcpStream::connect(("127.0.0.1", kernel.ports[0])).expect("a listener");
        raw.write_all(noise).expect("written");
    }
    let mut listener = greeted(kernel.ports[1], "SUB");
    listener.write_all(&[0, 1, 1]).expect("written");
    let mut frames = Vec::new();
    loop {
        let (flags, body) = read(&mut listener);
        frames.push(String::from_utf8_lossy(&body).into_owned());
        if flags & 1 == 0 {
            break;
        }
    }
    assert_eq!((frames[0].as_str(), frames[1].as_str()), ("", "<IDS|MSG>"));
    assert_eq!(frames[2].len(), 64);
    assert!(frames[3].contains("\"iopub_welcome\""), "{frames:?}");
    assert_eq!(frames[6], "{\"subscription\":\"\"}");
}

/// mallopt(3): GNU's allocator moves this bound by itself, and with it what it keeps, unless it is given one at its start.
#[cfg(all(target_os = "linux", target_env = "gnu"))]
#[test]
fn a_kernel_started_by_hand_bounds_its_allocator_as_an_installed_one_does() {
    let kernel = started();
    drop(greeted(kernel.ports[0], "DEALER"));
    let environment = format!("/proc/{}/environ", kernel.child.id());
    let environment = std::fs::read(environment).expect("its environment");
    let mut entries = environment.split(|b| *b == 0);
    assert!(entries.any(|e| e == b"MALLOC_MMAP_THRESHOLD_=1048576"));
}
