// What the first view needs to know of links; `link` reads and makes them.

/** What is read may be longer than what is made, within reason. */
export const MOST_READ = 200_000;

/** Whether the hash of an address means to be a link to a day. */
export const isLink = (hash) => /^#s(=|%3D)/i.test(hash);
