"""Independent twin of the seven-node model, in SciPy: writes tests/data/independent_days.json.

Run:  pip install -r tests/reference/requirements.txt && python tests/reference/twin.py

Written from docs/model.md and docs/parameters.md (equations, defaults), not from the Rust sources; another
integrator (LSODA, rtol 1e-9, atol 1e-3 J), another effectiveness series, no tabulated curves. It reads
scenario files by itself and trusts them: checks, messages and fluid viscosity are not its business.

Equations, all SI, temperatures t in degrees Celsius:
  heat content   H = a t + b t^2 of every node; t = 2H / (a + sqrt(a^2 + 4 b H))
  fluid          rho = rho15 exp(-x (1 + 0.8 x)), x = 0.6278/rho15 (t - 15)         (API table 54D form)
                 cp = (1684.8 + 3.3913 t)/sqrt(d), d = rho(60 F)/999.016             (Cragoe 1929)
  converter      at stall (w/K)^2 w rho(t)/rho(t_ref); otherwise P (1 - (1 - slip) TR)
  gear train     mesh share of the power behind the converter + drag w + shifts over the event; none at stall
  front pump     displacement w pressure / efficiency
  links          G dT; with turning parts rest + per-flow q + turning (rpm/5000)^0.8
  front flow     proportional below 1000 rpm, linear to 5000 rpm, constant above
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
"""

import copy
import json
import math
import pathlib

import numpy as np
import scipy
from scipy.integrate import solve_ivp

ROOT = pathlib.Path(__file__).resolve().parents[2]
RELATIVE, ABSOLUTE_J = 1e-9, 1e-3

NODES = ["converter_fluid", "converter_shell", "pan_fluid", "gear_train", "case", "cooler_core", "engine"]
FLUID, SHELL, PAN, GEARS, CASE, CORE, ENGINE = range(7)
BOOKS = ["converter_shear", "gear_train", "front_pump", "circulation_pump", "from_engine",
         "cooler_air", "case_convection", "case_radiation", "bellhousing_air", "into_engine"]
BOOK = {name: 7 + i for i, name in enumerate(BOOKS)}

STEEL, ALUMINIUM = 470.0, 900.0  # J/(kg K), docs/model.md
SIGMA = 5.670374419e-8  # W/(m2 K4), CODATA 2018
GRAVITY = 9.80665  # m/s2
RPM = math.pi / 30.0

# Units that the days use. International pound, inch, US gallon; hp = 550 ft lbf/s; inHg at 0 C.
UNITS = {
    "kPa": 1e3, "inHg": 3386.389, "bar": 1e5, "m/s": 1.0, "mph": 0.44704, "km/h": 1 / 3.6, "rpm": RPM,
    "mm²/s": 1e-6, "kg/m³": 1.0, "kJ/K": 1e3, "W/K": 1.0, "W/K per L/min": 6e4, "W": 1.0, "kW": 1e3,
    "hp": 745.69987158227022, "kJ": 1e3, "kg": 1.0, "lb": 0.45359237, "L": 1e-3, "qt": 0.946352946e-3, "m": 1.0,
    "m²": 1.0, "N m": 1.0, "cm³/rev": 1e-6 / (2 * math.pi), "L/min": 1 / 6e4, "gpm": 3.785411784e-3 / 60,
    "m³/h": 1 / 3600, "cfm": 0.3048**3 / 60, "s": 1.0, "min": 60.0, "h": 3600.0, "A": 1.0, "Ah": 3600.0,
    "rpm/√(N m)": RPM, "rpm/√(lbf ft)": RPM / math.sqrt(0.45359237 * GRAVITY * 0.3048),
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
    "air": {"temperature": "30 °C", "pressure": "101.325 kPa", "wind": "1 m/s"},
    "fluid": {"density15": "860 kg/m³"},
    "engine": {"idle_speed": "1100 rpm", "thermostat": "80 °C", "heat_capacity": "100 kJ/K", "warm_up": "500 W/K",
               "to_air": "18 W/K"},
    "converter": {"k_factor": "193 rpm/√(N m)", "k_reference": "80 °C", "fluid_volume": "2.8 L",
                  "shell_mass": "14 kg", "link_at_rest": "120 W/K", "link_per_flow": "20 W/K per L/min",
                  "link_turning": "2500 W/K", "shell_to_air_at_rest": "2 W/K", "shell_to_air_turning": "14 W/K",
                  "shell_to_engine": "4 W/K", "shell_to_gears": "5 W/K"},
    "transmission": {"pan_volume": "5 L", "gear_mass": "28 kg", "case_mass": "22 kg", "case_area": "0.75 m²",
                     "case_diameter": "0.3 m", "case_emissivity": 0.4, "pan_to_case": "16 W/K",
                     "pan_to_case_running": "60 W/K", "pan_to_gears": "6 W/K", "pan_to_gears_running": "30 W/K",
                     "gears_to_case": "10 W/K", "gears_to_case_running": "25 W/K", "case_to_engine": "5 W/K",
                     "lubrication_effectiveness": 0.3, "mesh_loss": 0.015, "drag_torque": "3 N m",
                     "shift_heat": "12 kJ"},
    "front_pump": {"displacement": "22 cm³/rev", "line_pressure": "13 bar", "efficiency": 0.85,
                   "cooler_flow_idle": "4.5 L/min", "cooler_flow_high": "11 L/min"},
    "cooler": {"ua": "70 W/K", "oil_side_share": 0.35, "rated_oil_flow": "8 L/min", "rated_air_flow": "800 m³/h",
               "fan_air_flow": "800 m³/h", "still_air_flow": "30 m³/h", "ram_area": "0.02 m²", "metal_mass": "2 kg",
               "fluid_volume": "0.7 L"},
    "circulation": {"flow": "6 L/min", "heat": "60 W"},
    "car": {"underbody_air_share": 0.35},
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
CLASS_DENSITY = {"multi_vehicle": 860.0}


class Setup:
    """Every parameter in SI as an attribute `part_key`."""

    def __init__(self, stated):
        for part, keys in DEFAULTS.items():
            for key, value in {**keys, **stated.get(part, {})}.items():
                if key == "class":
                    self.fluid_density15 = CLASS_DENSITY[value]
                else:
                    setattr(self, f"{part}_{key}", si(value))


def air_properties(t, pressure):
    """Density, dynamic viscosity, conductivity of dry air."""
    kelvin = t + 273.15
    viscosity = 1.458e-6 * kelvin**1.5 / (kelvin + 110.4)
    conductivity = 2.64638e-3 * kelvin**1.5 / (kelvin + 245.4 * 10 ** (-12 / kelvin))
    return pressure / (287.053 * kelvin), viscosity, conductivity


def unmixed_effectiveness(ntu, ratio):
    """Crossflow, both streams unmixed: Mason's double series."""
    total = 0.0
    first, second = 1 - math.exp(-ntu), 1 - math.exp(-ratio * ntu)
    term_1, term_2 = math.exp(-ntu), math.exp(-ratio * ntu)
    for m in range(400):
        total += first * second
        term_1 *= ntu / (m + 1)
        term_2 *= ratio * ntu / (m + 1)
        first -= term_1
        second -= term_2
        if first * second < 1e-17:
            break
    return total / (ratio * ntu)


class Twin:
    def __init__(self, setup):
        s = self.s = Setup(setup)
        root = math.sqrt(self.density(15 + 5 / 9) / 999.016)
        self.cp_0, self.cp_slope = 1684.8 / root, 3.3913 / root

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

    def density(self, t):
        x = 0.6278 / self.s.fluid_density15 * (t - 15)
        return self.s.fluid_density15 * math.exp(-x * (1 + 0.8 * x))

    def enthalpy(self, t):
        return self.cp_0 * t + self.cp_slope * t * t / 2

    def heat(self, t):
        return self.a * t + self.b * t * t

    def temperatures(self, heat):
        return 2 * heat / (self.a + np.sqrt(self.a**2 + 4 * self.b * heat))

    def case_convection(self, t, speed):
        """W/m2 from a horizontal cylinder."""
        s, ambient = self.s, self.s.air_temperature
        density, viscosity, conductivity = air_properties((t + ambient) / 2, s.air_pressure)
        film = (t + ambient) / 2 + 273.15
        nu, prandtl, size = viscosity / density, viscosity * 1006 / conductivity, s.transmission_case_diameter
        rayleigh = GRAVITY / film * abs(t - ambient) * size**3 / nu**2 * prandtl
        free = (0.6 + 0.387 * rayleigh ** (1 / 6) / (1 + (0.559 / prandtl) ** (9 / 16)) ** (8 / 27)) ** 2
        forced, reynolds = 0.0, speed * size / nu
        if reynolds > 0:
            forced = 0.3 + (0.62 * reynolds**0.5 * prandtl ** (1 / 3) / (1 + (0.4 / prandtl) ** (2 / 3)) ** 0.25
                            * (1 + (reynolds / 282000) ** 0.625) ** 0.8)
        return (free**4 + forced**4) ** 0.25 * conductivity / size * (t - ambient)

    def cooler(self, oil_flow, fan, road_speed):
        """Oil-side effectiveness, conductance of the core to air."""
        s = self.s
        blown = max(s.cooler_fan_air_flow, s.cooler_still_air_flow) if fan else s.cooler_still_air_flow
        air_flow = math.hypot(blown, road_speed * s.cooler_ram_area)
        air = air_flow * air_properties(s.air_temperature, s.air_pressure)[0] * 1006
        ua_air = s.cooler_ua / (1 - s.cooler_oil_side_share) * (air_flow / s.cooler_rated_air_flow) ** 0.55
        if oil_flow == 0:
            return 0.0, air * (1 - math.exp(-ua_air / air))
        oil = oil_flow * self.density(80) * (self.cp_0 + self.cp_slope * 80)
        ua_oil = s.cooler_ua / s.cooler_oil_side_share * (oil_flow / s.cooler_rated_oil_flow) ** 0.4
        smaller, larger = min(oil, air), max(oil, air)
        whole = unmixed_effectiveness(1 / (1 / ua_oil + 1 / ua_air) / smaller, smaller / larger) * smaller
        oil_side = 1 - math.exp(-ua_oil / oil)
        return oil_side, 1 / (1 / whole - 1 / (oil_side * oil))

    def right_hand_side(self, event, route, fan):
        """d/dt of heat contents and books during one mode."""
        s, kind = self.s, event["event"]
        running = kind not in ("tow", "engine_off")
        load = {**EVENT_DEFAULTS.get(kind, {}), **event}
        speed = (si(load["engine_speed"]) if "engine_speed" in load else s.engine_idle_speed) if running else 0.0
        power, slip = si(load.get("input_power", 0)), si(load.get("slip", 0))
        road = si(load.get("road_speed", 0))
        stalled = kind in ("stage", "brake_hold") or (kind == "idle" and event.get("gear") == "in_gear")

        stall_heat = speed * (speed / s.converter_k_factor) ** 2 / self.density(s.converter_k_reference)
        slip_heat = power * (1 - (1 - slip) * si(load.get("torque_ratio", 1)))
        gear_heat = 0.0
        if running and not stalled:
            gear_heat = (s.transmission_mesh_loss * (power - slip_heat) + s.transmission_drag_torque * speed
                         + si(load.get("shifts", 0)) * s.transmission_shift_heat / event["longest"])
        pump_heat = s.front_pump_displacement * speed * s.front_pump_line_pressure / s.front_pump_efficiency
        circulation_heat = s.circulation_heat if route else 0.0

        rpm = speed / RPM
        low, high = s.front_pump_cooler_flow_idle, s.front_pump_cooler_flow_high
        engine_flow = low * rpm / 1000 if rpm < 1000 else low + (high - low) * min((rpm - 1000) / 4000, 1)
        pump_flow = s.circulation_flow if route else 0.0
        through = engine_flow + (pump_flow if route in ("through_converter", "cooler_first") else 0)
        turning = (rpm / 5000) ** 0.8
        fluid_to_shell = s.converter_link_at_rest + s.converter_link_per_flow * through \
            + s.converter_link_turning * turning
        shell_to_air = s.converter_shell_to_air_at_rest + s.converter_shell_to_air_turning * turning
        pan_case, pan_gears, gears_case = (
            (s.transmission_pan_to_case_running, s.transmission_pan_to_gears_running,
             s.transmission_gears_to_case_running) if running else
            (s.transmission_pan_to_case, s.transmission_pan_to_gears, s.transmission_gears_to_case))
        links = [(FLUID, SHELL, fluid_to_shell), (SHELL, GEARS, s.converter_shell_to_gears),
                 (PAN, CASE, pan_case), (PAN, GEARS, pan_gears), (GEARS, CASE, gears_case)]
        engine_links = [(SHELL, s.converter_shell_to_engine), (CASE, s.transmission_case_to_engine)]
        oil_side, core_to_air = self.cooler(engine_flow + pump_flow, fan, road)
        air_speed = s.air_wind + s.car_underbody_air_share * road
        radiating = s.transmission_case_emissivity * SIGMA * s.transmission_case_area

        converter, cooler = (FLUID, 1.0), (CORE, oil_side)
        lubrication, pan = (GEARS, s.transmission_lubrication_effectiveness), (PAN, 1.0)
        streams = [(engine_flow, [converter, cooler, lubrication, pan])] if running else []
        if route:
            streams.append((pump_flow, {"pan_loop": [cooler, lubrication, pan],
                                        "through_converter": [converter, cooler, pan],
                                        "cooler_first": [cooler, converter, pan]}[route]))

        def rates(_, state):
            t = self.temperatures(state[:7])
            d = np.zeros(7 + len(BOOKS))

            def made(node, watts, book):
                d[node] += watts
                d[BOOK[book]] += watts

            def away(node, watts, book):
                d[node] -= watts
                d[BOOK[book]] += watts

            made(FLUID, stall_heat * self.density(t[FLUID]) if stalled else slip_heat, "converter_shear")
            made(GEARS, gear_heat, "gear_train")
            made(PAN, pump_heat, "front_pump")
            made(PAN, circulation_heat, "circulation_pump")
            for i, j, conductance in links:
                watts = conductance * (t[i] - t[j])
                d[i] -= watts
                d[j] += watts
            for node, conductance in engine_links:
                watts = conductance * (t[ENGINE] - t[node])
                d[ENGINE] -= watts
                d[node] += watts
                d[BOOK["from_engine" if watts > 0 else "into_engine"]] += abs(watts)
            if running:
                d[ENGINE] += s.engine_warm_up * (s.engine_thermostat - t[ENGINE])
            else:
                d[ENGINE] -= s.engine_to_air * (t[ENGINE] - s.air_temperature)
            away(SHELL, shell_to_air * (t[SHELL] - s.air_temperature), "bellhousing_air")
            away(CORE, core_to_air * (t[CORE] - s.air_temperature), "cooler_air")
            away(CASE, s.transmission_case_area * self.case_convection(t[CASE], air_speed), "case_convection")
            away(CASE, radiating * ((t[CASE] + 273.15) ** 4 - (s.air_temperature + 273.15) ** 4),
                 "case_radiation")
            for flow, stops in streams:
                mass_flow, carried = flow * self.density(t[PAN]), self.enthalpy(t[PAN])
                for node, effectiveness in stops:
                    given = effectiveness * (carried - self.enthalpy(t[node]))
                    d[node] += mass_flow * given
                    carried -= given
            return d

        return rates

    def run_event(self, event, time, state, end):
        """Integrates one event; returns its end time and state."""
        def gap(condition):
            node = NODES.index(condition["node"])
            sign, wanted = (1, "at_or_above") if "at_or_above" in condition else (-1, "at_or_below")
            return lambda _, y: sign * (self.temperatures(y[:7])[node] - si(condition[wanted]))

        def on_times(value, words):
            if value in (None, "off"):
                return []
            return [words(value)] if isinstance(value, str) else value

        started, stop = time, gap(event["until"]) if "until" in event else None
        switches = [dict(item, switch="circulation") for item in
                    on_times(event.get("circulation"), lambda route: {"route": route})]
        switches += [dict(item, switch="fan") for item in on_times(event.get("fan"), lambda _: {})]
        for item in switches:
            item["from"] = started + si(item.get("start", 0))
            item["to"] = item["from"] + si(item["duration"]) if "duration" in item else math.inf
            item["stop"] = gap(item["until"]) if "until" in item else None
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
            solution = solve_ivp(self.right_hand_side(event, route, fan), (time, piece_end), state, method="LSODA",
                                 rtol=RELATIVE, atol=ABSOLUTE_J, events=watched or None,
                                 max_step=max((piece_end - time) / 40, 0.01))
            assert solution.success, solution.message
            time, state = float(solution.t[-1]), solution.y[:, -1]
            if solution.status == 1:
                reached = [f for f, times in zip(watched, solution.t_events) if len(times)]
                if stop in reached:
                    break
                switches = [item for item in switches if item["stop"] not in reached]
        return time, state

    def run_day(self, scenario):
        stated = scenario.get("initial_temperatures", {})
        start = [si(stated.get(node, stated.get("all", self.s.air_temperature))) for node in NODES]
        state, time, ends = np.concatenate([self.heat(np.array(start)), np.zeros(len(BOOKS))]), 0.0, []

        def take(event, block_end):
            nonlocal time, state
            longest = event.get("duration", event.get("at_most"))
            end = block_end if longest == "rest" else time + si(longest)
            event = {**event, "longest": end - time}
            time, state = self.run_event(event, time, state, end)
            ends.append({"kind": event["event"], "end_s": round(float(time), 6),
                         "temperatures_c": [round(float(t), 6) for t in self.temperatures(state[:7])]})

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
        heat = {name: round(float(state[BOOK[name]]), 3) for name in BOOKS}
        return {"ends": ends, "heat_j": heat}


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


def event(kind, duration=None, **more):
    return {"event": kind, **({"duration": duration} if duration else {}), **more}


def day(name, note, timeline, setup=None, initial=None):
    return {"format": 1, "name": name, "note": note, "setup": setup or {}, "initial_temperatures": initial or {},
            "timeline": timeline}


HOT = {"converter_fluid": "140 °C", "converter_shell": "130 °C", "pan_fluid": "95 °C", "gear_train": "85 °C",
       "case": "65 °C", "cooler_core": "70 °C", "engine": "85 °C"}
QUIET = {"mesh_loss": 0, "drag_torque": "0 N m"}


def small_days():
    """One feature each, with set-ups that make it count."""
    yield day("Slow idle", "Front-pump flow below 1 000 rpm.", [
        event("idle", "8 min", engine_speed=f"{rpm} rpm", gear="neutral", fan="on") for rpm in (500, 700, 900)],
        initial=HOT)
    yield day("Fast idle", "Front-pump flow above 5 000 rpm; turning links above their reference.", [
        event("idle", "4 min", engine_speed="6500 rpm", gear="neutral", fan="on"),
        event("idle", "2 min", engine_speed="2500 rpm", gear="neutral")], initial=HOT)
    yield day("Idle in gear", "Stall heat, colder and hotter than the K-factor's reference.", [
        event("idle", "5 min", gear="in_gear"), event("stage", "40 s"),
        event("brake_hold", "2.5 s", engine_speed="3900 rpm"),
        event("idle", "3 min", gear="neutral"), event("idle", "2 min", engine_speed="1600 rpm", gear="in_gear")],
        setup={"converter": {"k_reference": "110 °C"}}, initial={"all": "15 °C"})
    yield day("Return road", "Ram air through the cooler and air along the case, fan off.", [
        event("return_road", "6 min", road_speed="80 km/h"),
        event("slow_down", "60 s", road_speed="190 km/h"),
        event("return_road", "4 min", road_speed="60 km/h", fan="on")], initial=HOT)
    yield day("Burnouts and pulls", "Slip heat with a torque ratio, mesh loss, shifts over the event.", [
        event("burnout", "5 s", shifts=2, torque_ratio=1.05),
        event("idle", "2 min", gear="neutral"),
        event("dyno_pull", "12 s", shifts=3, torque_ratio=1.2, slip=0.25, input_power="150 kW"),
        event("dyno_pull", "30 s", shifts=0, engine_speed="4500 rpm"),
        event("pass", "9 s", shifts=2, torque_ratio=1.1)],
        setup={"transmission": {"shift_heat": "40 kJ", "mesh_loss": 0.04}})
    yield day("Drag only", "Drag torque and front pump, nothing else.", [
        event("idle", "5 min", engine_speed="3000 rpm", gear="neutral")],
        setup={"transmission": {"drag_torque": "20 N m"}, "front_pump": {"efficiency": 0.5}})
    yield day("Soak from the engine", "Hot engine, cold transmission, engine off.", [
        event("engine_off", "30 min"), event("engine_off", "90 min", circulation="pan_loop")],
        setup={"transmission": {"case_to_engine": "25 W/K"}, "converter": {"shell_to_engine": "12 W/K"}},
        initial={"all": "25 °C", "engine": "110 °C"})
    yield day("Soak into the engine", "Hot transmission, cold engine that loses much to the air.", [
        event("engine_off", "40 min"), event("engine_off", "60 min", fan="on")],
        setup={"transmission": {"case_to_engine": "25 W/K"}, "engine": {"to_air": "60 W/K",
               "heat_capacity": "30 kJ/K"}}, initial={"all": "110 °C", "engine": "20 °C"})
    yield day("Tow", "Nothing made, air along the case and through the core.", [
        event("tow", "10 min", road_speed="60 km/h"),
        event("tow", "5 min", circulation="through_converter", fan="on"),
        event("engine_off", "5 min")], initial=HOT)
    yield day("Radiation", "A painted case in still air.", [event("engine_off", "60 min")],
              setup={"air": {"wind": "0.2 m/s"}, "transmission": {"case_emissivity": 0.95}},
              initial={"all": "140 °C"})
    yield day("Windy", "Forced convection alone matters.", [event("engine_off", "40 min")],
              setup={"air": {"wind": "12 m/s", "temperature": "5 °C", "pressure": "70 kPa"},
                     "transmission": {"case_emissivity": 0.03, "case_diameter": "0.5 m"}}, initial={"all": "90 °C"})
    for name, rated, flow, share in [("Little oil", "40 L/min", "4 L/min", 0.8),
                                     ("Much oil", "2 L/min", "30 L/min", 0.8)]:
        yield day(name, "Oil flow far from its rating, resistance on the oil side.", [
            event("engine_off", "10 min", circulation="pan_loop", fan="on")],
            setup={"cooler": {"rated_oil_flow": rated, "oil_side_share": share, "ua": "60 W/K"},
                   "circulation": {"flow": flow}}, initial={"all": "110 °C"})
    for name, rated, blown in [("Little air", "3000 m³/h", "250 m³/h"), ("Much air", "300 m³/h", "3500 m³/h")]:
        yield day(name, "Air flow far from its rating, resistance on the air side.", [
            event("engine_off", "10 min", circulation="pan_loop", fan="on"), event("engine_off", "10 min")],
            setup={"cooler": {"rated_air_flow": rated, "fan_air_flow": blown, "oil_side_share": 0.15}},
            initial={"all": "110 °C"})
    yield day("Both pumps", "Engine and circulation pump together, on every route.", [
        event("idle", "3 min", gear="neutral", circulation=route, fan="on")
        for route in ("pan_loop", "through_converter", "cooler_first")] + [
        event("idle", "2 min", gear="in_gear", circulation="pan_loop")],
        setup={"circulation": {"flow": "15 L/min", "heat": "300 W"}}, initial=HOT)
    for route in ("pan_loop", "through_converter", "cooler_first"):
        yield day(f"Route {route}", "One route, engine off, converter much hotter than pan and gears.", [
            event("engine_off", "2 min", circulation=route, fan="on"), event("engine_off", "5 min")],
            setup={"transmission": {"lubrication_effectiveness": 0.8}}, initial=HOT)
    yield day("Heavy core", "A core that lags: looked at every few seconds.", [
        event("idle", "15 s", gear="neutral", fan="on"), event("idle", "15 s", gear="neutral"),
        event("engine_off", "20 s", circulation="through_converter"), event("engine_off", "3 min", fan="on")],
        setup={"cooler": {"metal_mass": "14 kg", "fluid_volume": "5 L"}}, initial={**HOT, "cooler_core": "20 °C"})
    yield day("Standing and running", "Inner links at rest and running, far apart.", [
        event("engine_off", "10 min"), event("idle", "3 min", gear="neutral"), event("engine_off", "10 min")],
        setup={"transmission": {"pan_to_case": "5 W/K", "pan_to_case_running": "300 W/K", "pan_to_gears": "2 W/K",
                                "pan_to_gears_running": "200 W/K", "gears_to_case": "3 W/K",
                                "gears_to_case_running": "150 W/K", **QUIET}}, initial=HOT)
    yield day("Warm-up", "The engine pulled to its thermostat, then cooling.", [
        event("idle", "4 min", gear="neutral"), event("engine_off", "20 min")],
        setup={"engine": {"warm_up": "900 W/K", "thermostat": "95 °C", "to_air": "50 W/K"}})
    yield day("Until", "Events and switches that wait for a temperature; a switch that has switched off stays off.", [
        event("idle", until={"node": "pan_fluid", "at_or_above": "60 °C"}, at_most="40 min", gear="in_gear"),
        event("engine_off", "25 min",
              circulation=[{"route": "through_converter", "duration": "14 min",
                            "until": {"node": "converter_fluid", "at_or_below": "62 °C"}},
                           {"route": "pan_loop", "start": "15 min", "duration": "4 min"}],
              fan=[{"duration": "15 min", "until": {"node": "cooler_core", "at_or_below": "48 °C"}},
                   {"start": "16 min"}]),
        event("engine_off", until={"node": "case", "at_or_below": "20 °C"}, at_most="10 min")])
    yield day("Rounds", "Rest, a change in one round, starts after a round's start, an automatic wait.", [
        event("idle", "4 min", gear="neutral"), event("brake_hold", "2 s", start="7 min"),
        {"rounds": ["20 min", {"turnaround": "15 min", "change": {
            "brake_hold": {"duration": "5 s", "engine_speed": "3500 rpm"}, "idle": {"gear": "neutral"}}}, "12 min"],
         "events": [event("idle", "60 s", gear="in_gear"), event("brake_hold", "2 s"), event("pass", "10 s"),
                    event("return_road", "2 min", start="100 s"),
                    event("engine_off", "rest", circulation=[{"route": "cooler_first", "start": "30 s"}],
                          fan=[{"duration": "4 min"}])]},
        {"rounds": ["15 min"], "events": [event("pass", "10 s"), event("tow", "3 min")]},
        event("engine_off", "10 min", start="1 min", fan="on")])
    yield day("Nothing at its default", "Every number of the set-up and of the events is stated.", [
        event("idle", "3 min", gear="in_gear"), event("burnout", "4 s", engine_speed="6000 rpm", input_power="200 kW",
              slip=0.12, torque_ratio=1.02, shifts=1),
        event("stage", "20 s", engine_speed="1300 rpm"), event("brake_hold", "2 s", engine_speed="4500 rpm"),
        event("pass", "8 s", engine_speed="7000 rpm", input_power="500 kW", slip=0.1, torque_ratio=1.03, shifts=2,
              road_speed="180 km/h"),
        event("slow_down", "25 s", engine_speed="2500 rpm", input_power="5 kW", slip=0.2, torque_ratio=1.1,
              road_speed="120 km/h"),
        event("return_road", "3 min", engine_speed="1800 rpm", input_power="8 kW", slip=0.2, torque_ratio=1.15,
              road_speed="40 km/h", circulation="through_converter"),
        event("tow", "2 min", road_speed="30 km/h"),
        event("engine_off", "15 min", circulation="cooler_first", fan=[{"duration": "6 min"}])],
        setup={
            "air": {"temperature": "22 °C", "pressure": "85 kPa", "wind": "3 m/s"},
            "fluid": {"kv40": "70 mm²/s", "kv100": "11 mm²/s", "density15": "885 kg/m³"},
            "engine": {"idle_speed": "950 rpm", "thermostat": "90 °C", "heat_capacity": "150 kJ/K",
                       # strong enough to be held at 4 500 rpm; the twin knows no torque curve
                       "peak_power": "900 kW", "peak_power_speed": "6600 rpm",
                       "peak_torque": "1480 N m", "peak_torque_speed": "4900 rpm",
                       "warm_up": "300 W/K", "to_air": "25 W/K"},
            "converter": {"k_factor": "170 rpm/√(N m)", "k_reference": "60 °C", "fluid_volume": "4 L",
                          "shell_mass": "20 kg", "link_at_rest": "200 W/K", "link_per_flow": "35 W/K per L/min",
                          "link_turning": "1500 W/K", "shell_to_air_at_rest": "4 W/K",
                          "shell_to_air_turning": "30 W/K", "shell_to_engine": "9 W/K", "shell_to_gears": "11 W/K"},
            "transmission": {"pan_volume": "7 L", "gear_mass": "35 kg", "case_mass": "30 kg", "case_area": "1.1 m²",
                             "case_diameter": "0.4 m", "case_emissivity": 0.6, "pan_to_case": "25 W/K",
                             "pan_to_case_running": "90 W/K", "pan_to_gears": "12 W/K",
                             "pan_to_gears_running": "45 W/K", "gears_to_case": "17 W/K",
                             "gears_to_case_running": "40 W/K", "case_to_engine": "9 W/K",
                             "lubrication_effectiveness": 0.5, "mesh_loss": 0.025, "drag_torque": "6 N m",
                             "shift_heat": "20 kJ"},
            "front_pump": {"displacement": "30 cm³/rev", "line_pressure": "16 bar", "efficiency": 0.7,
                           "cooler_flow_idle": "6 L/min", "cooler_flow_high": "16 L/min"},
            "cooler": {"ua": "120 W/K", "oil_side_share": 0.5, "rated_oil_flow": "12 L/min",
                       "rated_air_flow": "1000 m³/h", "fan_air_flow": "1300 m³/h", "still_air_flow": "80 m³/h",
                       "ram_area": "0.03 m²", "metal_mass": "3.5 kg", "fluid_volume": "1.5 L"},
            "circulation": {"flow": "9 L/min", "heat": "120 W"}, "car": {"underbody_air_share": 0.6}},
        initial={"all": "45 °C"})


def nasty_day():
    """Cold, thick, thin air, both pumps at once, all routes, waits of every sort."""
    return day("Cold and thick", "Both pumps with the engine, three routes, waits on events and on switches.", [
        event("idle", "10 min", gear="in_gear", circulation="through_converter", fan="on"),
        event("brake_hold", until={"node": "converter_fluid", "at_or_above": "140 °C"}, at_most="60 s",
              engine_speed="4000 rpm"),
        event("dyno_pull", "30 s", engine_speed="6000 rpm", input_power="200 kW", slip=0.2, torque_ratio=1.1,
              shifts=2, circulation="cooler_first"),
        event("tow", "3 min", road_speed="50 km/h"),
        event("engine_off", "20 min",
              circulation=[{"route": "cooler_first", "duration": "3 min"},
                           {"route": "pan_loop", "start": "4 min",
                            "until": {"node": "pan_fluid", "at_or_below": "30 °C"}}],
              fan=[{"start": "1 min", "until": {"node": "converter_shell", "at_or_below": "60 °C"}}]),
        event("engine_off", "60 min"),
        event("idle", until={"node": "pan_fluid", "at_or_above": "20 °C"}, at_most="30 min", gear="neutral",
              engine_speed="600 rpm", circulation="pan_loop")],
        setup={"air": {"temperature": "-20 °C", "pressure": "80 kPa", "wind": "8 m/s"},
               "fluid": {"kv40": "180 mm²/s", "kv100": "18 mm²/s", "density15": "900 kg/m³"},
               "cooler": {"fan_air_flow": "3000 m³/h", "ua": "300 W/K"}, "circulation": {"flow": "20 L/min"}})


def main():
    scenarios = [json.loads(path.read_text("utf-8")) for path in sorted((ROOT / "scenarios").glob("*.json"))]
    days = []
    for scenario in scenarios + [nasty_day()] + list(small_days()):
        answer = Twin(scenario["setup"]).run_day(scenario)
        days.append({"scenario": scenario, **answer})
        print(f"{scenario['name']}: {len(answer['ends'])} events, {answer['ends'][-1]['end_s']:.1f} s")
    source = (f"tests/reference/twin.py, SciPy {scipy.__version__}, NumPy {np.__version__}, solve_ivp LSODA "
              f"rtol {RELATIVE:g} atol {ABSOLUTE_J:g} J; temperatures in the order {', '.join(NODES)}")
    dump = lambda value: json.dumps(value, ensure_ascii=False)
    written = ",\n".join(
        "{\n\"scenario\": " + dump(item["scenario"]) + ",\n\"ends\": [\n" + ",\n".join(map(dump, item["ends"]))
        + "\n],\n\"heat_j\": " + dump(item["heat_j"]) + "\n}" for item in days)
    text = "{\n\"source\": " + dump(source) + ",\n\"days\": [\n" + written + "\n]\n}\n"
    (ROOT / "tests/data/independent_days.json").write_text(text, "utf-8")


if __name__ == "__main__":
    main()
