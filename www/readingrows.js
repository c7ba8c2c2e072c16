// The readings of a test as the page keeps them: { start, rows }, texts as they were typed.
//
// `start` is when in the day the stopwatch was started ("8 min"); a row is a reading as in JSON files,
// { time: "12:30", place: "pan", shown: "185 °F", surface: "contact", … }, and `out: true` where it is left out of the
// fit. Whether a row can be used is for the core to say. Readings are replaced, never mutated.

export const NO_READINGS = Object.freeze({ start: "0 s", rows: Object.freeze([]) });

export const sameReadings = (a, b) => a === b || JSON.stringify(a) === JSON.stringify(b);

/** A reading as the core takes it. */
export const bare = ({ out, ...row }) => row;
