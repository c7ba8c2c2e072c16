"""SciPy's integrators on the pieces of a day, for tests/bench/peers.mjs.

    python peers.py choose PIECES AIM_K LEDGER
    python peers.py time PIECES METHOD RELATIVE LEDGER REPEATS

PIECES is what `peers cut` writes, LEDGER `ledger` (a running total for each path of heat as a further state) or `bare`. The right-hand side is plain Python on lists of floats, which for seven numbers is
several times faster than arrays of NumPy; the equations are those of docs/model.md on the program's own tables. Like
everybody it carries heat as kelvin of rise, in a pass engine, wheel and car speed and distance behind it, and uses ten
times the relative tolerance as the absolute one. Both commands print JSON.
"""

import json
import math
import sys
import time

from scipy.integrate import solve_ivp

METHODS = ["RK45", "DOP853", "LSODA"]
ZERO_C, SIGMA, GRAVITY = 273.15, 5.670374419e-8, 9.80665  # CODATA 2018, ISO 80000-3
NODES, FLUID, PAN, GEARS = 7, 0, 2, 3
BOOK_J = 1e9  # J in a unit of a book: so large that books never bound a step


def reader(grid):
    """Functions beside each other on one grid, read at a place."""
    start, per_step, cubics = grid["start"], grid["per_step"], grid["cubics"]
    steps = len(cubics)

    def at(x):
        position = min(max((x - start) * per_step, 0.0), steps)
        i = min(int(position), steps - 1)
        u = position - i
        return [a + u * (b + u * (c + u * d)) for a, b, c, d in cubics[i]]

    return at


def straight(points, x):
    """Straight between points, constant beyond them."""
    before = None
    for point in points:
        if point[0] >= x:
            if before is None:
                return point[1]
            return before[1] + (point[1] - before[1]) * (x - before[0]) / (point[0] - before[0])
        before = point
    return before[1]


class Day:
    def __init__(self, data):
        self.data, self.end_k = data, data["end_k"]
        self.base, self.scale = data["base_j"], data["scale_j"]
        self.linear, self.quadratic = data["linear"], data["quadratic"]
        self.contents = [(base, scale, a, a * a, 4 * b) for base, scale, a, b in
                         zip(self.base, self.scale, self.linear, self.quadratic)]
        self.density, self.capacity = reader(data["density"]), reader(data["capacity"])
        self.flows, self.cases = [reader(x) for x in data["flows"]], [reader(x) for x in data["cases"]]
        self.driven = data["driven"]
        self.torque = reader(self.driven["torque"]) if self.driven else None
        self.paths, self.of_motion = data["paths"], data["of_motion"]
        self.pieces = {ledger: [(piece, self.rates(piece, ledger)) for piece in data["pieces"]]
                       for ledger in (False, True)}

    def temperatures(self, y):
        return [ZERO_C + 2 * (base + scale * x) / (a + math.sqrt(max(square + four * (base + scale * x), 0.0)))
                for x, (base, scale, a, square, four) in zip(y, self.contents)]

    def rates(self, piece, ledger):
        """The right-hand side of a piece, from a list to a list; with `ledger` the heat along every path behind it."""
        fixed = []

        def place(end):
            node, fixed_k = end
            if node >= 0:
                return node
            fixed.append(fixed_k)
            return NODES + len(fixed) - 1

        links = [(place(link["from"]), place(link["to"]), link["law"], link["value"], *link["path"])
                 for link in piece["links"]]
        conductances = [(a, b, g, p, r) for a, b, law, g, p, r in links if law == "conductance"]
        surveyed = [(a, b, q, p, r) for a, b, law, q, p, r in links if law == "surveyed"]
        radiation = [(a, b, area * SIGMA, p, r) for a, b, law, area, p, r in links if law == "radiation"]
        convection = [(a, b, self.cases[c], p, r) for a, b, law, c, p, r in links if law == "convection"]
        sources = piece["sources"]
        streams = [(stream["flow"], stream["stops"][0][0], stream["stops"][0][3], stream["stops"][1:])
                   for stream in piece["streams"]]
        survey_node, survey = piece["survey"][0], self.flows[piece["survey"][1]]
        alpha, beta = self.data["fluid_linear"], self.data["fluid_quadratic"]
        density, capacity, scale = self.density, self.capacity, self.scale
        driving, size = piece["driving"], NODES + len(fixed)

        def function(y):
            kelvin = self.temperatures(y) + fixed
            watt, books = [0.0] * size, [0.0] * self.paths if ledger else None
            flowing = survey(kelvin[survey_node])
            for node, power, follows, at_most, path in sources:
                if follows >= 0:
                    power *= min(flowing[follows], at_most)
                elif follows == -2:
                    power *= capacity(kelvin[node])[0]
                watt[node] += power
                if ledger:
                    books[path] += power
            for a, b, g, path, back in conductances:
                q = g * (kelvin[a] - kelvin[b])
                watt[a] -= q
                watt[b] += q
                if ledger:
                    if q >= 0 or path == back:
                        books[path] += q
                    else:
                        books[back] -= q
            for a, b, quantity, path, back in surveyed:
                q = flowing[quantity] * (kelvin[a] - kelvin[b])
                watt[a] -= q
                watt[b] += q
                if ledger:
                    if q >= 0 or path == back:
                        books[path] += q
                    else:
                        books[back] -= q
            for a, b, factor, path, back in radiation:
                q = factor * (kelvin[a] ** 4 - kelvin[b] ** 4)
                watt[a] -= q
                watt[b] += q
                if ledger:
                    if q >= 0 or path == back:
                        books[path] += q
                    else:
                        books[back] -= q
            for a, b, curve, path, back in convection:
                delta = kelvin[a] - kelvin[b]
                q = curve(math.copysign(math.sqrt(math.sqrt(abs(delta))), delta))[0] * delta
                watt[a] -= q
                watt[b] += q
                if ledger:
                    if q >= 0 or path == back:
                        books[path] += q
                    else:
                        books[back] -= q
            for flow, first, home, stops in streams:
                mass = flowing[flow] * density(kelvin[first])[0]
                t = kelvin[first] - ZERO_C
                start = fluid = (alpha + beta * t) * t
                for node, quantity, share, path in stops:
                    t = kelvin[node] - ZERO_C
                    given = (share if quantity < 0 else flowing[quantity]) * (fluid - (alpha + beta * t) * t)
                    fluid -= given
                    watt[node] += mass * given
                    if ledger:
                        books[path] += mass * given
                watt[first] += mass * (fluid - start)
                if ledger:
                    books[home] += mass * (fluid - start)
            moving = self.drive(driving, y, kelvin, watt, books) if driving else []
            changing = [q / c for q, c in zip(watt, scale)] + moving
            return changing + [q / BOOK_J for q in books] if ledger else changing

        return function

    def drive(self, driving, y, kelvin, watt, books):
        """Rates of the speeds; adds the heat that motion makes."""
        d = self.driven
        engine, wheel, car = y[NODES], y[NODES + 1], y[NODES + 2]
        ratio = d["ratios"][driving["gear"]]
        if driving["holds"]:
            wheel = car / d["radius"]
        turbine, impeller = wheel * ratio, max(engine, 0.0)
        if turbine > impeller:
            taken, given = -straight(d["coefficient"], impeller / turbine) * turbine**2, 1.0
        else:
            speed_ratio = max(turbine / impeller, 0.0) if impeller > 0 else 0.0
            taken, given = straight(d["coefficient"], speed_ratio) * impeller**2, straight(d["torque_ratio"], speed_ratio)
        taken *= self.capacity(kelvin[FLUID])[0]
        given *= taken
        full = d["engine_correction"] * self.torque(engine)[0]
        drag = driving["drag_ratio"] * d["drag_torque"] * min(max(turbine, 0.0), 1.0)
        first = given - drag
        mesh = d["mesh_loss"] * abs(first)
        second = first - mesh
        at_wheel = (second - (1 - d["axle_efficiency"]) * abs(second)) * ratio
        weight = d["mass"] * GRAVITY
        resistance = d["drag_per_v2"] * car**2 + d["rolling_resistance"] * weight * min(max(car / 0.1, 0.0), 1.0)
        inertia = d["wheel_inertia"] + d["turbine_inertia"] * ratio**2
        if driving["holds"]:
            dv = (at_wheel / d["radius"] - resistance) / (d["mass"] + inertia / d["radius"] ** 2)
            dw = dv / d["radius"]
        else:
            transfer = 1 - d["grip"] * d["height_over_wheelbase"]
            limit = d["grip"] * weight
            if transfer > 0:
                static = weight * d["driven_weight_share"] - d["height_over_wheelbase"] * resistance
                limit = min(max(d["grip"] * static / transfer, 0.0), limit)
            dv = (limit - resistance) / d["mass"]
            dw = (at_wheel - limit * d["radius"]) / inertia
        made = taken * impeller - given * turbine, (drag + mesh) * turbine, driving["pump_torque"] * engine
        for node, path, q in zip((FLUID, GEARS, PAN), self.of_motion, made):
            watt[node] += q
            if books:
                books[path] += q
        return [(full - driving["pump_torque"] - taken) / d["engine_inertia"], dw, dv, car]

    def begin(self, driving, y, total):
        """What happens to a state before a piece."""
        if not driving:
            return
        d, before = self.driven, driving["before"]
        if before == "launch":
            y[NODES:] = [driving["launch"], 0.0, 0.0, 0.0]
        elif before == "hold":
            y[NODES + 1] = y[NODES + 2] / d["radius"]
        elif before == "shift":
            old, new, i = d["ratios"][driving["gear"] - 1], d["ratios"][driving["gear"]], d["turbine_inertia"]
            body = d["wheel_inertia"] + (d["mass"] * d["radius"] ** 2 if driving["holds"] else 0.0)
            wheel = y[NODES + 1]
            after = (body + i * old * new) * wheel / (body + i * new**2)
            lost = 0.5 * ((body + i * old**2) * wheel**2 - (body + i * new**2) * after**2)
            y[NODES + 1] = after
            if driving["holds"]:
                y[NODES + 2] = after * d["radius"]
            y[GEARS] += lost / self.scale[GEARS]
            total[self.of_motion[1]] += lost / BOOK_J

    def run(self, method, relative, ledger):
        """Largest error at the ends of events (K), evaluations, closure of the ledger."""
        y, total, worst, event, calls = [0.0] * (NODES + 4), [0.0] * self.paths, 0.0, 0, 0
        for piece, rates in self.pieces[ledger]:
            self.begin(piece["driving"], y, total)
            size = len(y) if piece["driving"] else NODES
            solved = solve_ivp(lambda _, y: rates(y.tolist()), (0.0, piece["duration_s"]),
                               y[:size] + total if ledger else y[:size], method=method, rtol=relative,
                               atol=10 * relative)
            calls += solved.nfev
            if not solved.success:
                return math.inf, calls, None
            end = solved.y[:, -1].tolist()
            y[:size] = end[:size]
            if ledger:
                total = end[size:]
            if piece["ends_event"]:
                worst = max([worst] + [abs(a - b) for a, b in zip(self.temperatures(y), self.end_k[event])])
                event += 1
        return worst, calls, self.closure(y, total) if ledger else None

    def closure(self, y, total):
        """Heat made less heat carried away less heat stored, of what was made."""
        made, away = [sum(total[path] * BOOK_J for path in self.data[which]) for which in ("made", "away")]
        return abs(made - away - sum(self.scale[node] * y[node] for node in self.data["inside"])) / made

    def right_hand_side_off(self):
        """Largest deviation from the program's, as a share of the largest rate of the piece."""
        worst = 0.0
        for piece, rates in self.pieces[False]:
            largest = max(max(map(abs, piece["rates"])), 1e-3)
            worst = max([worst] + [abs(a - b) / largest for a, b in zip(rates(piece["start"]), piece["rates"])])
        return worst


def ladder(step):
    return 10 ** (-step / 8)


def choose(day, aim_k, ledger):
    chosen = []
    for method in METHODS:
        for step in range(16, 81):
            error_k, _, closure = day.run(method, ladder(step), ledger)
            if error_k <= aim_k:
                break
        chosen.append({"key": method, "name": f"SciPy solve_ivp, {method}", "relative": ladder(step),
                       "error_k": error_k, "closure": closure})
    return {"right_hand_side_off": day.right_hand_side_off(), "tight_error_k": day.run("DOP853", 1e-9, False)[0],
            "chosen": chosen}


def timed(day, method, relative, ledger, repeats):
    times = []
    for _ in range(repeats):
        # Time of the processor: a run is too long to fall between what others do on the machine.
        start = time.process_time()
        _, calls, _ = day.run(method, relative, ledger)
        times.append(time.process_time() - start)
    return {"seconds": min(times), "evaluations": calls}


def main():
    command, path, *rest = sys.argv[1:]
    with open(path, encoding="utf-8") as file:
        day = Day(json.load(file))
    if command == "choose":
        said = choose(day, float(rest[0]), rest[1] == "ledger")
    else:
        said = timed(day, rest[0], float(rest[1]), rest[2] == "ledger", int(rest[3]))
    print(json.dumps(said))


if __name__ == "__main__":
    main()
