// Whether the page is one file that holds everything (`stallheat build --single`), and whether it lies on this machine.

/** Marked by the build: there is no site around the page. */
export const isSingle = () => document.documentElement.hasAttribute("data-single");

/** Opened from a disk: its address means nothing to anybody else. */
export const onDisk = () => location.protocol === "file:";
