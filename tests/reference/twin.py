"""Independent twin of the seven-node model, in SciPy: writes tests/data/independent_days.json.

Run:  pip install -r tests/reference/requirements.txt && python tests/reference/twin.py [--check] [part of a day's name]

With part of a name only those days are solved, and the file is left alone. With --check the answers are compared with
those in the file; tests/run does that.

Written from docs/model.md and docs/parameters.md (equations, defaults), not from the Rust sources; other
integrators (LSODA for the day, DOP853 for passes, rtol 1e-9 and 1e-10), another effectiveness series, another
solution of Colebrook's equation (Lambert's W), a case that is not tabulated, hydraulics solved directly at every
0.1 K of pan temperature where the program interpolates between every 2.5 K. It reads scenario files by itself and
trusts them: checks and messages are not its business. The days are in tests/reference/days.py.

Equations, all SI, temperatures t in degrees Celsius:
  heat content   H = a t + b t^2 of every node; t = 2H / (a + sqrt(a^2 + 4 b H))
  fluid          rho = rho15 exp(-x (1 + 0.8 x)), x = 0.6278/rho15 (t - 15)         (API table 54D form)
                 cp = (1684.8 + 3.3913 t)/sqrt(d), d = rho(60 F)/999.016             (Cragoe 1929)
                 log log(nu + 0.7) = A - B log T                                      (Walther, ASTM D341)
  hydraulics     one balance per pump and pan temperature, by bracketed search (Chandrupatla) on arrays
  links          G dT; with turning parts rest + per-flow q + turning (rpm/5000)^0.8
  streams        e m (h_in - h(t_node)) at each stop, m with the density in the pan
  cooler         UA_oil = UA/share (q/q_rated)^0.4, UA_air = UA/(1 - share) (V/V_rated)^0.55, V = the larger of
                 fan and draught combined with ram air as root of squares; effectiveness of unmixed crossflow by
                 the double series of Mason (1954); e_h = 1 - exp(-UA_oil/C_oil),
                 1/G_c = 1/(e C_min) - 1/(e_h C_oil); no oil: G_c = C_air (1 - exp(-UA_air/C_air));
                 C at 80 C (oil) and air temperature (air)
  case to air    Churchill & Chu with Churchill & Bernstein, Nu^4 = Nu_n^4 + Nu_f^4, film temperature, at wind +
                 share of road speed; radiation e sigma A (T^4 - T_air^4)
  air            ideal gas; viscosity and conductivity of the U.S. Standard Atmosphere 1976; cp = 1006 J/(kg K)
  books          every source and sink is an extra state; engine links count as "from_engine" while they
                 flow towards the transmission and as "into_engine" while they flow back, both positive
  pass           engine, wheel and car speed and distance, integrated together with the heat; cut where tyres let
                 go or take hold and at shifts
"""

import copy
import json
import math
import pathlib
import sys

import numpy as np
import scipy
from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq
from scipy.optimize.elementwise import find_root
from scipy.special import lambertw

ROOT = pathlib.Path(__file__).resolve().parents[2]

NODES = ["converter_fluid", "converter_shell", "pan_fluid", "gear_train", "case", "cooler_core", "engine"]
FLUID, SHELL, PAN, GEARS, CASE, CORE, ENGINE = range(7)
BOOKS = ["converter_shear", "gear_train", "front_pump", "circulation_pump", "from_engine",
         "cooler_air", "case_convection", "case_radiation", "bellhousing_air", "into_engine"]
BOOK = {name: 7 + i for i, name in enumerate(BOOKS)}
CHARGE, PAN_DOSE, FLUID_DOSE = range(17, 20)  # charge put in (A s), fluid life used (s)
STATES = 20

STEEL, ALUMINIUM = 470.0, 900.0  # J/(kg K), docs/model.md
SIGMA = 5.670374419e-8  # W/(m2 K4), CODATA 2018
GRAVITY = 9.80665  # m/s2
RPM = math.pi / 30.0
KELVIN = 273.15
# Fluid life: doubling per 20 F above 175 F.
LIFE_REFERENCE_C, LIFE_DOUBLING_K = 352.594 - KELVIN, 20 / 1.8
MARKS_M = [18.288, 100.584, 201.168, 304.8, 402.336]
DISTANCES_M = {"eighth_mile": 201.168, "1000_ft": 304.8, "quarter_mile": 402.336}

# Units that the days use. International pound, inch, US gallon; hp = 550 ft lbf/s; inHg at 0 C.
POUND_FOOT = 0.45359237 * GRAVITY * 0.3048
UNITS = {
    "kPa": 1e3, "inHg": 3386.389, "bar": 1e5, "m/s": 1.0, "mph": 0.44704, "km/h": 1 / 3.6, "rpm": RPM,
    "mm²/s": 1e-6, "kg/m³": 1.0, "kJ/K": 1e3, "W/K": 1.0, "W/K per L/min": 6e4, "W": 1.0, "kW": 1e3,
    "hp": 745.69987158227022, "kJ": 1e3, "kg": 1.0, "lb": 0.45359237, "L": 1e-3, "qt": 0.946352946e-3, "m": 1.0,
    "ft": 0.3048,
    "m²": 1.0, "N m": 1.0, "lbf ft": POUND_FOOT, "cm³/rev": 1e-6 / (2 * math.pi), "L/min": 1 / 6e4,
    "gpm": 3.785411784e-3 / 60, "m³/h": 1 / 3600, "cfm": 0.3048**3 / 60, "s": 1.0, "min": 60.0, "h": 3600.0,
    "A": 1.0, "Ah": 3600.0, "V": 1.0, "kg m²": 1.0, "rpm/√(N m)": RPM, "rpm/√(lbf ft)": RPM / math.sqrt(POUND_FOOT),
}


def si(value):
    """A quantity in SI, temperatures in degrees Celsius; numbers and words stay."""
    if not isinstance(value, str):
        return float(value)
    number, _, unit = value.partition(" ")
    if unit == "°C":
        return float(number)
    if unit == "°F":
        return (float(number) - 32.0) / 1.8
    return float(number) * UNITS[unit]


# Defaults of docs/parameters.md.
DEFAULTS = {
    "air": {"temperature": "30 °C", "pressure": "101.325 kPa", "humidity": 0.45, "wind": "1 m/s"},
    "fluid": {"kv40": "35 mm²/s", "kv100": "7.2 mm²/s", "density15": "860 kg/m³"},
    "engine": {"peak_power": "440 kW", "peak_power_speed": "6600 rpm", "peak_torque": "720 N m",
               "peak_torque_speed": "4900 rpm", "rev_limit": "7600 rpm", "inertia": "0.25 kg m²",
               "motoring_torque": "45 N m", "idle_speed": "1100 rpm", "thermostat": "80 °C",
               "heat_capacity": "100 kJ/K", "warm_up": "500 W/K", "to_air": "18 W/K"},
    "converter": {"k_factor": "193 rpm/√(N m)", "k_reference": "80 °C", "stall_torque_ratio": 1.9,
                  "stall_per_10_c": "0 rpm", "fluid_volume": "2.8 L", "shell_mass": "14 kg",
                  "link_at_rest": "120 W/K", "link_per_flow": "20 W/K per L/min", "link_turning": "2500 W/K",
                  "shell_to_air_at_rest": "2 W/K", "shell_to_air_turning": "14 W/K", "shell_to_engine": "4 W/K",
                  "shell_to_gears": "5 W/K"},
    "transmission": {"pan_volume": "5 L", "gear_mass": "28 kg", "case_mass": "22 kg", "case_area": "0.75 m²",
                     "case_diameter": "0.3 m", "case_emissivity": 0.4, "pan_to_case": "16 W/K",
                     "pan_to_case_running": "60 W/K", "pan_to_gears": "6 W/K", "pan_to_gears_running": "30 W/K",
                     "gears_to_case": "10 W/K", "gears_to_case_running": "25 W/K", "case_to_engine": "5 W/K",
                     "lubrication_effectiveness": 0.3, "mesh_loss": 0.015, "drag_torque": "3 N m",
                     "shift_heat": "12 kJ"},
    "gearbox": {"low_ratio": 1.76, "shift_speed": "6900 rpm", "turbine_inertia": "0.06 kg m²"},
    "front_pump": {"displacement": "22 cm³/rev", "line_pressure": "13 bar", "efficiency": 0.85,
                   "cooler_flow": "5 L/min"},
    "cooler": {"ua": "70 W/K", "oil_side_share": 0.35, "rated_oil_flow": "8 L/min", "rated_air_flow": "800 m³/h",
               "fan_air_flow": "800 m³/h", "still_air_flow": "30 m³/h", "ram_area": "0.02 m²", "metal_mass": "2 kg",
               "fluid_volume": "0.7 L", "fan_current": "10 A"},
    "circulation": {"flow": "6 L/min"},
    "battery": {"capacity": "45 Ah", "voltage": "13 V", "alternator_current": "0 A", "running_current": "15 A", "charger_current": "15 A"},
    "car": {"mass": "1450 kg", "tyre_diameter": "0.724 m", "final_drive": 4.3, "axle_efficiency": 0.96, "grip": 1.7,
            "burnout_grip": 0.8, "driven_weight_share": 0.52, "height_over_wheelbase": 0.19, "drag_area": "0.75 m²",
            "rolling_resistance": 0.018, "wheel_inertia": "2.5 kg m²", "rollout": "0.28 m",
            "underbody_air_share": 0.35},
    "limits": {},
}
EVENT_DEFAULTS = {
    "burnout": {"engine_speed": "5500 rpm", "input_power": "160 kW", "slip": 0.1},
    "brake_hold": {"engine_speed": "4200 rpm"},
    "pass": {"engine_speed": "6400 rpm", "input_power": "370 kW", "slip": 0.16, "shifts": 1,
             "road_speed": "140 km/h"},
    "slow_down": {"engine_speed": "2800 rpm", "input_power": "4 kW", "slip": 0.15, "road_speed": "110 km/h"},
    "return_road": {"engine_speed": "1500 rpm", "input_power": "6 kW", "slip": 0.25, "road_speed": "25 km/h"},
    "tow": {"road_speed": "20 km/h"},
    "dyno_pull": {"engine_speed": "3500 rpm", "input_power": "90 kW", "slip": 0.12},
}
# A load is computed from the car unless one of these keys is stated.
LOGGED_KEYS = {"burnout": ["input_power", "slip", "torque_ratio"],
               "return_road": ["engine_speed", "input_power", "slip", "torque_ratio"],
               "slow_down": ["engine_speed", "input_power", "slip", "torque_ratio"]}
CLASSES = {"multi_vehicle": (35, 7.2, 860), "low_viscosity": (28, 5.9, 848),
           "friction_modifier_free": (38, 7.5, 868), "racing_straight_20": (55, 8.0, 874),
           "racing_straight_30": (90, 10.8, 879)}
# Other ways to state a parameter, docs/parameters.md: keys, and what they make of it (SI).
ALTERNATIVES = {
    # ISO 2533, by geopotential altitude
    ("air", "pressure"): (["altitude"], lambda h: 101325 * (1 - 0.0065 * h / (1 + h / 6356766) / 288.15) ** 5.25588),
    ("converter", "k_factor"): (["stall_speed", "stall_torque"], lambda w, torque: w / math.sqrt(torque)),
    ("cooler", "ua"): (["core_width", "core_height", "core_depth"], lambda w, h, d: 30 * w * h * d / 1e-3),
}
OWN = ("torque_curve", "table", "ratios")  # lists, read where they are used


class Setup:
    """Every parameter in SI as an attribute `part_key`."""

    def __init__(self, stated):
        for part, keys in DEFAULTS.items():
            said = dict(stated.get(part, {}))
            if "class" in said:
                kv40, kv100, density15 = CLASSES[said.pop("class")]
                said = {"kv40": f"{kv40} mm²/s", "kv100": f"{kv100} mm²/s", "density15": f"{density15} kg/m³", **said}
            for (where, key), (others, make) in ALTERNATIVES.items():
                if where == part and others[0] in said:
                    said[key] = make(*[si(said.pop(other)) for other in others])
            for key, value in {**keys, **said}.items():
                setattr(self, f"{part}_{key}", value if key in OWN else si(value))


def air_properties(t, pressure):
    """Density, dynamic viscosity, conductivity of dry air."""
    kelvin = t + KELVIN
    viscosity = 1.458e-6 * kelvin**1.5 / (kelvin + 110.4)
    conductivity = 2.64638e-3 * kelvin**1.5 / (kelvin + 245.4 * 10 ** (-12 / kelvin))
    return pressure / (287.053 * kelvin), viscosity, conductivity


def moist_air(t, pressure, humidity):
    """Density, and the factor cf that engine power is divided by (SAE J1349 of 1990)."""
    kelvin = t + KELVIN
    if kelvin >= 273.16:  # Hyland & Wexler 1983 over water, below over ice
        log = (-5800.2206 / kelvin + 1.3914993 - 4.8640239e-2 * kelvin + 4.1764768e-5 * kelvin**2
               - 1.4452093e-8 * kelvin**3 + 6.5459673 * math.log(kelvin))
    else:
        log = (-5674.5359 / kelvin + 6.3925247 - 9.677843e-3 * kelvin + 6.2215701e-7 * kelvin**2
               + 2.0747825e-9 * kelvin**3 - 9.484024e-13 * kelvin**4 + 4.1635019 * math.log(kelvin))
    vapour = min(humidity * (1.0007 + 3.46e-8 * pressure) * math.exp(log), pressure / 2)
    dry = pressure - vapour
    density = (dry / 287.053 + vapour / 461.5) / kelvin
    return density, 1.18 * (99000 / dry) * math.sqrt((kelvin - 0.15) / 298) - 0.18


def unmixed_effectiveness(ntu, ratio):
    """Crossflow, both streams unmixed: Mason's double series, on arrays."""
    total = np.zeros_like(ntu)
    first, second = 1 - np.exp(-ntu), 1 - np.exp(-ratio * ntu)
    term_1, term_2 = np.exp(-ntu), np.exp(-ratio * ntu)
    for m in range(2000):
        total += first * second
        term_1 = term_1 * ntu / (m + 1)
        term_2 = term_2 * (ratio * ntu) / (m + 1)
        first, second = np.maximum(first - term_1, 0), np.maximum(second - term_2, 0)
        if np.all(first * second < 1e-17):
            return total / (ratio * ntu)
    raise ArithmeticError("series of the cooler does not end")


# Hydraulics. Resistances are functions of (flow, kinematic viscosity, density); numbers of docs/model.md.


def hose(bore, length, bends):
    def drop(q, nu, rho):
        velocity = 4 * q / (math.pi * bore**2)
        reynolds = velocity * bore / nu
        a = 2 / math.log(10)
        colebrook = a * lambertw(np.maximum(reynolds, 2040) / (2.51 * a)).real  # 1/sqrt(f)
        x = np.clip((reynolds - 2040) / (4000 - 2040), 0, 1)
        w = x * x * (3 - 2 * x)
        friction_v2 = (1 - w) * 64 * nu * velocity / bore + w * velocity**2 / colebrook**2
        return rho / 2 * (friction_v2 * length / bore + bends * velocity**2)
    return drop


def orifice(diameter, discharge):
    def drop(q, _, rho):
        return rho * q**2 / (2 * (discharge * math.pi * diameter**2 / 4) ** 2)
    return drop


def passages(rated_drop, share):
    def drop(q, nu, rho):
        flow = q / (10 / 6e4)
        return rated_drop * (share * nu * rho / 8.2e-3 * flow + (1 - share) * rho / 820 * flow**2)
    return drop


CONVERTER_PASSAGES, COOLER_PASSAGES = passages(60e3, 0.3), passages(40e3, 0.6)
FRONT_CIRCUIT = [CONVERTER_PASSAGES, hose(8.7e-3, 2.5, 3), COOLER_PASSAGES, hose(8.7e-3, 2.5, 3),
                 orifice(3.2e-3, 0.7)]
PAN_LOOP = [hose(11e-3, 1.0, 2), hose(11e-3, 2.5, 2), COOLER_PASSAGES, hose(11e-3, 2.5, 2)]
THROUGH_CONVERTER = PAN_LOOP + [CONVERTER_PASSAGES]


def solve(balance, low, high, *args):
    """Root of a rising balance, element by element."""
    args = np.broadcast_arrays(*[np.atleast_1d(np.asarray(a, float)) for a in args])
    low, high = (np.broadcast_to(np.asarray(end, float), args[0].shape) for end in (low, high))
    found = find_root(balance, (low, high), args=tuple(args))
    assert np.all(found.success), "no balance"
    return found.x


class FrontPump:
    C, K0, KV = 4.7e-13, 1.65e8, 7.3e8
    A0, A1, S_HALF = 1.15e-6, 3.25e-6, 5e-4
    RELIEF, OVERRIDE = 0.83e6, 1e9

    def __init__(self, setup, fluid_at):
        self.displacement, self.pressure = setup.front_pump_displacement, setup.front_pump_line_pressure
        self.efficiency = setup.front_pump_efficiency
        self.fluid_at = fluid_at

        def short(log_scale):
            self.scale = math.exp(log_scale)
            return self.at(1000 * RPM, 80.0)[0].item() - setup.front_pump_cooler_flow

        ends = [math.log(0.02), math.log(50)]
        misses = [short(end) for end in ends]
        if misses[0] * misses[1] > 0:
            root = ends[0] if abs(misses[0]) < abs(misses[1]) else ends[1]
        else:
            root = brentq(short, *ends, xtol=1e-13)
        self.scale = math.exp(root)

    def state(self, q, nu, rho, speed):
        """Line pressure, charge pressure and what the balance lacks."""
        mu, s = nu * rho, self.scale
        charge = sum(drop(q / s, nu, rho) for drop in FRONT_CIRCUIT)
        relief = np.maximum(0, (charge - self.RELIEF) / (self.OVERRIDE / s))
        rest = self.displacement * speed - q - relief
        leak, override = self.C / mu, self.K0 + self.KV * mu
        spill = (rest - leak * self.pressure) / (1 + leak * override)
        line = np.where(spill > 0, self.pressure + override * spill, rest / leak)
        spill = np.maximum(spill, 0)
        area = s * self.A0 + s * self.A1 * spill / (spill + self.S_HALF)
        return line, charge, charge + rho * (q + relief) ** 2 / (2 * area**2) - line

    def at(self, speed, t):
        """Flow, line pressure, charge pressure, shaft power; on arrays of temperature."""
        nu, rho = self.fluid_at(np.atleast_1d(t))
        q = solve(lambda q, nu, rho: self.state(q, nu, rho, speed)[2], 0, self.displacement * speed, nu, rho)
        line, charge, _ = self.state(q, nu, rho, speed)
        return q, line, charge, line * self.displacement * speed / self.efficiency

    def torque(self, speed, t):
        return (self.at(speed, t)[3] / speed).item()


class CirculationPump:
    D, C, EFFICIENCY, FRICTION, DRAG = 3.4e-6 / (2 * math.pi), 6e-13, 0.85, 0.11, 8e-4
    RELIEF, OVERRIDE = 0.31e6, 5e8

    def __init__(self, setup, fluid_at):
        self.fluid_at = fluid_at
        self.copies = setup.circulation_flow / self.one(PAN_LOOP, 80.0, 13.0)[0].item()
        self.voltage = setup.battery_voltage

    def one(self, circuit, t, voltage):
        nu, rho = self.fluid_at(np.atleast_1d(t))
        no_load, stall = 3600 * RPM * voltage / 13, 0.75 * voltage / 13

        def state(q, nu, rho):
            pressure = sum(drop(q, nu, rho) for drop in circuit)
            relief = np.maximum(0, (pressure - self.RELIEF) / self.OVERRIDE)
            speed = (q + self.C * pressure / (nu * rho) + relief) / self.D
            return self.D * pressure / self.EFFICIENCY + self.FRICTION + self.DRAG * nu * rho * speed, speed

        def balance(q, nu, rho):
            torque, speed = state(q, nu, rho)
            return torque - stall * (1 - speed / no_load)

        q = solve(balance, 0, self.D * no_load, nu, rho)
        torque, speed = state(q, nu, rho)
        return q, torque * no_load / voltage, torque * speed

    def at(self, route, t):
        """Flow, current, heat in the fluid of all copies."""
        circuit = PAN_LOOP if route == "pan_loop" else THROUGH_CONVERTER
        return tuple(self.copies * value for value in self.one(circuit, t, self.voltage))


# Engine and converter.


class Engine:
    def __init__(self, setup, correction):
        self.s, self.correction = setup, correction
        curve = getattr(setup, "engine_torque_curve", None)
        if curve:
            speeds, torques = np.array([[si(value) for value in row] for row in curve]).T
            inner = PchipInterpolator(speeds, torques)
            self.ends = speeds[0], torques[0], speeds[-1], torques[-1]
            self.inner = lambda w: float(inner(w))
            return
        w1, t1, w2 = setup.engine_peak_torque_speed, setup.engine_peak_torque, setup.engine_peak_power_speed
        t2 = setup.engine_peak_power / w2
        power = t2 * (w2 - w1) / (w2 * (t1 - t2))

        def torque(w):
            if w <= w1:
                return t1 * (1 - 0.5 * (1 - w / w1) ** 2)
            return max(0.0, t1 - (t1 - t2) * ((w - w1) / (w2 - w1)) ** power)

        self.ends, self.inner = None, torque

    def torque(self, w):
        """At full throttle in the day's air."""
        if self.ends and w < self.ends[0]:
            value = self.ends[1]
        elif self.ends and w > self.ends[2]:
            value = self.ends[3] * self.ends[2] / w
        else:
            value = self.inner(w)
        x = min(max((self.s.engine_rev_limit - w) / (100 * RPM), 0.0), 1.0)
        return value * x * x * (3 - 2 * x) / self.correction


def read_table(table):
    """Speed ratios with capacities, and with torque ratios; the K-factor at stall if the table has K-factors. Rows
    of three, or a text with named columns, the unit of the K-factor in the head."""
    stall_k = None
    if isinstance(table, str):
        head, *lines = [[word.strip() for word in line.split(",")] for line in table.split("\n")]
        rows = [dict(zip([word.split(" ")[0] for word in head], map(float, line))) for line in lines]
    else:
        rows = [dict(zip(("speed_ratio", "torque_ratio", "capacity"), row)) for row in table]
    if "k_factor" in rows[0]:
        unit = next(word for word in head if word.startswith("k_factor")).partition(" (")[2][:-1]
        stall_k = rows[0]["k_factor"] * UNITS[unit]
        for row in rows:
            row["capacity"] = (rows[0]["k_factor"] / row["k_factor"]) ** 2
    points, shape, ratios = ([row[key] for row in rows] for key in ("speed_ratio", "capacity", "torque_ratio"))
    if points[-1] < 1:
        return stall_k, points + [1], shape + [0], points, ratios
    return stall_k, points, shape, points, ratios


class Converter:
    def __init__(self, setup):
        table = getattr(setup, "converter_table", None)
        stall_k = None
        if table:
            stall_k, self.points, self.shape, self.ratio_points, self.ratios = read_table(table)
        else:
            self.points = [0, 0.3, 0.6, 0.8, 0.9, 0.95, 0.98, 1]
            self.shape = [1, 1, 0.95, 0.82, 0.62, 0.42, 0.20, 0]
            self.ratio_points, self.ratios = [0, 0.86, 1], [setup.converter_stall_torque_ratio, 0.985, 0.985]
        self.coefficient = 1 / (stall_k or setup.converter_k_factor) ** 2

    def capacity(self, sr):
        return self.coefficient * float(np.interp(sr, self.points, self.shape))

    def ratio(self, sr):
        return float(np.interp(sr, self.ratio_points, self.ratios))

    def torques(self, w_p, w_t, c):
        """Impeller and turbine torque."""
        if w_t > w_p:
            torque = -self.capacity(w_p / w_t) * c * w_t**2
            return torque, torque
        sr = w_t / w_p
        torque = self.capacity(sr) * c * w_p**2
        return torque, self.ratio(sr) * torque


def highest_root(function, low, high, steps=2000):
    """Highest argument at which a function changes sign, or none."""
    grid = np.linspace(low, high, steps + 1)
    values = np.array([function(x) for x in grid])
    for i in range(steps - 1, -1, -1):
        if values[i + 1] == 0:
            return float(grid[i + 1])
        if values[i] * values[i + 1] < 0:
            return brentq(function, grid[i], grid[i + 1], xtol=1e-13)
    return None


class Tables:
    """What follows pan temperature in one mode: cubics over a uniform grid, the end values beyond it."""

    def __init__(self, grid, columns):
        self.low, self.step, self.last = grid[0], grid[1] - grid[0], len(grid) - 2
        cubics = PchipInterpolator(grid, np.array(columns).T, axis=0)
        self.coefficients = [list(cubics.c[:, i, :]) for i in range(len(grid) - 1)]
        self.top = grid[-1]

    def at(self, t):
        t = min(max(t, self.low), self.top)
        i = min(int((t - self.low) / self.step), self.last)
        c3, c2, c1, c0 = self.coefficients[i]
        x = t - (self.low + i * self.step)
        return (((c3 * x + c2) * x + c1) * x + c0).tolist()


class Twin:
    def __init__(self, setup, method="LSODA", relative=1e-9, absolute_j=1e-3, pass_method="DOP853",
                 pass_relative=1e-10, grid_step=0.1, steps_per_piece=40):
        self.method, self.relative, self.absolute_j = method, relative, absolute_j
        self.pass_method, self.pass_relative, self.steps_per_piece = pass_method, pass_relative, steps_per_piece
        self.grid = np.linspace(-40, 200, round(240 / grid_step) + 1)
        s = self.s = Setup(setup)
        root = math.sqrt(self.density(15 + 5 / 9) / 999.016)
        self.cp_0, self.cp_slope = 1684.8 / root, 3.3913 / root
        loglog = [math.log10(math.log10(nu * 1e6 + 0.7)) for nu in (s.fluid_kv40, s.fluid_kv100)]
        self.walther_b = (loglog[0] - loglog[1]) / (math.log10(373.15) - math.log10(313.15))
        self.walther_a = loglog[0] + self.walther_b * math.log10(313.15)

        def content(solid, volume):
            mass = volume * s.fluid_density15
            return [solid + mass * self.cp_0, mass * self.cp_slope / 2]

        self.a, self.b = np.array([
            content(0, s.converter_fluid_volume),
            content(STEEL * s.converter_shell_mass, 0),
            content(0, s.transmission_pan_volume),
            content(STEEL * s.transmission_gear_mass, 0),
            content(ALUMINIUM * s.transmission_case_mass, 0),
            content(ALUMINIUM * s.cooler_metal_mass, s.cooler_fluid_volume),
            content(s.engine_heat_capacity, 0),
        ]).T
        self.nodes = list(zip(self.a.tolist(), self.b.tolist()))
        self.air_density, correction = moist_air(s.air_temperature, s.air_pressure, s.air_humidity)
        self.engine, self.converter = Engine(s, correction), Converter(s)
        self.front_pump = FrontPump(s, self.fluid_at)
        self.circulation_pump = CirculationPump(s, self.fluid_at)
        self.ratios = [ratio * s.car_final_drive for ratio in getattr(s, "gearbox_ratios", [s.gearbox_low_ratio, 1.0])]
        self.radius = s.car_tyre_diameter / 2
        self.kept, self.evaluations = {}, 0
        pump = self.front_pump.torque(s.gearbox_shift_speed, 80.0)
        self.reference_flash = self.flash(1.0, pump)

    # Fluid and car.

    def density(self, t):
        x = 0.6278 / self.s.fluid_density15 * (t - 15)
        return self.s.fluid_density15 * math.exp(-x * (1 + 0.8 * x))

    def fluid_at(self, t):
        """Kinematic viscosity (m2/s) and density in a circuit, on arrays; as at -40 C when colder."""
        t = np.maximum(np.asarray(t, float), -40.0)
        nu = np.minimum(10 ** 10 ** (self.walther_a - self.walther_b * np.log10(t + KELVIN)) - 0.7, 1e10) * 1e-6
        x = 0.6278 / self.s.fluid_density15 * (t - 15)
        return nu, self.s.fluid_density15 * np.exp(-x * (1 + 0.8 * x))

    def enthalpy(self, t):
        return self.cp_0 * t + self.cp_slope * t * t / 2

    def heat(self, t):
        return self.a * t + self.b * t * t

    def temperatures(self, heat):
        return 2 * heat / (self.a + np.sqrt(self.a**2 + 4 * self.b * heat))

    def capacity_ratio(self, t):
        """Converter torque at a temperature of its fluid over that at the reference."""
        s, r = self.s, 0.0
        if self.reference_flash:
            r = max(-0.5, s.converter_stall_per_10_c / 10 * (t - s.converter_k_reference) / self.reference_flash)
        return self.density(t) / self.density(s.converter_k_reference) / (1 + r) ** 2

    def flash(self, c, pump_torque):
        """Highest speed at which the falling torque of the engine meets that of the converter at stall."""
        def over(w):
            return self.engine.torque(w) - pump_torque - self.converter.coefficient * c * w**2

        return self.keep(("flash", c, pump_torque), lambda: highest_root(over, 60.0, self.s.engine_rev_limit))

    def shift_pump_torque(self, t_pan):
        return self.keep(("pump", t_pan), lambda: self.front_pump.torque(self.s.gearbox_shift_speed, t_pan))

    def keep(self, key, find):
        if key not in self.kept:
            self.kept[key] = find()
        return self.kept[key]

    def resistances(self, v):
        s = self.s
        return (0.5 * self.air_density * s.car_drag_area * v * v,
                s.car_rolling_resistance * s.car_mass * GRAVITY * min(max(v / 0.1, 0.0), 1.0))

    def traction(self, resistance):
        s = self.s
        weight, relief = s.car_mass * GRAVITY, 1 - s.car_grip * s.car_height_over_wheelbase
        if relief <= 0:
            return s.car_grip * weight
        force = s.car_grip * (weight * s.car_driven_weight_share
                              - s.car_height_over_wheelbase * resistance) / relief
        return min(max(force, 0.0), s.car_grip * weight)

    def drag_torque(self, t_pan):
        """Of the turning gear train, with fluid as thick as in the pan."""
        return self.s.transmission_drag_torque * self.drag_ratio(t_pan)

    def drag_ratio(self, t_pan):
        return (self.viscosity(max(t_pan, 0.0)) / self.viscosity(80.0)) ** (2 / 3)

    def viscosity(self, t):
        """mm2/s, of one temperature."""
        return min(10 ** 10 ** (self.walther_a - self.walther_b * math.log10(t + KELVIN)) - 0.7, 1e10)

    # Loads of an event.

    def turbine_torque(self, wheel_torque, ratio, t_pan):
        s = self.s
        return wheel_torque / (ratio * s.car_axle_efficiency * (1 - s.transmission_mesh_loss)) \
            + self.drag_torque(t_pan)

    def pair(self, w_p, w_t, c):
        """Load of a pair of speeds: the driving side's power, slip, torque ratio."""
        if w_p >= w_t:
            sr = w_t / w_p
            return {"engine_speed": w_p, "input_power": self.converter.capacity(sr) * c * w_p**3, "slip": 1 - sr,
                    "torque_ratio": self.converter.ratio(sr)}
        torque = self.converter.capacity(w_p / w_t) * c * w_t**2
        return {"engine_speed": w_p, "input_power": torque * w_t, "slip": 1 - w_p / w_t, "torque_ratio": 1.0}

    def computed_load(self, event, temperatures):
        """Engine speed, power, slip and torque ratio of burnout, return road and slow-down."""
        s, kind, converter = self.s, event["event"], self.converter
        c, t_pan = 1.0, temperatures[PAN]
        if kind == "burnout":
            c = self.capacity_ratio(temperatures[FLUID])
            w = si(event.get("engine_speed", EVENT_DEFAULTS[kind]["engine_speed"]))
            pump = self.shift_pump_torque(t_pan)
            wheel = s.car_burnout_grip * s.car_mass * GRAVITY * s.car_driven_weight_share * self.radius
            for ratio in reversed(self.ratios):
                wanted = self.turbine_torque(wheel, ratio, t_pan)
                sr = highest_root(lambda sr: converter.ratio(sr) * converter.capacity(sr) * c * w * w - wanted, 0, 1)
                if sr is not None and converter.capacity(sr) * c * w * w <= self.engine.torque(w) - pump:
                    return {**event, **self.pair(w, sr * w, c)}
            raise ValueError("burnout: no gear works")
        v = si(event.get("road_speed", EVENT_DEFAULTS[kind]["road_speed"]))
        w_t, idle = v / self.radius * self.ratios[-1], s.engine_idle_speed
        if kind == "return_road":
            wanted = self.turbine_torque(sum(self.resistances(v)) * self.radius, self.ratios[-1], t_pan)
            w_p = idle
            if w_t > 0:
                sr = brentq(lambda sr: converter.ratio(sr) * converter.capacity(sr) * c * w_t**2 - wanted * sr**2,
                            1e-9, 1, xtol=1e-15)
                w_p = max(w_t / sr, idle)
        else:
            sr = highest_root(lambda sr: converter.capacity(sr) * c * w_t**2 - s.engine_motoring_torque, 0, 1)
            w_p = idle if sr is None else max(sr * w_t, idle)
        return {**event, **self.pair(w_p, w_t, c)}

    # Heat.

    def case_convection(self, t, speed):
        """W/m2 from a horizontal cylinder."""
        s, ambient = self.s, self.s.air_temperature
        density, viscosity, conductivity = air_properties((t + ambient) / 2, s.air_pressure)
        film = (t + ambient) / 2 + KELVIN
        nu, prandtl, size = viscosity / density, viscosity * 1006 / conductivity, s.transmission_case_diameter
        rayleigh = 9.81 / film * abs(t - ambient) * size**3 / nu**2 * prandtl
        free = (0.6 + 0.387 * rayleigh ** (1 / 6) / (1 + (0.559 / prandtl) ** (9 / 16)) ** (8 / 27)) ** 2
        reynolds = speed * size / nu
        forced = 0.3 + (0.62 * reynolds**0.5 * prandtl ** (1 / 3) / (1 + (0.4 / prandtl) ** (2 / 3)) ** 0.25
                        * (1 + (reynolds / 282000) ** 0.625) ** 0.8)
        return (free**4 + forced**4) ** 0.25 * conductivity / size * (t - ambient)

    def cooler(self, oil_flow, fan, road_speed):
        """Oil-side effectiveness, conductance of the core to air; on arrays of oil flow."""
        s = self.s
        blown = max(s.cooler_fan_air_flow, s.cooler_still_air_flow) if fan else s.cooler_still_air_flow
        air_flow = math.hypot(blown, road_speed * s.cooler_ram_area)
        air = air_flow * air_properties(s.air_temperature, s.air_pressure)[0] * 1006
        ua_air = s.cooler_ua / (1 - s.cooler_oil_side_share) * (air_flow / s.cooler_rated_air_flow) ** 0.55
        if np.all(oil_flow == 0):
            return np.zeros_like(oil_flow), np.full_like(oil_flow, air * (1 - math.exp(-ua_air / air)))
        oil = oil_flow * self.density(80) * (self.cp_0 + self.cp_slope * 80)
        ua_oil = s.cooler_ua / s.cooler_oil_side_share * (oil_flow / s.cooler_rated_oil_flow) ** 0.4
        smaller, larger = np.minimum(oil, air), np.maximum(oil, air)
        whole = unmixed_effectiveness(1 / (1 / ua_oil + 1 / ua_air) / smaller, smaller / larger) * smaller
        oil_side = 1 - np.exp(-ua_oil / oil)
        difference = 1 / whole - 1 / (oil_side * oil)
        most = 10 * ua_air
        return oil_side, np.where(difference > 1 / most, 1 / np.maximum(difference, 1e-300), most)

    def tables(self, speed, route, fan, road):
        """Front pump's flow and power, circulation's flow, current and heat, the cooler, fluid to shell."""
        key = (speed, route, fan, road)
        if key in self.kept:
            return self.kept[key]
        s, nothing = self.s, np.zeros_like(self.grid)
        front = ("front", speed)
        if front not in self.kept:
            self.kept[front] = self.front_pump.at(speed, self.grid)[::3] if speed > 0 else (nothing, nothing)
        pump = ("circulation", "pan_loop" if route == "pan_loop" else "through")
        if route and pump not in self.kept:
            self.kept[pump] = self.circulation_pump.at(route, self.grid)
        flow, power = self.kept[front]
        pumped, current, heat = self.kept[pump] if route else (nothing, nothing, nothing)
        through = flow + (pumped if route in ("through_converter", "cooler_first") else 0)
        fluid_to_shell = s.converter_link_at_rest + s.converter_link_per_flow * through \
            + s.converter_link_turning * (speed / (5000 * RPM)) ** 0.8
        columns = [flow, power, pumped, current, heat, *self.cooler(flow + pumped, fan, road), fluid_to_shell]
        self.kept[key] = Tables(self.grid, columns)
        return self.kept[key]

    def network(self, running, speed, road, route, fan):
        """d/dt of heat contents, books, charge and fluid life, given what is made (W) in converter fluid, gear
        train and, unless by the front pump's tables, in the pan; dragging (W) is that of the gear train at 80 C."""
        s = self.s
        tables = self.tables(speed, route, fan, road)
        turning = (speed / (5000 * RPM)) ** 0.8
        shell_to_air = s.converter_shell_to_air_at_rest + s.converter_shell_to_air_turning * turning
        pan_case, pan_gears, gears_case = (
            (s.transmission_pan_to_case_running, s.transmission_pan_to_gears_running,
             s.transmission_gears_to_case_running) if running else
            (s.transmission_pan_to_case, s.transmission_pan_to_gears, s.transmission_gears_to_case))
        engine_links = [(SHELL, s.converter_shell_to_engine), (CASE, s.transmission_case_to_engine)]
        air_speed = s.air_wind + s.car_underbody_air_share * road
        radiating = s.transmission_case_emissivity * SIGMA * s.transmission_case_area
        ambient, nodes = s.air_temperature, self.nodes
        from_engine, into_engine = BOOK["from_engine"], BOOK["into_engine"]
        lubrication = s.transmission_lubrication_effectiveness
        stops = {None: [], "pan_loop": [CORE, GEARS, PAN], "through_converter": [FLUID, CORE, PAN],
                 "cooler_first": [CORE, FLUID, PAN]}[route]
        fan_current = s.cooler_fan_current if fan else 0.0

        def rates(state, charging, shear, gears, pump=None, dragging=0.0):
            heat = state[:7].tolist()
            # Held within bounds that no day comes near: trial steps of loose explicit methods do, and are rejected.
            t = [min(max(2 * h / (a + math.sqrt(max(a * a + 4 * b * h, 0.0))), -150.0), 2000.0)
                 for h, (a, b) in zip(heat, nodes)]
            (flow, power, pumped, current, pump_heat, oil_side, core_to_air, fluid_to_shell) = tables.at(t[PAN])
            if dragging:
                gears = gears + dragging * self.drag_ratio(t[PAN])
            power = power if pump is None else pump
            d = [0.0] * STATES
            for node, watts, book in ((FLUID, shear(t) if callable(shear) else shear, "converter_shear"),
                                      (GEARS, gears, "gear_train"), (PAN, power, "front_pump"),
                                      (PAN, pump_heat, "circulation_pump")):
                d[node] += watts
                d[BOOK[book]] += watts
            for i, j, conductance in ((FLUID, SHELL, fluid_to_shell), (SHELL, GEARS, s.converter_shell_to_gears),
                                      (PAN, CASE, pan_case), (PAN, GEARS, pan_gears), (GEARS, CASE, gears_case)):
                watts = conductance * (t[i] - t[j])
                d[i] -= watts
                d[j] += watts
            for node, conductance in engine_links:
                watts = conductance * (t[ENGINE] - t[node])
                d[ENGINE] -= watts
                d[node] += watts
                d[from_engine if watts > 0 else into_engine] += abs(watts)
            if running:
                d[ENGINE] += s.engine_warm_up * (s.engine_thermostat - t[ENGINE])
            else:
                d[ENGINE] -= s.engine_to_air * (t[ENGINE] - ambient)
            for node, watts, book in (
                    (SHELL, shell_to_air * (t[SHELL] - ambient), "bellhousing_air"),
                    (CORE, core_to_air * (t[CORE] - ambient), "cooler_air"),
                    (CASE, s.transmission_case_area * self.case_convection(t[CASE], air_speed), "case_convection"),
                    (CASE, radiating * ((t[CASE] + KELVIN) ** 4 - (ambient + KELVIN) ** 4), "case_radiation")):
                d[node] -= watts
                d[BOOK[book]] += watts
            density, pan_enthalpy = self.density(t[PAN]), self.enthalpy(t[PAN])
            for volume, path in ((flow, (FLUID, CORE, GEARS, PAN) if running else ()), (pumped, stops)):
                carried = pan_enthalpy
                for node in path:
                    share = {CORE: oil_side, GEARS: lubrication}.get(node, 1.0)
                    given = share * (carried - self.enthalpy(t[node]))
                    d[node] += volume * density * given
                    carried -= given
            d[CHARGE] = charging - fan_current - current
            for place, node in ((PAN_DOSE, PAN), (FLUID_DOSE, FLUID)):
                d[place] = 2 ** ((t[node] - LIFE_REFERENCE_C) / LIFE_DOUBLING_K)
            return d

        return rates

    def charging(self, kind):
        if kind == "tow":
            return 0.0
        if kind == "engine_off":
            return self.s.battery_charger_current
        return self.s.battery_alternator_current - self.s.battery_running_current

    def right_hand_side(self, event, route, fan):
        """d/dt during one mode of an event whose load is settled."""
        s, kind = self.s, event["event"]
        running = kind not in ("tow", "engine_off")
        load = {**EVENT_DEFAULTS.get(kind, {}), **event}
        speed = (si(load["engine_speed"]) if "engine_speed" in load else s.engine_idle_speed) if running else 0.0
        power, slip = si(load.get("input_power", 0)), si(load.get("slip", 0))
        stalled = kind in ("stage", "brake_hold") or (kind == "idle" and event.get("gear") == "in_gear")
        stall_heat = self.converter.coefficient * speed**3
        slip_heat = max(0.0, power * (1 - (1 - slip) * si(load.get("torque_ratio", 1))))
        gear_heat = dragging = 0.0
        if running and not stalled:
            dragging = s.transmission_drag_torque * speed
            gear_heat = (s.transmission_mesh_loss * (power - slip_heat)
                         + si(load.get("shifts", 0)) * s.transmission_shift_heat / event["longest"])
        network = self.network(running, speed, si(load.get("road_speed", 0)), route, fan)
        charging = self.charging(kind)
        shear = (lambda t: stall_heat * self.capacity_ratio(t[FLUID])) if stalled else slip_heat
        return lambda _, state: network(state, charging, shear, gear_heat, dragging=dragging)

    def settle(self, event, state):
        """The event with its load: held speeds limited, loads computed from the car."""
        kind, t = event["event"], self.temperatures(state[:7]).tolist()
        if kind == "brake_hold":
            wanted = si(event.get("engine_speed", EVENT_DEFAULTS[kind]["engine_speed"]))
            flash = self.flash(self.capacity_ratio(t[FLUID]), self.shift_pump_torque(t[PAN]))
            return {**event, "engine_speed": min(wanted, flash) if flash else wanted}
        if kind in LOGGED_KEYS and not any(key in event for key in LOGGED_KEYS[kind]):
            return self.computed_load(event, t)
        return event

    def tolerances(self):
        return np.concatenate([np.full(17, self.absolute_j), [1e1 * self.absolute_j], np.full(2, 0.1 * self.absolute_j)])

    def charge_through(self, charge, put_in):
        """Charge after putting in these sums, never above what the battery holds."""
        course = charge + put_in
        return float(course[-1] - max(0.0, (course - self.s.battery_capacity).max()))

    def run_event(self, event, time, state, end):
        """Integrates one event; returns its end time and state."""
        def gap(condition):
            node = NODES.index(condition["node"])
            sign, wanted = (1, "at_or_above") if "at_or_above" in condition else (-1, "at_or_below")
            return lambda _, y: sign * (self.temperatures(y[:7])[node] - si(condition[wanted]))

        stated = si(event.get("engine_speed", EVENT_DEFAULTS["brake_hold"]["engine_speed"]))
        event = self.settle(event, state)
        started, stop = time, gap(event["until"]) if "until" in event else None
        switches = []
        for switch, whole in (("circulation", lambda word: {"route": word}), ("fan", lambda _: {})):
            for item in on_times(event.get(switch), whole):
                start = started + si(item.get("start", 0))
                switches.append({**item, "switch": switch, "from": start,
                                 "to": start + si(item["duration"]) if "duration" in item else math.inf,
                                 "stop": gap(item["until"]) if "until" in item else None})
        for item in switches:  # a later on-time of the same switch ends this one
            later = [other["from"] for other in switches
                     if other["switch"] == item["switch"] and other["from"] > item["from"]]
            item["to"] = min([item["to"], *later])
        while end - time > 1e-6:
            if stop and stop(time, state) >= 0:
                break
            on = [item for item in switches if item["from"] <= time + 1e-6 < item["to"]]
            on = [item for item in on if not (item["stop"] and item["stop"](time, state) >= 0)]
            switches = [item for item in switches if item in on or item["from"] > time + 1e-6]
            piece_end = min([end] + [at for item in switches for at in (item["from"], item["to"])
                                     if at > time + 1e-6])
            route = next((item["route"] for item in on if item["switch"] == "circulation"), None)
            fan = any(item["switch"] == "fan" for item in on)
            watched = [item["stop"] for item in on if item["stop"]] + ([stop] if stop else [])
            for function in watched:
                function.terminal = True
            start = state.copy()
            start[CHARGE] = 0.0
            solution = solve_ivp(self.right_hand_side(event, route, fan), (time, piece_end), start,
                                 method=self.method, rtol=self.relative, atol=self.tolerances(),
                                 events=watched or None, max_step=max((piece_end - time) / self.steps_per_piece, 0.01))
            assert solution.success, solution.message
            self.evaluations += solution.nfev
            charge = self.charge_through(state[CHARGE], solution.y[CHARGE])
            time, state = float(solution.t[-1]), solution.y[:, -1].copy()
            state[CHARGE] = charge
            if solution.status == 1:
                # SciPy ends at the first crossing; others of that instant lie a rounding below theirs.
                reached = [f for f, times in zip(watched, solution.t_events) if len(times) or f(time, state) > -1e-7]
                if stop in reached:
                    break
                switches = [item for item in switches if item["stop"] not in reached]
        self.held_speed = stated if event["event"] == "brake_hold" else None
        return time, state

    # The pass.

    W_E, W_W, V, X, ANGLE = range(5)
    ENERGIES = ["engine", "converter", "front_pump", "gearbox", "axle", "tyre", "drag", "rolling"]
    HEAT_FROM = 5 + len(ENERGIES)

    def kinetic(self, y, ratio):
        s = self.s
        return 0.5 * (s.engine_inertia * y[0] ** 2 + (s.car_wheel_inertia + s.gearbox_turbine_inertia * ratio**2)
                      * y[1] ** 2 + s.car_mass * y[2] ** 2)

    def motion(self, y, ratio, gripping, c, pump_torque, drag_torque):
        """d/dt of speeds, distance, angle and energies; the force between tyre and road, and its limit."""
        s = self.s
        w_e, w_w, v = y[0], y[1], y[2]
        if gripping:
            w_w = v / self.radius
        w_t = w_w * ratio
        impeller, turbine = self.converter.torques(w_e, w_t, c)
        dragging = drag_torque * min(max(w_t, 0.0), 1.0)
        first = turbine - dragging
        mesh = s.transmission_mesh_loss * abs(first)
        second = first - mesh
        axle = (1 - s.car_axle_efficiency) * abs(second)
        wheel = (second - axle) * ratio
        drag, rolling = self.resistances(v)
        inertia = s.car_wheel_inertia + s.gearbox_turbine_inertia * ratio**2
        limit = self.traction(drag + rolling)
        if gripping:
            dv = (wheel / self.radius - drag - rolling) / (s.car_mass + inertia / self.radius**2)
            dw = dv / self.radius
            force = s.car_mass * dv + drag + rolling
        else:
            dv = (limit - drag - rolling) / s.car_mass
            dw = (wheel - limit * self.radius) / inertia
            force = limit
        full = self.engine.torque(w_e)
        rates = [(full - pump_torque - impeller) / s.engine_inertia, dw, dv, v, w_e,
                 full * w_e, impeller * w_e - turbine * w_t, pump_torque * w_e, (dragging + mesh) * w_t, axle * w_t,
                 force * (w_w * self.radius - v), drag * v, rolling * v]
        return rates, force - limit

    def travel(self, launch_speed, t_pan, distance, heat=None, capacity=lambda _: 1.0, heat_rates=None):
        """A full-throttle run; the states of heat, if any, behind those of motion. Times count from the launch."""
        s, shift_speed = self.s, self.s.gearbox_shift_speed
        constant = self.shift_pump_torque(t_pan), self.drag_torque(t_pan)
        y = np.zeros(self.HEAT_FROM + (0 if heat is None else len(heat)))
        y[0] = launch_speed
        atol = np.array([1e-8, 1e-8, 1e-9, 1e-9, 1e-7] + [1e-3] * len(self.ENERGIES)) * (self.pass_relative / 1e-10)
        atol = np.concatenate([atol, [] if heat is None else self.tolerances()])
        if heat is not None:
            y[self.HEAT_FROM:] = heat
        gear, gripping, armed, shifted_at, time, charges = 0, True, True, -math.inf, 0.0, [[0.0]]
        kinetic = self.kinetic(y, self.ratios[0])
        goals = [s.car_rollout] + [s.car_rollout + mark for mark in MARKS_M if mark <= distance]
        crossed = [None] * len(goals)
        while True:
            ratio = self.ratios[gear]
            if not armed and (y[0] < 0.985 * shift_speed or time >= shifted_at + 0.4 - 1e-12):
                armed = True
            if armed and y[0] >= shift_speed * (1 - 1e-12) and gear + 1 < len(self.ratios):
                new = self.ratios[gear + 1]
                wheels = s.car_wheel_inertia + (s.car_mass * self.radius**2 if gripping else 0)
                i = s.gearbox_turbine_inertia
                after = (wheels * y[1] + i * new * ratio * y[1]) / (wheels + i * new**2)
                lost = 0.5 * (wheels * y[1] ** 2 + i * (ratio * y[1]) ** 2
                              - wheels * after**2 - i * (new * after) ** 2)
                y[1] = after
                if gripping:
                    y[2] = after * self.radius
                y[5 + self.ENERGIES.index("gearbox")] += lost
                if heat is not None:
                    y[self.HEAT_FROM + GEARS] += lost
                    y[self.HEAT_FROM + BOOK["gear_train"]] += lost
                gear, armed, shifted_at = gear + 1, False, time
                continue
            if gripping and self.motion(y, ratio, True, capacity(y), *constant)[1] >= 0:
                gripping = False

            def rates(_, y):
                moving, _ = self.motion(y, ratio, gripping, capacity(y), *constant)
                if heat is None:
                    return moving
                return moving + heat_rates(y[self.HEAT_FROM:], moving[6], moving[8], moving[7])

            def mark_gap(goal, last):
                def function(_, y):
                    return y[3] - goal
                function.terminal, function.direction = last, 1
                return function

            events = [mark_gap(goal, goal is goals[-1]) for goal in goals]

            let_go_at = time

            def tyres(t, y):
                if gripping:
                    return self.motion(y, ratio, True, capacity(y), *constant)[1]
                # Slip is nothing at first: it counts a moment later, so that the shortest slide is not stepped over.
                return 1.0 if t < let_go_at + 1e-7 else y[1] * self.radius - y[2] - 1e-9
            tyres.terminal, tyres.direction = True, 1 if gripping else -1
            events.append(tyres)
            until = 30.0
            if gear + 1 < len(self.ratios):
                if armed:
                    def engine(_, y):
                        return y[0] - shift_speed
                    engine.direction = 1
                else:
                    def engine(_, y):
                        return y[0] - 0.985 * shift_speed
                    engine.direction = -1
                    until = shifted_at + 0.4
                engine.terminal = True
                events.append(engine)
            steps = {"max_step": 2.0 / self.steps_per_piece} if gripping else {"max_step": 2e-3, "first_step": 1e-6}
            solution = solve_ivp(rates, (time, until), y, method=self.pass_method, rtol=self.pass_relative, atol=atol,
                                 events=events, **steps)
            assert solution.success, solution.message
            self.evaluations += solution.nfev
            for place in range(len(goals)):
                if len(solution.t_events[place]):
                    crossed[place] = (float(solution.t_events[place][0]), solution.y_events[place][0])
            time, y = float(solution.t[-1]), solution.y[:, -1].copy()
            if heat is not None:
                charges.append(solution.y[self.HEAT_FROM + CHARGE])
            if gripping:
                y[1] = y[2] / self.radius
            if crossed[-1]:
                break
            assert time < 30, "the car does not arrive"
            assert y[0] > 400 * RPM, "the engine dies"
            if len(solution.t_events[len(goals)]):
                if not gripping:
                    y[1] = y[2] / self.radius
                gripping = not gripping
            if armed and gear + 1 < len(self.ratios) and len(solution.t_events[-1]):
                y[0] = shift_speed
            if not armed and gear + 1 < len(self.ratios) and len(solution.t_events[-1]):
                armed = True
        energy = {name: y[5 + i] for i, name in enumerate(self.ENERGIES)}
        energy["kinetic"] = self.kinetic(y, self.ratios[gear]) - kinetic
        return time, y, crossed, energy, np.concatenate(charges)

    def run_pass(self, event, time, state):
        """A computed pass; returns its end, state and what a timing slip says."""
        s, t = self.s, self.temperatures(state[:7]).tolist()
        distance = DISTANCES_M[event.get("distance", "quarter_mile")]
        key = ("nominal", distance)
        if key not in self.kept:
            took, y, *_ = self.travel(self.reference_flash or s.engine_idle_speed, 80.0, distance)
            self.kept[key] = y[self.ANGLE] / took, y[self.X] / took
        speed, road = self.kept[key]
        route = next((item["route"] for item in on_times(event.get("circulation"), lambda w: {"route": w})), None)
        fan = bool(on_times(event.get("fan"), lambda _: {}))
        network, charging = self.network(True, speed, road, route, fan), self.charging("pass")
        a, b = self.nodes[FLUID]

        def capacity(y):
            h = y[self.HEAT_FROM + FLUID]
            return self.capacity_ratio(min(2 * h / (a + math.sqrt(max(a * a + 4 * b * h, 0.0))), 2000.0))

        start = state.copy()
        start[CHARGE] = 0.0
        flash = self.flash(self.capacity_ratio(t[FLUID]), self.shift_pump_torque(t[PAN]))
        launch_speed = s.engine_idle_speed
        if self.held_speed:
            launch_speed = min(self.held_speed, flash) if flash else self.held_speed
        took, y, crossed, energy, charges = self.travel(
            launch_speed, t[PAN], distance, start, capacity,
            lambda heat, shear, gears, power: network(heat, charging, shear, gears, power))
        after = y[self.HEAT_FROM:].copy()
        after[CHARGE] = self.charge_through(state[CHARGE], charges)
        clock = crossed[0][0]
        slip = {"launch_rpm": launch_speed / RPM, "flash_rpm": flash / RPM if flash else None, "duration_s": took,
                "marks": [{"elapsed_s": at - clock, "speed_m_per_s": there[self.V], "engine_rpm": there[0] / RPM}
                          for at, there in crossed[1:]],
                "energy_j": energy}
        self.held_speed = None
        return time + took, after, slip

    def run_day(self, scenario):
        stated = scenario.get("initial_temperatures", {})
        start = [si(stated.get(node, stated.get("all", self.s.air_temperature))) for node in NODES]
        state, time, ends, launches = np.zeros(STATES), 0.0, [], []
        state[:7], state[CHARGE] = self.heat(np.array(start)), self.s.battery_capacity
        self.held_speed = None

        def take(event, block_end):
            nonlocal time, state
            if event["event"] == "pass" and "duration" not in event and "until" not in event:
                time, state, slip = self.run_pass(event, time, state)
                launches.append(slip)
            else:
                longest = event.get("duration", event.get("at_most"))
                end = block_end if longest == "rest" else time + si(longest)
                event = {**event, "longest": end - time}
                time, state = self.run_event(event, time, state, end)
                if event["event"] == "pass":
                    launches.append(None)
            ends.append({"kind": event["event"], "end_s": float(time),
                         "temperatures_c": self.temperatures(state[:7]).tolist(),
                         "charge_a_s": float(state[CHARGE])})

        def wait(until):
            if until - time > 1e-6:
                take({"event": "engine_off", "duration": f"{until - time!r} s"}, None)

        for events, turnaround in blocks(scenario["timeline"]):
            block_start = time
            block_end = None if turnaround is None else block_start + turnaround
            for event in events:
                if "start" in event:
                    wait(block_start + si(event["start"]))
                take(event, block_end)
            if block_end is not None:
                wait(block_end)
        heat = {name: float(state[BOOK[name]]) for name in BOOKS}
        return {"ends": ends, "launches": launches, "heat_j": heat,
                "life_s": {"pan_fluid": float(state[PAN_DOSE]), "converter_fluid": float(state[FLUID_DOSE])}}


def on_times(value, whole):
    if value in (None, "off"):
        return []
    return [whole(value)] if isinstance(value, str) else value


def blocks(timeline):
    """Stretches of single events, and rounds: (events, turnaround or None)."""
    found = []
    for item in timeline:
        if "rounds" not in item:
            if not found or found[-1][1] is not None:
                found.append(([], None))
            found[-1][0].append(item)
            continue
        for entry in item["rounds"]:
            entry = {"turnaround": entry} if isinstance(entry, str) else entry
            events = []
            for event in copy.deepcopy(item["events"]):
                change = entry.get("change", {}).get(event["event"], {})
                if "duration" in change or "until" in change:
                    for key in ("duration", "until", "at_most"):
                        event.pop(key, None)
                events.append({**event, **change})
            found.append((events, si(entry["turnaround"])))
    return found


def rounded(value):
    """Ten digits: more than is compared, and the file stays small."""
    if isinstance(value, dict):
        return {key: rounded(item) for key, item in value.items()}
    if isinstance(value, list):
        return [rounded(item) for item in value]
    return float(f"{value:.10g}") if isinstance(value, float) else value


ANSWERS = ROOT / "tests/data/independent_days.json"
# How far answers solved again may be from those kept: a hundredth of what the program is held to. Another machine's
# mathematical library moves the last digits.
SAME = 1e-4


def apart(kept, found, where=""):
    """The largest difference between two answers, in K, s or as a share of large numbers; and where it is."""
    if isinstance(kept, dict) and isinstance(found, dict) and kept.keys() == found.keys():
        parts = [apart(kept[key], found[key], f"{where}.{key}") for key in kept]
    elif isinstance(kept, list) and isinstance(found, list) and len(kept) == len(found):
        parts = [apart(*pair, f"{where}[{at}]") for at, pair in enumerate(zip(kept, found))]
    elif isinstance(kept, (int, float)) and isinstance(found, (int, float)) and not isinstance(kept, bool):
        return abs(kept - found) / max(1.0, abs(kept) / 1000.0), where
    else:
        return (0.0 if kept == found else math.inf), where
    return max(parts, default=(0.0, where), key=lambda part: part[0])


def main():
    import argparse

    from days import all_days

    asked = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    asked.add_argument("name", nargs="*", help="part of a day's name: only those are solved, nothing is written")
    asked.add_argument("--check", action="store_true", help="compare with the answers kept instead of writing them")
    asked.add_argument("--grid", type=float, help="another step of pan temperature for the hydraulics (K); nothing is written")
    asked = asked.parse_args()
    wanted = " ".join(asked.name)
    solver = {"grid_step": asked.grid} if asked.grid else {}
    kept = {one["scenario"]["name"]: one for one in json.loads(ANSWERS.read_text("utf-8"))["days"]} if asked.check else {}
    days, worst = [], (0.0, "")
    for scenario in all_days(ROOT):
        if wanted.lower() not in scenario["name"].lower():
            continue
        answer = rounded(Twin(scenario["setup"], **solver).run_day(scenario))
        days.append({"scenario": scenario, **answer})
        name = scenario["name"]
        if asked.check:
            worst = max(worst, apart(kept.get(name), days[-1], name), key=lambda part: part[0])
        else:
            print(f"{name}: {len(answer['ends'])} events, {answer['ends'][-1]['end_s']:.1f} s", flush=True)
    if asked.check:
        print(f"{len(days)} days solved again; largest difference from the answers kept {worst[0]:.1e}" + f", at {worst[1]}" * (worst[1] != ""))
        if not worst[0] <= SAME or (not wanted and len(days) != len(kept)):
            sys.exit("tests/reference/twin.py: these are not the answers kept; write them anew or find out why.")
        return
    if wanted or solver:
        return
    source = (f"tests/reference/twin.py, SciPy {scipy.__version__}, NumPy {np.__version__}, solve_ivp LSODA "
              f"rtol 1e-9 atol 1e-3 J, passes DOP853 rtol 1e-10; temperatures in the order {', '.join(NODES)}")

    def dump(value):
        return json.dumps(value, ensure_ascii=False)

    written = ",\n".join(
        "{\n\"scenario\": " + dump(item["scenario"]) + ",\n\"ends\": [\n" + ",\n".join(map(dump, item["ends"])) + "\n],\n\"launches\": [\n"
        + ",\n".join(map(dump, item["launches"])) + "\n],\n\"heat_j\": " + dump(item["heat_j"])
        + ",\n\"life_s\": " + dump(item["life_s"]) + "\n}" for item in days)
    text = "{\n\"source\": " + dump(source) + ",\n\"days\": [\n" + written + "\n]\n}\n"
    ANSWERS.write_text(text, "utf-8")


if __name__ == "__main__":
    main()
