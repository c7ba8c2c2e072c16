// Long work in a worker of its own: told how far it is, ended at once when it is cancelled or asked for anew.

/**
 * Makes one kind of work: `start(task, { progress(done, of), finish(result), fail(message) })` ends what is running
 * and begins; `cancel()` ends it. Nothing is heard of work that was ended.
 */
export function createJob() {
  let worker = null;

  function cancel() {
    worker?.terminate();
    worker = null;
  }

  function start(task, { progress, finish, fail }) {
    cancel();
    const mine = new Worker(new URL("./job-worker.js", import.meta.url), { type: "module" });
    worker = mine;
    const end = (say) => {
      if (worker !== mine) return;
      cancel();
      say();
    };
    mine.addEventListener("message", ({ data }) => {
      if (worker !== mine) return;
      if (data.result) end(() => finish(data.result));
      else if (data.error) end(() => fail(data.error));
      else progress(data.done, data.of);
    });
    mine.addEventListener("error", (event) => end(() => fail(event.message || "The work could not be started.")));
    mine.postMessage(task);
  }

  return { start, cancel, running: () => worker !== null };
}
