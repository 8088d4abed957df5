//! Names the entry of the build sheet that keeps a log from being read.

use super::{Sniffed, sniff_as};
use crate::load::dialect::Forced;
use crate::load::error::LoadError;
use crate::load::file::Source;

/// Passes on what was found, unless leaving out a forced delimiter or decimal mark reads the log where the forced one does
/// not: then that entry is to blame.
pub(super) fn forced_entry(
    source: &Source,
    forced: &Forced,
    found: Result<Sniffed, LoadError>,
) -> Result<Sniffed, LoadError> {
    if forced.delimiter.is_none() && forced.decimal.is_none() {
        return found;
    }
    let in_one_piece = match &found {
        Err(LoadError::BadForced { .. }) => return found,
        Err(_) => false,
        Ok(sniffed) if sniffed.dialect.clock.is_none() => false,
        Ok(sniffed) if sniffed.dialect.fields < 2 => true,
        Ok(_) => return found,
    };
    let suspects = [
        (
            "delimiter",
            forced.delimiter.map(|delimiter| format!("{delimiter:?}")),
            Forced {
                delimiter: None,
                ..forced.clone()
            },
        ),
        (
            "decimal",
            forced.decimal.map(|decimal| format!("{decimal:?}")),
            Forced {
                decimal: None,
                ..forced.clone()
            },
        ),
    ];
    for (entry, value, without) in suspects {
        let Some(value) = value else { continue };
        let reads = sniff_as(source, &without).is_ok_and(|sniffed| {
            sniffed.dialect.clock.is_some() && (!in_one_piece || sniffed.dialect.fields >= 2)
        });
        if reads {
            return Err(LoadError::BadForced {
                file: source.name.clone(),
                entry,
                value,
                wanted: "its rows cannot be read with that, and can be without; leave the entry out",
            });
        }
    }
    found
}
