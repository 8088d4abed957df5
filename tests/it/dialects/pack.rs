//! Packs the bytes of a log with the usual libraries.

use std::io::{Cursor, Write as _};

use flate2::Compression;
use flate2::write::GzEncoder;
use zip::CompressionMethod;
use zip::write::{SimpleFileOptions, ZipWriter};

/// How a log is packed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pack {
    None,
    Gzip,
    /// As one gets by joining two packed files.
    GzipTwice,
    /// Packed, but called `.csv`.
    GzipNamedCsv,
    Zip,
    ZipStored,
    /// With a folder and a text file beside the log.
    ZipWithNote,
    Zstd,
    ZstdTwice,
}

impl Pack {
    /// What the file is called.
    pub const fn file_name(self) -> &'static str {
        match self {
            Self::None | Self::GzipNamedCsv => "run.csv",
            Self::Gzip | Self::GzipTwice => "run.csv.gz",
            Self::Zip | Self::ZipStored | Self::ZipWithNote => "run.zip",
            Self::Zstd | Self::ZstdTwice => "run.csv.zst",
        }
    }
}

/// Packs bytes.
pub fn pack(bytes: &[u8], pack: Pack) -> Vec<u8> {
    // Not in the middle of a line, nor at its end: a seam may lie anywhere.
    let (front, back) = bytes.split_at(bytes.len() / 2);
    match pack {
        Pack::None => bytes.to_vec(),
        Pack::Gzip | Pack::GzipNamedCsv => gzip(bytes),
        Pack::GzipTwice => [gzip(front), gzip(back)].concat(),
        Pack::Zip => zip(&[("run.csv", bytes)], CompressionMethod::Deflated),
        Pack::ZipStored => zip(&[("run.csv", bytes)], CompressionMethod::Stored),
        Pack::ZipWithNote => {
            let note = b"Second run of the day, dry.\n";
            let files: [(&str, &[u8]); 3] = [
                ("day/", b""),
                ("day/readme.txt", note),
                ("day/run.csv", bytes),
            ];
            zip(&files, CompressionMethod::Deflated)
        }
        Pack::Zstd => zstd(bytes),
        Pack::ZstdTwice => [zstd(front), zstd(back)].concat(),
    }
}

/// One gzip member.
pub fn gzip(bytes: &[u8]) -> Vec<u8> {
    let mut packer = GzEncoder::new(Vec::new(), Compression::fast());
    packer.write_all(bytes).expect("packed");
    packer.finish().expect("packed")
}

/// One zstd frame.
pub fn zstd(bytes: &[u8]) -> Vec<u8> {
    zstd::encode_all(bytes, 1).expect("packed")
}

/// A zip of files; a name that ends in `/` is a folder.
pub fn zip(files: &[(&str, &[u8])], method: CompressionMethod) -> Vec<u8> {
    let mut packer = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default().compression_method(method);
    for (name, bytes) in files {
        if name.ends_with('/') {
            packer.add_directory(*name, options).expect("packed");
            continue;
        }
        packer.start_file(*name, options).expect("packed");
        packer.write_all(bytes).expect("packed");
    }
    packer.finish().expect("packed").into_inner()
}
