//! Embeds the check scripts in sorted order. A doubled id stops the build.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;
use std::{env, fs, io};

fn main() -> io::Result<()> {
    println!("cargo::rerun-if-changed=scripts");
    let mut found: BTreeMap<String, (String, String)> = BTreeMap::new();
    for system in sorted(Path::new("scripts"))?.iter().filter(|p| p.is_dir()) {
        let system_name = name(system);
        for script in sorted(system)?
            .iter()
            .filter(|p| p.extension().is_some_and(|e| e == "rhai"))
        {
            let id = script
                .file_stem()
                .map(|s| s.to_string_lossy().into_owned())
                .unwrap_or_default();
            let place = format!("scripts/{system_name}/{id}.rhai");
            if let Some((other, _)) = found.insert(id.clone(), (place.clone(), system_name.clone()))
            {
                return Err(io::Error::other(format!(
                    "two checks have the id `{id}`: {other} and {place}"
                )));
            }
        }
    }
    let mut code = String::from(
        "/// Place, system, id and text of each built-in check.\npub const BUILT_IN: &[(&str, &str, &str, &str)] = &[\n",
    );
    for (id, (place, system)) in &found {
        let _ = writeln!(
            code,
            "    ({place:?}, {system:?}, {id:?}, include_str!(concat!(env!(\"CARGO_MANIFEST_DIR\"), \"/{place}\"))),"
        );
    }
    code.push_str("];\n");
    let out = env::var("OUT_DIR").map_err(io::Error::other)?;
    fs::write(Path::new(&out).join("built_in.rs"), code)
}

fn sorted(folder: &Path) -> io::Result<Vec<std::path::PathBuf>> {
    let mut list: Vec<_> = fs::read_dir(folder)?
        .map(|e| e.map(|e| e.path()))
        .collect::<Result<_, _>>()?;
    list.sort();
    Ok(list)
}

fn name(path: &Path) -> String {
    path.file_name()
        .map(|n| n.to_string_lossy().into_owned())
        .unwrap_or_default()
}
