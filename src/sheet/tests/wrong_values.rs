//! One test for each kind of diagnostic about what a sheet says: line, underlined text, wording.

use super::*;

#[test]
fn unknown_section() {
    one(
        "[engin]\ncylinders = 6\n",
        1,
        "engin",
        "there is no section \"engin\"",
        "[engine], probably",
    );
    one(
        "[gearbox]\n",
        1,
        "gearbox",
        "there is no section \"gearbox\"",
        "one of the sections engine, fuel, air, oil, cooling, electrical, sensors, limits, channels, units, log, display",
    );
}

#[test]
fn entry_outside_its_section() {
    one(
        "cylinders = 6\n",
        1,
        "cylinders",
        "there is no entry \"cylinders\"",
        "\"cylinders\" below [engine]",
    );
    one(
        "[engine]\nfan = true\n",
        2,
        "fan",
        "[engine] has no entry \"fan\"",
        "\"fan\" below [cooling]",
    );
}

#[test]
fn unknown_key() {
    one(
        "[oil]\n\nreleif = 450\n",
        3,
        "releif",
        "[oil] has no entry \"releif\"",
        "\"relief\", probably",
    );
    one(
        "[oil]\nviscosity = 40\n",
        2,
        "viscosity",
        "[oil] has no entry \"viscosity\"",
        "one of system, relief, bearings",
    );
}

#[test]
fn section_that_is_none() {
    let wanted = "[oil] on a line of its own, and its entries below";
    one(
        "oil = 3\n",
        1,
        "oil",
        "\"oil\" is a section, and this is a number",
        wanted,
    );
    one(
        "[[oil]]\nrelief = 450\n",
        1,
        "oil",
        "\"oil\" is a section, and this is a list",
        wanted,
    );
}

#[test]
fn wrong_type() {
    one(
        "[oil]\nrelief = \"450\"\n",
        2,
        "\"450\"",
        "this is text",
        "a number from 50 to 2000 kPa, without quotes",
    );
    one(
        "[cooling]\nfan = 1\n",
        2,
        "1",
        "this is a number",
        "true or false, without quotes",
    );
    one(
        "[engine]\nname = 7\n",
        2,
        "7",
        "this is a number",
        "text in quotes",
    );
    one(
        "[engine]\ncylinders = 5.5\n",
        2,
        "5.5",
        "this number cannot be right",
        "a whole number from 1 to 36, without quotes",
    );
    let list = "every cylinder number once, such as [1, 3, 4, 2]";
    one(
        "[engine]\nfiring_order = \"1342\"\n",
        2,
        "\"1342\"",
        "this is text",
        list,
    );
    one(
        "[engine]\nfiring_order = [1, \"3\", 4, 2]\n",
        2,
        "\"3\"",
        "this is no cylinder number",
        list,
    );
    one(
        "[engine]\nfiring_order = []\n",
        2,
        "[]",
        "this list is empty",
        list,
    );
    let amounts = "named numbers from 0 to 1000 A, such as { fuel_pump = 11.0, ignition = 8.0, injectors = 6.0 }";
    one(
        "[electrical]\nloads = { pump = \"11\" }\n",
        2,
        "\"11\"",
        "this is text",
        amounts,
    );
    one(
        "[channels]\negt_1 = 4\n",
        2,
        "4",
        "this is a number",
        "the column's header in quotes, as the log writes it",
    );
}

#[test]
fn impossible_number() {
    for number in ["-2500", "2.5", "nan", "inf", "99999999999999999999"] {
        let wanted = "a number from 20 to 60000 cm3, without quotes";
        one(
            &format!("[engine]\ndisplacement_cc = {number}\n"),
            2,
            number,
            "this number cannot be right",
            wanted,
        );
    }
    one(
        "[cooling]\ncap = 1.1\n",
        2,
        "1.1",
        "this number cannot be right",
        "0, or a number from 20 to 400 kPa, without quotes",
    );
    assert!(problems("[cooling]\ncap = 0\n").is_empty());
}

#[test]
fn unknown_word() {
    let fuels = "one of \"gasoline\", \"e10\", \"e85\", \"ethanol\", \"methanol\", in quotes, or { stoich_afr = 9.8 } for another fuel";
    one(
        "[fuel]\nkind = \"diesel\"\n",
        2,
        "\"diesel\"",
        "\"diesel\" is not known here",
        fuels,
    );
    one(
        "[fuel]\nkind = \"E85\"\n",
        2,
        "\"E85\"",
        "\"E85\" is not known here",
        &format!("{fuels} (\"e85\" was probably meant)"),
    );
    one(
        "[oil]\nsystem = \"damp\"\n",
        2,
        "\"damp\"",
        "\"damp\" is not known here",
        "one of \"wet\", \"dry\", in quotes",
    );
    one(
        "[engine]\nstrokes = 3\n",
        2,
        "3",
        "no engine of this kind is known here",
        "2, 4, or \"rotary\" in quotes",
    );
    let marks = r#"one of ",", ";", "\t", "|", " ", in quotes"#;
    one(
        "[log]\ndelimiter = \"x\"\n",
        2,
        "\"x\"",
        "this mark is not known here",
        marks,
    );
    one(
        "[log]\nclock_unit = \"sec\"\n",
        2,
        "\"sec\"",
        "\"sec\" is not known here",
        "one of \"s\", \"ms\", \"us\", \"ns\", \"min\", \"h\", in quotes",
    );
    one(
        "[log]\nencoding = \"utf8\"\n",
        2,
        "\"utf8\"",
        "\"utf8\" is not known here",
        "one of \"utf-8\", \"utf-16le\", \"utf-16be\", \"windows-1252\", in quotes (\"utf-8\" was probably meant)",
    );
    one(
        "[log]\nnames_line = 0\n",
        2,
        "0",
        "this number cannot be right",
        "a whole number from 1 to 100000, without quotes",
    );
    one(
        "[fuel]\nkind = { afr = 9 }\n",
        2,
        "{ afr = 9 }",
        "\"afr\" is not known here",
        fuels,
    );
}

#[test]
fn firing_order_that_is_no_permutation() {
    let wanted = "cylinder numbers from 1 to 4, each once";
    let order = |list: &str| format!("[engine]\ncylinders = 4\nfiring_order = {list}\n");
    one(
        &order("[1, 3, 4, 3]"),
        3,
        "3",
        "cylinder 3 is already in this list",
        wanted,
    );
    one(
        &order("[1, 3, 2]"),
        3,
        "[1, 3, 2]",
        "cylinder 4 is missing",
        wanted,
    );
    one(
        &order("[0, 1, 2, 3]"),
        3,
        "0",
        "there is no cylinder 0, the engine has 4",
        wanted,
    );
    one(
        "[engine]\nfiring_order = [1, 3, 5, 2]\n",
        2,
        "5",
        "there is no cylinder 5, the engine has 4",
        wanted,
    );
    // A wrong order does not drag correct banks along.
    one(
        "[engine]\nfiring_order = [1, 1]\nbanks = { l = [1, 2], r = [3, 4] }\n",
        2,
        "1",
        "cylinder 1 is already in this list",
        "cylinder numbers from 1 to 2, each once",
    );
}

#[test]
fn cylinders_not_there_twice_or_nowhere() {
    let wanted = "cylinder numbers from 1 to 4, each once";
    let banks = |banks: &str| format!("[engine]\ncylinders = 4\nbanks = {banks}\n");
    one(
        &banks("{ l = [1, 2], r = [3, 9] }"),
        3,
        "9",
        "there is no cylinder 9, the engine has 4",
        wanted,
    );
    one(
        &banks("{ l = [1, 2], r = [2, 3, 4] }"),
        3,
        "2",
        "cylinder 2 is already in bank l",
        wanted,
    );
    one(
        &banks("{ l = [1, 2] }"),
        3,
        "{ l = [1, 2] }",
        "cylinders 3, 4 are in no bank",
        wanted,
    );
    let sensors = |entry: &str| format!("[engine]\ncylinders = 4\n[sensors]\n{entry}\n");
    one(
        &sensors("egt_cylinder = [1, 2, 2]"),
        4,
        "2",
        "cylinder 2 is already in this list",
        wanted,
    );
    one(
        &sensors("knock_sensors = { a = [5] }"),
        4,
        "5",
        "there is no cylinder 5, the engine has 4",
        wanted,
    );
    // Two sensors between the same cylinders are an honest arrangement.
    assert!(problems(&sensors("knock_sensors = { a = [1, 2, 3], b = [2, 3, 4] }")).is_empty());
    one(
        "[fuel]\nlambda_at = { lamda = [1] }\n",
        2,
        "lamda",
        "\"lamda\" is no lambda channel",
        "lambda, or lambda_2 and so on for further sensors",
    );
}

#[test]
fn figures_out_of_order() {
    one(
        "[engine]\nidle_rpm = 1100\nrev_limit_rpm = 760\n",
        3,
        "760",
        "this is not above the idle speed, 1100 rpm",
        "more than 1100 rpm, or correct the other entry",
    );
    one(
        "[electrical]\nnominal_v = 16\nregulator_v = 14.2\n",
        3,
        "14.2",
        "this is not above the nominal voltage, 16 V",
        "more than 16 V, or correct the other entry",
    );
    one(
        "[electrical]\nreset_v = 14.4\nregulator_v = 14.2\n",
        3,
        "14.2",
        "this is not above the voltage where the controller drops out, 14.4 V",
        "more than 14.4 V, or correct the other entry",
    );
    let found = problems("[electrical]\nnominal_v = 13.8\n");
    assert_eq!(
        (found.len(), found[0].underlined(), found[0].what.as_str()),
        (1, "13.8", "13.8 V is no nominal voltage")
    );
    one(
        "[log]\ndelimiter = \",\"\ndecimal = \",\"\n",
        3,
        "\",\"",
        "\",\" cannot be both decimal mark and delimiter",
        "two different marks",
    );
    one(
        "[log]\nnames_line = 2\nunits_line = 2\n",
        3,
        "2",
        "line 2 cannot hold both the names and the units",
        "two different lines; units in the names themselves need no line (units_line = 0)",
    );
    assert!(problems("[log]\nnames_line = 2\nunits_line = 0\n").is_empty());
}

#[test]
fn two_fuels() {
    one(
        "[engine]\nfuel = \"e10\"\n[fuel]\nkind = \"e85\"\n",
        4,
        "\"e85\"",
        "fuel.kind says something else than line 2, and both mean the same",
        "fuel.kind once, or twice the same",
    );
}

#[test]
fn units_of_columns() {
    one(
        "[units]\nOil = \"psi\"\n",
        2,
        "Oil",
        "\"Oil\" is no standard name",
        "the standard name on the left, small letters and _, and its unit on the right: \"oil_pressure\" = \"psi\"",
    );
    let wanted = "the unit in quotes, such as \"psi\", \"degF\" or \"kPa gauge\"";
    one("[units]\nmap = 3\n", 2, "3", "this is a number", wanted);
    one(
        "[units]\nmap = \" \"\n",
        2,
        "\" \"",
        "this text is empty",
        wanted,
    );
}

#[test]
fn limits_and_channels() {
    let wanted = "the check's id, a dot and the limit's name: \"egt-spread.spread\"";
    one(
        "[limits]\nspread = 90\n",
        2,
        "spread",
        "\"spread\" does not name a limit",
        wanted,
    );
    one(
        "[limits]\n\"a.b\" = true\n",
        2,
        "true",
        "this is true or false",
        "a number in the limit's own unit, or a number with a unit in quotes: \"120 degF\"",
    );
    one(
        "[limits]\na.b = 1\n\"a.b\" = 2\n",
        3,
        "\"a.b\"",
        "a.b is already given in line 2",
        "each limit once",
    );
    one(
        "[channels]\n\"Exh 1\" = \"egt_1\"\n",
        2,
        "\"Exh 1\"",
        "\"Exh 1\" is no standard name",
        "the standard name on the left, small letters and _, and the column's header on the right: \"egt_1\" = \"Exh Temp Front\"",
    );
    one(
        "[channels]\negt_1 = \"T1\"\negt_2 = \"T1\"\n",
        3,
        "\"T1\"",
        "this column is already given to egt_1 in line 2",
        "one standard name for each column",
    );
    one(
        "[channels]\negt_1 = \" \"\n",
        2,
        "\" \"",
        "this text is empty",
        "the column's header in quotes, as the log writes it",
    );
}
