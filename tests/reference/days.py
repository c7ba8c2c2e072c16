"""The days that tests/reference/twin.py solves: the published ones, one with logged passes, a cold one that uses everything at once, and
small ones that each let one feature count, and random ones."""

import json


def all_days(root):
    for path in sorted((root / "scenarios").glob("*.json")):
        yield json.loads(path.read_text("utf-8"))
    yield json.loads((root / "tests/data/logged_bracket_day.json").read_text("utf-8"))
    yield nasty_day()
    yield from small_days()
    yield from computed_days()
    from random_days import random_days
    yield from random_days()


def event(kind, duration=None, **more):
    return {"event": kind, **({"duration": duration} if duration else {}), **more}


def day(name, note, timeline, setup=None, initial=None):
    setup = {"fluid": {"class": "multi_vehicle"}, **(setup or {})}
    return {"format": 1, "name": name, "note": note, "setup": setup, "initial_temperatures": initial or {},
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
        event("return_road", "6 min", road_speed="80 km/h", engine_speed="1500 rpm"),
        event("slow_down", "60 s", road_speed="190 km/h", input_power="4 kW"),
        event("return_road", "4 min", road_speed="60 km/h", slip=0.25, fan="on")], initial=HOT)
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
        setup={"circulation": {"flow": "15 L/min"}}, initial=HOT)
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
            "air": {"temperature": "22 °C", "pressure": "85 kPa", "humidity": 0.8, "wind": "3 m/s"},
            "fluid": {"kv40": "70 mm²/s", "kv100": "11 mm²/s", "density15": "885 kg/m³"},
            "engine": {"idle_speed": "950 rpm", "thermostat": "90 °C", "heat_capacity": "150 kJ/K",
                       # strong enough to be held at 4 500 rpm
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
                           "cooler_flow": "7 L/min"},
            "cooler": {"ua": "120 W/K", "oil_side_share": 0.5, "rated_oil_flow": "12 L/min",
                       "rated_air_flow": "1000 m³/h", "fan_air_flow": "1300 m³/h", "still_air_flow": "80 m³/h",
                       "ram_area": "0.03 m²", "metal_mass": "3.5 kg", "fluid_volume": "1.5 L",
                       "fan_current": "14 A"},
            "circulation": {"flow": "9 L/min"}, "car": {"underbody_air_share": 0.6},
            "battery": {"capacity": "60 Ah", "voltage": "15 V", "alternator_current": "20 A",
                        "charger_current": "5 A"}},
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


LAUNCH = [event("idle", "40 s", gear="in_gear"), event("stage", "10 s"),
          event("brake_hold", "1.5 s", engine_speed="4000 rpm")]


def run_of(distance="quarter_mile", **more):
    return event("pass", distance=distance, **more)


def computed_days():
    """Passes and loads computed from the car, and the pumps where fluid is thick."""
    yield day("Wheelspin", "Little grip: tyres let go at the launch, hold again, and after the shift.", [
        *LAUNCH, run_of(), event("slow_down", "20 s"), event("return_road", "2 min"),
        event("engine_off", "10 min", fan="on"), *LAUNCH, run_of()],
        setup={"car": {"grip": 1.05}}, initial=HOT)
    yield day("Spinning to the finish", "Hardly any grip, much power: wheels spin through the shift.", [
        *LAUNCH, run_of("eighth_mile"), event("engine_off", "4 min")],
        setup={"car": {"grip": 0.55, "height_over_wheelbase": 0.08}, "engine": {"peak_power": "600 kW",
               "peak_torque": "950 N m"}, "transmission": {"mesh_loss": 0.04, "drag_torque": "8 N m"}}, initial=HOT)
    yield day("Stall rises with heat", "Converter torque falls with its fluid's temperature: holds, idling, passes.", [
        *LAUNCH, run_of(), event("engine_off", "3 min"), *LAUNCH, run_of(), event("idle", "2 min", gear="in_gear"),
        event("brake_hold", "3 s", engine_speed="3600 rpm"), run_of()],
        setup={"converter": {"stall_per_10_c": "80 rpm", "k_reference": "70 °C"}}, initial=HOT)
    yield day("Stall falls with heat", "The same with the opposite sign, from cold.", [
        *LAUNCH, run_of(), event("engine_off", "3 min"), *LAUNCH, run_of()],
        setup={"converter": {"stall_per_10_c": "-40 rpm"}}, initial={"all": "10 °C"})
    yield day("Three gears", "Three ratios, a small engine: two shifts, and the last gear not direct.", [
        event("burnout", "4 s"), *LAUNCH, run_of(), event("slow_down", "25 s"), event("return_road", "2 min")],
        setup={"gearbox": {"ratios": [2.48, 1.48, 0.92], "shift_speed": "6200 rpm", "turbine_inertia": "0.1 kg m²"},
               "engine": {"peak_power": "300 kW", "peak_power_speed": "6000 rpm", "peak_torque": "550 N m",
                          "peak_torque_speed": "4200 rpm", "rev_limit": "6800 rpm", "inertia": "0.35 kg m²"},
               "converter": {"k_factor": "170 rpm/√(N m)"}, "car": {"final_drive": 3.9}}, initial=HOT)
    yield day("Own curves", "A torque curve and a converter's table, both as rows.", [
        event("burnout", "4 s", engine_speed="5000 rpm"), *LAUNCH, run_of(),
        event("slow_down", "20 s"), event("return_road", "3 min", road_speed="40 km/h")],
        setup={"engine": {"torque_curve": [["2500 rpm", "560 N m"], ["3500 rpm", "640 N m"], ["4300 rpm", "715 N m"],
                                           ["5000 rpm", "710 N m"], ["5800 rpm", "690 N m"], ["6500 rpm", "640 N m"],
                                           ["7200 rpm", "540 N m"]]},
               "converter": {"table": [[0, 2.05, 1], [0.35, 1.62, 1.04], [0.6, 1.3, 0.97], [0.82, 1.0, 0.8],
                                       [0.9, 0.99, 0.6], [0.97, 0.985, 0.25], [1, 0.985, 0]]}}, initial=HOT)
    yield day("Own K-factors", "A converter's table as text with K-factors, ending below speed ratio 1; full throttle "
              "below the first and above the last point of the torque curve.", [
        event("idle", "20 s", gear="in_gear"), run_of(), event("slow_down", "20 s"), event("return_road", "2 min")],
        setup={"engine": {"torque_curve": [["3500 rpm", "640 N m"], ["4500 rpm", "700 N m"], ["6200 rpm", "620 N m"]]},
               "converter": {"table": "speed_ratio, torque_ratio, k_factor (rpm/√(N m))\n0, 1.8, 193\n0.4, 1.5, 191\n0.7, 1.2, 201"
                                      "\n0.85, 0.99, 228\n0.93, 0.985, 290\n0.97, 0.985, 420"}}, initial=HOT)
    yield day("Eighth mile from idle", "No hold: launched from idle, the engine flashes on the way.", [
        event("stage", "10 s"), run_of("eighth_mile"), event("slow_down", "15 s"), event("return_road", "90 s"),
        event("engine_off", "6 min", circulation="pan_loop", fan="on")], initial={"all": "60 °C", "engine": "80 °C"})
    yield day("A thousand feet in thin humid air", "Fan and pump on through the pass; a gap after a hold launches "
              "from idle.", [
        *LAUNCH, run_of("1000_ft", fan="on", circulation="through_converter"), event("engine_off", "10 min"),
        event("brake_hold", "2 s", engine_speed="3500 rpm"), event("engine_off", "20 s"),
        run_of("1000_ft"), event("tow", "5 min")],
        setup={"air": {"temperature": "38 °C", "pressure": "83 kPa", "humidity": 0.9}}, initial=HOT)
    yield day("Pass in frost", "Humidity over ice, dense air, cold fluid.", [
        event("idle", "3 min", gear="neutral"), *LAUNCH, run_of(), event("slow_down", "20 s"),
        event("return_road", "3 min"), event("engine_off", "10 min")],
        setup={"air": {"temperature": "-8 °C", "pressure": "103 kPa", "humidity": 0.7}})
    yield day("Held at the flash speed", "Holds that ask for more than the engine can hold, cold and hot.", [
        event("brake_hold", "1 s", engine_speed="6500 rpm"), event("idle", "90 s", gear="in_gear"),
        event("brake_hold", "1 s", engine_speed="6500 rpm"), run_of("eighth_mile"),
        event("idle", "3 min", gear="neutral"),
        event("brake_hold", until={"node": "converter_fluid", "at_or_above": "150 °C"}, at_most="6 s",
              engine_speed="7000 rpm")],
        setup={"converter": {"stall_per_10_c": "30 rpm"}}, initial={"all": "25 °C"})
    yield day("Stated in other ways", "Altitude, stall speed at a torque, size of the cooler's core; thin air.", [
        event("burnout", "3 s"), *LAUNCH, run_of(), event("slow_down", "20 s"), event("return_road", "2 min"),
        event("engine_off", "8 min", circulation="pan_loop", fan="on")],
        setup={"air": {"altitude": "1780 m", "humidity": 0.2}, "cooler": {
               "core_width": "0.28 m", "core_height": "0.19 m", "core_depth": "0.038 m"},
               "converter": {"stall_speed": "4900 rpm", "stall_torque": "600 N m"}}, initial=HOT)
    loads = [event("burnout", "4 s"), event("slow_down", "20 s"), event("return_road", "3 min"),
             event("burnout", "3 s", engine_speed="4200 rpm", shifts=1),
             event("slow_down", "15 s", road_speed="220 km/h"), event("return_road", "2 min", road_speed="70 km/h")]
    yield day("Loads, warm", "Burnout, slow-down and return road computed from the car with hot fluid.", loads,
              setup={"converter": {"stall_per_10_c": "40 rpm"}}, initial=HOT)
    yield day("Loads, cold", "The same at the freezing point.", loads, initial={"all": "0 °C"})
    yield day("Loads at a crawl", "Idling engines: faster and slower than the turbine; more drag of the engine than "
              "the converter carries.", [
        event("return_road", "2 min", road_speed="4 km/h"), event("slow_down", "30 s", road_speed="8 km/h"),
        event("return_road", "2 min", road_speed="12 km/h"), event("slow_down", "30 s", road_speed="35 km/h"),
        event("slow_down", "60 s", road_speed="60 km/h"), event("slow_down", "30 s", road_speed="150 km/h")],
        setup={"engine": {"motoring_torque": "300 N m", "idle_speed": "1000 rpm"},
               "converter": {"k_factor": "220 rpm/√(N m)"}}, initial=HOT)
    for route in ("pan_loop", "through_converter", "cooler_first"):
        yield day(f"Cold {route}", "Thick fluid: the pump at its relief valve and near its stall, then warmed.", [
            event("engine_off", "30 min", circulation=route), event("idle", "4 min", gear="in_gear"),
            event("engine_off", "30 min", circulation=route, fan="on"),
            event("idle", "90 s", gear="neutral", circulation=route)],
            setup={"fluid": {"class": "racing_straight_20"}, "circulation": {"flow": "9 L/min"},
                   "air": {"temperature": "2 °C"}}, initial={"all": "-18 °C"})
    yield day("Cold front pump", "High engine speed with cold fluid: the charge relief valve.", [
        event("idle", "60 s", gear="neutral", engine_speed="5500 rpm"),
        event("idle", "60 s", gear="neutral", engine_speed="3000 rpm"),
        event("idle", "3 min", gear="neutral", engine_speed="5500 rpm", fan="on")],
        setup={"fluid": {"class": "racing_straight_30"}, "front_pump": {"cooler_flow": "3 L/min"}},
        initial={"all": "-10 °C"})
    yield day("Small battery", "Empties and fills up; less voltage, less flow.", [
        event("idle", "10 min", gear="neutral", circulation="pan_loop", fan="on"),
        event("engine_off", "30 min", circulation="pan_loop"), event("engine_off", "40 min"),
        event("tow", "10 min", fan="on"), event("idle", "10 min", gear="neutral"),
        event("engine_off", "20 min", circulation="cooler_first")],
        setup={"battery": {"capacity": "6 Ah", "voltage": "11 V", "alternator_current": "6 A",
                           "charger_current": "4 A"}, "cooler": {"fan_current": "15 A"}}, initial=HOT)
