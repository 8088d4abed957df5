//! Cautions: short, one text each, shown wherever a finding or the engine calls for them.

/// One caution.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Caution {
    /// Its id, as check files name it.
    pub id: &'static str,
    /// The text for the person at the car.
    pub text: &'static str,
}

/// Every caution there is. Sources where a figure or fact stands in one: methanol flame and alcohol-resistant foam as
/// published (see DEVELOPERS.md, "Where figures come from"); skin limits follow ISO 13732-1 as quoted there.
const CAUTIONS: &[Caution] = &[
    Caution {
        id: "hot-exhaust",
        text: "Exhaust and turbocharger stay hot enough to burn skin and light fuel for many minutes after the stop. Let them cool, and find any leak before a restart.",
    },
    Caution {
        id: "fuel-fire",
        text: "Fuel, spray and vapour catch fire from hot metal, sparks and battery terminals. Have the right extinguisher and a second person there before fuel pressure goes on.",
    },
    Caution {
        id: "alcohol-flame",
        text: "An alcohol-blend flame is fainter than petrol's: look for heat shimmer, and use alcohol-resistant foam or plenty of water.",
    },
    Caution {
        id: "methanol-flame",
        text: "A methanol flame can hardly be seen in daylight, and the vapour in a tank can burn at ordinary temperatures. Treat any spill as alight; keep water or alcohol-resistant foam and a second person ready.",
    },
    Caution {
        id: "rotating-parts",
        text: "Keep hands, sleeves, hair and leads away from belts, fans and shafts; with the key on, the engine may turn without warning.",
    },
    Caution {
        id: "battery",
        text: "A battery gives off explosive gas and holds acid: no sparks or rings near it, eyes protected. A lithium pack that was overcharged goes outdoors, away from everything.",
    },
    Caution {
        id: "hot-coolant",
        text: "Coolant is under pressure: leave the cap shut until it reads below 50 degC.",
    },
    Caution {
        id: "exhaust-gas",
        text: "Exhaust gas kills indoors: run outside, or with the exhaust led out and the doors open.",
    },
    Caution {
        id: "no-fan",
        text: "This engine has no fan: standing still it only heats up. Stop it before the limit, and remember that it climbs on after the stop.",
    },
    Caution {
        id: "high-voltage",
        text: "Coils and leads carry voltages that can kill. Never pull a live lead; work with the ignition off.",
    },
    Caution {
        id: "oil-pressure",
        text: "Without oil pressure bearings are lost in seconds: do not restart to see whether it happens again.",
    },
];

/// The caution of an id.
pub fn caution(id: &str) -> Option<Caution> {
    CAUTIONS.iter().find(|c| c.id == id).copied()
}

/// All ids, for the message when a check names one that is not there.
pub fn known_cautions() -> impl Iterator<Item = &'static str> {
    CAUTIONS.iter().map(|c| c.id)
}
