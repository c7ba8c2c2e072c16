// Loads of an event that car and engine make while nothing is stated that only a log knows: burnout,
// slow-down, return road. `kind` is a kind of `core.tables()`, whose `logged` names those quantities.

/** The logged quantities that an event states, by key. */
export function loggedOf(kind, event) {
  return Object.fromEntries(kind.logged.filter((key) => event[key] !== undefined).map((key) => [key, event[key]]));
}

export function isFromCar(kind, event) {
  return kind.logged.length > 0 && Object.keys(loggedOf(kind, event)).length === 0;
}

/** What the core made of an event, as a log would state it; the usual values where it made nothing. */
export function asLogged(kind, happened, powerUnit) {
  const made = { engine_speed: happened?.engine_rpm, input_power: happened?.input_power, slip: happened?.slip, torque_ratio: happened?.torque_ratio };
  const rows = kind.quantities.filter(({ key }) => kind.logged.includes(key) && key in made);
  return Object.fromEntries(rows.map((row) => {
    const value = Number((made[row.key] ?? row.default).toPrecision(4));
    const unit = row.key === "input_power" && happened ? powerUnit : row.unit;
    const allowed = Math.min(row.max, Math.max(row.min, value));
    return [row.key, unit === "" ? allowed : `${allowed} ${unit}`];
  }));
}

/** The same as a sentence; `count` is how often the event came about. A car that slows down drives its engine. */
export function loadsText({ coasts: driven }, { round, engine_rpm: rpm, input_power: power, slip }, count, powerUnit) {
  const speed = driven ? `the car turns the engine at ${rpm.toFixed(0)} rpm` : `engine ${rpm.toFixed(0)} rpm`;
  const begin = count > 1 && round ? `Round ${round}: ${speed}` : speed.charAt(0).toUpperCase() + speed.slice(1);
  return `${begin}, ${power.toFixed(power < 100 ? 1 : 0)} ${powerUnit} into the converter` +
    `${driven ? " from the wheels" : ""}, slip ${(100 * slip).toFixed(0)}\u00a0%.`;
}
