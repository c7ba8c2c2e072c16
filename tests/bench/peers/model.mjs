// The right-hand side of a day in JavaScript, from the pieces that `peers cut` writes (src/export.rs): the equations of
// docs/model.md on the same tables as the program's. The state of a node is its heat in kelvin of rise; in a pass engine,
// wheel and car speed and distance stand behind the seven. Written for speed: flat lists, nothing made in a call.

const ZERO_C = 273.15;
const SIGMA = 5.670374419e-8; // W/(m² K⁴), CODATA 2018
const GRAVITY = 9.80665; // m/s², ISO 80000-3
const BOOK_J = 1e9; // J in a unit of a book: so large that books never bound a step
// Who asks more often than ten times what is usual has lost its way.
const MOST_CALLS = 150_000;
const NODES = 7;
const FLUID = 0;
const PAN = 2;
const GEARS = 3;

/** Cubics on an even grid, `width` functions beside each other; constant beyond the grid. */
function table({ start, per_step: perStep, cubics }) {
  const width = cubics[0].length;
  return { start, perStep, steps: cubics.length, width, powers: Float64Array.from(cubics.flat(2)) };
}

function read(grid, x) {
  const position = Math.min(Math.max((x - grid.start) * grid.perStep, 0), grid.steps);
  const i = Math.min(position | 0, grid.steps - 1);
  const u = position - i;
  const p = grid.powers;
  const at = 4 * i;
  return p[at] + u * (p[at + 1] + u * (p[at + 2] + u * p[at + 3]));
}

function readAll(grid, x, out) {
  const position = Math.min(Math.max((x - grid.start) * grid.perStep, 0), grid.steps);
  const i = Math.min(position | 0, grid.steps - 1);
  const u = position - i;
  const p = grid.powers;
  for (let q = 0, at = 4 * i * grid.width; q < grid.width; q += 1, at += 4) {
    out[q] = p[at] + u * (p[at + 1] + u * (p[at + 2] + u * p[at + 3]));
  }
}

/** Straight between its points. */
function straight(points, x) {
  let i = 0;
  while (i < points.length && points[i][0] < x) i += 1;
  if (i === 0) return points[0][1];
  if (i === points.length) return points[i - 1][1];
  const [x0, y0] = points[i - 1];
  const [x1, y1] = points[i];
  return y0 + ((y1 - y0) * (x - x0)) / (x1 - x0);
}

/** A day from what `peers cut` wrote: `pieces` with `rates(y, dy)` and `begin(y)`, and `temperatures(y)` in kelvin. */
export function makeDay(data) {
  const { base_j: base, scale_j: scale, linear, quadratic, fluid_linear: fluidA, fluid_quadratic: fluidB } = data;
  const density = table(data.density);
  const capacity = table(data.capacity);
  const flows = data.flows.map(table);
  const cases = data.cases.map(table);
  const driven = data.driven && { ...data.driven, torque: table(data.driven.torque) };
  // Nodes first, then what lies outside: fixed temperatures, one place for each link end.
  const kelvin = new Float64Array(NODES + 32);
  const watt = new Float64Array(NODES + 32);
  const flowing = new Float64Array(8);
  const books = new Float64Array(data.paths);
  const [shearPath, gearPath, pumpPath] = data.of_motion;

  function fillTemperatures(y) {
    for (let i = 0; i < NODES; i += 1) {
      const heat = base[i] + scale[i] * y[i];
      const a = linear[i];
      kelvin[i] = ZERO_C + (2 * heat) / (a + Math.sqrt(Math.max(a * a + 4 * quadratic[i] * heat, 0)));
    }
  }

  function makePiece(piece, ledger) {
    const fixed = [];
    const place = ([node, fixedK]) => (node >= 0 ? node : NODES + fixed.push(fixedK) - 1);
    const links = piece.links.map((link) => ({ ...link, from: place(link.from), to: place(link.to) }));
    const of = (law) => links.filter((link) => link.law === law);
    const column = (list, key) => Int32Array.from(list.map((link) => link[key]));
    const conductances = of("conductance");
    const [gFrom, gTo, g] = [column(conductances, "from"), column(conductances, "to"), Float64Array.from(conductances.map((link) => link.value))];
    const gPath = conductances.map((link) => link.path);
    const surveyed = of("surveyed");
    const sPath = surveyed.map((link) => link.path);
    const [sFrom, sTo, sQuantity] = ["from", "to", "value"].map((key) => column(surveyed, key));
    const radiation = of("radiation");
    const convection = of("convection");
    const { sources, streams } = piece;
    const [surveyNode, survey] = [piece.survey[0], flows[piece.survey[1]]];

    // A link that books its two directions apart has two paths.
    function book(q, paths) {
      if (q >= 0 || paths[0] === paths[1]) books[paths[0]] += q;
      else books[paths[1]] -= q;
    }

    function heat(y) {
      if (ledger) books.fill(0);
      fillTemperatures(y);
      watt.fill(0);
      for (let i = 0; i < fixed.length; i += 1) kelvin[NODES + i] = fixed[i];
      readAll(survey, kelvin[surveyNode], flowing);
      for (const [node, power, follows, atMost, path] of sources) {
        const q = follows === -1 ? power : power * (follows === -2 ? read(capacity, kelvin[node]) : Math.min(flowing[follows], atMost));
        watt[node] += q;
        if (ledger) books[path] += q;
      }
      for (let i = 0; i < g.length; i += 1) {
        const q = g[i] * (kelvin[gFrom[i]] - kelvin[gTo[i]]);
        watt[gFrom[i]] -= q;
        watt[gTo[i]] += q;
        if (ledger) book(q, gPath[i]);
      }
      for (let i = 0; i < sFrom.length; i += 1) {
        const q = flowing[sQuantity[i]] * (kelvin[sFrom[i]] - kelvin[sTo[i]]);
        watt[sFrom[i]] -= q;
        watt[sTo[i]] += q;
        if (ledger) book(q, sPath[i]);
      }
      for (const { from, to, value, path } of radiation) {
        const [a, b] = [kelvin[from] * kelvin[from], kelvin[to] * kelvin[to]];
        const q = value * SIGMA * (a + b) * (a - b);
        watt[from] -= q;
        watt[to] += q;
        if (ledger) book(q, path);
      }
      for (const { from, to, value, path } of convection) {
        const delta = kelvin[from] - kelvin[to];
        const root = Math.sqrt(Math.sqrt(Math.abs(delta)));
        const q = read(cases[value], delta < 0 ? -root : root) * delta;
        watt[from] -= q;
        watt[to] += q;
        if (ledger) book(q, path);
      }
      for (const { flow, stops } of streams) {
        const first = stops[0][0];
        const mass = flowing[flow] * read(density, kelvin[first]);
        const start = kelvin[first] - ZERO_C;
        const startJ = (fluidA + fluidB * start) * start;
        let fluidJ = startJ;
        for (let i = 1; i < stops.length; i += 1) {
          const [node, quantity, share, path] = stops[i];
          const wall = kelvin[node] - ZERO_C;
          const given = (quantity < 0 ? share : flowing[quantity]) * (fluidJ - (fluidA + fluidB * wall) * wall);
          fluidJ -= given;
          watt[node] += mass * given;
          if (ledger) books[path] += mass * given;
        }
        watt[first] += mass * (fluidJ - startJ);
        if (ledger) books[stops[0][3]] += mass * (fluidJ - startJ);
      }
    }

    const { driving } = piece;
    const size = driving ? NODES + 4 : NODES;
    function rates(y, dy) {
      heat(y);
      if (driving) drive(driving, y, dy);
      for (let i = 0; i < NODES; i += 1) dy[i] = watt[i] / scale[i];
      if (ledger) for (let i = 0; i < books.length; i += 1) dy[size + i] = books[i] / BOOK_J;
    }
    return { rates, size, begin: driving ? (y, total) => begin(driving, y, total) : () => {}, duration: piece.duration_s, ends: piece.ends_event, start: piece.start, expected: piece.rates };
  }

  /** Speeds, and the heat that motion makes. */
  function drive(driving, y, dy) {
    const d = driven;
    const [engine, car] = [y[NODES], y[NODES + 2]];
    const ratio = d.ratios[driving.gear];
    const wheel = driving.holds ? car / d.radius : y[NODES + 1];
    const turbine = wheel * ratio;
    const impeller = Math.max(engine, 0);
    let taken;
    let given;
    if (turbine > impeller) {
      taken = -straight(d.coefficient, impeller / turbine) * turbine * turbine;
      given = 1;
    } else {
      const speedRatio = impeller > 0 ? Math.max(turbine / impeller, 0) : 0;
      taken = straight(d.coefficient, speedRatio) * impeller * impeller;
      given = straight(d.torque_ratio, speedRatio);
    }
    taken *= read(capacity, kelvin[FLUID]);
    given *= taken;
    const full = d.engine_correction * read(d.torque, engine);
    const drag = driving.drag_ratio * d.drag_torque * Math.min(Math.max(turbine, 0), 1);
    const driven1 = given - drag;
    const mesh = d.mesh_loss * Math.abs(driven1);
    const driven2 = driven1 - mesh;
    const atWheel = (driven2 - (1 - d.axle_efficiency) * Math.abs(driven2)) * ratio;
    const resistance = d.drag_per_v2 * car * car + d.rolling_resistance * d.mass * GRAVITY * Math.min(Math.max(car / 0.1, 0), 1);
    const inertia = d.wheel_inertia + d.turbine_inertia * ratio * ratio;
    let carRate;
    let wheelRate;
    if (driving.holds) {
      carRate = (atWheel / d.radius - resistance) / (d.mass + inertia / (d.radius * d.radius));
      wheelRate = carRate / d.radius;
    } else {
      const weight = d.mass * GRAVITY;
      const transfer = 1 - d.grip * d.height_over_wheelbase;
      const all = d.grip * weight;
      const limit = transfer <= 0 ? all : Math.min(Math.max((d.grip * (weight * d.driven_weight_share - d.height_over_wheelbase * resistance)) / transfer, 0), all);
      carRate = (limit - resistance) / d.mass;
      wheelRate = (atWheel - limit * d.radius) / inertia;
    }
    dy[NODES] = (full - driving.pump_torque - taken) / d.engine_inertia;
    dy[NODES + 1] = wheelRate;
    dy[NODES + 2] = carRate;
    dy[NODES + 3] = car;
    const [shear, gears, pump] = [taken * impeller - given * turbine, (drag + mesh) * turbine, driving.pump_torque * engine];
    watt[FLUID] += shear;
    watt[GEARS] += gears;
    watt[PAN] += pump;
    books[shearPath] += shear;
    books[gearPath] += gears;
    books[pumpPath] += pump;
  }

  /** What happens to a state before a piece of a pass. */
  function begin({ before, launch, gear, holds }, y, total) {
    const d = driven;
    if (before === "launch") [y[NODES], y[NODES + 1], y[NODES + 2], y[NODES + 3]] = [launch, 0, 0, 0];
    if (before === "hold") y[NODES + 1] = y[NODES + 2] / d.radius;
    if (before !== "shift") return;
    const [from, to] = [d.ratios[gear - 1], d.ratios[gear]];
    const body = d.wheel_inertia + (holds ? d.mass * d.radius * d.radius : 0);
    const wheel = y[NODES + 1];
    const after = ((body + d.turbine_inertia * from * to) * wheel) / (body + d.turbine_inertia * to * to);
    const lost = 0.5 * ((body + d.turbine_inertia * from * from) * wheel * wheel - (body + d.turbine_inertia * to * to) * after * after);
    y[NODES + 1] = after;
    if (holds) y[NODES + 2] = after * d.radius;
    y[GEARS] += lost / scale[GEARS];
    total[gearPath] += lost / BOOK_J;
  }

  return {
    pieces: data.pieces.map((piece) => makePiece(piece, false)),
    booked: data.pieces.map((piece) => makePiece(piece, true)),
    paths: data.paths,
    /** Heat made less heat carried away less heat stored, of what was made. */
    closure(y, total) {
      const sum = (places) => places.reduce((all, place) => all + total[place] * BOOK_J, 0);
      const stored = data.inside.reduce((all, node) => all + scale[node] * y[node], 0);
      return Math.abs((sum(data.made) - sum(data.away) - stored) / sum(data.made));
    },
    temperatures(y) {
      fillTemperatures(y);
      return Array.from(kelvin.subarray(0, NODES));
    },
    end: data.end_k,
  };
}

/** Largest deviation of the right-hand side from the program's, as a share of the largest rate of the piece. */
export function rightHandSideOff(day) {
  let worst = 0;
  for (const piece of day.pieces) {
    const dy = new Float64Array(piece.size);
    piece.rates(piece.start, dy);
    const largest = Math.max(...piece.expected.map(Math.abs), 1e-3);
    piece.expected.forEach((expected, i) => { worst = Math.max(worst, Math.abs(dy[i] - expected) / largest); });
  }
  return worst;
}

/**
 * A day by an integrator `(rates(y, dy), y, duration, relative) => y at the end`, with running totals of the paths of heat
 * as further states (`ledger`) or without: error (K), evaluations, closure of the ledger.
 */
export function runDay(day, integrate, relative, ledger) {
  const whole = new Array(NODES + 4).fill(0);
  const total = new Array(day.paths).fill(0);
  let calls = 0;
  let worst = 0;
  let event = 0;
  for (const piece of ledger ? day.booked : day.pieces) {
    piece.begin(whole, total);
    const rates = (y, dy) => {
      calls += 1;
      if (calls > MOST_CALLS) throw new Error("too many calls");
      piece.rates(y, dy);
    };
    const start = whole.slice(0, piece.size);
    const end = integrate(rates, ledger ? start.concat(total) : start, piece.duration, relative);
    for (let i = 0; i < piece.size; i += 1) whole[i] = end[i];
    if (ledger) for (let i = 0; i < total.length; i += 1) total[i] = end[piece.size + i];
    if (!piece.ends) continue;
    day.temperatures(whole).forEach((own, i) => {
      const off = Math.abs(own - day.end[event][i]);
      worst = Number.isFinite(off) ? Math.max(worst, off) : Infinity;
    });
    event += 1;
  }
  return { error: worst, calls, closure: ledger ? day.closure(whole, total) : null };
}
