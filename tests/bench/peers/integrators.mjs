// Integrators from npm, each used as its documentation shows. Relative tolerance and ten times it as the absolute one,
// for all alike; `get(name)` gives a library. First steps are 0.1 s where a library wants one to be stated.

const MOST_STEPS = 400_000;

export function integrators(get) {
  const odex = get("odex");
  const { Dopri } = get("dopri");
  const ode45 = get("ode45-cash-karp");
  const numeric = get("numeric");
  return {
    "odex 2.0.4": (rates, start, duration, relative) => {
      const solver = new odex.Solver(start.length);
      solver.relativeTolerance = relative;
      solver.absoluteTolerance = 10 * relative;
      solver.initialStepSize = Math.min(0.1, duration);
      solver.maxSteps = MOST_STEPS;
      const made = (_, y) => {
        const dy = new Array(y.length);
        rates(y, dy);
        return dy;
      };
      const { y, outcome } = solver.solve(made, 0, start, duration);
      if (outcome !== odex.Outcome.Converged) throw new Error("odex gave up");
      return y;
    },
    "dopri 0.0.13": (rates, start, duration, relative) => {
      const control = { rtol: relative, atol: 10 * relative, maxSteps: MOST_STEPS, tcrit: [duration], stiffCheck: 0, stepSizeMin: 0 };
      const solver = new Dopri((_, y, dy) => rates(y, dy), start.length, control);
      solver.initialise(0, start);
      return solver.run(duration)([duration])[0];
    },
    "ode45-cash-karp 1.1.0": (rates, start, duration, relative) => {
      const options = { tol: relative, errorScaleFunction: (_, __, y) => 10 + Math.abs(y), verbose: false };
      const solver = ode45(Float64Array.from(start), (dy, y) => rates(y, dy), 0, Math.min(0.1, duration), options);
      solver.steps(MOST_STEPS, duration);
      return solver.y;
    },
    "numeric 1.2.6": (rates, start, duration, relative) => {
      const made = (_, y) => {
        const dy = new Array(y.length);
        rates(y, dy);
        return dy;
      };
      const solved = numeric.dopri(0, duration, start, made, 10 * relative, MOST_STEPS);
      return solved.y[solved.y.length - 1];
    },
  };
}
