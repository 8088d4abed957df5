//! What can be wrong with a file.

use zip::CompressionMethod;

use super::Wanted::{Partly, Refused};
use super::{Kind, good, kind, noise};
use crate::dialects::{gzip, zip, zstd};

/// Those of which nothing can be used.
pub fn refused() -> Vec<Kind> {
    let log = good(400);
    let cut = |mut bytes: Vec<u8>, keep: usize| {
        bytes.truncate(keep);
        bytes
    };
    let packed = zip(&[("run.csv", log.as_bytes())], CompressionMethod::Deflated);
    let nested = zip(&[("run.zip", &packed)], CompressionMethod::Stored);
    let sheet: &[(&str, &[u8])] = &[
        ("[Content_Types].xml", b"<Types/>"),
        ("xl/workbook.xml", b"<workbook/>"),
        ("xl/worksheets/sheet1.xml", b"<worksheet/>"),
    ];
    let damaged = |mut bytes: Vec<u8>, at: usize| {
        for byte in bytes.iter_mut().skip(at).take(40) {
            *byte ^= 0x5A;
        }
        bytes
    };
    vec![
        kind("nothing", "", Refused("empty")),
        kind("one line end", "\n", Refused("empty")),
        kind("only a mark", b"\xEF\xBB\xBF", Refused("empty")),
        kind(
            "only names",
            "time (s),rpm,map (kPa)\n",
            Refused("no data rows"),
        ),
        kind(
            "names and units only",
            "time,rpm,map\ns,rpm,kPa\n",
            Refused("no data rows"),
        ),
        kind(
            "only a preamble",
            "Run log\nCar: hill special\nDate: 2025-06-14\n",
            Refused(""),
        ),
        kind("only comments", "# a\n# b\n# c\n", Refused("")),
        kind("noise", noise(5000), Refused("text")),
        kind("zero bytes", vec![0; 5000], Refused("text")),
        kind(
            "a picture",
            b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01\0\0\0\x01\x08\x02",
            Refused(""),
        ),
        kind(
            "a PDF",
            "%PDF-1.7\n1 0 obj\n<< /Type /Catalog >>\nendobj\n",
            Refused("pdf"),
        ),
        kind(
            "JSON",
            "{\"rpm\": [1, 2, 3], \"time\": [0, 1, 2]}",
            Refused("json"),
        ),
        kind(
            "JSON lines",
            "{\"t\": 0, \"rpm\": 800}\n{\"t\": 1, \"rpm\": 810}\n",
            Refused("json"),
        ),
        kind(
            "a web page",
            "<!DOCTYPE html>\n<html><body><table><tr><td>1</td></tr></table></body></html>\n",
            Refused("web page"),
        ),
        kind(
            "XML",
            "<?xml version=\"1.0\"?>\n<log><row t=\"0\"/></log>\n",
            Refused("xml"),
        ),
        kind(
            "a spreadsheet",
            zip(sheet, CompressionMethod::Deflated),
            Refused("spreadsheet"),
        ),
        kind(
            "an old spreadsheet",
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1\0\0\0\0\0\0\0\0\0\0",
            Refused("spreadsheet"),
        ),
        kind(
            "a program",
            b"\x7fELF\x02\x01\x01\0\0\0\0\0\0\0\0\0\x03\0\x3e\0\x01\0\0\0",
            Refused(""),
        ),
        kind(
            "a story",
            "It ran well today.\nThen it did not.\nWe went home.\n",
            Refused("numbers"),
        ),
        kind(
            "numbers without names",
            "0,1,2\n1,2,3\n2,3,4\n3,4,5\n",
            Refused("names"),
        ),
        kind(
            "no clock",
            "rpm,map\n800,40\n810,41\n805,40\n820,42\n",
            Refused("sample_hz"),
        ),
        kind(
            "a standing clock",
            "time (s),rpm\n5,800\n5,810\n5,805\n5,790\n",
            Refused("sample_hz"),
        ),
        kind(
            "xz",
            b"\xfd7zXZ\0\0\x04\xe6\xd6\xb4F\x02\0!\x01\x16\0\0\0",
            Refused("xz"),
        ),
        kind(
            "bzip2",
            b"BZh91AY&SY\x12\x34\x56\x78\0\0\0",
            Refused("bzip2"),
        ),
        kind("gzip of nothing", gzip(b""), Refused("empty")),
        kind("gzip of a picture", gzip(&noise(3000)), Refused("text")),
        kind("gzip head only", cut(gzip(log.as_bytes()), 8), Refused("")),
        kind(
            "gzip damaged from the start",
            damaged(gzip(log.as_bytes()), 10),
            Refused(""),
        ),
        kind("zstd head only", cut(zstd(log.as_bytes()), 7), Refused("")),
        kind(
            "zstd damaged from the start",
            damaged(zstd(log.as_bytes()), 6),
            Refused(""),
        ),
        kind(
            "zip cut in half",
            cut(packed.clone(), packed.len() / 2),
            Refused("zip"),
        ),
        kind(
            "zip damaged inside",
            damaged(packed.clone(), 40),
            Refused(""),
        ),
        kind(
            "zip without files",
            zip(&[], CompressionMethod::Stored),
            Refused("zip"),
        ),
        kind(
            "zip without a log",
            zip(
                &[("photo.jpg", &noise(900)), ("notes/", b"")],
                CompressionMethod::Stored,
            ),
            Refused("zip"),
        ),
        kind("zip in a zip", nested, Refused("zip")),
        kind(
            "zip with a password",
            locked(packed.clone()),
            Refused("password"),
        ),
        kind(
            "gzip in gzip",
            gzip(&gzip(log.as_bytes())),
            Refused("packed twice"),
        ),
    ]
}

/// Sets the mark "encrypted" on the entry of a zip, in both places where it stands.
fn locked(mut zip: Vec<u8>) -> Vec<u8> {
    for (signature, flags) in [(b"PK\x03\x04", 6), (b"PK\x01\x02", 8)] {
        let at = zip
            .windows(4)
            .position(|w| w == signature)
            .expect("a header");
        zip[at + flags] |= 1;
    }
    zip
}

/// Those of which a part is good.
pub fn partly() -> Vec<Kind> {
    let log = good(400);
    let with = |at: usize, line: &str| {
        let mut lines: Vec<&str> = log.lines().collect();
        lines.insert(at, line);
        lines.join("\n") + "\n"
    };
    // Packed as it is, most of a log this even would lie in the last bytes.
    let packed = gzip(log.as_bytes());
    let mut tail = log.clone().into_bytes();
    tail.extend(vec![0; 3000]);
    let ragged: String = format!("time (s),rpm,map (kPa)\n{}", "0,1\n0.1,2,3,4\n".repeat(50));
    let backward: String = (0..40)
        .map(|n| format!("{}.5,{},40\n", 100 - n, 800 + n))
        .collect();
    let repeated: String = good(20).repeat(3);
    vec![
        kind(
            "cut in the last row",
            &log.as_bytes()[..log.len() - 6],
            Partly(399, "cut"),
        ),
        kind("zeros behind the end", tail, Partly(400, "")),
        kind(
            "a zero byte in a cell",
            log.replace("\n3.0,", "\n3.0\0,"),
            Partly(399, ""),
        ),
        kind("a torn row", with(200, "19.85,70"), Partly(400, "fields")),
        kind(
            "noise in a row",
            [with(1, "").as_bytes(), &noise(30), b"\n"].concat(),
            Partly(400, ""),
        ),
        kind(
            "a quote that never closes",
            with(200, "19.85,\"70,12.3"),
            Partly(401, "not a number"),
        ),
        kind(
            "gzip broken off behind the data",
            packed[..packed.len() - 6].to_vec(),
            Partly(400, "gzip"),
        ),
        kind("names three times", repeated, Partly(60, "names")),
        kind("one row", "time (s),rpm\n0.0,800\n", Partly(1, "")),
        kind(
            "two rows",
            "time (s),rpm\n0.0,800\n0.1,810\n",
            Partly(2, ""),
        ),
        kind(
            "a clock that runs backward",
            format!("time (s),rpm,map (kPa)\n{backward}"),
            Refused("time"),
        ),
        kind("only ragged rows", ragged, Refused("")),
        kind(
            "text in half of the cells",
            with(3, "0.15,fast,12.4"),
            Partly(401, "not a number"),
        ),
    ]
}
