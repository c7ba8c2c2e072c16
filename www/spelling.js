// Words of a question that are one letter off a word that is looked for: "coolr" is "cooler".

const KEYS = `air pan fan pump pumps cooler coolers brake stall shell heat heats fluid idle sure size gauge guess window
  minute minutes second seconds hour hours degree degrees between leave ready battery converter temperature matter matters most launch
  launches round rounds difference better compare bigger deeper enough stage hold holding call called calls calling shut
  engine accurate trust through first loop reads says outside weather ambient consistent alike predict limit limits
  seals before after quart quarts without cooling circulate turnaround transmission instead where does which what should long much back`.split(/\s+/);
// Words of the language that are as near to one of those, and mean something else.
const OWN = new Set(`all ball cell fall hall tall wall mall calm sound found bound ground pound around told gold cold bold fold old sold
  hole bump dump jump lump plump broke bake brakes braked small stale still stalls smell spell she'll head hear heart beat meat seat neat
  heated heater eat pure cure seize sized guest gauges guesses lunch hour's ours hurt batter letter butter latter longer stages staged staging
  holds held care calf cool shot shout shit shutting line lines pass plan plane plant plans lap list late left less lest must mist post host
  loops look looks read reader red sad stay says' back black pack bank bark base hack lack rack sack reach beach whit whom when then there here
  were wear weather's leather feather whether live lives leaf leaves rounded side sides sign sit site fit bit hit kit set wet get got let lot
  hot hit cut but out our air's fair hair pair chair stair fluids flush flash flue pan's pans fans fun far fat ran can man than van tan won son
  mach such march muck lung song along belong ling long's chat that whats what's doe dose doses goes most's moist host cast case ease rare race
  races raced wheel wheels cable able table warm worn work word world weeks week seek seen need feed feet steel steal steep sleep deep deepest
  mine mind mined call's sulk hulk bulk pumped pumping one two three four five six seven eight nine ten`.split(/\s+/));
const KNOWN = new Set(KEYS);

/** One letter more, less, other, or two changed about. */
function isOneOff(word, key) {
  if (Math.abs(word.length - key.length) > 1) return false;
  let from = 0;
  while (from < word.length && word[from] === key[from]) from += 1;
  const rest = (text, at) => text.slice(at);
  if (word.length > key.length) return rest(word, from + 1) === rest(key, from);
  if (word.length < key.length) return rest(word, from) === rest(key, from + 1);
  return rest(word, from + 1) === rest(key, from + 1) || (word[from] === key[from + 1] && word[from + 1] === key[from] && rest(word, from + 2) === rest(key, from + 2));
}

const isTurned = (word, key) => word.length === key.length && [...word].sort().join("") === [...key].sort().join("");
// A short word has too many neighbours: there only two letters that have changed places count, and elsewhere the first holds.
const isMeant = (word, key) => isOneOff(word, key) && (key.length < 4 || word.length < 4 ? isTurned(word, key) : word[0] === key[0] || key.length > 5 || isTurned(word, key));

/** `text` in lower case, each word that is one letter off replaced. */
export function spelled(text) {
  return text.replace(/[a-z']{3,}/g, (word) => (KNOWN.has(word) || OWN.has(word) ? word : KEYS.find((key) => isMeant(word, key)) ?? word));
}
