// Without signal: has the browser keep the whole page (`sw.js`), says when it is ready, and offers a newer version
// without ever changing it under the reader's hands.
//
// A page inside another one keeps nothing: that is its host's business.
import { setText } from "./element.js";
import { isSingle } from "./onefile.js";

const CHECK_MS = 30 * 60_000;
const ANSWER_MS = 60_000;
const OFF = "Not kept for use without signal: this build is without that.";

/** Whether the worker holds every file of the page; it fetches what it lacks. "off" where it keeps none, false without answer. */
function allKept(worker) {
  return new Promise((done) => {
    const { port1, port2 } = new MessageChannel();
    setTimeout(done, ANSWER_MS, false);
    port1.addEventListener("message", ({ data }) => done(data));
    port1.start();
    worker.postMessage("all kept?", [port2]);
  });
}

/** Begins to keep the page; `status` says how far it is, `offer` holds the offer of a newer version. */
export async function createOffline(document) {
  const $ = (id) => document.getElementById(id);
  const status = (text) => $("offline") && setText($("offline"), text);
  if (isSingle()) {
    status("Works without signal: everything is in this file.");
    return;
  }
  const { serviceWorker } = navigator;
  if (!serviceWorker || window.top !== window) return;

  // The first worker takes an open page over as it is; a later one is of another build, and the page must be, too.
  let controlled = serviceWorker.controller !== null;
  let reloading = false;
  serviceWorker.addEventListener("controllerchange", () => {
    if (controlled && !reloading) {
      reloading = true;
      location.reload();
    }
    controlled = true;
  });

  let registration;
  try {
    registration = await serviceWorker.register(new URL("sw.js", document.baseURI), { updateViaCache: "none" });
  } catch {
    // A browser that forbids it, in a private window say, loses nothing else.
    status("This browser does not keep the page for use without signal.");
    return;
  }

  const offer = () => {
    const { waiting } = registration;
    if ($("newer")) $("newer").hidden = !waiting || !serviceWorker.controller;
  };
  // A browser may have thrown out files and still have the worker: ready is what the worker has looked for and found.
  const look = async (worker) => {
    const all = await allKept(worker);
    if (worker !== registration.active) return;
    status(all === "off" ? OFF : all ? "Ready offline." : "Not all of the page is kept: without signal it may not open. Load it again while there is signal.");
  };
  const follow = (worker) => {
    if (!worker) return;
    let worked = false;
    worker.addEventListener("statechange", () => {
      offer();
      if (worker.state === "activating") worked = true;
      if (worker.state === "activated") look(worker);
      if (worker.state !== "redundant" || registration.active) return;
      // One that worked and left by itself is the kill switch.
      status(worked ? OFF : "Could not be kept for use without signal: there is no room, or the connection broke off.");
    });
  };
  $("newer-now")?.addEventListener("click", () => registration.waiting?.postMessage("take over"));
  $("newer-later")?.addEventListener("click", () => {
    $("newer").hidden = true;
  });
  registration.addEventListener("updatefound", () => follow(registration.installing));
  follow(registration.installing);
  if (!registration.active) status("Being kept for use without signal …");
  else look(registration.active);
  offer();

  let checked = Date.now();
  document.addEventListener("visibilitychange", () => {
    if (document.hidden || Date.now() - checked < CHECK_MS) return;
    checked = Date.now();
    // Without signal there is nothing newer to be had.
    registration.update().catch(() => null);
  });
}
