// A question in a racer's words: which part of "What if" answers it, and what it states. Words and numbers are looked for;
// nothing is sent anywhere and nothing is guessed that does not stand there.
//
// `understand(text, { rounds, parameters, minute_of_day })` gives { part, asks, heard, unused } or null: `asks` are what the
// part's blanks take, as text with units where they are quantities, `heard` says it in words, `unused` are the numbers of
// the question that the part has no blank for, as they were typed. `minute_of_day` is now, for a call by the clock.
import { numbersIn, plain } from "./spoken.js";
import { spelled } from "./spelling.js";

/** Questions that can be asked, one or two of each part. */
export const EXAMPLES = [
  "What if I shut down with the pump on?",
  "They call us in 8 minutes after round 5: what do we do?",
  "Which cooler gets us back into the window in 12 min at 95 °F air?",
  "How much does the fan matter?",
  "How sure are you?",
];
/** More of them, for who asked what is not understood. */
export const MORE_EXAMPLES = [
  "The pan reads 195 and I want to leave at 165", "How do I get every round the same?", "Do I need the pump?", "How long can I hold the brake?",
  "What if the air is 95?", "What matters most?", "Where does the heat come from?", "Is my fluid finished?", "Why did the car slow down?",
];

const HOW_LONG = "(?:how long|how much time|how many (?:min(?:ute)?s?|sec(?:ond)?s?|hours?))\\b";
const ON_BRAKE = "\\b(?:hold\\w*|held|brake|(?:2|two|trans)[- ]?(?:step|brake)|limiter|converter)\\b";
const PART = "(?:cooler|fan|pump|pan)";
// A part is chosen by what is said of it, the greatest sum winning; the first of two that are equal. Those of the first
// lines are places of the page that show it already.
const PARTS = [
  ["heat", 3, /\bwhere (?:does|do|did|is) .*\bheat\b|\bwhy (?:is|was|does|did|so|am|are) .*\b(?:hot|heat|warm)\w*|\bwhy so hot\b|\bwhat (?:makes|made|heats) .*\b(?:heat|hot|it)\b/g],
  ["limits", 3, /\bhow hot is too hot\b|\btoo hot\?|\bfluid (?:is )?(?:finished|done|burnt|gone|worn)\b|\b(?:is|are) .*\bfluid\b.*\b(?:finished|done|burnt|ok|good|shot|bad)\b|\blimits?\b|\bseals?\b|\bchange (?:my |the |our )?(?:trans\w* )?(?:fluid|oil)\b|\bhurt(?:ing)? (?:it|anything|the)\b/g],
  ["limits", 4, /\bis \d+\D*\b(?:too hot|ok|okay|safe|bad|fine|good)\b/g],
  ["limits", 2, /\boverheat\w*\b|\bhow hot (?:will|does|did|can|is|do)\b/g],
  ["launches", 2, /\bpick(?:ed)? up\b|\bslow(?:ed|er)? down(?: in round)?\b|\bquicker\b|\bslower\b|\bwhy did the car\b|\bfell off\b/g],
  ["lag", 2, /\bgauge\b.*\b(?:wrong|lag\w*|off|broken|right|slow)\b|\b(?:wrong|broken|slow) gauge\b|\btrust .*\bgauge\b/g],
  ["size", 4, /\bhow (?:long|much time|many (?:min|sec)\w*) (?:can|may|could|should|do) (?:i|we|you) (?:hold|stay|sit|stand|be)\b|\blongest (?:time )?(?:(?:i|we|you|one) (?:can |could |may |should )?|to )?(?:hold|stay|sit|stand|leave it)\b|\bhow long on (?:the|a) (?:2|two|trans|brake|foot|limiter)|\b(?:longest|max(?:imum)?|most) (?:hold|time (?:on|to hold))\b|\bhold time\b|\bhow long to hold\b/g],
  ["size", 3, new RegExp(`\\b(?:which|what|how) (?:size |big |large |much |many )?(?:of )?(?:a |an |is my |does my )?${PART}\\b(?! (?:help|matter))|\\bbig enough\\b|\\blarge enough\\b|\\benough (?:${PART}|flow)\\b|\\b${PART} (?:is |be )?(?:too small|enough|size)\\b|\\bsize of (?:the |my |a )?${PART}|\\bhow (?:many quarts|much fluid)\\b`, "g")],
  ["size", 2, new RegExp(`\\b(?:need|want|buy|get|fit)(?: to (?:buy|get|fit))?(?: a| another)? (?:bigger|larger|smaller|new) ${PART}\\b`, "g")],
  ["size", 1, /\b(?:need|buy|fit|size)\b|\bgpm\b|\bcfm\b|\bbigger (?:cooler|fan|pump|pan)\b|\bkeeps?\b/g],
  ["compare", 4, /\b(?:do|did|would|could) (?:i|we) (?:really |even |still )?(?:need|use|want) (?:the |a |my |our )?(?:pump|fan|idle)\b/g],
  ["plan", 3, /\bdifference between\b.*\b(?:pan loop|cooler first|through the converter)\b|\b(?:pan loop|cooler first|through the converter)\b.*\b(?:or|vs|versus|better than)\b.*\b(?:pan loop|cooler first|through)\b/g],
  // How long something runs or is off is for the plan, which answers in minutes.
  ["plan", 6, new RegExp(`\\b${HOW_LONG}(?!.*${ON_BRAKE})(?=.*\\b(?:pump\\w*|fans?|run|running|cool|cooling|circulat\\w*|idl\\w+|warm\\w*)\\b)(?!.*\\b(?:last|matter|difference)\\b)`, "g")],
  ["plan", 1, /\bcall(?:ed|s|ing)?\b|\bhow long must\b|\bmust it run\b|\bhow long (?:to|should|do|does|will) .*\b(?:run|cool|pump|fan|take|warm)\b|\bbetween rounds\b|\bin time\b|\bbattery\b|\blanes?\b|\bplan\b|\bready\b|\balike\b|\bsame temp(?:erature)?s?\b|\bspread\b|\bhow long (?:until|till)\b|\brepeat\w*\b|\bconsistent\w*\b|\bevery (?:run|round|pass|launch) the same\b|\bthe same every\b|\bcool(?:ing)? (?:it |her |the car )?(?:down|off)\b|\bwarm (?:it )?up\b|\btoo (?:hot|cold)\b|\bleave at\b|\b(?:get|back|down|up) to \d|\bback in(?:to)? the window\b|\bwhat (?:do|should) (?:we|i) do\b|\bdo now\b|\bturnaround\b/g],
  ["compare", 2, /\bshould (?:i|we) (?:run|use|idle|shut|leave|just|turn|keep|let)\b|\bengine off\b|\b(?:kill|shut|shutting|turn) (?:it |the engine |the motor |her )?(?:off|down)\b/g],
  ["compare", 2, /\b(?:fan|pump|idle) (?:or|vs|versus) (?:no |the )?(?:fan|pump|idle)\b|\bwhat happens (?:if|when)\b/g],
  ["compare", 1, /\b(?:run|use) (?:the |a )?(?:pump|fan)\b|\bwhat if\b|\binstead\b|\bbetter\b|\bcompare\b|\bjust let it\b|\bleave it\b|\bpump (?:on|off|only)\b|\bfan (?:on|off|only)\b|\bno (?:pump|fan)\b|\bidle\b|\bidling\b|\bcirculat\w*\b/g],
  ["band", 3, /\bhow (?:sure|accurate|good|right|certain) (?:are|is|am)\b|\bmatters? (?:the )?most\b|\bmost important\b/g],
  ["band", 1, /\bsure\b|\btrust\b|\baccura\w*|\bconfiden\w*|\bright\b|\bwrong\b|\bbelieve\b|\bplus or minus\b|\bdepend\w*\b|\bcertain\b|\berror\b/g],
  ["family", 2, /\bair is\b|\bthe air\b|\bmore fluid\b|\b(?:deep|deeper) pan\b|\bhow much (?:does|do|would|will)\b|\bmatter\b|\d stall\b|\bstall \d|\b(?:what|which|how much) stall\b|\b(?<!a |an )\d+ ?(?:gpm|cfm|qts?|quarts?)\b|\bif (?:the )?air\b|\bhotter day\b|\bcolder day\b/g],
  ["family", 1, /\bdifference\b|\bhelps?\b|\beffect\b|\bchanges?\b|\b(?:looser|tighter|higher|lower|more) (?:converter|stall)\b/g],
  ["guess", 2, /\bguess\b|\bpredict\b/g],
];
const ROUTES = [["cooler_first", /\bcooler first\b/], ["through_converter", /\bthrough (?:the )?(?:converter|convertor)\b/], ["pan_loop", /\bpan loop\b|\bround the pan\b/], ["none", /\b(?:no|without(?: a| the)?) pump\b/]];
// What racers call a parameter.
const CALLED = [
  ["transmission.pan_volume", /\b(?:deep|deeper|bigger|larger|big a|what size|which|how much) pan\b|\bpan size\b|\bfluid\b|\bquarts?\b/], ["cooler.ua", /\bcooler\b(?! first| day)/], ["circulation.flow", /\bpump\b|\bgpm\b/],
  ["cooler.fan_air_flow", /\bfan\b|\bcfm\b/], ["converter.k_factor", /\bstall\b|\bk.?factor\b|\bloose\w*|\btight\w*/],
  ["converter.shell_mass", /\bshell\b/], ["air.temperature", /\bair\b|\bweather\b|\b(?:hot|cool|hotter|colder|cooler) day\b|\bambient\b/],
];
const MEASURED = [[/^gpm$/, "circulation.flow", "gpm"], [/^cfm$/, "cooler.fan_air_flow", "cfm"], [/^(?:qts?|quarts?)$/, "transmission.pan_volume", "qt"]];
const FOUND = { "cooler.ua": "cooler", "circulation.flow": "pump", "cooler.fan_air_flow": "fan", "transmission.pan_volume": "fluid" };
const NAMES = { "cooler.ua": "cooler size", "circulation.flow": "pump flow", "cooler.fan_air_flow": "air of the fan", "transmission.pan_volume": "fluid in the pan", "converter.k_factor": "stall, by the K-factor", "air.temperature": "air temperature", "converter.shell_mass": "steel of the converter" };
// Of one temperature that is wanted a window is made, as wide as this either side.
const EITHER_SIDE = { F: 2, "": 2, C: 1 };
const DAY_MIN = 24 * 60;

const short = (value) => String(Number(value.toFixed(2)));
const withUnit = ({ unit }, degrees) => `${short(degrees)}${unit ? ` °${unit}` : ""}`;

/** The rows of every way that a question is about, by their keys; none where it names nothing that is switched. */
function waysAsked(text) {
  const no = (what) => new RegExp(`\\b(?:no|without(?: a| the| any)?) ${what}\\b|\\b${what} off\\b`).test(text);
  if (/\bidl\w*\b/.test(text) && !no("idl\\w*") && !/\bnot idle\b/.test(text)) return ["idle"];
  if (/\bpump\w*\b|\bcirculat\w*/.test(text) && !no("pump")) {
    const routes = ROUTES.slice(1, 3).filter(([, words]) => words.test(text)).map(([key]) => key);
    return routes.length > 0 ? routes : ["pan_loop", "through_converter"];
  }
  if (/\bfan\b/.test(text) && !no("fan")) return ["fan"];
  return /\b(?:shut\w*|turn|kill|engine|switch\w*)\b.*\b(?:off|down)\b|\bjust (?:let|leave) it\b|\bnothing\b/.test(text) ? ["nothing"] : [];
}

/** Minutes until a call by the clock; undefined where it cannot be known. */
function minutesUntil(clock, now) {
  const from = now?.minute_of_day;
  if (from === undefined) return undefined;
  // Without a.m. or p.m. it is the next time that a dial stands so.
  const round = clock.isSure ? DAY_MIN : DAY_MIN / 2;
  const minutes = (((clock.minute_of_day - from) % round) + round) % round;
  return minutes > 0 && minutes <= 6 * 60 ? minutes : undefined;
}

export function understand(typed, { rounds, parameters, minute_of_day: minuteOfDay }) {
  const text = plain(spelled(typed.toLowerCase().replace(/[’‘]/g, "'")));
  const numbers = numbersIn(text);
  const used = new Set();
  const asks = {};
  const heard = [];
  const take = (key, value, words, ...of) => {
    if (value === undefined || value === null) return;
    asks[key] = value;
    heard.push(words);
    for (const one of of) used.add(one);
  };

  const round = numbers.find((one) => one.kind === "round" && one.upto === null && rounds.includes(one.of === "before" ? one.round - 1 : one.round));
  const afterRound = round && (round.of === "before" ? round.round - 1 : round.round);
  const times = numbers.filter((one) => one.kind === "time" && one.of !== "another");
  const time = times.find(({ of }) => of === "call") ?? times[0];
  const clocks = numbers.filter((one) => one.kind === "clock");
  const call = clocks.find(({ of }) => of === "call");
  const now = clocks.find(({ of }) => of === "now");
  const untilCall = call && minutesUntil(call, now ?? (minuteOfDay === undefined ? null : { minute_of_day: minuteOfDay }));
  const temperatures = numbers.filter((one) => one.kind === "temperature");
  const ofNode = (of) => temperatures.find((one) => one.of === of);
  const wanted = temperatures.find(({ of }) => ["wanted", "most", "least"].includes(of));

  const scores = new Map();
  for (const [part, weight, words] of PARTS) scores.set(part, (scores.get(part) ?? 0) + weight * (text.match(words) ?? []).length);
  const add = (part, more) => scores.set(part, scores.get(part) + more);
  const isAny = [...scores.values()].some((score) => score > 0);
  if (wanted) add("plan", 1);
  if (isAny && (time || call) && scores.get("plan") > 0) add("plan", 1);
  if (ofNode("air") && !time && !call) add("family", scores.get("size") > 0 ? 0 : 3);
  if (ofNode("pan") || ofNode("shell")) add("plan", time || call ? 3 : 1);
  let [part, score] = [...scores].reduce((best, one) => (one[1] > best[1] ? one : best));
  if (score === 0) {
    if (time || call || round || temperatures.length > 0) part = "plan";
    else return null;
  }

  const called = CALLED.find(([path, words]) => words.test(text) && parameters.includes(path))?.[0];
  const minutes = (words) => {
    if (time) take("minutes", short(time.minutes), `${words} in ${short(time.minutes)} min${time.upto ? `, the sooner of ${time.said}` : ""}`, time);
    else if (untilCall !== undefined) take("minutes", short(untilCall), `${words} in ${short(untilCall)} min${now ? "" : ` by the clock of this device, at ${call.said}`}`, call, ...(now ? [now] : []));
  };
  const without = (what) => new RegExp(`\\b(?:no|without(?: a| the)?|fan is broken|broken) ${what}\\b`).test(text);

  if (part === "plan") {
    if (round) take("round", afterRound, `after round ${afterRound}`, round);
    else if (/\bevery (?:round|run|pass|launch)\b|\ball rounds\b|\bwhole day\b|\ball day\b|\balike\b|\bconsistent\w*|\bsame temp(?:erature)?s?\b|\bspread\b|\brepeat\w*|\bthe same\b/.test(text)) take("round", "every", "every round");
    if (asks.round !== "every") {
      minutes("called");
      const pan = ofNode("pan") ?? ofNode("");
      if (pan && !pan.upto) take("pan", withUnit(pan, pan.degrees), `the pan reads ${withUnit(pan, pan.degrees)}`, pan);
      const shell = ofNode("shell");
      if (shell && !shell.upto) take("shell", withUnit(shell, shell.degrees), `the shell reads ${withUnit(shell, shell.degrees)}`, shell);
    }
    if (wanted && wanted.node !== "shell") {
      const side = EITHER_SIDE[wanted.unit];
      const [low, high] = wanted.upto ? [wanted.degrees, wanted.upto] : [wanted.of === "most" ? null : wanted.degrees - (wanted.of === "wanted" ? side : 0), wanted.of === "least" ? null : wanted.degrees + (wanted.of === "wanted" ? side : 0)];
      const ends = [low, high].map((end) => (end === null ? null : withUnit(wanted, end)));
      take("low", ends[0], ends[1] ? `wanted at the launch: ${ends[0]} to ${ends[1]}` : `wanted at the launch: at least ${ends[0]}`, wanted);
      take("high", ends[1], ends[0] ? null : `wanted at the launch: at most ${ends[1]}`, wanted);
    }
    const routes = ROUTES.filter(([, words]) => words.test(text)).map(([key]) => key);
    const [route] = routes;
    if (routes.length > 1) take("route", "any", "a pump, any route: see every way by itself");
    else take("route", route, route === "none" ? "no pump" : route && `pump ${route.replaceAll("_", " ")}`);
    if (without("fan")) take("fan", false, "no fan");
    if (/\b(?:no|without) idl\w*|\bengine off\b|\bnot idle\b/.test(text)) take("idle", false, "engine off");
  } else if (part === "size") {
    const isHold = /\bhold\w*\b|\bbrake\b|\b(?:2|two)[- ]?step\b|\bhow long\b|\blongest\b/.test(text);
    take("find", isHold ? "hold" : FOUND[called], isHold ? "longest hold" : called && FOUND[called]);
    const most = temperatures.find(({ of }) => of === "most") ?? (isHold ? temperatures.find(({ of }) => of === "wanted") : undefined);
    // One aim is asked for: a temperature that must not be passed, or the time to be back in the window.
    if (!isHold && !most) minutes("back");
    if (most && most.node === "shell") take("converter", withUnit(most, most.degrees), `converter at most ${withUnit(most, most.degrees)}`, most);
    else if (most) take("launch", withUnit(most, most.degrees), `pan at most ${withUnit(most, most.degrees)} at the launch`, most);
    const air = ofNode("air") ?? ofNode("");
    if (air) take("air", withUnit(air, air.degrees), `in air of ${withUnit(air, air.degrees)}`, air);
    const holdRound = round && round.round + (round.of === "after" ? 1 : 0);
    if (isHold) take("hold_round", rounds.includes(holdRound) ? holdRound : undefined, `only the hold of round ${holdRound}`, round);
    else if (round && !most) take("round", afterRound, `after round ${afterRound}`, round);
  } else if (part === "compare") {
    const ways = waysAsked(text);
    if (ways.length > 0) take("ways", ways, "");
    if (round) take("round", afterRound, `after round ${afterRound}`, round);
  } else if (part === "family") {
    const air = ofNode("air") ?? (/\bair\b|\bambient\b|\bday\b|\boutside\b/.test(text) ? ofNode("") : undefined);
    const measured = numbers.find(({ kind, unit, upto }) => kind === "other" && upto === null && MEASURED.some(([words]) => words.test(unit)));
    const [, ofMeasured, unit] = measured ? MEASURED.find(([words]) => words.test(measured.unit)) : [];
    const path = ofMeasured ?? (air || /\b(?:the|if) air\b/.test(text) ? "air.temperature" : called);
    take("path", path, path && NAMES[path]);
    if (measured) take("value", `${short(measured.value)} ${unit}`, `up to ${short(measured.value)} ${unit}`, measured);
    else if (air && !air.upto) take("value", withUnit(air, air.degrees), `up to ${withUnit(air, air.degrees)}`, air);
  }
  // The other end of a span is said with the first.
  return { part, asks, heard: heard.filter(Boolean), unused: numbers.filter((one) => !used.has(one)).map(({ said }) => said) };
}
