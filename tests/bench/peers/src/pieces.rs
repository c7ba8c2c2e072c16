//! A day cut into smooth pieces, for integrators that know nothing of events.
//!
//! The cuts are those of the program's own solution at a tight tolerance: where events start and end, where pump and fan
//! switch, and within a computed pass where a gear is taken, where tyres break away and where they take hold. Every
//! integrator gets the same pieces, starts each with nothing but a state, and ends it at the same time; what happens
//! between two pieces (`Before`) is the same arithmetic for all. So nobody searches for events, and only integrators differ.
//!
//! The state is the program's: heat of the seven nodes in kelvin of rise, and in a pass engine, wheel and car speed and
//! distance behind it. Books are left out, which favours the others: they would carry them as further states.

use std::error::Error;

use ode_solvers::SVector;
use stallheat::drive::FluidLosses;
use stallheat::network::{FlatNetwork, Network, Scaling};
use stallheat::pass::{MARKS_M, MeanSpeeds};
use stallheat::scenario::Scenario;
use stallheat::simulate::simulate_on;
use stallheat::solver::Tolerance;
use stallheat::timeline::{Event, EventEnd, EventKind, Loads, NODES, Node};
use stallheat::trace::{EventRecord, Trace};
use stallheat::transmission::{Mode, Path, Transmission};
use stallheat::vehicle::{Motion, Powertrain, Rates, Tyre};

/// Heat and motion together: the states of a pass.
pub const WHOLE: usize = NODES + 4;
/// Error control of the solution that cuts the day, and that others are measured against.
pub const TIGHT: Tolerance = Tolerance { relative: 1e-10, absolute: 1e-10 };
/// Tyres that slip by less (m/s) hold.
const HOLDS_M_PER_S: f64 = 1e-6;
/// Cuts nearer to each other than this (s) are one.
const SHORTEST_S: f64 = 1e-6;

/// What happens to the state before a piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Before {
    Nothing,
    /// A pass begins from this engine speed (rad/s), everything else standing.
    Launch(f64),
    /// The next gear is taken.
    Shift,
    /// Wheels turn with the road again.
    Hold,
}

/// A pass at one gear, with tyres that hold or slip.
#[derive(Debug, Clone, Copy)]
pub struct Driving {
    pub gear: usize,
    pub tyre: Tyre,
    pub losses: FluidLosses,
}

/// A smooth piece of time.
pub struct Piece {
    pub before: Before,
    pub network: Network,
    pub flat: FlatNetwork,
    pub duration_s: f64,
    /// In a computed pass.
    pub driving: Option<Driving>,
    /// The last of its event.
    pub ends_event: bool,
}

/// A day in pieces.
pub struct Pieces<'a> {
    pub transmission: &'a Transmission<'a>,
    pub scaling: Scaling,
    pub pieces: Vec<Piece>,
    /// The program's own temperatures (K) at the ends of its events, at the tight tolerance.
    pub trace_end_k: Vec<[f64; NODES]>,
}

/// Cuts a day; `transmission` is one of the day's set-up.
pub fn cut<'a>(
    transmission: &'a mut Transmission<'a>,
    day: &Scenario,
) -> Result<Pieces<'a>, Box<dyn Error>> {
    let trace = simulate_on(transmission, day, TIGHT).map_err(|error| error.to_string())?;
    let scaling = Scaling::new(transmission.nodes(), &day.initial_temperature_k);
    let mut pieces = Vec::new();
    let mut trace_end_k = Vec::new();
    for record in &trace.events {
        if record.end_s - record.start_s < SHORTEST_S {
            continue;
        }
        match &record.pass {
            Some(_) => cut_pass(transmission, day, &trace, record, &mut pieces)?,
            None => cut_event(transmission, day, &trace, record, &mut pieces),
        }
        if let Some(last) = pieces.last_mut() {
            last.ends_event = true;
        }
        trace_end_k.push(trace.samples[record.samples.1].temperature_k);
    }
    Ok(Pieces { transmission, scaling, pieces, trace_end_k })
}

fn stated(day: &Scenario, record: &EventRecord) -> Event {
    match record.place {
        Some((block, event)) => day.blocks[block].events[event].clone(),
        None => Event::parked(EventEnd::Duration(record.end_s - record.start_s)),
    }
}

/// Switches as they stand at a time.
fn switched(trace: &Trace, time_s: f64) -> (Option<stallheat::timeline::Route>, bool) {
    let on = |switch: &&stallheat::trace::SwitchRecord| {
        switch.start_s <= time_s && time_s < switch.end_s
    };
    let route = trace.switches.iter().filter(on).find_map(|switch| switch.route);
    (route, trace.switches.iter().filter(on).any(|switch| switch.route.is_none()))
}

/// Times without those that are one.
fn apart(mut times_s: Vec<f64>) -> Vec<f64> {
    times_s.sort_by(f64::total_cmp);
    times_s.dedup_by(|later, earlier| *later - *earlier < SHORTEST_S);
    times_s
}

fn cut_event(
    transmission: &mut Transmission,
    day: &Scenario,
    trace: &Trace,
    record: &EventRecord,
    pieces: &mut Vec<Piece>,
) {
    let event = stated(day, record);
    let inside = |time_s: &f64| record.start_s < *time_s && *time_s < record.end_s;
    let mut times_s = vec![record.start_s, record.end_s];
    times_s.extend(
        trace.switches.iter().flat_map(|switch| [switch.start_s, switch.end_s]).filter(inside),
    );
    for pair in apart(times_s).windows(2) {
        let (route, fan) = switched(trace, 0.5 * (pair[0] + pair[1]));
        let mode = Mode { loads: record.loads, ..Mode::new(&day.setup, &event, route, fan) };
        let network = transmission.network(&mode);
        pieces.push(Piece {
            before: Before::Nothing,
            flat: FlatNetwork::new(&network),
            network,
            duration_s: pair[1] - pair[0],
            driving: None,
            ends_event: false,
        });
    }
}

/// The network during a pass: that of its mean speeds, without what motion makes itself.
pub fn pass_network(transmission: &mut Transmission, means: MeanSpeeds, event: &Event) -> Network {
    let mut network = transmission.network(&Mode {
        kind: EventKind::Pass,
        loads: Loads {
            engine_speed_rad_per_s: means.engine_rad_per_s,
            road_speed_m_per_s: means.car_m_per_s,
            torque_ratio: 1.0,
            ..Loads::default()
        },
        shift_heat_w: 0.0,
        route: event.circulation.first().map(|pump| pump.route),
        fan: !event.fan.is_empty(),
    });
    let from_motion = [Path::ConverterShear, Path::GearTrain, Path::FrontPump];
    network.sources.retain(|source| from_motion.iter().all(|path| path.index() != source.path));
    network
}

fn cut_pass(
    transmission: &mut Transmission,
    day: &Scenario,
    trace: &Trace,
    record: &EventRecord,
    pieces: &mut Vec<Piece>,
) -> Result<(), Box<dyn Error>> {
    let event = stated(day, record);
    let (Some(pass), EventEnd::Finish { distance_m }) = (&record.pass, event.end) else {
        return Err("a pass without a finish".into());
    };
    assert!(MARKS_M.contains(&distance_m), "a pass to one of the marks");
    let means = transmission.nominal_speeds((distance_m, TIGHT)).ok_or("no nominal pass")?;
    let start_k = trace.samples[record.samples.0].temperature_k;
    let losses = transmission.losses(start_k[Node::PanFluid.index()]);
    let radius_m = transmission.drive().powertrain(losses).car.tyre_radius_m;
    let slips =
        |motion: &Motion| motion.wheel_rad_per_s * radius_m - motion.car_m_per_s > HOLDS_M_PER_S;
    let samples = &pass.samples;
    let mut start_s = 0.0;
    let mut before = Before::Launch(samples[0].motion.engine_rad_per_s);
    let mut now: Option<Driving> = None;
    let mut push = |before, driving, duration_s| {
        let network = pass_network(transmission, means, &event);
        let flat = FlatNetwork::new(&network);
        pieces.push(Piece {
            before,
            network,
            flat,
            duration_s,
            driving: Some(driving),
            ends_event: false,
        });
    };
    for pair in samples.windows(2) {
        if pair[1].time_s <= pair[0].time_s {
            continue;
        }
        let tyre = if slips(&pair[0].motion) || slips(&pair[1].motion) {
            Tyre::Spins
        } else {
            Tyre::Grips
        };
        let next = Driving { gear: pair[0].gear, tyre, losses };
        let Some(driving) = now else {
            now = Some(next);
            continue;
        };
        if (driving.gear, driving.tyre) == (next.gear, next.tyre) {
            continue;
        }
        assert!(driving.gear == next.gear || driving.tyre == next.tyre, "one change at a time");
        push(before, driving, pair[0].time_s - start_s);
        start_s = pair[0].time_s;
        before = match (driving.gear == next.gear, next.tyre) {
            (false, _) => Before::Shift,
            (true, Tyre::Grips) => Before::Hold,
            (true, Tyre::Spins) => Before::Nothing,
        };
        now = Some(next);
    }
    push(before, now.ok_or("an empty pass")?, pass.duration_s - start_s);
    Ok(())
}

impl Pieces<'_> {
    pub fn powertrain(&self, driving: &Driving) -> Powertrain<'_> {
        self.transmission.drive().powertrain(driving.losses)
    }

    /// Temperatures (K) of a state.
    pub fn temperatures_k<const S: usize>(&self, y: &SVector<f64, S>) -> [f64; NODES] {
        let mut temperature_k = [0.0; NODES];
        for (i, node) in self.transmission.nodes().iter().enumerate() {
            temperature_k[i] = node.temperature_k(self.scaling.heat_j(y, i));
        }
        temperature_k
    }

    /// dy/dt in a piece, of heat alone or of heat and motion.
    #[inline]
    pub fn rates<const S: usize>(
        &self,
        piece: &Piece,
        y: &SVector<f64, S>,
        dy: &mut SVector<f64, S>,
    ) {
        let temperature_k = piece.flat.derivative_alone(&self.scaling, y, dy);
        self.drive(piece, y, dy, temperature_k[Node::ConverterFluid.index()]);
    }

    /// The same with the heat along every path (W). What is beyond the paths is left alone.
    #[inline]
    pub fn booked_rates<const S: usize, const B: usize>(
        &self,
        piece: &Piece,
        y: &SVector<f64, S>,
        dy: &mut SVector<f64, S>,
        books_w: &mut SVector<f64, B>,
    ) -> Option<Rates> {
        let temperature_k = piece.flat.derivative(&self.scaling, y, dy, books_w);
        let rates = self.drive(piece, y, dy, temperature_k[Node::ConverterFluid.index()])?;
        for (path, heat_w) in [
            (Path::ConverterShear, rates.converter_w),
            (Path::GearTrain, rates.gearbox_w),
            (Path::FrontPump, rates.front_pump_w),
        ] {
            books_w[path.index()] += heat_w;
        }
        Some(rates)
    }

    /// The motion's part, where there is any.
    #[inline]
    fn drive<const S: usize>(
        &self,
        piece: &Piece,
        y: &SVector<f64, S>,
        dy: &mut SVector<f64, S>,
        converter_k: f64,
    ) -> Option<Rates> {
        let driving = piece.driving.as_ref()?;
        let motion = Motion {
            engine_rad_per_s: y[NODES],
            wheel_rad_per_s: y[NODES + 1],
            car_m_per_s: y[NODES + 2],
        };
        let capacity_ratio = piece.flat.capacity_at(converter_k);
        let rates =
            self.powertrain(driving).rates(&motion, driving.gear, driving.tyre, capacity_ratio);
        for (node, heat_w) in [
            (Node::ConverterFluid, rates.converter_w),
            (Node::GearTrain, rates.gearbox_w),
            (Node::PanFluid, rates.front_pump_w),
        ] {
            self.scaling.add_heat(dy, node.index(), heat_w);
        }
        dy[NODES] = rates.engine_rad_per_s2;
        dy[NODES + 1] = rates.wheel_rad_per_s2;
        dy[NODES + 2] = rates.car_m_per_s2;
        dy[NODES + 3] = motion.car_m_per_s;
        Some(rates)
    }

    /// What happens before a piece, to a state of heat and motion. Returns the heat of a shift (J).
    pub fn begin(&self, piece: &Piece, y: &mut SVector<f64, WHOLE>) -> f64 {
        let Some(driving) = &piece.driving else { return 0.0 };
        let powertrain = self.powertrain(driving);
        let radius_m = powertrain.car.tyre_radius_m;
        match piece.before {
            Before::Nothing => {}
            Before::Launch(engine_rad_per_s) => {
                y.fixed_rows_mut::<4>(NODES).fill(0.0);
                y[NODES] = engine_rad_per_s;
            }
            Before::Hold => y[NODES + 1] = y[NODES + 2] / radius_m,
            Before::Shift => {
                let ratios = (
                    powertrain.overall_ratio(driving.gear - 1),
                    powertrain.overall_ratio(driving.gear),
                );
                let turbine = powertrain.gearbox.turbine_inertia_kg_m2;
                let body = powertrain.car.wheel_inertia_kg_m2
                    + match driving.tyre {
                        Tyre::Grips => powertrain.car.mass_kg * radius_m * radius_m,
                        Tyre::Spins => 0.0,
                    };
                let wheel = y[NODES + 1];
                let after = (body + turbine * ratios.0 * ratios.1) * wheel
                    / (body + turbine * ratios.1 * ratios.1);
                let lost_j = 0.5
                    * ((body + turbine * ratios.0 * ratios.0) * wheel * wheel
                        - (body + turbine * ratios.1 * ratios.1) * after * after);
                y[NODES + 1] = after;
                if driving.tyre == Tyre::Grips {
                    y[NODES + 2] = after * radius_m;
                }
                self.scaling.add_heat(y, Node::GearTrain.index(), lost_j);
                return lost_j;
            }
        }
        0.0
    }
}
