// A question in a racer's words: which part of "What if" answers it, and what it states. Words and numbers are looked for;
// nothing is sent anywhere and nothing is guessed that does not stand there.
//
// `understand(text, { rounds, parameters })` gives { part, asks, heard } or null: `asks` are what the part's blanks take,
// as text with units where they are quantities, `heard` says it in words.

// A part is chosen by what is said of it, the most words winning; the first of two that are equal.
// The first ones are places of the page that show it already.
const PARTS = [
  ["heat", /\bwhere (does|do|did) .*\bheat\b|\bwhy (is|was|does|did) .*\b(hot|heat|warm)\w*/g],
  ["limits", /\bhow hot is too hot\b|\btoo hot\?|\bfluid (is )?(finished|done|burnt|gone|worn)\b|\b(is|are) .*\bfluid\b.*\b(finished|done|burnt|ok|good)\b|\blimits?\b|\bseals?\b/g],
  ["launches", /\bpick(ed)? up\b|\bslow(ed|er)? down in round\b|\bquicker\b|\bslower\b|\bwhy did the car\b/g],
  ["lag", /\bgauge\b.*\b(wrong|lag\w*|off|broken|right)\b|\b(wrong|broken) gauge\b/g],
  ["size", /\b(which|what|how) (size|big|large|much)?\s*(of )?(a |an )?(cooler|fan|pump|pan)\b|\bbigger (cooler|fan|pump|pan)\b|\b(need|buy|fit|size)\b|\bgpm\b|\bcfm\b|\blongest hold\b|\bhow long (can|may) (i|we) (hold|stay|sit|stand)/g],
  ["plan", /\bcall(ed|s|ing)?\b|\bhow long must\b|\bmust it run\b|\bbetween rounds\b|\bin time\b|\bbattery\b|\blanes?\b|\bplan\b|\bready\b|\balike\b|\bsame temperature\b|\brepeat\b|\bconsistent\b|\bevery (run|round|pass|launch) the same\b|\bcool (it )?down\b|\bwarm (it )?up\b|\btoo (hot|cold)\b/g],
  ["compare", /\bwhat if\b|\bshut(ting)? (it )?(off|down)\b|\binstead\b|\bbetter\b|\bcompare\b|\bjust let it\b|\bleave it\b|\bpump on\b|\bshould (i|we) (run|use|idle|shut)\b|\bfan (on|only)\b|\bidle\b/g],
  ["band", /\bsure\b|\btrust\b|\baccura\w*|\bconfiden\w*|\bright\b|\bwrong\b|\bbelieve\b|\bplus or minus\b|\bdepend\w*|\bmatters? most\b/g],
  ["family", /\bmatter\b|\bdifference\b|\bhelp\b|\beffect\b|\bhow much (does|do|would)\b|\bchange\b|\bair is\b|\bthe air\b|\bwhat if it('s| is) \d+/g],
  ["guess", /\bguess\b|\bpredict\b/g],
];
const ROUTES = [["cooler_first", /\bcooler first\b/], ["through_converter", /\bthrough (the )?(converter|convertor)\b/], ["pan_loop", /\bpan loop\b|\bround the pan\b/], ["none", /\b(no|without( a)?) pump\b/]];
// What racers call a parameter.
const CALLED = [
  ["cooler.ua", /\bcooler\b/], ["circulation.flow", /\bpump\b|\bgpm\b/], ["cooler.fan_air_flow", /\bfan\b|\bcfm\b/],
  ["transmission.pan_volume", /\b(deep(er)?|bigger|larger) pan\b|\bfluid\b|\bquarts?\b/], ["converter.k_factor", /\bstall\b|\bk.?factor\b|\bloose|\btight/],
  ["air.temperature", /\bair\b|\bweather\b|\bhot day\b|\bambient\b/], ["converter.shell_mass", /\bshell\b/],
];
const FOUND = { "cooler.ua": "cooler", "circulation.flow": "pump", "cooler.fan_air_flow": "fan", "transmission.pan_volume": "fluid" };

const NUMBER = "(\\d+(?:[.,]\\d+)?)";
const WORDS = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];
const plain = (text) => text.toLowerCase().replaceAll("’", "'").replace(new RegExp(`\\b(${WORDS.join("|")})\\b`, "g"), (word) => String(WORDS.indexOf(word))).replace(/\s+/g, " ")
  .replace(/\ban hour and a half\b/g, "90 min").replace(/\bhalf an hour\b/g, "30 min").replace(/\ban hour\b/g, "60 min")
  // Of a span the sooner end counts.
  .replace(/(\d+)\s*(?:-|–|to|or)\s*\d+(?=\s*min)/g, "$1");
const first = (text, pattern) => text.match(new RegExp(pattern))?.[1]?.replace(",", ".");

export function understand(typed, { rounds, parameters }) {
  const text = plain(typed);
  const scores = PARTS.map(([part, words]) => [part, (text.match(words) ?? []).length]);
  const [part, score] = scores.reduce((best, one) => (one[1] > best[1] ? one : best));
  const minutes = first(text, `${NUMBER}\\s*(?:minutes?|mins?|min\\.?)\\b`) ?? first(text, `\\bcall\\w*(?: us| me| is| comes)* in ${NUMBER}(?!\\s*(?:s\\b|sec|°|h))`);
  if (score === 0 && minutes === undefined) return null;
  const asks = {};
  const heard = [];
  const take = (key, value, words) => {
    if (value === undefined || value === null) return;
    asks[key] = value;
    heard.push(words);
  };
  const round = Number(first(text, "\\bround (\\d+)\\b"));
  const isRound = rounds.includes(round);
  const degrees = text.match(new RegExp(`${NUMBER}\\s*(?:°|deg(?:rees)?\\.?)?\\s*(f|c)\\b(?!\\w)|${NUMBER}\\s*(?:°|deg(?:rees)?)`));
  const reading = first(text, `\\b(?:pan|gauge|trans|temp)\\w*(?:'s| is| at| reads?| says| shows| temp\\w*)+ ${NUMBER}(?!\\s*(?:m|ah|gpm|cfm|:))`);
  const temperature = !degrees ? reading : `${(degrees[1] ?? degrees[3]).replace(",", ".")}${degrees[2] ? ` °${degrees[2].toUpperCase()}` : ""}`;
  const ofAir = /\bair\b|\bambient\b|\bday\b|\boutside\b/.test(text);
  // Another air is a parameter, whatever else is said.
  const chosen = score === 0 ? "plan" : part === "compare" && ofAir && temperature ? "family" : part;
  const called = CALLED.find(([path, words]) => words.test(text) && parameters.includes(path))?.[0];
  if (chosen === "plan") {
    if (isRound) take("round", round, `after round ${round}`);
    else if (/\bevery round\b|\ball rounds\b|\bwhole day\b|\ball day\b|\balike\b|\bconsistent\b|\bsame temperature\b|\brepeat\b|\bthe same\b/.test(text)) take("round", "every", "every round");
    if (asks.round !== "every") {
      take("minutes", minutes, `called in ${minutes} min`);
      take("pan", temperature, `the pan reads ${temperature}`);
    }
    const route = ROUTES.find(([, words]) => words.test(text))?.[0];
    take("route", route, route === "none" ? "no pump" : route && `pump ${route.replaceAll("_", " ")}`);
    if (/\b(no|without( a)?) fan\b/.test(text)) take("fan", false, "no fan");
    if (/\b(no|without) idl\w*|\bengine off\b|\bnot idle\b/.test(text)) take("idle", false, "engine off");
  } else if (chosen === "size") {
    take("find", /\bhold\b|\bbrake\b/.test(text) ? "hold" : FOUND[called], /\bhold\b/.test(text) ? "longest hold" : called && FOUND[called]);
    take("minutes", minutes, `back in ${minutes} min`);
    take("air", temperature, `in air of ${temperature}`);
    if (isRound) take("round", round, `after round ${round}`);
  } else if (chosen === "compare") {
    if (isRound) take("round", round, `after round ${round}`);
  } else if (chosen === "family") {
    const path = ofAir || (temperature && !called) ? "air.temperature" : called;
    take("path", path, path?.replace(/[._]/g, " "));
  }
  return { part: chosen, asks, heard: heard.filter(Boolean) };
}
