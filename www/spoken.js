// The numbers of a question in a racer's words: each with its unit and what it is said of.
//
// `numbersIn(text)` gives [{ said, kind, of, … }], in order. `kind` is "time" { minutes }, "clock" { minute_of_day },
// "temperature" { degrees, unit: "F", "C" or "" }, "round" { round, of: "before", "after" or "in" }, or "other" { unit }. `of` is what the words beside it
// say: of a temperature "air", "pan", "shell", "wanted", "most" or "least"; of a time "call"; of a clock "now" or "call"; or "".
// A span "8–10" has its other end in `upto`.

const UNITS = "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split(" ");
const TENS = { twenty: 20, thirty: 30, forty: 40, fourty: 40, fifty: 50, sixty: 60, seventy: 70, eighty: 80, ninety: 90 };
const ORDINALS = "first second third fourth fifth sixth seventh eighth ninth tenth".split(" ");
const TEN = Object.keys(TENS).join("|");
const ONE = UNITS.join("|");
const UNIT_WORD = "(?:min(?:ute)?s?|m|sec(?:ond)?s?|s|hours?|hrs?|h|deg(?:ree)?s?|°|quarts?|qts?|gpm|cfm|psi|o'?clock)";
const MOST_UNITS = 9; // up to nine a word is as often no number: "which one"

const valueOf = (word) => TENS[word] ?? UNITS.indexOf(word);

/** Number words as digits; "one" to "nine" only where something says that a number is meant. */
function digits(text) {
  return text
    .replace(new RegExp(`\\b(?:(a|one|two|three|four|five) )?hundred(?: and)?(?: (${TEN}))?(?:[ -](${ONE}))?\\b`, "g"),
      (_, times, ten, one) => String((times && times !== "a" ? valueOf(times) : 1) * 100 + (ten ? valueOf(ten) : 0) + (one ? valueOf(one) : 0)))
    .replace(new RegExp(`\\b(${TEN})[ -](${UNITS.slice(1, 10).join("|")})\\b`, "g"), (_, ten, one) => String(valueOf(ten) + valueOf(one)))
    .replace(new RegExp(`\\b(${TEN})\\b`, "g"), (ten) => String(valueOf(ten)))
    .replace(new RegExp(`\\b(${ONE})\\b(?=( and a half)?(\\s*(?:or|to|-)\\s*\\w+)?\\s*${UNIT_WORD}\\b)`, "g"), (one) => String(valueOf(one)))
    .replace(new RegExp(`\\b((?:round|rd|pass|run|in|within|after|reads?|says|is|or|to) )(${ONE})\\b(?! (?:and a half )?(?:step|of|go|that|is))`, "g"), (_, before, one) => before + valueOf(one))
    .replace(new RegExp(`\\b(${UNITS.slice(MOST_UNITS + 1).join("|")})\\b`, "g"), (one) => String(valueOf(one)))
    .replace(new RegExp(`\\b(${ORDINALS.join("|")}) (round|pass|run)\\b`, "g"), (_, one) => `round ${ORDINALS.indexOf(one) + 1}`)
    .replace(new RegExp(`\\bafter the (${ORDINALS.join("|")})\\b`, "g"), (_, one) => `after round ${ORDINALS.indexOf(one) + 1}`);
}

/** Lower case, one kind of every sign, numbers in digits with a decimal point. */
export function plain(typed) {
  const text = typed.toLowerCase().replace(/[’‘]/g, "'").replace(/[º˚]/g, "°").replace(/℉/g, "°f").replace(/℃/g, "°c").replace(/[–—−]/g, "-")
    .replace(/½/g, " 1/2").replace(/¼/g, " 1/4").replace(/¾/g, " 3/4").replace(/\s+/g, " ").trim()
    // A comma before three digits parts thousands, between two numbers of three digits it parts those, any other is a decimal one.
    .replace(/(?<![\d.,])(\d{1,2}),(\d{3})(?![\d,])/g, "$1$2").replace(/(\d{3}),(\d{3})/g, "$1, $2").replace(/(\d),(\d)/g, "$1.$2");
  return digits(text)
    .replace(/\ban hour and (?:a )?half\b/g, "90 min").replace(/\b(?:three )?(\d )?quarters? of an hour\b/g, (all) => (/three|3/.test(all) ? "45 min" : "15 min"))
    .replace(/\b(?:a )?quarter hour\b/g, "15 min").replace(/\bhalf (?:an )?hour\b/g, "30 min").replace(/\b(?:an|1) hour and (?:a )?quarter\b/g, "75 min")
    .replace(/\ba minute and (?:a )?half\b/g, "1.5 min").replace(/\bhalf a min(?:ute)?\b/g, "0.5 min").replace(/\ban hour\b/g, "60 min")
    .replace(/\b(in|for|about|only|got|have) a minute\b/g, "$1 1 min").replace(/\b(?:a )?couple (?:of )?(min(?:ute)?s?|hours?)\b/g, "2 $1")
    .replace(/\b(\d+) hours? and a half\b/g, "$1.5 h").replace(/\b(\d+) (?:and a half|and 1\/2)/g, "$1.5")
    .replace(/\b(\d+)(?:st|nd|rd|th) (?:round|pass|run)\b/g, "round $1").replace(/\bafter the (\d+)(?:st|nd|rd|th)\b/g, "after round $1")
    .replace(/\b(?:round|rnd|rd|r) ?#?(\d+)\b/g, "round $1");
}

const QUANTITY = "\\d+ \\d\\/\\d|\\d+\\/\\d+|\\d+(?:\\.\\d+)?|\\.\\d+";
const TIME = { h: 60, m: 1, s: 1 / 60 };
const LEXEME = new RegExp([
  "(?<name>[a-z][a-z'-]*\\d[\\w.-]*|\\d+l\\d+\\w*)",
  "(?<hour>\\d{1,2})(?::(?<minute>[0-5]\\d)(?::[0-5]\\d)?(?!\\d)(?: ?(?<half>[ap])\\.?m\\b\\.?)?| ?(?<only>[ap])\\.?m\\b\\.?| ?o'?clock\\b)",
  // "And" joins two ends only after "between": "call in 20 and 195 in the pan".
  `(?<sign>(?<!\\S)(?:-|minus |negative ))?(?<![\\w.])(?<one>${QUANTITY})(?: ?(?:-|\\bto\\b|\\bor\\b|(?<=\\bbetween [^,]*)\\band\\b) ?(?<other>${QUANTITY}))? ?-?(?<unit>(?:hours?|hrs?|h|minutes?|mins?|min|m|seconds?|secs?|sec|s|degrees?|deg|dg|fahrenheit|celsius|f|c|rpm|gpm|cfm|quarts?|qts?|qt|liters?|litres?|gallons?|psi|hp|amps?|ah|lbs?|pounds?|ft|feet|mph|miles?|second|percent|st|nd|rd|th)\\b\\.?|°|%)?(?: ?(?<scale>fahrenheit|celsius|f|c)\\b)?`,
].join("|"), "g");

const number = (text) => text.split(" ").reduce((sum, one) => {
  const [above, below] = one.split("/").map(Number);
  return sum + (below ? above / below : above);
}, 0);

// What stands right before a temperature, most telling first; what stands after it; what is said further before.
const WANT = /\b(?<!\b(?:do|does|did) (?:i|we|you|it) )needs?\b|\b(?:want|wanted|get|keep|leave|leaving|launch|launching|stage|target|aim|goal|stay|hit|come to the line|window|between)\b|\b(?:cool|cooling|warm|back|down|up|off|come|drop|until|till)(?: \w+){0,2} (?:to|at|until|till) (?:about |around )?$|\b(?:until|till) (?:it is |it's )?$|\b(?:until|till)\b.* (?:hits|reaches|is at|gets (?:down |back |up )?to|(?:is |comes )?(?:back|down|up) (?:to|at)) $/;
const DIFFERENCE = /\b(?:difference|by|drop|lose|cool|down|off|hotter|colder|another|more|every|per)(?: \w+)? $/;
const IS = "(?:(?:'s|s|is|are|was|at|reads?|reading|says|shows|of|now|still|about|around|temp(?:erature)?s?|fluid|oil|sits|sitting|gets|goes|gauge|in|the|to|be|hits|just|up|down|already|only|:|,|=)*\\s*)*$";
const BEFORE = [
  ["air", new RegExp(`\\b(?:air|ambient|outside|outdoors|weather)\\s*${IS}`)],
  ["shell", new RegExp(`\\b(?:shell|converter|convertor|conv)(?:'s shell)?\\s*${IS}`)],
  ["pan", new RegExp(`\\b(?:pan|gauge|trans|transmission|temp|temps|temperature|fluid|oil)\\s*${IS}`)],
];
const AFTER = [
  ["most", /^ ?(?:max(?:imum)?|or (?:less|below|under|cooler)|at (?:the )?most|tops)\b/], ["least", /^ ?(?:min(?:imum)|or (?:more|above|over|hotter|warmer)|at (?:the )?least)\b/],
  ["pan", /^ ?(?:right )?(?:at|in|on)? ?(?:the |my )?(?:pan|gauge|trans)\b/], ["shell", /^ ?(?:at|in|on)? ?(?:the |my )?(?:shell|converter|convertor)\b/],
  ["air", /^ ?(?:of )?(?:air|ambient|outside|outdoors|out|day|days|weather|in the shade)\b(?! of)/],
  ["wanted", /^ ?(?:at|on|for) (?:the )?(?:launch|line|hit|starting line|stage|tree)\b/], ["wanted", /^ ?when (?:i|we) (?:stage|launch|leave|go|roll)\b/], ["pan", /^ ?(?:right )?now\b/],
];
// What must not be reached is a bound: "before the converter hits 300".
const REACHES = "(?:hit(?:s|ting)?|reach(?:es|ing)?|pass(?:es|ing)?|exceed(?:s|ing)?|top(?:s|ping)?|(?:get|gets|getting|go|goes|going|is|climbs|runs) (?:up )?(?:to|over|past|above|at))";
const LIMIT = [["most", new RegExp(`\\b(?:under|below|less than|(?:at|to) (?:the )?most|no (?:more|higher|hotter) than|not (?:hotter|higher|more) than|max(?:imum)?(?: of)?|(?:not|never|no|nothing)(?: \\w+){0,2} (?:over|above|past)|cooler than)\\s*$|\\b(?:before|without|(?:not|never|n't) (?:let|have|want))\\b[^,]* ${REACHES}\\s*$|\\bno\\w* \\w+ ${REACHES}\\s*$`)], ["least", /\b(?:over|above|at least|more than|min(?:imum)?|hotter than|warmer than)\s*$/]];

const LEADS = /^(?:'s|\b(?:is|are|was|at|reads?|reading|says|shows|temp(?:erature)?|gauge|fluid|now|still|about|around)\b|[\s:=])*$/;
const ALONE = /^ ?(?:at|in|on) (?:the|my) /;

/**
 * What stands after a number, where it is said of that number and not of the next: in "call in 20 pan 190" the pan is
 * that of 190, for 20 has its own word already; in "195 pan, 240 shell" each stands behind its number. `next` is the next
 * number's match, `rest` what follows that.
 */
function nounAfter(after, isClaimed, next, rest) {
  const found = AFTER.find(([, words]) => words.test(after));
  if (!found) return null;
  const [said] = found[1].exec(after);
  const noun = { of: found[0], length: said.length };
  const between = after.slice(said.length);
  if (!next || !["pan", "shell", "air"].includes(noun.of) || ALONE.test(said) || !LEADS.test(between)) return noun;
  const isOther = next.groups.one === undefined || /^(?:h|m|s|rpm|gpm|cfm|q|%)/.test(next.groups.unit ?? "");
  if (isOther || (!isClaimed && between.trim() === "" && (Number(next.groups.one) < LEAST || AFTER.some(([, words]) => words.test(rest))))) return noun;
  return null;
}

/** "300 max in the converter". */
const isShell = (after) => /^ ?(?:in|at|on) (?:the |my )?(?:converter|convertor|shell)\b/.test(after);

function saidOf(whole, after, [match, rest]) {
  // Of what was said before a comma nothing holds any more.
  const before = whole.replace(/^.*[,;!?]/, "");
  if ((DIFFERENCE.test(before) && !/\b(?:to|from|no more) $/.test(before)) || /^ ?(?:hotter|cooler|colder|warmer|more|less)\b/.test(after)) return { of: "difference", after: 0 };
  const wanted = WANT.test(before) && !/\b(?:reads?|says|shows|now)\b|\bpan is\s*$/.test(before.replace(/^.*\b(?:want|need|get|keep|leave)\b/, ""));
  const near = BEFORE.find(([, words]) => words.test(before))?.[0];
  const limit = LIMIT.find(([, words]) => words.test(before))?.[0];
  const next = nounAfter(after, Boolean(near || limit || wanted), match, rest);
  const isOfShell = isShell(after.slice(next?.length ?? 0));
  const node = near ?? (["pan", "shell"].includes(next?.of) ? next.of : isOfShell ? "shell" : /\b(?:converter|convertor|shell)\b/.test(before) ? "shell" : "pan");
  const isBound = next?.of === "most" || next?.of === "least";
  const how = limit ?? (isBound ? next.of : wanted ? "wanted" : null);
  if (near === "air" || (!near && next?.of === "air")) return { of: "air", after: near ? 0 : next.length };
  if (how) return { of: how, node, after: near && !isBound ? 0 : next?.length ?? 0 };
  if (near) return { of: near, after: 0 };
  if (next) return { of: next.of, node, after: next.length };
  if (/\bwhat if (?:it|it's|its|it is|it was|it gets|it hits|it's like)(?: (?:is|was|to|at|about|only))*\s*$/.test(before)) return { of: "air", after: 0 };
  if (/(?:\b(?:it'?s|it is|i'?m|we'?re|we are|i am|sitting|sits|running) ?(?:at|about|around|now|still)? ?|\b(?:reads?|says|shows|now|from) ?(?:about |at )?)$/.test(before)) return { of: "pan", after: 0 };
  return { of: "", after: 0 };
}

const CALL_BEFORE = /\b(?:in|within|have|has|got|only|until|till|another|next|call\w*|turnaround\w*|lanes?|time|after)\b[^.]*$/;
// Of what runs or is held, not of the call.
const OF_ANOTHER = /\b(?:run|ran|running|fan|pump|idl\w+|hold|holding|held|brake|burnout|step)\b(?! ?,)(?:(?!\b(?:in|within|until|till|call\w*)\b)[^,])*$/;
const CALL_AFTER = /^ ?(?:until|till|before|to (?:the )?(?:call|lanes|go)|from now|turnaround|between|to cool|left|to spare)/;
// What a bare number must be to be a temperature; air may be colder.
const LEAST = 20;
const isTemperature = (value, of) => value >= (of === "air" ? -60 : LEAST) && value <= 500;
// Minutes without their unit: "12 to go", "got 15", "call 20".
const MINUTES_AFTER = /^ ?(?:(?:until|till|to|before) (?:the |they |we |our |my |next )?call|to go\b|left\b|from now\b|(?:until|till|to|before) (?:the )?lanes\b)/;
const MINUTES_BEFORE = /\b(?:(?:call(?:ed|s)?(?: is| are|'s)?(?: us| me)?|got|we have|i have|only have|another)(?: about| around| maybe| only)?) $/;
const COUNTED = /^ ?(?:rounds?|runs?|pass(?:es)?|cars?|pairs?|more|hp|inch|points?)\b/;
const BELOW_ZERO = /^ ?(?:degrees )?below(?: zero)?(?=$|[ ,.?!]*$| (?:zero|out|outside)\b)/;

export function numbersIn(text) {
  const all = [...text.matchAll(LEXEME)];
  const found = [];
  let from = 0;
  all.forEach((match, at) => {
    const { name, hour, minute, half, only, sign, one, other, unit: written = "", scale } = match.groups;
    const said = match[0].trim().replace(/ ?-$/, "");
    const end = match.index + match[0].trimEnd().length;
    const before = text.slice(from, match.index);
    const after = text.slice(end, all[at + 1]?.index ?? text.length);
    // The next number, and what is said after that.
    const following = [all[at + 1], all[at + 1] ? text.slice(all[at + 1].index + all[at + 1][0].trimEnd().length, all[at + 2]?.index ?? text.length) : ""];
    from = end;
    const put = (one) => found.push({ said, of: "", ...one });
    if (name) {
      put({ kind: "other", unit: "" });
      return;
    }
    if (hour !== undefined) {
      const isSpan = minute !== undefined && !half && /\b(?:in|within|for|have|got|only|another|of|takes?)(?: about| around| only)? $/.test(before);
      if (isSpan || /^ ?(?:min|m\b)/.test(after)) put({ kind: "time", of: "call", minutes: Number(hour) + Number(minute) / 60 });
      else {
        const letter = half ?? only;
        const hours = letter ? (Number(hour) % 12) + (letter === "p" ? 12 : 0) : Number(hour);
        const isNow = /\b(?:it'?s|it is|now|time is)(?: about| now)? $/.test(before) || /^ ?(?:right )?now\b/.test(after);
        if (hours > 24) put({ kind: "other", unit: "" });
        else put({ kind: "clock", of: isNow ? "now" : "call", minute_of_day: hours * 60 + Number(minute ?? 0), isSure: Boolean(letter) || hours > 12 });
      }
      return;
    }
    const value = number(one);
    const upto = other === undefined ? null : number(other);
    const unit = written.replace(/\.$/, "");
    const letter = /^(?:f|fahrenheit)$/.test(scale ?? unit) ? "F" : /^(?:c|celsius)$/.test(scale ?? unit) ? "C" : "";
    const time = { h: /^h/, m: /^m(?:in(?:ute)?s?)?$/, s: /^s(?:ec(?:ond)?s?)?$/ };
    const [of] = Object.entries(time).find(([, words]) => words.test(unit)) ?? [];
    if (of && !/^ ?(?:car|index|street|trip)\b/.test(after)) {
      const last = found.at(-1);
      // "1 h 30 min" is one time.
      if (last?.kind === "time" && last.end !== undefined && /^(?:,| and|\s)*$/.test(text.slice(last.end, match.index)) && last.factor > TIME[of]) {
        Object.assign(last, { minutes: last.minutes + value * TIME[of], said: `${last.said} ${said}`, end, factor: TIME[of] });
        return;
      }
      const role = OF_ANOTHER.test(before) && !CALL_AFTER.test(after) ? "another" : CALL_BEFORE.test(before) || CALL_AFTER.test(after) ? "call" : "";
      put({ kind: "time", of: role, minutes: value * TIME[of], upto: upto === null ? null : upto * TIME[of], end, factor: TIME[of] });
      return;
    }
    const isDegrees = letter !== "" || /^(?:°|degrees?|deg|dg)$/.test(unit);
    if (!isDegrees && unit !== "") {
      put({ kind: "other", unit, value, upto });
      return;
    }
    if (!isDegrees) {
      if (/\b(?:round|pass|run) $/.test(before) || (/\bafter $/.test(before) && value <= 12)) {
        const [, of = "in"] = before.match(/\b(before|after) (?:the )?(?:(?:round|pass|run) )?$/) ?? [];
        return put({ kind: "round", said: `round ${said}`, of, round: value, upto });
      }
      const isIn = /\b(?:in|within)(?: about| around| maybe)? $/.test(before) && value <= 300;
      const isLeft = value <= 90 && ((MINUTES_AFTER.test(after) && !/\b(?:to|at|is|reads|pan|air|shell|gauge) $/.test(before)) || (MINUTES_BEFORE.test(before) && !COUNTED.test(after)));
      if (!sign && (isIn || isLeft) && !nounAfter(after, true, ...following)) return put({ kind: "time", of: "call", minutes: value, upto });
      if (/\bstall (?:of |at |is |speed )*$/.test(before) || /^ ?stall/.test(after)) return put({ kind: "other", unit: "rpm" });
    }
    // "From 220 to 160", "cool 210 to 165": what it reads, and what is wanted.
    if (upto !== null && / to /.test(said) && (/\bfrom (?:about )?$/.test(before) || (isTemperature(upto) && upto < value && value <= 500))) {
      put({ kind: "temperature", of: "pan", said: said.replace(/ to .*/, ""), degrees: value, upto: null, unit: letter });
      put({ kind: "temperature", of: "wanted", node: "pan", said: said.replace(/.* to /, ""), degrees: upto, upto: null, unit: letter });
      return;
    }
    const below = BELOW_ZERO.exec(after)?.[0] ?? "";
    const { of: role, node, after: taken } = saidOf(before, after.slice(below.length), following);
    from = end + below.length + taken;
    // Before a reading without its unit a sign is a dash: "pan -195".
    const degrees = below || (sign && (isDegrees || role === "air" || sign !== "-")) ? -value : value;
    if (isDegrees || (role !== "" && role !== "difference" && isTemperature(degrees, role))) put({ kind: "temperature", of: role, node, degrees, upto, unit: letter });
    else put({ kind: "other", unit: "" });
  });
  return found;
}
