//! The steps of a usual bench test, in the order in which they are done. Common practice, no source.

/// When a step is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum When {
    Before,
    Cold,
    Hot,
    After,
}

impl When {
    /// The name for people.
    pub fn label(self) -> &'static str {
        match self {
            When::Before => "Before the engine runs",
            When::Cold => "Cold",
            When::Hot => "Hot",
            When::After => "Afterwards",
        }
    }
}

/// One step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Check {
    /// The name in files.
    pub key: &'static str,
    pub when: When,
    pub label: &'static str,
    /// What to do and what is expected.
    pub sentence: &'static str,
}

const fn check(
    key: &'static str,
    when: When,
    label: &'static str,
    sentence: &'static str,
) -> Check {
    Check { key, when, label, sentence }
}

/// Every step.
pub const CHECKS: [Check; 17] = [
    check(
        "level",
        When::Before,
        "Fluid level",
        "Filled to the mark; topped up once the converter is full.",
    ),
    check(
        "detents",
        When::Before,
        "Selector, every detent",
        "Each position has its own click and its own lever stop.",
    ),
    check(
        "park_forward",
        When::Before,
        "Park holds forwards",
        "Output shaft turned by hand against the pawl.",
    ),
    check("park_backward", When::Before, "Park holds backwards", "The same the other way round."),
    check(
        "brake_wiring",
        When::Before,
        "Brake solenoid",
        "Clicks on the button, draws its usual current, lets go at once.",
    ),
    check(
        "leaks_cold",
        When::Cold,
        "No leaks",
        "Pan, pump seal, cooler fittings, tail, vent: dry with the engine at idle.",
    ),
    check(
        "engagement_cold",
        When::Cold,
        "Engagement",
        "Every gear takes up within about a second, without a bang.",
    ),
    check(
        "brake_cold",
        When::Cold,
        "Brake holds",
        "Applied twice: the output does not creep, and it lets go cleanly.",
    ),
    check(
        "shifts_cold",
        When::Cold,
        "Shifts up and down",
        "Each once, under light load, at the expected speed.",
    ),
    check(
        "noise_cold",
        When::Cold,
        "Noise",
        "Whine of straight-cut gears is usual; rumble and knock are not.",
    ),
    check("engagement_hot", When::Hot, "Engagement", "As cold; no slower."),
    check(
        "brake_hot",
        When::Hot,
        "Brake holds",
        "Applied twice: no creep, clean release, no drop of line pressure.",
    ),
    check("shifts_hot", When::Hot, "Shifts up and down", "As cold; no flare."),
    check("noise_hot", When::Hot, "Noise", "No other than cold."),
    check(
        "leaks_hot",
        When::Hot,
        "No leaks",
        "Again with everything hot, and with the circulation pump on.",
    ),
    check(
        "fluid_after",
        When::After,
        "Fluid",
        "Its usual colour and smell; no glitter on a white cloth.",
    ),
    check(
        "filter_after",
        When::After,
        "Filter and pan",
        "Nothing but the fine dust of new linings.",
    ),
];

/// What came of a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    AsExpected,
    NotAsExpected,
    NotDone,
}

impl Outcome {
    /// All outcomes.
    pub const ALL: [Outcome; 3] = [Outcome::AsExpected, Outcome::NotAsExpected, Outcome::NotDone];

    /// The name in files and JSON.
    pub fn key(self) -> &'static str {
        match self {
            Outcome::AsExpected => "as_expected",
            Outcome::NotAsExpected => "not_as_expected",
            Outcome::NotDone => "not_done",
        }
    }

    /// The name for people.
    pub fn label(self) -> &'static str {
        match self {
            Outcome::AsExpected => "as expected",
            Outcome::NotAsExpected => "not as expected",
            Outcome::NotDone => "not done",
        }
    }
}
