//! The paths of heat: where it is made, where it goes, how it moves inside, with the names of each.
//!
//! The ledger sums along them; links, sources and stops of the network book on them.

/// Where heat is made or goes, or moves inside; each has a running total.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Path {
    ConverterShear,
    GearTrain,
    FrontPump,
    CirculationPump,
    FromEngine,
    CoolerAir,
    CaseConvection,
    CaseRadiation,
    BellhousingAir,
    IntoEngine,
    FluidToShell,
    ShellToGears,
    PanToCase,
    PanToGears,
    GearsToCase,
    StreamToConverter,
    StreamToCooler,
    StreamToGears,
    StreamToPan,
    EngineOwnHeat,
    EngineToAir,
}

/// Number of paths.
pub const PATHS: usize = 21;

impl Path {
    /// Heat made in, or brought into, the transmission.
    pub const SOURCES: [Path; 5] = [
        Path::ConverterShear,
        Path::GearTrain,
        Path::FrontPump,
        Path::CirculationPump,
        Path::FromEngine,
    ];
    /// Heat carried out of the transmission.
    pub const SINKS: [Path; 5] = [
        Path::CoolerAir,
        Path::CaseConvection,
        Path::CaseRadiation,
        Path::BellhousingAir,
        Path::IntoEngine,
    ];
    /// Heat that moves between nodes, and the engine's own.
    pub const INSIDE: [Path; 11] = [
        Path::FluidToShell,
        Path::ShellToGears,
        Path::PanToCase,
        Path::PanToGears,
        Path::GearsToCase,
        Path::StreamToConverter,
        Path::StreamToCooler,
        Path::StreamToGears,
        Path::StreamToPan,
        Path::EngineOwnHeat,
        Path::EngineToAir,
    ];

    /// Place in arrays.
    pub fn index(self) -> usize {
        self as usize
    }

    /// The name in JSON.
    pub fn key(self) -> &'static str {
        match self {
            Path::ConverterShear => "converter_shear",
            Path::GearTrain => "gear_train",
            Path::FrontPump => "front_pump",
            Path::CirculationPump => "circulation_pump",
            Path::FromEngine => "from_engine",
            Path::CoolerAir => "cooler_air",
            Path::CaseConvection => "case_convection",
            Path::CaseRadiation => "case_radiation",
            Path::BellhousingAir => "bellhousing_air",
            Path::IntoEngine => "into_engine",
            Path::FluidToShell => "fluid_to_shell",
            Path::ShellToGears => "shell_to_gears",
            Path::PanToCase => "pan_to_case",
            Path::PanToGears => "pan_to_gears",
            Path::GearsToCase => "gears_to_case",
            Path::StreamToConverter => "stream_to_converter",
            Path::StreamToCooler => "stream_to_cooler",
            Path::StreamToGears => "stream_to_gears",
            Path::StreamToPan => "stream_to_pan",
            Path::EngineOwnHeat => "engine_own_heat",
            Path::EngineToAir => "engine_to_air",
        }
    }

    /// The name for people.
    pub fn label(self) -> &'static str {
        match self {
            Path::ConverterShear => "Fluid shear in the converter",
            Path::GearTrain => "Gears, drag and shifts",
            Path::FrontPump => "Front pump",
            Path::CirculationPump => "Circulation pump",
            Path::FromEngine => "Soaked in from the engine",
            Path::CoolerAir => "Cooler, to air",
            Path::CaseConvection => "Case, to passing air",
            Path::CaseRadiation => "Case, radiated",
            Path::BellhousingAir => "Converter, to bellhousing air",
            Path::IntoEngine => "Back into the engine",
            Path::FluidToShell => "Converter fluid to shell",
            Path::ShellToGears => "Shell to input shaft",
            Path::PanToCase => "Pan fluid to case",
            Path::PanToGears => "Pan fluid to gears",
            Path::GearsToCase => "Gears to case",
            Path::StreamToConverter => "Stream into the converter",
            Path::StreamToCooler => "Stream into the cooler",
            Path::StreamToGears => "Lubrication into the gears",
            Path::StreamToPan => "Stream into the pan",
            Path::EngineOwnHeat => "Engine's own heat",
            Path::EngineToAir => "Engine to air",
        }
    }
}
