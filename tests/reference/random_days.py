"""Twenty days with set-ups and timelines drawn at random, invented: what nobody thought of trying.

The numbers come from Python's own generator (Mersenne Twister, the same in every version) and are written with four
digits, so that the days are the same everywhere. Each parameter is drawn anew with half a chance; the ranges are about
those of cars at a track, within docs/parameters.md."""

import random

from days import day, event

# section, key, least, most, unit; a unit of None is a plain number.
SPREAD = [
    ("air", "temperature", -5, 42, "°C"), ("air", "pressure", 80, 103, "kPa"), ("air", "humidity", 0.1, 0.95, None),
    ("air", "wind", 0.2, 6, "m/s"),
    ("engine", "idle_speed", 800, 1500, "rpm"), ("engine", "thermostat", 65, 95, "°C"),
    ("engine", "heat_capacity", 60, 200, "kJ/K"), ("engine", "warm_up", 200, 900, "W/K"),
    ("engine", "to_air", 8, 40, "W/K"), ("engine", "inertia", 0.15, 0.4, "kg m²"),
    ("engine", "motoring_torque", 25, 90, "N m"),
    ("converter", "k_factor", 160, 230, "rpm/√(N m)"), ("converter", "k_reference", 60, 110, "°C"),
    ("converter", "stall_torque_ratio", 1.6, 2.3, None), ("converter", "stall_per_10_c", -20, 60, "rpm"),
    ("converter", "fluid_volume", 2, 5, "L"), ("converter", "shell_mass", 9, 22, "kg"),
    ("converter", "link_at_rest", 60, 250, "W/K"), ("converter", "link_turning", 1200, 4500, "W/K"),
    ("converter", "shell_to_engine", 1, 9, "W/K"), ("converter", "shell_to_gears", 2, 11, "W/K"),
    ("transmission", "pan_volume", 3, 9, "L"), ("transmission", "gear_mass", 18, 45, "kg"),
    ("transmission", "case_mass", 14, 36, "kg"), ("transmission", "case_area", 0.5, 1.2, "m²"),
    ("transmission", "case_diameter", 0.2, 0.4, "m"), ("transmission", "case_emissivity", 0.1, 0.95, None),
    ("transmission", "pan_to_case_running", 25, 150, "W/K"), ("transmission", "pan_to_gears_running", 10, 90, "W/K"),
    ("transmission", "lubrication_effectiveness", 0.1, 0.8, None), ("transmission", "mesh_loss", 0.005, 0.04, None),
    ("transmission", "drag_torque", 2, 14, "N m"), ("transmission", "shift_heat", 4, 40, "kJ"),
    ("front_pump", "displacement", 14, 34, "cm³/rev"), ("front_pump", "line_pressure", 9, 19, "bar"),
    ("front_pump", "efficiency", 0.6, 0.95, None), ("front_pump", "cooler_flow", 3, 9, "L/min"),
    ("cooler", "ua", 30, 220, "W/K"), ("cooler", "oil_side_share", 0.15, 0.7, None),
    ("cooler", "fan_air_flow", 400, 1800, "m³/h"), ("cooler", "still_air_flow", 10, 90, "m³/h"),
    ("cooler", "ram_area", 0.002, 0.05, "m²"), ("cooler", "metal_mass", 1, 5, "kg"),
    ("cooler", "fluid_volume", 0.4, 2, "L"), ("cooler", "fan_current", 5, 20, "A"),
    ("circulation", "flow", 3, 14, "L/min"), ("battery", "capacity", 25, 90, "Ah"),
    ("car", "mass", 1000, 1900, "kg"), ("car", "final_drive", 3.7, 5.1, None), ("car", "grip", 1, 2.2, None),
    ("car", "drag_area", 0.5, 1.1, "m²"), ("car", "underbody_air_share", 0.1, 0.8, None),
]
FLUIDS = ["multi_vehicle", "low_viscosity", "friction_modifier_free", "racing_straight_20"]
ROUTES = ["pan_loop", "through_converter", "cooler_first"]
NODES = ["converter_fluid", "pan_fluid", "case", "gear_train"]


def number(value):
    return float(f"{value:.4g}")


def between(draw, low, high, unit=None):
    value = number(draw.uniform(low, high))
    return value if unit is None else f"{value:g} {unit}"


def maybe(draw, chance, make):
    """What `make` gives, or nothing."""
    return make() if draw.random() < chance else {}


def setup_of(draw):
    found = {"fluid": {"class": draw.choice(FLUIDS)}}
    for section, key, low, high, unit in SPREAD:
        if draw.random() < 0.5:
            found.setdefault(section, {})[key] = between(draw, low, high, unit)
    return found


def cooling(draw):
    """Pump and fan of a rest: on all the time, for a part of it, or until a temperature."""
    part = {"start": between(draw, 10, 60, "s"), "duration": between(draw, 60, 240, "s")}
    until = {"until": {"node": draw.choice(NODES), "at_or_below": between(draw, 40, 70, "°C")}}
    route = draw.choice(ROUTES)
    pump = draw.choice([{}, {"circulation": route}, {"circulation": [{"route": route, **part}]},
                        {"circulation": [{"route": route, **until}]}])
    fan = draw.choice([{}, {"fan": "on"}, {"fan": [part]}, {"fan": [until]}])
    return {**pump, **fan}


def round_of(draw):
    """From the call to the next one; half of the passes come from a log, the others from the car."""
    run = draw.choice([
        event("pass", distance=draw.choice(["quarter_mile", "eighth_mile", "1000_ft"])),
        event("pass", between(draw, 6, 12, "s"), engine_speed=between(draw, 5500, 7200, "rpm"),
              input_power=between(draw, 200, 600, "kW"), slip=between(draw, 0.05, 0.2), shifts=draw.choice([1, 2]))])
    return [
        event("idle", between(draw, 60, 240, "s"), gear=draw.choice(["neutral", "in_gear"]),
              **maybe(draw, 0.4, lambda: {"fan": "on"})),
        *draw.choice([[], [event("burnout", between(draw, 3, 7, "s"))]]),
        event("stage", between(draw, 5, 30, "s")),
        event("brake_hold", between(draw, 0.5, 4, "s"), engine_speed=between(draw, 2600, 4200, "rpm")),
        run, event("slow_down", between(draw, 15, 40, "s")),
        event("return_road", between(draw, 90, 240, "s"), road_speed=between(draw, 20, 70, "km/h"),
              **maybe(draw, 0.3, lambda: {"circulation": draw.choice(ROUTES), "fan": "on"})),
        event(draw.choice(["engine_off", "engine_off", "tow"]), between(draw, 300, 2400, "s"), **cooling(draw)),
    ]


def random_days():
    for seed in range(1, 21):
        draw = random.Random(seed)
        timeline = [one for _ in range(draw.choice([1, 2, 3])) for one in round_of(draw)]
        initial = {"all": between(draw, 5, 45, "°C"), "engine": between(draw, 20, 80, "°C")}
        yield day(f"Random {seed}", "Set-up and timeline drawn at random; invented.", timeline,
                  setup=setup_of(draw), initial=initial)
