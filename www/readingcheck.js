// Looks at readings in the worker, where the core knows thermometers: one question at a time, the newest next.
import { createJob } from "./job.js";

/** `look(task, heard)`: `heard` gets the answer, unless a newer question was put meanwhile. */
export function createReadingCheck() {
  const job = createJob({ stays: true });
  let next = null;

  function go() {
    if (!next || job.running()) return;
    const [task, heard] = next;
    next = null;
    const end = (say) => (next ? go() : say());
    job.start(task, {
      progress: () => {},
      finish: (result) => end(() => heard(result)),
      fail: (message) => end(() => heard(null, message)),
    });
  }

  return {
    look(task, heard) {
      next = [task, heard];
      go();
    },
  };
}
